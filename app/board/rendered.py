"""Drawings as SVG, rendered once: they are the same on every page."""

from __future__ import annotations

from functools import lru_cache

from jinja2 import Environment
from markupsafe import Markup

from app.machine.growing import key_of

from .cache_picture import Line, Word
from .drawing import Drawing
from .pictures import die, ragged, scales

# Lines with their words, of all boards together.
MOST_KEPT = 500


class Lines:
    """Called with a drawing, gives its lines. Forty pupils may open the page in one moment, and
    finding every route takes some time."""

    def __init__(self, environment: Environment) -> None:
        self._environment = environment
        self._made: dict[tuple[str, str], Markup] = {}

    def __call__(self, drawing: Drawing) -> Markup:
        key = (drawing.form.value, key_of(drawing.machine))
        if key not in self._made:
            template = self._environment.get_template("board/lines.html")
            self._made[key] = Markup(template.render(drawing=drawing))
        return self._made[key]


class Shapes:
    """Called with the name of a shape, gives the picture of a station of a zoom. Each frame of a
    zoom has all its stations, and a die has hundreds of parts."""

    def __init__(self, environment: Environment) -> None:
        self._environment = environment
        self._made: dict[str, Markup] = {}

    def __call__(self, kind: str) -> Markup:
        if kind not in self._made:
            template = self._environment.get_template("board/shapes.html")
            made = template.make_module({"die": die(), "dot": ragged(), "scales": scales()})
            self._made[kind] = made.shape(kind)  # type: ignore[attr-defined]
        return self._made[kind]


class Words:
    """Called with a line of a cache or of memory, gives its words. From one frame to the next
    nearly all lines are as they were."""

    def __init__(self, environment: Environment) -> None:
        self._environment = environment
        self._rendered = lru_cache(MOST_KEPT)(self._render)

    def __call__(self, line: Line) -> Markup:
        return self._rendered(line.key, line.words)

    def _render(self, key: str, words: tuple[Word, ...]) -> Markup:
        made = self._environment.get_template("board/cache_words.html").make_module()
        return made.words(key, words)  # type: ignore[attr-defined]
