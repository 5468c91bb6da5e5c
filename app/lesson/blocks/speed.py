"""The machine's pace on the board beside a real clock.

One step on the board stands for one tick of the clock. Frequencies are Fractions of a hertz and
times Fractions of a second. A year is the Julian year of astronomy, 365.25 days of 86,400 s.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from app.lesson.entries import Piece, Wrong, choose, read_entries, too_many
from app.machine.source.problems import MOST_FAULTS, Problem, listed
from app.machine.telling.counts import counted, plural
from app.machine.watching.cores import never_beyond, times_faster

from .compare import read_cores, read_percent
from .number_words import in_words, power_of_ten, roughly, rounded
from .si import HERTZ, SECOND, SMALL_M, parse_quantity, show_quantity

MINUTE = 60
HOUR = 60 * MINUTE
DAY = 24 * HOUR
YEAR = Fraction(36525, 100) * DAY

# Each with how many of it there must be for it to be used.
_SPANS = (
    (YEAR, "year", 1),
    (Fraction(DAY), "day", 2),
    (Fraction(HOUR), "hour", 2),
    (Fraction(MINUTE), "minute", 2),
)
MOST_BARS = 6  # numbers of cores
_EXAMPLE = "Write for example 'clock: 3 GHz'."
# Common practice: pipelining, and a main memory that is much slower than the processor.
NOTE = (
    "Real processors differ from ours: most work on several instructions at once, and wait many"
    " ticks for their memory."
)


@dataclass(frozen=True, slots=True)
class Speed:
    """A clock to compare with: ``clock`` in hertz, ``text`` the rate as it was written.

    Where it is asked what makes a machine faster, ``ticks_per_instruction`` counts an instruction
    so in place of its transfers, and ``cores`` are numbers of cores on which the share ``parallel``
    of the work can be done side by side."""

    clock: Fraction
    text: str
    line: int
    ticks_per_instruction: Fraction | None = None
    cores: tuple[int, ...] = ()
    parallel: Fraction = Fraction(1)

    @property
    def tick(self) -> Fraction:
        """How long one tick lasts, in seconds."""
        return 1 / self.clock

    def stretch(self, seconds_per_step: float | Fraction) -> Fraction:
        """How many times slower the board is than the clock.

        ``seconds_per_step`` is the pace of the board: the seconds that one step (that is, one
        tick) takes there. Raises ValueError where that is not more than 0.
        """
        return _pace(seconds_per_step) * self.clock

    def sentences(
        self,
        steps: int,
        instructions: int,
        seconds_per_step: float | Fraction,
        presses: int | None = None,
    ) -> tuple[str, ...]:
        """What there is to say of a run of so many steps and instructions at a pace. ``presses``
        is the number of presses that the board takes for it, where one press is several steps."""
        pace = _pace(seconds_per_step)
        clock = show_quantity(self.clock, HERTZ)
        said = [
            f"A {clock} clock ticks {_ticks(self.clock)}, so a tick lasts {duration(self.tick)}.",
            f"One step on the board stands for one tick and takes {duration(pace)}:"
            f" {_times(self.stretch(pace))}.",
            f"At this pace, one second of a {clock} clock lasts {duration(self.stretch(pace))}.",
        ]
        if steps:
            pressed = f" ({counted(presses, 'press')} here)" if presses is not None else ""
            said.append(
                f"This program takes {counted(steps, 'step')}{pressed} for"
                f" {counted(instructions, 'instruction')}: {duration(steps * pace)} on the board,"
                f" {duration(steps * self.tick)} by that clock."
            )
        if self.asks_what_is_faster:
            return (said[0], *self._faster(instructions))
        said.append(NOTE)
        return tuple(said)

    @property
    def asks_what_is_faster(self) -> bool:
        return bool(self.ticks_per_instruction or self.cores)

    def _faster(self, instructions: int) -> list[str]:
        """What instructions, ticks and cores make of the time: *instructions x ticks per
        instruction x time of a tick* (Hennessy and Patterson's processor performance equation, from
        memory), and Amdahl's law."""
        said, each = [], self.ticks_per_instruction
        if each and instructions:
            ticks = instructions * each
            are = "is" if instructions == 1 else "each are"
            said.append(
                f"{counted(instructions, 'instruction')} of {_ticks_said(each)} {are}"
                f" {_ticks_said(ticks)}, and {duration(ticks * self.tick)}."
            )
        several = [cores for cores in self.cores if cores > 1]
        if several:
            gains = [roughly(times_faster(cores, self.parallel), 3) for cores in several]
            fast = f"{listed(gains, 'and')} times" if self.parallel else "just"
            counts = listed((f"{each:,}" for each in several), "and")
            said.append(f"{counts} cores are {fast} as fast as one.")
        if self.cores:
            share, most = roughly(self.parallel * 100), never(self.parallel)
            end = f"With ever more cores it is {most}." if most else ""
            said.append(f"{share} % of the work can be shared. {end}".rstrip())
        return said

    @property
    def gains(self) -> tuple[tuple[int, Fraction], ...]:
        """For each number of cores, how many times as fast they are as one."""
        return tuple((each, times_faster(each, self.parallel)) for each in self.cores)


