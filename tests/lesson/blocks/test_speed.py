"""The pace of the board beside a clock, worked out by hand and with Pint."""

from __future__ import annotations

from fractions import Fraction

import pytest

from app.lesson.blocks.speed import NOTE, YEAR, duration, read_speed
from tests.lesson.blocks.reference import reference


def speed(text: str):
    found, problems = read_speed(text, 3)
    assert found and not problems
    return found


def test_the_year_is_that_of_the_reference() -> None:
    """Pint's year is the Julian year too."""
    assert reference().Quantity(Fraction(1), "year").to("s").magnitude == YEAR


def test_a_second_of_three_gigahertz_at_one_second_a_step() -> None:
    """3,000,000,000 s / 31,557,600 s = 95.06 years."""
    clock = speed("clock: 3 GHz")
    assert clock.clock == 3 * 10**9
    assert clock.tick == Fraction(1, 3 * 10**9)
    said = clock.sentences(36, 5, 1)
    assert said == (
        "A 3 GHz clock ticks 3 billion times a second, so a tick lasts about 330 ps.",
        "One step on the board stands for one tick and takes 1 second: 3 billion times as"
        " long as a tick of the clock.",
        "At this pace, one second of a 3 GHz clock lasts about 95 years.",
        "This program takes 36 steps for 5 instructions: 36 seconds on the board, 12 ns by that"
        " clock.",
        NOTE,
    )
    # 'One step, one tick' is ours; what real processors do is common practice.
    assert "Real processors differ" in NOTE


def test_presses_are_told_where_one_is_several_steps() -> None:
    said = speed("clock: 3 GHz").sentences(34, 5, 1, 15)
    assert said[3].startswith("This program takes 34 steps (15 presses here) for 5 instructions:")
    assert "6 steps (1 press here) for 1 instr" in speed("clock: 1 Hz").sentences(6, 1, 1, 1)[3]


def test_a_slow_clock_of_old() -> None:
    said = speed("clock: 100 kHz").sentences(1, 1, 1.4)
    assert said[0] == "A 100 kHz clock ticks 100,000 times a second, so a tick lasts 10 µs."
    # 1.4 s times 100,000 are 140,000 s, 38.9 hours.
    assert said[2] == "At this pace, one second of a 100 kHz clock lasts about 39 hours."
    assert "1 step for 1 instruction" in said[3]


def test_without_a_program_nothing_is_said_of_one() -> None:
    assert len(speed("clock: 1 Hz").sentences(0, 0, 1)) == 4


def test_as_fast_and_faster() -> None:
    assert "1 second: as long as a tick of the clock." in speed("clock: 1 Hz").sentences(0, 0, 1)[1]
    said = speed("clock: 1 Hz").sentences(0, 0, 0.5)[1]
    assert said.endswith("500 ms: a tick of the clock takes 2 times as long.")


@pytest.mark.parametrize("clock", ["3 GHz", "100 kHz", "1.2 MHz"])
@pytest.mark.parametrize("pace", [0.9, 1.4, 2])
def test_the_stretch_is_that_of_the_reference(clock: str, pace: float) -> None:
    number, unit = clock.split()
    frequency = reference().Quantity(Fraction(number), unit)
    theirs = (frequency * reference().Quantity(Fraction(str(pace)), "s")).to("dimensionless")
    assert speed(f"clock: {clock}").stretch(pace) == theirs.magnitude


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (Fraction(1, 3 * 10**9), "about 330 ps"),
        (Fraction(12, 10**9), "12 ns"),
        (Fraction(1, 2), "500 ms"),
        (Fraction(996, 1000), "about 1 second"),
        (Fraction(1), "1 second"),
        (Fraction(3, 2), "1.5 seconds"),
        (Fraction(60), "1 minute"),
        (Fraction(82), "82 seconds"),
        (Fraction(118), "about 2 minutes"),
        (Fraction(150), "2.5 minutes"),
        (Fraction(3600), "1 hour"),
        (Fraction(86400), "1 day"),
        (Fraction(10 * 86400), "10 days"),
        (YEAR, "1 year"),
        (3 * 10**9 * Fraction(1), "about 95 years"),
        (YEAR * 4_400_000, "4.4 million years"),
    ],
)
def test_durations(seconds: Fraction, said: str) -> None:
    assert duration(seconds) == said


@pytest.mark.parametrize("pace", [0, -1])
def test_a_pace_is_more_than_nothing(pace: int) -> None:
    with pytest.raises(ValueError, match="more than 0"):
        speed("clock: 1 Hz").stretch(pace)


@pytest.mark.parametrize(
    ("text", "line", "column", "what", "mend"),
    [
        ("", 3, 1, "no clock", "'clock: 3 GHz'"),
        ("3 GHz", 3, 1, "the word 'clock'", "'clock: 3 GHz'"),
        ("clock:", 3, 1, "the word 'clock'", "'clock: 3 GHz'"),
        ("clok: 3 GHz", 3, 1, "'clok'", "'clock'?"),
        ("clock: 3 Ghz", 3, 8, "'Ghz' is not a unit", "'GHz'"),
        ("clock: 3 nm", 3, 8, "measures a length", "'3 GHz'"),
        ("clock: 3 GHz\nclock: 4 GHz", 4, 1, "second clock", "Leave one"),
        ("clock: 0 Hz", 3, 8, "is 0", "more than 0"),
    ],
)
def test_faults(text: str, line: int, column: int, what: str, mend: str) -> None:
    _, (problem,) = read_speed(text, 3)
    assert (problem.line, problem.column, problem.warning) == (line, column, False)
    assert what in problem.what
    assert mend in problem.mend


def test_a_small_m_for_a_large_one_is_warned_about() -> None:
    found, (warning,) = read_speed("clock: 4 mHz", 1)
    assert found and warning.warning
    assert "once in about 4.2 minutes" in warning.what
    assert "MHz" in warning.mend
