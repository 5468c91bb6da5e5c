"""Lists of numbers: what is read, and what is told of the rest."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT
from app.machine.source.numbers import MOST_INPUTS, read_numbers, write_numbers


def test_numbers_stand_between_commas_blanks_and_lines() -> None:
    text = "3, 8 0b11,0xA\n\u22125,\t1_0 ; the last fare"
    assert read_numbers(EIGHT_BIT, text) == ((3, 8, 3, 10, 251, 10), [])
    assert read_numbers(EIGHT_BIT, " , \n") == ((), [])


@pytest.mark.parametrize(
    ("text", "line", "column", "length", "what", "mend"),
    [
        ("1\n2, two", 11, 4, 3, "'two' is not a number.", "numbers such as 7, with commas"),
        ("1__0", 10, 1, 4, "underscore that is not between two digits.", "Write it without."),
        ("1 256", 10, 3, 3, "The fare 256 does not fit a word of 8 bits.", "-128 to 127"),
        ("1, -129", 10, 4, 4, "The fare -129 does not fit", "-128 to 127"),
        (f"0{'1' * 65}", 10, 1, 66, "far too long", "Write a shorter one."),
    ],
)
def test_faults(text: str, line: int, column: int, length: int, what: str, mend: str) -> None:
    _, (fault,) = read_numbers(EIGHT_BIT, text, "fare", first_line=10)
    assert (fault.line, fault.column, fault.length) == (line, column, length)
    assert what in fault.what and mend in fault.mend and not fault.warning


def test_a_number_that_is_shown_as_another_is_told() -> None:
    patterns, (warning,) = read_numbers(EIGHT_BIT, "1, 200, 0xC8, 0b11001000")  # data
    assert patterns == (1, 200, 200, 200)
    assert (warning.column, warning.length, warning.warning) == (4, 3, True)
    # 200 - 256 in two's complement of eight bits.
    assert "show -56" in warning.what and "0xC8" in warning.mend  # data
    assert read_numbers(SIXTEEN_BIT, "200") == ((200,), [])


def test_a_semicolon_between_numbers_is_told() -> None:
    patterns, (warning,) = read_numbers(EIGHT_BIT, "1\n3;  8, 9")
    assert patterns == (1, 3)
    assert (warning.line, warning.column, warning.length) == (2, 5, 4)
    assert "8, 9 is not read" in warning.what and "comma" in warning.mend and warning.warning
    assert read_numbers(EIGHT_BIT, "3 ; 8 rolls\n4 ;")[1] == []
    # Where there are no comments nothing is left out either.
    _, (fault,) = read_numbers(EIGHT_BIT, "3; 8", comments=False)
    assert "'3;' is not a number" in fault.what and not fault.warning


def test_thousands_set_apart_are_told_as_several_numbers() -> None:
    patterns, (warning,) = read_numbers(SIXTEEN_BIT, "5, 12,000\n1, 100, 200, 13,17 ; a 1,000")
    assert patterns == (5, 12, 0, 1, 100, 200, 13, 17)
    assert (warning.line, warning.column, warning.length) == (1, 4, 6) and warning.warning
    assert warning.what == "'12,000' is read as 2 numbers." and "Write '12000'" in warning.mend
    assert len(read_numbers(SIXTEEN_BIT, "1,000, 2,\t3,000,\n4,000,")[1]) == 3
    assert len(read_numbers(SIXTEEN_BIT, "12000 1,000,20")[1]) == 1


@pytest.mark.parametrize("text", ["1 000, 5", "10 000\n5", "1\xa0000", "7, 12\u202f345", "5,1,000"])
def test_thousands_set_apart_by_a_space_are_told_too(text: str) -> None:
    (warning,) = read_numbers(SIXTEEN_BIT, text)[1]
    assert warning.what.endswith(" is read as 2 numbers.") and "for one, or" in warning.mend
    assert read_numbers(SIXTEEN_BIT, "1, 000, 5, 10, 000")[1] == []


@pytest.mark.parametrize(
    "text", ["72,101,108,108,111", "100,200", "5,100,200", "100 200 300", "1 2 300", "-5,100,200"]
)
def test_a_list_that_could_be_no_number_is_none(text: str) -> None:
    assert read_numbers(SIXTEEN_BIT, text)[1] == []
    assert read_numbers(EIGHT_BIT, "1,100\n5,120,110")[1] == []


def test_too_many_are_told_where_the_first_of_them_stands() -> None:
    patterns, (fault,) = read_numbers(EIGHT_BIT, "1 " * 4 + "\n5", "output", most=4)
    assert patterns == (1, 1, 1, 1)
    assert (fault.line, fault.column) == (2, 1)
    assert "5 outputs" in fault.what and "4" in fault.mend
    assert len(read_numbers(EIGHT_BIT, "1 " * (MOST_INPUTS + 1))[0]) == MOST_INPUTS


def test_numbers_in_words() -> None:
    assert write_numbers(EIGHT_BIT, (3, 255)) == "3, −1"
    assert write_numbers(EIGHT_BIT, ()) == "nothing"


@given(st.lists(st.integers(-128, 127), max_size=30))
def test_what_is_written_is_read_again(values: list[int]) -> None:
    patterns = tuple(each & 0xFF for each in values)
    if values:
        assert read_numbers(EIGHT_BIT, write_numbers(EIGHT_BIT, patterns)) == (patterns, [])


@given(st.text(max_size=60), st.booleans())
def test_any_text_is_read_or_explained(text: str, comments: bool) -> None:
    patterns, problems = read_numbers(EIGHT_BIT, text, comments=comments)
    assert all(0 <= each <= 0xFF for each in patterns)
    assert all(each.what.strip() and each.mend.strip() for each in problems)
