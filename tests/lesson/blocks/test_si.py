"""SI quantities against the BIPM's table and against Pint.

The table is that of the BIPM, *The International System of Units (SI Brochure)*, 9th edition
(2019, updated 2022 and later), table 7, 'SI prefixes', typed in here by hand. Pint 0.24 and later
is the reference library for values.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.lesson.blocks.si import (
    HERTZ,
    METRE,
    PREFIXES,
    SECOND,
    Unit,
    parse_quantity,
    prefix_of,
    show_quantity,
)
from app.lesson.entries import Wrong
from tests.lesson.blocks.reference import reference

BIPM_TABLE_7 = {
    "deca": ("da", 1),
    "hecto": ("h", 2),
    "kilo": ("k", 3),
    "mega": ("M", 6),
    "giga": ("G", 9),
    "tera": ("T", 12),
    "peta": ("P", 15),
    "exa": ("E", 18),
    "zetta": ("Z", 21),
    "yotta": ("Y", 24),
    "ronna": ("R", 27),
    "quetta": ("Q", 30),
    "deci": ("d", -1),
    "centi": ("c", -2),
    "milli": ("m", -3),
    "micro": ("µ", -6),
    "nano": ("n", -9),
    "pico": ("p", -12),
    "femto": ("f", -15),
    "atto": ("a", -18),
    "zepto": ("z", -21),
    "yocto": ("y", -24),
    "ronto": ("r", -27),
    "quecto": ("q", -30),
}

UNITS = (METRE, HERTZ, SECOND)


def test_the_prefixes_are_those_of_the_bipm() -> None:
    ours = {each.name: (each.symbol, each.exponent) for each in PREFIXES if each.name}
    assert ours == BIPM_TABLE_7


@pytest.mark.parametrize("name", BIPM_TABLE_7)
@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.symbol)
def test_every_prefix_in_symbols_and_in_words(name: str, unit: Unit) -> None:
    symbol, exponent = BIPM_TABLE_7[name]
    value = 7 * Fraction(10) ** exponent
    assert parse_quantity(f"7 {symbol}{unit.symbol}", unit) == value
    assert parse_quantity(f"7{symbol}{unit.symbol}", unit) == value
    assert parse_quantity(f"7 {name}{unit.names[0]}", unit) == value
    assert parse_quantity(f"7 {name}{unit.names[1]}", unit) == value


def test_both_letters_mu_are_micro() -> None:
    assert "\N{MICRO SIGN}" != "\N{GREEK SMALL LETTER MU}"
    for mu in ("\N{MICRO SIGN}", "\N{GREEK SMALL LETTER MU}"):
        assert parse_quantity(f"80 {mu}m", METRE) == Fraction(80, 10**6)


def test_the_definition_of_the_micrometre() -> None:
    micrometre = parse_quantity("1 µm", METRE)
    assert micrometre * 1_000_000 == parse_quantity("1 m", METRE)
    assert micrometre * 1_000 == parse_quantity("1 mm", METRE)


@settings(deadline=None)  # the first value waits for Pint
@given(
    st.decimals(min_value="0.0001", max_value="999999", places=4).filter(bool),
    st.sampled_from([each for each in PREFIXES if each.name]),
    st.sampled_from(UNITS),
)
def test_values_are_those_of_pint(number, prefix, unit: Unit) -> None:
    symbol = prefix.symbol.replace("\N{MICRO SIGN}", "u")
    theirs = reference().Quantity(Fraction(number), symbol + unit.symbol).to(unit.symbol)
    assert parse_quantity(f"{number} {prefix.symbol}{unit.symbol}", unit) == theirs.magnitude


@given(st.fractions(min_value=Fraction(1, 10**12), max_value=10**12).filter(bool))
def test_what_is_shown_is_near_by_the_reference(value: Fraction) -> None:
    """Shown to three digits, read by Pint, it is within half a unit of the third digit."""
    shown = show_quantity(value, METRE)
    number, unit = shown.split()
    theirs = reference().Quantity(Fraction(number.replace(",", "")), unit).to("m").magnitude
    assert abs(theirs - value) <= value / 200
    assert 1 <= Fraction(number) < 1000


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (Fraction(1, 3 * 10**9), SECOND, "333 ps"),
        (Fraction(8, 100_000), METRE, "80 µm"),
        (Fraction(9996, 10**10), METRE, "1 µm"),
        (Fraction(9994, 10**10), METRE, "999 nm"),
        (Fraction(12_742_000), METRE, "12.7 Mm"),
        (Fraction(1), METRE, "1 m"),
        (3 * 10**9 * Fraction(1), HERTZ, "3 GHz"),
        (Fraction(10) ** 34, METRE, "10,000 Qm"),
        (Fraction(1, 10**32), METRE, "0.01 qm"),
    ],
)
def test_shown(value: Fraction, unit: Unit, shown: str) -> None:
    assert show_quantity(value, unit) == shown


def test_the_prefix_that_is_shown() -> None:
    assert prefix_of(Fraction(5, 1000)).name == "milli"
    assert prefix_of(Fraction(5)).name == ""
    # Rounded as it is shown: this is '1 m'.
    assert prefix_of(Fraction(9996, 10_000)).name == ""


@pytest.mark.parametrize(
    ("text", "what", "mend"),
    [
        ("10 um", "'um' is not a unit", "'µm'"),
        ("10", "no unit", "'10 mm'"),
        ("mm", "is not a length", "'10 mm'"),
        ("", "is not a length", "'10 mm'"),
        ("10 km/h", "the unit of a speed", "a length"),
        ("10 m/s", "the unit of a speed", "a length"),
        ("10 m²", "the unit of an area", "a length"),
        ("10 inches", "not an SI unit", "'10 mm'"),
        ("5 ft", "not an SI unit", "'10 mm'"),
        ("5 Å", "not an SI unit", "'10 mm'"),
        ("5 microns", "not an SI unit", "'10 mm'"),
        ("3 GHz", "measures a frequency", "'10 mm'"),
        ("3 ms", "measures a time", "'10 mm'"),
        ("10 MM", "not a unit of length", "Capitals matter in units: did you mean 'Mm' or 'mm'?"),
        ("10 nM", "not a unit of length", "'nm'"),
        ("10 nanometer", "not a unit of length", "'nanometre'"),
        ("0 mm", "is 0", "more than 0"),
        ("-1 mm", "less than nothing", "more than 0"),
        ("−1 mm", "less than nothing", "more than 0"),
        ("1,5 mm", "comma", "'1.5'"),
        ("1.5.2 mm", "not a unit", ""),
        ("1e-7 m", "power of ten", "prefix"),
        ("1 × 10^-7 m", "power of ten", "prefix"),
        ("٣ mm", "not a number", "digits 0 to 9"),
        ("9" * 41 + " m", "too long", "prefix"),
    ],
)
def test_faults_say_what_and_how_to_mend(text: str, what: str, mend: str) -> None:
    with pytest.raises(Wrong) as caught:
        parse_quantity(text, METRE)
    assert what in caught.value.what
    assert mend in caught.value.mend
    assert caught.value.mend


def test_thousands() -> None:
    assert parse_quantity("12,742 km", METRE) == 12_742_000


@given(st.text(max_size=30))
def test_any_text_is_a_length_or_explained(text: str) -> None:
    try:
        assert parse_quantity(text, METRE) > 0
    except Wrong as wrong:
        assert wrong.what.strip() and wrong.mend.strip()