def never(parallel: Fraction) -> str:
    """How fast it never is with ever more cores, as in 'never 5 times'; empty where there is no
    such number. One with too many digits is rounded up, for below it there are cores enough."""
    most = never_beyond(parallel)
    if most is None:
        return ""
    if most.denominator != 1:
        place = Fraction(10) ** (power_of_ten(most) - 2)
        most = -(-most // place) * place
    return f"never {in_words(most)} times"


def duration(seconds: Fraction) -> str:
    """A time as people say it, to two significant digits, 'about' before it where digits were
    lost: ``about 330 ps``, ``1.5 seconds``, ``about 95 years``. ``seconds`` is more than 0."""
    if rounded(seconds, 2) < 1:
        return _about(seconds) + show_quantity(seconds, SECOND, 2)
    for size, name, fewest in _SPANS:
        # '90 seconds' rather than '1.5 minutes', but '1 hour' where it is just that.
        if seconds == size or rounded(seconds / size, 2) >= fewest:
            return _counted(seconds / size, name)
    return _counted(seconds, "second")


def _counted(count: Fraction, unit: str) -> str:
    near = rounded(count, 2)
    return f"{_about(count)}{in_words(near)} {unit if near == 1 else plural(unit)}"


def _about(value: Fraction) -> str:
    return "" if rounded(value, 2) == value else "about "


def read_speed(text: str, first_line: int) -> tuple[Speed | None, list[Problem]]:
    """The clock rate of a ``speed`` block: a line ``clock: 3 GHz``; and, to ask what makes a
    machine faster, ``ticks per instruction: 4``, ``cores: 1, 2, 4, 8`` and ``parallel: 80 %``."""
    problems: list[Problem] = []
    found: Speed | None = None
    more: dict[str, Any] = {}
    entries = read_entries(text, first_line)
    for entry in entries:
        if len(problems) >= MOST_FAULTS:
            problems.append(too_many(entry.whole))
            break
        halves = entry.at_colon()
        if not halves or not halves[1].text:
            what = "A speed is the word 'clock', a colon, and a rate."
            problems.append(entry.whole.problem(what, _EXAMPLE))
            continue
        name, rate = halves
        try:
            said = choose(name.text, _KNOWN, "something that a 'speed' block may say")
        except Wrong as wrong:
            problems.append(name.problem(wrong.what, wrong.mend))
            continue
        if said != "clock":
            if said in more:
                problems.append(
                    name.problem(f"There is a second '{said}'.", "Leave one of them out.")
                )
                continue
            try:
                more[said] = _MORE[said][1](rate.text)
            except Wrong as wrong:
                problems.append(rate.problem(wrong.what, wrong.mend))
            continue
        if found:
            problems.append(name.problem("There is a second clock.", "Leave one of them out."))
            continue
        try:
            found = Speed(parse_quantity(rate.text, HERTZ), rate.text, rate.line)
        except Wrong as wrong:
            problems.append(rate.problem(wrong.what, wrong.mend))
            continue
        problems += _slip(found, rate)
    if not found and not problems:
        problems.append(Problem(first_line, 1, 1, "The block has no clock.", _EXAMPLE))
    if found and more:
        found = replace(found, **{_MORE[name][0]: value for name, value in more.items()})
    return found, problems


def _ticks_each(text: str) -> Fraction:
    if not re.fullmatch(r"\d{1,4}(?:\.\d{1,2})?", text) or not Fraction(text):
        raise Wrong(f"'{text}' is not a number of ticks.", "Write a number such as 4 or 1.5.")
    return Fraction(text)


def _cores(text: str) -> tuple[int, ...]:
    found = tuple(read_cores(each) for each in text.split(",")[: MOST_BARS + 1])
    if len(found) > MOST_BARS or sorted({*found}) != [*found]:
        what = f"'{text}' is not a list of numbers of cores."
        raise Wrong(what, f"Write at most {MOST_BARS}, the smaller first, as in '1, 2, 4, 8'.")
    return found


# What else a block may say: by its words the field, and how it is read.
_MORE: dict[str, tuple[str, Callable[[str], Any]]] = {
    "ticks per instruction": ("ticks_per_instruction", _ticks_each),
    "cores": ("cores", _cores),
    "parallel": ("parallel", read_percent),
}
_KNOWN = ("clock", *_MORE)


def _slip(speed: Speed, rate: Piece) -> list[Problem]:
    """A clock slower than one tick a second is surely a small m for a capital M."""
    if speed.clock >= 1:
        return []
    what = f"A clock of {rate.text} ticks once in {duration(speed.tick)}."
    return [rate.problem(what, SMALL_M, warning=True)]


def _ticks_said(count: Fraction) -> str:
    return f"{roughly(count)} {'tick' if count == 1 else 'ticks'}"


def _pace(seconds_per_step: float | Fraction) -> Fraction:
    # By way of its text, so that 0.9 is nine tenths and not the nearest binary fraction.
    pace = Fraction(str(seconds_per_step))
    if pace <= 0:
        raise ValueError("a step takes more than 0 seconds")
    return pace


def _ticks(clock: Fraction) -> str:
    if clock >= 1:
        return "once a second" if clock == 1 else f"{roughly(clock)} times a second"
    return f"once in {duration(1 / clock)}"


def _times(stretch: Fraction) -> str:
    if stretch == 1:
        return "as long as a tick of the clock"
    if stretch > 1:
        return f"{roughly(stretch, 2)} times as long as a tick of the clock"
    return f"a tick of the clock takes {roughly(1 / stretch, 2)} times as long"
