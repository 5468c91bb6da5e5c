"""A scale scene as the board shows it: one view, its stations in true proportion, its scale bar.

The view is as wide as its station is long, times :data:`ROOM`. All lengths here are metres. The
drawing is in hundredths of the view's width, so a station of length L has the size 100 L / view.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from app.classroom.pace import zoom_seconds
from app.lesson.blocks.number_words import power_of_ten
from app.lesson.blocks.scale import Scale, bar_length, meaning, show_length

ROOM = Fraction(5, 2)
# So many stations are named beside the picture.
LADDER = 7
# Beyond these shares of the view a station is a speck, or a wall of one colour.
SMALLEST, LARGEST = Fraction(1, 250), 60
# The share of the view that its scale bar takes up at most.
LONGEST_BAR = Fraction(1, 3)
# On the way between two views there are so many bars, or one for each power of ten.
MOST_BARS = 60
# One that is smaller than the present one, but not by so many times, would only cover it.
NEXT = 4

# The drawings that there are, each with words that ask for it.
_SHAPES = {
    "nail": ("nail", "finger", "thumb"),
    "track": ("track", "wire"),
    "stop": ("stop", "dot", "comma"),
    "hair": ("hair", "thread", "fibre"),
    "gate": ("gate",),
    "transistor": ("transistor", "switch"),
    "chip": ("die", "chip", "processor", "core"),
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
    passed: bool
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

    The way between them takes so many ``milliseconds`` at the usual speed, and ``bars`` are all
    that it passes, so that the page need not work one out.
    """

    view: float
    view_before: float
    milliseconds: int
    stations: tuple[Shown, ...]
    bars: tuple[Bar, ...]
    meaning: str

    @property
    def room(self) -> float:
        """How many times as wide as its station a view is."""
        return float(ROOM)

    @property
    def shares(self) -> dict[str, float]:
        """What a station or a bar may take up of the view, by the names that the page has."""
        return {
            "smallest": float(SMALLEST),
            "largest": float(LARGEST),
            "longest-bar": float(LONGEST_BAR),
        }

    @property
    def next(self) -> int:
        """How many times smaller than the present one a station must be to be in sight."""
        return NEXT

    @property
    def ladder(self) -> tuple[Shown, ...]:
        """The stations round this one that there is room to name, from large to small."""
        at = self.stations.index(self.station)
        first = max(min(at - LADDER // 2, len(self.stations) - LADDER), 0)
        return self.stations[first : first + LADDER]

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
            at < step,
            SMALLEST <= each.length / view <= LARGEST
            and not station.length / NEXT < each.length < station.length,
        )
        for at, each in enumerate(scale.stations)
    )
    return Zoom(
        float(view),
        float(before),
        round(1000 * zoom_seconds(before / view)),
        stations,
        _bars(view, before),
        meaning(station.length),
    )


def comparison(scale: Scale, step: int) -> str:
    """How a station compares with the one before, and with the first; empty where there is none."""
    said = scale.comparison(step)
    with_first = scale.comparison_with_first(step).partition(": ")[2]
    return f"{said.removesuffix('.')}, and {with_first}" if with_first else said


def _bars(view: Fraction, before: Fraction) -> tuple[Bar, ...]:
    chosen = bar_length(view, LONGEST_BAR)
    first, last = sorted((chosen, bar_length(before, LONGEST_BAR)))
    lengths = [first]
    # From one length of the series 1, 2, 5, 10 ... to the next one.
    on = (Fraction(2), Fraction(5, 2), Fraction(2))
    at = (1, 2, 5).index(int(first / Fraction(10) ** power_of_ten(first)))
    ones = 3 - at  # where the next power of ten comes
    while lengths[-1] < last:
        lengths.append(lengths[-1] * on[at % 3])
        at += 1
    if len(lengths) > MOST_BARS:
        # On so long a way nobody sees more of them than one for each power of ten.
        lengths = [first, *lengths[ones:-1:3], last]
    return tuple(
        Bar(_shown(each), float(each), float(100 * each / view), each == chosen) for each in lengths
    )


@lru_cache(maxsize=1_000)  # of the largest and the smallest unit, and all between, some 250
def _shown(length: Fraction) -> str:
    return show_length(length)


@lru_cache(maxsize=1_000)
def shape_of(name: str) -> str:
    """The drawing for a station: by a word of its name, or by what a longer word is made of (a
    fingernail is a nail, and a snail is none), else a plain disc."""
    words = name.casefold().replace("-", " ").split()
    for shape, known in _SHAPES.items():
        if any(word.rstrip("s") in known or word in known for word in words):
            return shape
    for shape, known in _SHAPES.items():
        if any(_is_kind_of(word.rstrip("s"), each) for word in words for each in known):
            return shape
    return "disc"


def _is_kind_of(word: str, known: str) -> bool:
    """Whether a word is a known one with another word before it."""
    return word.endswith(known) and len(word) >= len(known) + 3
