"""Numbers as a text writes them: digits, bits in groups of four, and words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

_UNITS = (
    *("nought", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen"),
    "nineteen",
)
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_LARGE = {"hundred": 100, "million": 10**6, "billion": 10**9}
_ORDINALS = (
    *("fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth"),
)

WORDS: dict[str, int] = {name: at for at, name in enumerate(_UNITS)}
WORDS |= {name: 10 * at for at, name in enumerate(_TENS, start=2)}
WORDS |= {
    f"{ten}-{unit}": WORDS[ten] + at
    for ten in _TENS
    for at, unit in enumerate(_UNITS[1:10], start=1)
}
WORDS |= {"hundred": 100}
WORDS |= {name: at for at, name in enumerate(_ORDINALS, start=4)}
# These mostly count nothing ('one of them', 'below nought'): they are held where a claim expects a
# number, and need no claim of their own.
LOOSE = ("one", "nought")

_BITS = r"(?<![\d.,])(?:1 )?[01]{4}(?: [01]{4})*(?![\d.,]*\d)"
_DIGITS = r"(?:(?<![\w)])[-\N{MINUS SIGN}])?(?<![\d.,])\d+(?:,\d{3})*(?:\.\d+)?"
# The tens stand once, with an optional unit: hundreds of patterns have this in them.
_SINGLE = sorted((each for each in WORDS if "-" not in each), key=len, reverse=True)
_WORD = rf"\b(?:(?:{'|'.join(_TENS)})-(?:{'|'.join(_UNITS[1:10])})|{'|'.join(_SINGLE)})\b(?!'s)"
# One capturing group would take a place among those of a claim, so there is none.
NUMBER = rf"(?:{_BITS}|(?:{_DIGITS}|{_WORD})(?: (?:million|billion))?)"
_FOUND = re.compile(NUMBER, re.IGNORECASE)


def numbers(text: str) -> Iterator[re.Match[str]]:
    """The numbers of a text that must be accounted for."""
    return (each for each in _FOUND.finditer(text) if each[0].casefold() not in LOOSE)


def is_bits(text: str) -> bool:
    return re.fullmatch(r"(?:1 )?[01]{4}(?: [01]{4})*", text) is not None


def value(text: str) -> int | Fraction | str:
    """What a number says; bits stay text, without their spaces."""
    if is_bits(text):
        return text.replace(" ", "")
    first, _, large = text.casefold().partition(" ")
    if first in WORDS:
        number = Fraction(WORDS[first])
    else:
        number = Fraction(first.replace(",", "").replace("\N{MINUS SIGN}", "-"))
    number *= _LARGE.get(large, 1)
    return int(number) if number.denominator == 1 else number


def changed(text: str) -> Iterator[str]:
    """Other numbers in the same writing: one more and one less, or a bit turned over."""
    if is_bits(text):
        for at in (0, len(text) - 1):
            yield text[:at] + "10"[int(text[at])] + text[at + 1 :]
        return
    first, *large = text.split(" ")
    if first.casefold() in WORDS:
        group = _ORDINALS if first.casefold() in _ORDINALS else None
        for name, number in WORDS.items():
            if abs(number - WORDS[first.casefold()]) == 1 and (name in _ORDINALS) == bool(group):
                yield " ".join([name.capitalize() if first[0].isupper() else name, *large])
        if first.casefold() == "hundred":
            yield "ninety"
        return
    digits = first.replace(",", "").replace("\N{MINUS SIGN}", "-")
    number = Fraction(digits)
    for other in (number + 1, number - 1):
        shown = f"{float(other):.1f}" if "." in digits else f"{int(other):,}"
        if "," not in first:
            shown = shown.replace(",", "")
        yield " ".join([shown.replace("-", "\N{MINUS SIGN}"), *large])
