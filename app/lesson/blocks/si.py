"""Quantities with SI units, exact: a number, a prefix and a unit, read and written.

The prefixes are those of the BIPM, *The International System of Units (SI Brochure)*,
9th edition (2019, updated 2022 and later), table 7. Every value is a Fraction of the unit itself
(metres, hertz, seconds), so nothing is lost on the way and no conversion is written by hand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from app.lesson.entries import Wrong
from app.machine.source.problems import capital, nearest

from .number_words import rounded, write_number

MOST_DIGITS = 40
# What to do about a clock that hardly ticks.
SMALL_M = "A small m means a thousandth; for a million write MHz."


@dataclass(frozen=True, slots=True)
class Prefix:
    """A prefix multiplies a unit by ten to the power of its ``exponent``."""

    name: str
    symbol: str
    exponent: int

    @property
    def factor(self) -> Fraction:
        return Fraction(10) ** self.exponent


@dataclass(frozen=True, slots=True)
class Unit:
    """An SI unit. ``names`` are its singular and plural; ``kind`` is what it measures."""

    symbol: str
    names: tuple[str, str]
    kind: str
    example: str


METRE = Unit("m", ("metre", "metres"), "a length", "10 mm")
HERTZ = Unit("Hz", ("hertz", "hertz"), "a frequency", "3 GHz")
SECOND = Unit("s", ("second", "seconds"), "a time", "2 s")

PREFIXES = (
    Prefix("quetta", "Q", 30),
    Prefix("ronna", "R", 27),
    Prefix("yotta", "Y", 24),
    Prefix("zetta", "Z", 21),
    Prefix("exa", "E", 18),
    Prefix("peta", "P", 15),
    Prefix("tera", "T", 12),
    Prefix("giga", "G", 9),
    Prefix("mega", "M", 6),
    Prefix("kilo", "k", 3),
    Prefix("hecto", "h", 2),
    Prefix("deca", "da", 1),
    Prefix("", "", 0),
    Prefix("deci", "d", -1),
    Prefix("centi", "c", -2),
    Prefix("milli", "m", -3),
    Prefix("micro", "\N{MICRO SIGN}", -6),
    Prefix("nano", "n", -9),
    Prefix("pico", "p", -12),
    Prefix("femto", "f", -15),
    Prefix("atto", "a", -18),
    Prefix("zepto", "z", -21),
    Prefix("yocto", "y", -24),
    Prefix("ronto", "r", -27),
    Prefix("quecto", "q", -30),
)
# Those whose exponent is a multiple of three: one of them suits any value.
_THOUSANDS = tuple(each for each in PREFIXES if each.exponent % 3 == 0)

_QUANTITY = re.compile(r"(?P<number>[-+\N{MINUS SIGN}]?\d[\d,]*(?:\.\d+)?)\s*(?P<unit>.*)")
_GROUPED = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?")
# What people write that is no length and no frequency, or not of the SI.
_OTHERS = {
    "km/h": "a speed",
    "kph": "a speed",
    "mph": "a speed",
    "m/s": "a speed",
    "m2": "an area",
    "m\N{SUPERSCRIPT TWO}": "an area",
    "m3": "a volume",
    "m\N{SUPERSCRIPT THREE}": "a volume",
    "in": "not an SI unit",
    "inch": "not an SI unit",
    "inches": "not an SI unit",
    '"': "not an SI unit",
    "ft": "not an SI unit",
    "feet": "not an SI unit",
    "yd": "not an SI unit",
    "mile": "not an SI unit",
    "miles": "not an SI unit",
    "micron": "not an SI unit",
    "microns": "not an SI unit",
    "\N{LATIN CAPITAL LETTER A WITH RING ABOVE}": "not an SI unit",
    "rpm": "not an SI unit",
}


def _spellings(unit: Unit) -> dict[str, Prefix]:
    found = {}
    for prefix in PREFIXES:
        found[prefix.symbol + unit.symbol] = prefix
        for name in unit.names:
            found[prefix.name + name] = prefix
    # Unicode has two letters mu: the sign on keyboards and the Greek letter of the brochure.
    micro = found["\N{MICRO SIGN}" + unit.symbol]
    found["\N{GREEK SMALL LETTER MU}" + unit.symbol] = micro
    return found


_SPELLINGS = {unit: _spellings(unit) for unit in (METRE, HERTZ, SECOND)}


def parse_quantity(text: str, unit: Unit) -> Fraction:
    """The value that a text such as ``80 µm`` writes, in whole units (here metres): more than 0.

    Raises Wrong with what is wrong and how to mend it.
    """
    found = _QUANTITY.fullmatch(text.strip())
    if not found:
        raise Wrong(
            f"'{text}' is not {unit.kind}.", f"Write a number and a unit, as in '{unit.example}'."
        )
    return _number(found["number"], unit) * _prefix(found["unit"].strip(), unit).factor


def _number(text: str, unit: Unit) -> Fraction:
    digits = text.lstrip("+")
    if digits[0] in "-\N{MINUS SIGN}":
        raise Wrong(f"{text} is less than nothing.", f"{capital(unit.kind)} is more than 0 here.")
    if not digits.isascii():
        raise Wrong(f"'{text}' is not a number.", "Write it with the digits 0 to 9.")
    if not _GROUPED.fullmatch(digits):
        raise Wrong(
            f"'{text}' has a comma in an unusual place.",
            "Write a decimal point, as in '1.5', and thousands in threes, as in '12,000'.",
        )
    if len(digits) > MOST_DIGITS:
        raise Wrong("This number is too long.", "Write a shorter one, with another prefix.")
    value = Fraction(digits.replace(",", ""))
    if not value:
        raise Wrong("The number is 0.", f"{capital(unit.kind)} is more than 0 here.")
    return value


def _prefix(symbol: str, unit: Unit) -> Prefix:
    known = _SPELLINGS[unit]
    if symbol in known:
        return known[symbol]
    example = f"Write {unit.kind}, as in '{unit.example}'."
    if not symbol:
        raise Wrong("The number has no unit.", example)
    if symbol == f"u{unit.symbol}":
        micro = f"\N{MICRO SIGN}{unit.symbol}"
        raise Wrong(f"'{symbol}' is not a unit.", f"For micro{unit.names[1]} write '{micro}'.")
    for other, spellings in _SPELLINGS.items():
        if other is not unit and symbol in spellings:
            raise Wrong(f"'{symbol}' measures {other.kind}, not {unit.kind}.", example)
    if symbol.casefold() in _OTHERS or symbol in _OTHERS:
        kind = _OTHERS.get(symbol) or _OTHERS[symbol.casefold()]
        what = kind if kind.startswith("not") else f"the unit of {kind}, not of {unit.kind}"
        raise Wrong(f"'{symbol}' is {what}.", example)
    if re.match(r"e[-+]?\d|[×x*]\s*10|\s*\^", symbol, re.IGNORECASE):
        raise Wrong(
            "The number is written with a power of ten.",
            f"Use a prefix instead, as in '{unit.example}'.",
        )
    alike = [each for each in known if each.casefold() == symbol.casefold()]
    near = " or ".join(f"'{each}'" for each in alike) or nearest(symbol, known)
    if alike:
        mend = f"Capitals matter in units: did you mean {near}?"
    elif near:
        mend = f"Did you mean '{near}'?"
    else:
        mend = example
    raise Wrong(f"'{symbol}' is not a unit of {unit.kind.split(' ', 1)[1]}.", mend)


def show_quantity(value: Fraction, unit: Unit, digits: int = 3) -> str:
    """A value (in whole units, more than 0) with a prefix that leaves 1 to 999 before the unit.

    Rounded to so many significant ``digits``: ``show_quantity(Fraction(1, 3 * 10**9), SECOND)``
    is ``333 ps``.
    """
    prefix = prefix_of(value, digits)
    return f"{write_number(rounded(value, digits) / prefix.factor)} {prefix.symbol}{unit.symbol}"


def prefix_of(value: Fraction, digits: int = 3) -> Prefix:
    """The prefix with which :func:`show_quantity` writes a value, rounded as it is there."""
    near = rounded(value, digits)
    return next((each for each in _THOUSANDS if each.factor <= near), _THOUSANDS[-1])
