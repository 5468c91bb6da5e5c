"""Characters, held to Python's own tables of ISO/IEC 646 and of Unicode."""

from __future__ import annotations

import curses.ascii
import unicodedata

import pytest

from app.machine.characters import (
    CHARACTERS,
    as_text,
    character,
    number_of,
    read_character,
    shown,
    split_comment,
    too_large,
)
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT
from app.machine.words import NotANumber, parse_number, show_word


@pytest.mark.parametrize("bits", [8, 16])
def test_the_numbers_are_those_of_iso_646(bits: int) -> None:
    """Python's codec 'ascii' is the international reference version of ISO/IEC 646:1991."""
    for number in range(128):
        sign = bytes([number]).decode("ascii")
        assert character(number, bits) == sign
        if sign.isprintable() and sign != " ":
            assert shown(number, bits) == f"'{sign}'"


def test_the_controls_have_the_abbreviations_of_the_standard() -> None:
    """Those that Python's curses.ascii has from the same standard, where TAB and NL have been
    called HT and LF since."""
    older = {"HT": "HT", "TAB": "HT", "NL": "LF"}
    for number, name in enumerate(curses.ascii.controlnames):
        assert shown(number, 8) == shown(number, 16) == older.get(name, name)
    assert shown(127, 8) == "DEL"


def test_eight_bits_name_no_more_than_seven_do() -> None:
    assert not any(character(number, 8) for number in range(128, 256))
    assert show_word(EIGHT_BIT, 0xFB, CHARACTERS) == "−5"  # data


def test_sixteen_bits_are_unicode() -> None:
    """A number is shown as a character just where Unicode has given it a letter, a number, a mark
    of writing or a symbol (its general categories L, N, P, S)."""
    for number in range(128, 0x10000):
        sign = chr(number)
        has_shape = unicodedata.category(sign)[0] in "LNPS"
        assert (character(number, 16) == sign) is has_shape, hex(number)
        if not has_shape:
            assert show_word(SIXTEEN_BIT, number, CHARACTERS) == show_word(
                SIXTEEN_BIT, number, "denary"
            )
    # Halves of a pair, what is for private use and what is not assigned are no characters.
    none = (0xD800, 0xE000, 0xFFFF, 0x0301, 0x00AD)  # data
    assert not any(character(number, 16) for number in none)


def test_a_line_of_text_has_the_pictures_of_controls() -> None:
    numbers = [72, 105, 10, 32, 127, 0xFFFB]
    told = [show_word(SIXTEEN_BIT, each, "denary") for each in numbers]
    line = as_text(numbers, 16, told)
    assert line == "Hi␊ ␡[−5]"
    # The names that Unicode gives to the pictures of the first 32 are those of the controls.
    pictures = [as_text([number], 8, [""]) for number in range(32)]
    names = [unicodedata.name(each) for each in pictures]
    assert names[0] == "SYMBOL FOR NULL" and names[10] == "SYMBOL FOR LINE FEED"
    assert all(name.startswith("SYMBOL FOR ") for name in names) and len(set(names)) == 32


@pytest.mark.parametrize(
    ("text", "number"),
    [("'A'", 65), ("' '", 32), ("'''", 39), ("';'", 59), ("'€'", 0x20AC), ("‘A’", 65), ("'7'", 55)],
)
def test_a_character_in_quotes_is_its_number(text: str, number: int) -> None:
    assert read_character(text) == parse_number(text) == number == ord(text[1])


@pytest.mark.parametrize("text", ["'AB'", "'abc'"])
def test_more_than_one_is_told(text: str) -> None:
    with pytest.raises(NotANumber, match="not just one character") as wrong:
        parse_number(text)
    assert wrong.value.mend == "Write one, as in 'A'."


def test_what_a_word_has_no_room_for_is_told() -> None:
    assert too_large("'é'", ord("é"), 16) is None
    assert "only 0 to 127" in (too_large("'é'", ord("é"), 8) or ("", ""))[0]
    assert "too large for 16 bits" in (too_large("'😀'", ord("😀"), 16) or ("", ""))[0]
    assert too_large("233", 233, 8) is None


@pytest.mark.parametrize(
    ("text", "number"),
    [("'A'", 65), ("A", 65), ("lf", 10), ("SP", 32), ("7", None), ("65", None), ("'7'", 55)],
)
def test_what_a_pupil_writes_who_sees_characters(text: str, number: int | None) -> None:
    assert number_of(text) == number


@pytest.mark.parametrize(
    ("line", "parts"),
    [
        ("LOAD a ; the first", ("LOAD a ", ";", " the first")),
        ("semi: ';' ; a semicolon", ("semi: ';' ", ";", " a semicolon")),
        ("HALT", ("HALT", "", "")),
        ("HALT ; don't; stop", ("HALT ", ";", " don't; stop")),
        ("it's ; 'x'", ("it's ", ";", " 'x'")),
    ],
)
def test_a_semicolon_in_quotes_starts_no_comment(line: str, parts: tuple[str, str, str]) -> None:
    assert split_comment(line) == parts
    assert "".join(split_comment(line)) == line


def test_every_number_is_read_as_it_is_shown() -> None:
    """What stands in quotes on the board can be written into a program."""
    for machine in (EIGHT_BIT, SIXTEEN_BIT):
        for number in range(machine.word_mask + 1):
            text = show_word(machine, number, CHARACTERS)
            if text.startswith("'"):
                assert parse_number(text) == number
