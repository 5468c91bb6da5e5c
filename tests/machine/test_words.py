"""Words and numbers, against what Python and C do with two's complement and with bases."""

from __future__ import annotations

import ctypes
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.machine.machine import EIGHT_BIT, MACHINES, SIXTEEN_BIT
from app.machine.words import Format, parse_number, show_pattern, show_word

BOTH = pytest.mark.parametrize("format", MACHINES.values(), ids=MACHINES)
C_INTEGERS = {8: ctypes.c_int8, 16: ctypes.c_int16}


def every_pattern(format: Format) -> range:
    return range(1 << format.word_bits)


def test_sizes_are_those_of_the_specification() -> None:
    """The table 'Sizes' of tests/hardware/machine.md, worked out by hand."""
    sizes = {
        name: (
            format.word_bits,
            format.opcode_bits,
            format.operand_bits,
            format.memory_words,
            format.smallest,
            format.largest,
        )
        for name, format in MACHINES.items()
    }
    assert sizes == {
        "8-bit": (8, 4, 4, 16, -128, 127),
        "16-bit": (16, 8, 8, 256, -32768, 32767),
    }


@BOTH
def test_signed_reading_of_every_pattern(format: Format) -> None:
    """Python's own two's complement: int.from_bytes."""
    size = format.word_bits // 8
    for pattern in every_pattern(format):
        expected = int.from_bytes(pattern.to_bytes(size, "big"), "big", signed=True)
        assert format.signed(pattern) == expected


@BOTH
def test_pattern_of_every_signed_value(format: Format) -> None:
    """The struct module's two's complement."""
    signed, unsigned = {8: (">b", ">B"), 16: (">h", ">H")}[format.word_bits]
    for value in range(format.smallest, format.largest + 1):
        assert format.pattern(value) == struct.unpack(unsigned, struct.pack(signed, value))[0]


@BOTH
@given(value=st.integers(-(10**9), 10**9))
@settings(max_examples=200, deadline=None)
def test_values_that_do_not_fit_wrap_as_in_c(format: Format, value: int) -> None:
    assert format.signed(format.pattern(value)) == C_INTEGERS[format.word_bits](value).value


@pytest.mark.parametrize(
    ("format", "word", "opcode", "operand"),
    [
        (EIGHT_BIT, 0b0001_1100, 0b0001, 0b1100),  # data
        (EIGHT_BIT, 0xF0, 15, 0),  # data
        (SIXTEEN_BIT, 0x0AFF, 10, 255),  # data
        (SIXTEEN_BIT, 0xFF00, 255, 0),
    ],
)
def test_halves_of_a_word(format: Format, word: int, opcode: int, operand: int) -> None:
    assert format.split(word) == (opcode, operand)
    assert format.join(opcode, operand) == word


@BOTH
def test_halves_join_to_the_same_word(format: Format) -> None:
    assert all(format.join(*format.split(word)) == word for word in every_pattern(format))


@pytest.mark.parametrize(("opcode", "operand"), [(16, 0), (0, 16), (-1, 0), (0, -1)])
def test_halves_that_do_not_fit_are_refused(opcode: int, operand: int) -> None:
    with pytest.raises(ValueError, match="do not fit"):
        EIGHT_BIT.join(opcode, operand)


@pytest.mark.parametrize(
    ("value", "fits"), [(-129, False), (-128, True), (0, True), (255, True), (256, False)]
)
def test_what_fits_a_word(value: int, fits: bool) -> None:
    assert EIGHT_BIT.fits(value) is fits


@given(value=st.integers(-(2**20), 2**20), style=st.sampled_from(("d", "#b", "#x", "_", "#_b")))
@settings(max_examples=300, deadline=None)
def test_numbers_as_python_writes_them(value: int, style: str) -> None:
    assert parse_number(format(value, style)) == value
    assert parse_number(format(value, style).upper()) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("007", 7),  # leading zeros are no octal
        ("+5", 5),
        (" 13 ", 13),
        ("0b0000_1101", 13),
        ("0XfF", 255),
        ("-0b11", -3),
        ("1_000", 1000),
    ],
)
def test_numbers_as_people_write_them(text: str, value: int) -> None:
    assert parse_number(text) == value


@pytest.mark.parametrize(
    ("text", "what", "mend"),
    [
        ("", "not a number", "denary"),
        ("nine", "'nine' is not a number", "denary"),
        ("0b12", "not a number", "0b"),
        ("0xG", "not a number", "0x"),
        ("1.5", "not a number", "denary"),
        ("--1", "not a number", "denary"),
        ("٣", "not a number", "denary"),  # a digit, but not one of ours
        ("1__0", "underscore", "without"),
        ("_1", "underscore", "without"),
        ("1_", "underscore", "without"),
        ("9" * 5000, "too long", "shorter"),
    ],
)
def test_what_is_no_number_is_explained(text: str, what: str, mend: str) -> None:
    with pytest.raises(ValueError) as caught:
        parse_number(text)
    said, _, advice = str(caught.value).partition("; ")
    assert what in said
    assert mend in advice


@given(text=st.text(max_size=12) | st.text("0123456789abxABX_+-", max_size=12))
@settings(max_examples=300, deadline=None)
def test_any_text_is_a_number_or_explained(text: str) -> None:
    """Where it is read, Python reads the same (save that Python wants no leading zeros)."""
    try:
        value = parse_number(text)
    except ValueError as error:
        assert all(str(error).partition("; "))
    else:
        sign = -1 if "-" in text else 1
        digits = text.strip().lstrip("+-").lower()
        base = {"0b": 2, "0x": 16}.get(digits[:2], 10)
        assert value == sign * int(digits, base)


@BOTH
def test_bases_of_every_pattern(format: Format) -> None:
    """Against Python's format; its '_' groups binary digits in fours too."""
    bits = format.word_bits
    digits_and_underscores = bits + bits // 4 - 1
    for pattern in every_pattern(format):
        binary = f"{pattern:0{digits_and_underscores}_b}".replace("_", " ")
        assert show_pattern(pattern, bits, "binary") == binary
        assert show_pattern(pattern, bits, "hexadecimal") == f"{pattern:0{bits // 4}X}"
        assert show_pattern(pattern, bits, "denary") == str(pattern)


@pytest.mark.parametrize(
    ("bits", "pattern", "binary", "hexadecimal"),
    [(4, 5, "0101", "5"), (6, 0b10_1101, "10 1101", "2D"), (8, 5, "0000 0101", "05")],
)
def test_patterns_of_other_widths(bits: int, pattern: int, binary: str, hexadecimal: str) -> None:
    assert show_pattern(pattern, bits, "binary") == binary
    assert show_pattern(pattern, bits, "hexadecimal") == hexadecimal


@BOTH
def test_denary_words_show_the_signed_value(format: Format) -> None:
    """Against C's integers; the sign is the true minus, U+2212."""
    integer = C_INTEGERS[format.word_bits]
    for pattern in every_pattern(format):
        assert show_word(format, pattern, "denary").replace("\u2212", "-") == str(
            integer(pattern).value
        )
    assert show_word(format, format.word_mask, "denary") == "\u22121"


def test_words_in_the_other_bases_show_the_pattern() -> None:
    assert show_word(EIGHT_BIT, 0xF1, "binary") == "1111 0001"  # data
    assert show_word(SIXTEEN_BIT, 0xF1, "hexadecimal") == "00F1"  # data
