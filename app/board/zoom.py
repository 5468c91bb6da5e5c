"""A scale scene as the board shows it: one view, its stations in true proportion, its scale bar.

The view is as wide as its station is long, times :data:`ROOM`. All lengths here are metres. The
drawing is in hundredths of the view's width, so a station of length L has the size 100 L / view.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from app.lesson.blocks.scale import Scale, bar_length, meaning, show_length

ROOM = Fraction(5, 2)
# Beyond these shares of the view a station is a speck, or a wall of one colour.
_SMALLEST, _LARGEST = Fraction(1, 250), 60

# The drawings that there are, each with words that ask for it.
_SHAPES = {
    "nail": ("nail", "finger", "thumb"),
    "chip": ("die", "chip", "processor", "core"),
    "hair": ("hair", "thread", "fibre", "wire"),
    "gate": ("gate",),
    "transistor": ("transistor", "switch"),
    "grain": ("grain", "sand", "salt", "dust", "crystal", "sugar"),
    "cell": ("cell", "blood", "bacterium", "virus", "germ"),
}


@dataclass(frozen=True, slots=True)
class Shown:
    """A station in the view: its name, its length as text and in metres, the drawing that it
    has, and its size in hundredths of the view's width."""

    name: str
    text: str
    length: float
    shape: str
    size: float
    present: bool
    in_sight: bool


@dataclass(frozen=True, slots=True)
class Bar:
    """A scale bar: what it reads and the length in metres that it stands for."""

    text: str
    length: float
    size: float
    shown: bool


@dataclass(frozen=True, slots=True)
class Zoom:
    """``view`` and ``view_before`` are the widths in metres of this view and the one before.

    ``bars`` are all that the way between them passes, so that the page need not work one out.
    """

    view: float
    view_before: float
    stations: tuple[Shown, ...]
    bars: tuple[Bar, ...]
    comparison: str
    meaning: str

    @property
    def blocks(self) -> tuple[tuple[float, float, float, float, int], ...]:
        """The floor plan of a die, for the stations that are one."""
        return chip_blocks()

    @property
    def station(self) -> Shown:
        return next(each for each in self.stations if each.present)


def make_zoom(scale: Scale, step: int) -> Zoom:
    """The view of a station. IndexError where there is none of that number."""
    station = scale.stations[step]
    view = station.length * ROOM
    before = scale.stations[max(step - 1, 0)].length * ROOM
    stations = tuple(
        Shown(
            each.name,
            each.shown,
            float(each.length),
            shape_of(each.name),
            float(100 * each.length / view),
            at == step,
            _SMALLEST <= each.length / view <= _LARGEST,
        )
        for at, each in enumerate(scale.stations)
    )
    comparison = scale.comparison(step)
    with_first = scale.comparison_with_first(step).partition(": ")[2]
    if with_first:
        comparison = f"{comparison.removesuffix('.')}, and {with_first}"
    return Zoom(
        float(view),
        float(before),
        stations,
        _bars(view, before),
        comparison,
        meaning(station.length),
    )


def _bars(view: Fraction, before: Fraction) -> tuple[Bar, ...]:
    chosen = bar_length(view)
    first, last = sorted((chosen, bar_length(before)))
    lengths = [first]
    while lengths[-1] < last:
        # The next of 1, 2, 5, 10: the longest in a view three times as wide as a bit over double.
        lengths.append(bar_length(lengths[-1] * Fraction(5, 2) * 3))
    return tuple(
        Bar(show_length(each), float(each), float(100 * each / view), each == chosen)
        for each in lengths
    )


def shape_of(name: str) -> str:
    """The drawing for a station: by a word of its name, else a plain disc."""
    words = name.casefold().replace("-", " ").split()
    for shape, known in _SHAPES.items():
        if any(word.rstrip("s") in known or word in known for word in words):
            return shape
    for shape, known in _SHAPES.items():
        if any(each in word for word in words for each in known if len(each) > 3):
            return shape
    return "disc"


@cache
def chip_blocks(seed: int = 4) -> tuple[tuple[float, float, float, float, int], ...]:
    """A made-up floor plan of a die, one unit wide: blocks (x, y, width, height, shade)."""
    chance = random.Random(seed)
    blocks: list[tuple[float, float, float, float, int]] = []

    def split(x: float, y: float, width: float, height: float, depth: int) -> None:
        if depth == 0:
            blocks.append(
                (x + 0.004, y + 0.004, width - 0.008, height - 0.008, chance.randrange(4))
            )
            return
        share = chance.uniform(0.35, 0.65)
        if width >= height:
            split(x, y, width * share, height, depth - 1)
            split(x + width * share, y, width * (1 - share), height, depth - 1)
        else:
            split(x, y, width, height * share, depth - 1)
            split(x, y + height * share, width, height * (1 - share), depth - 1)

    split(-0.46, -0.46, 0.92, 0.92, 6)
    return tuple(blocks)
