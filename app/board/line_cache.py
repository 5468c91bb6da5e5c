"""The lines of a drawing as SVG, rendered once: they are the same on every page."""

from __future__ import annotations

from jinja2 import Environment
from markupsafe import Markup

from app.machine.growing import key_of

from .drawing import Drawing


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
