"""Bars and a curve to scale: what is compared, drawn beside the same numbers in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from app.lesson.blocks import compare as compare_block
from app.lesson.blocks.compare import Result
from app.lesson.blocks.number_words import roughly
from app.lesson.blocks.si import SECOND, show_quantity
from app.lesson.blocks.speed import Speed, never
from app.machine.source.problems import capital
from app.machine.telling.counts import counted
from app.machine.telling.watched import decimal
from app.machine.watching.cores import never_beyond, times_faster

# So many points make a curve.
_POINTS = 60


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar: its ``name``, its number in words, and its length in hundredths of the longest."""

    name: str
    text: str
    share: float


@dataclass(frozen=True, slots=True)
class Curve:
    """How many times as fast more cores are. ``points`` and ``ideal`` are lines of SVG in a square
    of 100 by 100, y down; ``limit`` the height of what is never reached, None where there is none;
    ``across`` and ``up`` what the ends of the axes stand for."""

    points: str
    ideal: str
    limit: float | None
    across: str
    up: str
    limit_text: str


@dataclass(frozen=True, slots=True)
class Race:
    """Machines side by side: those that a press has brought, the others by their names alone.
    ``faster`` says which is, or why that cannot be said; empty until all are there."""

    ticks: tuple[Bar, ...]
    times: tuple[Bar, ...]
    coming: tuple[str, ...]
    has: tuple[str, ...]
    faster: str


def gain_bars(speed: Speed) -> tuple[Bar, ...]:
    """How many times as fast each number of cores is."""
    most = max((gain for _, gain in speed.gains), default=Fraction(1))
    return tuple(
        Bar(
            counted(cores, "core"),
            f"\N{MULTIPLICATION SIGN} {roughly(gain, 3)}",
            float(100 * gain / most),
        )
        for cores, gain in speed.gains
    )


def gain_curve(speed: Speed) -> Curve | None:
    """The curve through these bars, with what it never reaches."""
    cores = max(speed.cores, default=1)
    if cores == 1:
        return None
    limit = never_beyond(speed.parallel)
    top = Fraction(cores)

    def at(number: Fraction, gain: Fraction) -> tuple[float, float]:
        x = float(100 * (number - 1) / (cores - 1))
        return round(x, 2), round(float(100 - 100 * (gain - 1) / (top - 1)), 2)

    steps = [1 + Fraction(cores - 1, _POINTS) * each for each in range(_POINTS + 1)]
    gains = [times_faster(each, speed.parallel) for each in steps]
    points = " ".join(f"{x},{y}" for x, y in map(at, steps, gains))
    shown = limit is not None and limit <= top
    return Curve(
        points,
        "0,100 100,0",
        at(Fraction(1), limit)[1] if shown and limit else None,
        counted(cores, "core"),
        counted(cores, "time"),
        never(speed.parallel),
    )


def race(results: Sequence[Result], names: Sequence[str], shown: int, why_not: str = "") -> Race:
    """The machines after so many presses. Without results all of them keep their question marks,
    and ``why_not`` says why."""
    if not results:
        return Race((), (), tuple(names), (), why_not)
    here = results[:shown]
    most_ticks = max((each.ticks for each in results), default=1)
    longest = max((each.seconds for each in results), default=Fraction(1))
    faster = ""
    if shown and shown == len(results):
        first, last = results[0], results[-1]
        slow, quick = (first, last) if first.seconds > last.seconds else (last, first)
        ratio = slow.seconds / quick.seconds
        if ratio == 1:
            faster = f"{first.rival.name} and {last.rival.name} are equally fast."
        elif round(ratio, 2) == 1:
            # 'About 1 times as fast' would say that it is no faster.
            faster = f"{quick.rival.name} is hardly any faster than {slow.rival.name}."
        else:
            faster = f"{quick.rival.name} is {decimal(ratio)} times as fast as {slow.rival.name}."
    return Race(
        tuple(
            Bar(each.rival.name, counted(each.ticks, "tick"), 100 * each.ticks / most_ticks)
            for each in here
        ),
        tuple(
            Bar(
                each.rival.name,
                show_quantity(each.seconds, SECOND, 3),
                float(100 * each.seconds / longest),
            )
            for each in here
        ),
        tuple(names[shown:]),
        tuple(compare_block.in_words(each.rival) for each in here),
        capital(faster),
    )
