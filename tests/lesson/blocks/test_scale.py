"""The zoom: reading, order, comparisons and scale bars, with Pint and by hand as outside checks."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.lesson.blocks.scale import bar_length, meaning, read_scale, show_length, times
from app.lesson.file.reader import read_lesson
from tests.lesson.blocks.reference import reference

ZOOM = """\
a fingernail: 10 mm
a hair: 80 µm
a transistor: 100 nm
"""


def test_stations_and_comparisons() -> None:
    scale, problems = read_scale(ZOOM, 5)
    assert scale and not problems
    assert scale.last_step == 2
    assert [(each.name, each.text, each.shown, each.line) for each in scale.stations] == [
        ("a fingernail", "10 mm", "10 mm", 5),
        ("a hair", "80 µm", "80 µm", 6),
        ("a transistor", "100 nm", "100 nm", 7),
    ]
    assert scale.comparison(0) == ""
    assert scale.comparison(1) == "A hair: 125 times narrower than a fingernail."
    assert scale.comparison(2) == "A transistor: 800 times narrower than a hair."
    assert scale.comparison_with_first(1) == ""
    assert (
        scale.comparison_with_first(2) == "A transistor: 100,000 times narrower than a fingernail."
    )
    with pytest.raises(IndexError):
        scale.comparison(3)


def test_a_ratio_that_is_not_whole_is_about() -> None:
    scale, _ = read_scale("a: 10 mm\nb: 3 mm", 1)
    assert scale and scale.comparison(1) == "B: about 3.33 times narrower than a."
    scale, _ = read_scale("a: 3 mm\nb: 2 mm", 1)
    assert scale and scale.comparison(1) == "B: 1.5 times narrower than a."


@pytest.mark.parametrize(
    ("larger", "smaller"),
    [("10 mm", "80 µm"), ("1.7 m", "22 nm"), ("12742 km", "8 cm"), ("7 nm", "53 pm")],
)
def test_ratios_are_those_of_pint(larger: str, smaller: str) -> None:
    scale, _ = read_scale(f"a: {larger}\nb: {smaller}", 1)
    assert scale
    ours = times(*(each.length for each in scale.stations))
    quantities = []
    for text in (larger, smaller):
        number, unit = text.split()
        quantities.append(reference().Quantity(Fraction(number), unit))
    assert ours == (quantities[0] / quantities[1]).to("dimensionless").magnitude


def test_the_order_is_warned_about() -> None:
    _, problems = read_scale("a hair: 80 nm\na transistor: 100 nm\nanother: 100 nm", 1)
    assert [(each.line, each.column, each.length, each.warning) for each in problems] == [
        (2, 15, 6, True),
        (3, 10, 6, True),
    ]
    assert "longer than 80 nm (a hair)" in problems[0].what
    assert "as long as 100 nm (a transistor)" in problems[1].what


@pytest.mark.parametrize(
    ("text", "line", "column", "what"),
    [
        ("a hair", 1, 1, "a name, a colon, and a length"),
        ("a hair:", 1, 1, "a name, a colon, and a length"),
        (": 10 mm", 1, 1, "a name, a colon, and a length"),
        ("a hair: 80 um", 1, 9, "'um' is not a unit"),
        ("a: 1 mm\na car: 30 km/h", 2, 8, "the unit of a speed"),
        ("", 1, 1, "scale is empty"),
        ("x" * 61 + ": 1 mm", 1, 64, "61 letters"),
    ],
)
def test_faults(text: str, line: int, column: int, what: str) -> None:
    scale, (problem,) = read_scale(text, 1)
    assert scale is None
    assert (problem.line, problem.column, problem.warning) == (line, column, False)
    assert what in problem.what
    assert problem.mend


# The words are those of the SI Brochure's prefixes: micro is 10 to the power of -6, and so on.
@pytest.mark.parametrize(
    ("length", "words"),
    [
        ("10 mm", "A millimetre is a thousandth of a metre."),
        (
            "80 µm",
            "A micrometre is a millionth of a metre and a thousandth of a millimetre.",
        ),
        (
            "100 nm",
            "A nanometre is a billionth of a metre and a thousandth of a micrometre.",
        ),
        (
            "53 pm",
            "A picometre is a trillionth of a metre and a thousandth of a nanometre.",
        ),
        ("2 fm", "A femtometre is a thousandth of a picometre."),
        ("2 am", "An attometre is a thousandth of a femtometre."),
        ("2 m", ""),
        ("12 km", "A kilometre is a thousand metres."),
        ("12 Mm", "A megametre is a million metres and a thousand kilometres."),
    ],
)
def test_what_a_unit_means(length: str, words: str) -> None:
    scale, _ = read_scale(f"a: {length}", 1)
    assert scale and meaning(scale.stations[0].length) == words


def test_one_to_two_to_five() -> None:
    """By hand: a bar of at most a third of the view, in steps of 1, 2 and 5."""
    bars = {Fraction(3): 1, Fraction(6): 2, Fraction(14): 2, Fraction(15): 5, Fraction(30): 10}
    assert {view: bar_length(view) for view in bars} == bars
    assert show_length(bar_length(Fraction(200, 10**9))) == "50 nm"
    assert bar_length(Fraction(10), Fraction(1)) == 10


@given(st.fractions(min_value=Fraction(1, 10**15), max_value=10**15))
def test_a_bar_is_round_and_neither_short_nor_long(view: Fraction) -> None:
    bar = bar_length(view)
    assert view / 3 / Fraction(5, 2) < bar <= view / 3
    # Round: its digits are a 1, a 2 or a 5 and noughts.
    digits = f"{bar.numerator}" if bar.denominator == 1 else f"{float(bar):.0e}"[0]
    assert digits.strip("0") in ("1", "2", "5")


@pytest.mark.parametrize("view", [Fraction(0), Fraction(-1)])
def test_no_bar_for_no_view(view: Fraction) -> None:
    with pytest.raises(ValueError, match="more than 0"):
        bar_length(view)


def lesson(body: str):
    return read_lesson("zoom", f"---\ntitle: Zoom\n---\n\n{body}")


def test_a_scene_with_a_scale_has_no_program_and_the_next_keeps_the_one_before() -> None:
    found = lesson("# A\n```program\nHALT\n```\n# B\n```scale\na: 1 mm\n```\n# C\nGo on.\n")
    assert found.problems == ()
    one, zoom, two = found.scenes
    assert zoom.scale and zoom.program.words == () and zoom.run.last_step == 0
    assert two.program is one.program


def test_a_zoom_and_a_program_do_not_go_together() -> None:
    found = lesson("# A\n```scale\na: 1 mm\n```\n```program\nHALT\n```\n")
    (fault,) = found.faults
    assert fault.line == 9
    assert "cannot have a 'program' block too" in fault.what
