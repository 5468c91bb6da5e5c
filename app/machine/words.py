"""Words of the machine: fixed-width two's complement, and numbers as people write them.

Inside the machine every word is its *bit pattern*, an unsigned integer from 0 to
``2**bits - 1``. The signed value is a reading of that pattern (two's complement).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from .characters import CHARACTERS, read_character, shown


@dataclass(frozen=True)
class Format:
    """The sizes of one machine.

    ``word_bits`` is split into two equal halves, opcode and operand; the operand is an
    address or an unsigned number, so it also sets the size of memory.
    """

    name: str
    word_bits: int

    @property
    def operand_bits(self) -> int:
        return self.word_bits // 2

    @property
    def opcode_bits(self) -> int:
        return self.word_bits - self.operand_bits

    @property
    def memory_words(self) -> int:
        return 1 << self.operand_bits

    @property
    def word_mask(self) -> int:
        return (1 << self.word_bits) - 1

    @property
    def operand_mask(self) -> int:
        return (1 << self.operand_bits) - 1

    @property
    def smallest(self) -> int:
        """The smallest signed value of a word."""
        return -(1 << (self.word_bits - 1))

    @property
    def largest(self) -> int:
        """The largest signed value of a word."""
        return (1 << (self.word_bits - 1)) - 1

    def split(self, word: int) -> tuple[int, int]:
        """The opcode and the operand of an instruction word."""
        return word >> self.operand_bits, word & self.operand_mask

    def join(self, opcode: int, operand: int) -> int:
        """The instruction word made of an opcode and an operand.

        Raises ValueError where either does not fit its half.
        """
        if not 0 <= opcode < 1 << self.opcode_bits or not 0 <= operand <= self.operand_mask:
            raise ValueError(f"{opcode} and {operand} do not fit the halves of a {self.name} word")
        return opcode << self.operand_bits | operand

    def signed(self, pattern: int) -> int:
        """The two's-complement reading of a bit pattern."""
        return pattern - (1 << self.word_bits) if pattern >> (self.word_bits - 1) else pattern

    def pattern(self, value: int) -> int:
        """The bit pattern of a value, wrapped to the word as two's complement does."""
        return value & self.word_mask

    def fits(self, value: int) -> bool:
        """Whether a signed or an unsigned reading of one word can hold the value."""
        return self.smallest <= value <= self.word_mask


BASES = ("binary", "denary", "hexadecimal")
# With that of a lesson about characters.
EVERY_BASE = (*BASES, CHARACTERS)

_NUMBER = re.compile(
    r"(?P<sign>[+\-\N{MINUS SIGN}\N{EN DASH}]?)"
    r"(?:0b(?P<binary>[01_]+)|0x(?P<hexadecimal>[0-9a-f_]+)|(?P<denary>[0-9_]+))",
    re.IGNORECASE,
)
_UNDERSCORES = re.compile(r"^_|_$|__")


class NotANumber(ValueError):
    """What is written cannot be read as a number: ``what`` is wrong, and how to ``mend`` it, in
    whole sentences. ``is_none`` tells that it is no number at all, rather than a wrong one."""

    def __init__(self, what: str, mend: str, is_none: bool = False) -> None:
        super().__init__(f"{what}; {mend}")
        self.what = f"{what}."
        self.mend = f"{mend[0].upper()}{mend[1:]}."
        self.is_none = is_none


def parse_number(text: str) -> int:
    """The integer that a text writes in denary, binary (0b) or hexadecimal (0x), or as a
    character in quotes.

    Single underscores may stand between digits, and a minus may be as long as an editor or a
    slide makes it. Raises NotANumber.
    """
    try:
        number = read_character(text.strip())
    except ValueError:
        what = f"There is not just one character between the quotes of {text.strip()}"
        raise NotANumber(what, "write one, as in 'A'") from None
    if number is not None:
        return number
    found = _NUMBER.fullmatch(text.strip())
    if not found:
        mend = "write denary (13), binary (0b1101) or hexadecimal (0xD)"
        raise NotANumber(f"'{text}' is not a number", mend, is_none=True)
    base = {"binary": 2, "hexadecimal": 16, "denary": 10}[found.lastgroup or "denary"]
    digits = found[found.lastgroup or "denary"]
    if _UNDERSCORES.search(digits):
        raise NotANumber(
            f"'{text}' has an underscore that is not between two digits", "write it without"
        )
    if len(digits) > 64:
        raise NotANumber("The number is far too long for a word", "write a shorter one")
    value = int(digits.replace("_", ""), base)
    return value if found["sign"] in ("", "+") else -value


def show_pattern(pattern: int, bits: int, base: str) -> str:
    """A bit pattern as text: binary in groups of four, unsigned denary, or hexadecimal."""
    if base == "binary":
        digits = f"{pattern:0{bits}b}"
        first = len(digits) % 4
        groups = [digits[:first]] if first else []
        groups += [digits[at : at + 4] for at in range(first, len(digits), 4)]
        return " ".join(groups)
    if base == "hexadecimal":
        return f"{pattern:0{-(-bits // 4)}X}"
    return str(pattern)


def show_signed(value: int) -> str:
    """A number in denary, with a true minus sign."""
    return f"\N{MINUS SIGN}{-value}" if value < 0 else str(value)


def show_word(format: Format, pattern: int, base: str) -> str:
    """A data word as text; denary shows the signed value with a true minus sign, and so does the
    base of characters where the word names none."""
    if base == CHARACTERS and (sign := shown(pattern, format.word_bits)):
        return sign
    if base in ("denary", CHARACTERS):
        return show_signed(format.signed(pattern))
    return show_pattern(pattern, format.word_bits, base)
