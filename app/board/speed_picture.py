"""How fast a clock is, as a picture: two dials and two bars, everything computed.

The dials show how far a hand gets while the program runs, on the board and by the clock. The
bars are one tick and one step of the board: were the tick a millimetre, the step would be as
long as the clock is faster than the board.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import cos, pi, sin

from app.lesson.blocks.number_words import roughly
from app.lesson.blocks.speed import MINUTE, Speed, duration

# A hand that has not come further than this share of a turn is drawn at its start.
_SMALLEST_TURN = Fraction(1, 1000)


@dataclass(frozen=True, slots=True)
class Dial:
    """A dial of a minute: ``turns`` whole turns of its hand, and the rest as ``share`` of one.

    ``whose`` says by which clock, ``time`` how long it takes.
    """

    whose: str
    time: str
    turns: int
    share: Fraction

    @property
    def moves(self) -> bool:
        """Whether one could see the hand move at all."""
        return self.turns > 0 or self.share > _SMALLEST_TURN

    @property
    def hand(self) -> tuple[float, float]:
        """The end of the hand, on a circle of radius 1 round the origin, y down."""
        angle = 2 * pi * float(self.share)
        return sin(angle), -cos(angle)

    @property
    def far(self) -> int:
        """The large-arc flag of SVG for the way of the hand."""
        return int(self.share > Fraction(1, 2))


@dataclass(frozen=True, slots=True)
class SpeedPicture:
    """The dials of a run (none where it takes no step) and the lengths of the two bars."""

    dials: tuple[Dial, ...]
    tick: str
    step: str


def speed_picture(speed: Speed, steps: int, seconds_per_step: float | Fraction) -> SpeedPicture:
    """The picture of a run of so many steps at a pace. ValueError for a pace that is not more
    than 0 seconds."""
    stretch = speed.stretch(seconds_per_step)
    dials: tuple[Dial, ...] = ()
    if steps:
        on_board = steps * stretch * speed.tick
        by_clock = steps * speed.tick
        dials = (_dial("This program on the board", on_board), _dial("By the clock", by_clock))
    # The shorter of the two is a millimetre.
    tick = Fraction(1, 1000) * max(1 / stretch, Fraction(1))
    return SpeedPicture(dials, _length(tick), _length(tick * stretch))


def _dial(whose: str, seconds: Fraction) -> Dial:
    turns, rest = divmod(seconds, MINUTE)
    return Dial(whose, duration(seconds), int(turns), rest / MINUTE)


_LENGTHS = (
    (Fraction(1000), "km"),
    (Fraction(1), "m"),
    (Fraction(1, 100), "cm"),
    (Fraction(1, 1000), "mm"),
)


def _length(metres: Fraction) -> str:
    """A length in the units of everyday life, to two digits."""
    size, unit = next((each for each in _LENGTHS if metres >= each[0]), _LENGTHS[-1])
    return f"{roughly(metres / size, 2).removeprefix('about ')} {unit}"
