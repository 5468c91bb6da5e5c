"""Characters: which one a number names, and how it is written.

The numbers up to 127 are those of ISO/IEC 646 (international reference version), which are also
the first of Unicode (ISO/IEC 10646); a word of sixteen bits has room for those up to 65,535. The
characters that control a device have no shape: they are shown by the abbreviations of ISO/IEC 646
(with the separators as FS, GS, RS and US). A number that names no character with a shape of its
own stays a number.
"""

from __future__ import annotations

import re
import unicodedata

CHARACTERS = "characters"
LAST_OF_646 = 127

_CONTROLS = re.findall(
    r"\w+",
    "NUL SOH STX ETX EOT ENQ ACK BEL BS HT LF VT FF CR SO SI"
    " DLE DC1 DC2 DC3 DC4 NAK SYN ETB CAN EM SUB ESC FS GS RS US",
)
_NAMED = {**dict(enumerate(_CONTROLS)), 32: "SP", 127: "DEL"}
# Letters, numbers, marks of writing and symbols; not those that only change another one.
_WITH_SHAPE = "LNPS"
# Quotes as an editor or a slide may make them.
QUOTES = "'\N{LEFT SINGLE QUOTATION MARK}\N{RIGHT SINGLE QUOTATION MARK}"
QUOTED = re.compile(f"[{QUOTES}](.+)[{QUOTES}]", re.DOTALL)
IN_QUOTES = f"[{QUOTES}].[{QUOTES}]"
"""The pattern of one character in quotes, whatever the character is."""
# What may stand between code and its comment: a semicolon in quotes starts none.
_CODE = re.compile(rf"(?:{IN_QUOTES}|[^;])*")


def character(number: int, bits: int) -> str:
    """The character that a pattern of so many bits names, as it is: one sign. Empty for none."""
    if not 0 <= number < 1 << bits or (bits <= 8 and number > LAST_OF_646):
        return ""
    sign = chr(number)
    # A category of each half of a pair is 'C', as are numbers that name nothing.
    named = number in _NAMED or unicodedata.category(sign)[0] in _WITH_SHAPE
    return sign if named and number <= 0xFFFF else ""


def shown(number: int, bits: int) -> str:
    """The same as it is shown: in quotes, or by its abbreviation; empty for none."""
    sign = character(number, bits)
    return _NAMED.get(number) or (f"'{sign}'" if sign else "")


def as_text(numbers: list[int], bits: int, other: list[str]) -> str:
    """Numbers as a line of text: each as its character, one that has no shape as the sign that
    Unicode has for it, and what is no character as the text in ``other``, in brackets."""
    line = []
    for number, instead in zip(numbers, other, strict=True):
        sign = character(number, bits)
        if number != 32 and number in _NAMED:
            # The pictures of the controls start at 2400, that of DEL stands after them.
            sign = "\N{SYMBOL FOR DELETE}" if number == LAST_OF_646 else chr(0x2400 + number)
        line.append(sign or f"[{instead}]")
    return "".join(line)


def read_character(text: str) -> int | None:
    """The number of a character in quotes; None for a text that is not in quotes.

    Raises ValueError where there is not just one between them.
    """
    found = QUOTED.fullmatch(text)
    if found is None:
        return None
    if len(found[1]) != 1:
        raise ValueError(f"{text} is not one character")
    return ord(found[1])


def number_of(text: str) -> int | None:
    """The number of a character as somebody writes it who sees characters: in quotes, by its
    abbreviation, or, if it is no digit, by itself; None for anything else."""
    found = QUOTED.fullmatch(text)
    sign = found[1] if found else text
    if len(sign) == 1 and (found or not sign.isdigit()):
        return ord(sign)
    return next((code for code, name in _NAMED.items() if name == text.upper()), None)


def too_large(text: str, number: int, bits: int) -> tuple[str, str] | None:
    """What is wrong with a character in quotes that a word has no room for, and how to mend it."""
    if QUOTED.fullmatch(text) is None:
        return None
    if bits <= 8 and number > LAST_OF_646:
        what = f"The character {text} has the number {number}, and 7 bits name only 0 to 127."
        return what, "Choose a letter without an accent, or use the 16-bit machine."
    if number >= 1 << bits:
        what = f"The character {text} has the number {number}, too large for {bits} bits."
        return what, "Choose another one."
    return None


def split_comment(line: str) -> tuple[str, str, str]:
    """A line of a program: its code, the semicolon and the comment, as ``partition`` gives them. A
    semicolon in quotes is a character."""
    found = _CODE.match(line)
    assert found
    return found[0], line[found.end() : found.end() + 1], line[found.end() + 1 :]
