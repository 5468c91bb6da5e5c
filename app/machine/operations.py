"""What the arithmetic and logic unit can do, each operation defined once.

Engine, sentence, movement, questions and marking read this table. An operation is written as an
expression on two bit patterns, so that the engine can put it in its loop as it stands; what it
makes of two numbers (:meth:`Operation.whole`) comes from the same expression.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from .words import Format


class Status(StrEnum):
    """What the last COMPARE found, or how the last result compares with 0."""

    LESS = "LESS"
    EQUAL = "EQUAL"
    MORE = "MORE"


# What the status shows before anything has set it.
NO_STATUS = "\N{EN DASH}"
COMPARISONS = {
    Status.LESS: ("is less than", "<"),
    Status.EQUAL: ("is equal to", "="),
    Status.MORE: ("is more than", ">"),
}


def compared(left: int, right: int) -> Status:
    """How one signed value compares with another."""
    return Status.EQUAL if left == right else Status.LESS if left < right else Status.MORE


class Mark(StrEnum):
    """The single bits beside the comparison: what a jump can ask for besides it."""

    CARRY = "CARRY"
    OVERFLOW = "OVERFLOW"


Condition = Status | Mark


def status_shown(status: Status | None) -> str:
    """The status as the board shows it; None, before anything has set it, is a dash."""
    return status.value if status else NO_STATUS


def mark_words(mark: Mark, on: bool) -> str:
    """The start of a sentence that says what a jump found that asks for a mark."""
    if mark is Mark.CARRY:
        return f"The carry is {int(on)}"
    return f"The overflow mark is {'on' if on else 'off'}"


def condition_shown(condition: Condition) -> str:
    """What a jump waits for, as a sentence calls it: 'MORE', 'a carry of 1'."""
    if condition is Mark.CARRY:
        return "a carry of 1"
    return "the overflow mark" if condition is Mark.OVERFLOW else str(condition)


def status_words(status: Status | None) -> str:
    """The start of a sentence that says what a conditional jump found."""
    return f"The status is {status}" if status else "There has been no comparison yet"


@dataclass(frozen=True)
class Operation:
    """One operation of the ALU.

    ``symbol`` stands in the transfer notation, ``sign`` between two values on the board (the same
    where it is empty). ``expression`` gives the result in Python, on ``left`` and ``right`` as bit
    patterns; it is cut to the word. ``overflow`` is an expression that is not 0 where the signed
    result does not fit the word: of ``left``, ``right``, ``result`` and ``SIGN``, a word whose
    leftmost bit alone is 1; empty where every result fits. An operation without ``expression``
    only compares. ``carry`` is an expression of the bit that is left over, of ``left``, ``right``,
    ``BITS`` (how many a word has) and ``SIGN``; empty where none is. With ``alone`` it works on
    ``left`` and nothing else, and its symbol stands in front. ``column`` names the circuit that
    stands in each column of the ALU for it (``gates.CIRCUITS``); empty for one that is not looked
    into. ``line`` is what a control line calls it; the symbol, where that is empty. ``does``
    completes 'the ALU ...' with the values ``{left}`` and ``{right}``, ``verb`` and ``did`` say in
    a few words what the instruction does and did, and ``mixed_up`` is the symbol of the operation
    that it is usually mistaken for.
    """

    symbol: str
    expression: str
    overflow: str
    does: str
    verb: str
    did: str
    sign: str = ""
    mixed_up: str = ""
    carry: str = ""
    alone: bool = False
    column: str = ""
    line: str = ""

    @property
    def compares(self) -> bool:
        """Whether it only finds out how its values compare, and makes no result."""
        return not self.expression

    @property
    def shown(self) -> str:
        return self.sign or self.symbol

    def written(self, left: str, right: str) -> str:
        """The operation on two terms, in the transfer notation."""
        return f"{self.symbol} {left}" if self.alone else f"{left} {self.symbol} {right}"

    @cached_property
    def _functions(self) -> tuple[Callable[..., int], Callable[..., int]]:
        terms = "left, right, BITS, SIGN, WORD"
        result, carry = (
            eval(f"lambda {terms}: {each or 0}") for each in (self.expression, self.carry)
        )
        return result, carry

    def whole(self, left: int, right: int) -> int:
        """What the operation makes of two signed values where no word cuts it short; only for one
        whose result can be too large."""
        return self._functions[0](left, right, 0, 0, 0)

    def result(self, format: Format, left: int, right: int) -> int:
        """The bit pattern that it makes of two bit patterns."""
        return format.pattern(self._functions[0](left, right, *_sizes(format)))

    def left_over(self, format: Format, left: int, right: int) -> int:
        """The carry, 0 or 1, that it makes of two bit patterns."""
        return self._functions[1](left, right, *_sizes(format))


def _sizes(format: Format) -> tuple[int, int, int]:
    """What the expressions call ``BITS``, ``SIGN`` and ``WORD``."""
    return format.word_bits, 1 << (format.word_bits - 1), format.word_mask


OPERATIONS = (
    # The sign bit of (a ^ result) & (b ^ result) is the textbook overflow of an addition.
    Operation(
        symbol="+",
        expression="left + right",
        overflow="(left ^ result) & (right ^ result) & SIGN",
        does="adds {left} and {right}",
        verb="adds",
        did="added",
        mixed_up="-",
        carry="(left + right) >> BITS",
        column="add",
        line="add",
    ),
    Operation(
        symbol="-",
        expression="left - right",
        overflow="(left ^ result) & (left ^ right) & SIGN",
        does="takes {right} away from {left}",
        verb="takes away",
        did="took away",
        sign="\N{MINUS SIGN}",
        mixed_up="+",
        # The borrow: 1 where more is taken away than there is, both read without a sign.
        carry="(left - right) >> BITS & 1",
        column="subtract",
        line="subtract",
    ),
    Operation(
        symbol="compared with",
        expression="",
        overflow="",
        does="compares {left} with {right}",
        verb="compares",
        did="compared",
        column="subtract",
        line="compare",
    ),
)

# Only the right four bits of a count are looked at: 0 to 15 places of a word of 16 bits.
_BY = "(right & 15)"
_LEAVES_LEFT = f"(left << {_BY}) >> BITS & 1"
_LEAVES_RIGHT = f"(left << 1) >> {_BY} & 1"

# What the bit operations add. In a shift the carry is the last bit that has left the word.
BIT_OPERATIONS = (
    Operation(
        symbol="AND",
        expression="left & right",
        overflow="",
        does="keeps of {left} the bits that are 1 in {right} too",
        verb="keeps the bits that are 1 in both",
        did="kept the bits that are 1 in both",
        mixed_up="OR",
        column="and",
    ),
    Operation(
        symbol="OR",
        expression="left | right",
        overflow="",
        does="makes each bit 1 that is 1 in {left} or in {right} or in both",
        verb="makes each bit 1 that is 1 in one of the two or in both",
        did="made each bit 1 that is 1 in one of the two or in both",
        mixed_up="AND",
        column="or",
    ),
    Operation(
        symbol="XOR",
        expression="left ^ right",
        overflow="",
        does="makes each bit 1 that is 1 in just one of {left} and {right}",
        verb="makes each bit 1 that is 1 in just one of the two",
        did="made each bit 1 that is 1 in just one of the two",
        mixed_up="OR",
        column="xor",
    ),
    Operation(
        symbol="NOT",
        expression="~left",
        overflow="",
        does="turns every bit of {left} round",
        verb="turns every bit round",
        did="turned every bit round",
        alone=True,
        column="not",
    ),
    Operation(
        symbol="shifted left by",
        expression=f"left << {_BY}",
        overflow="",
        does="shifts the bits of {left} left by {right}, and zeros come in",
        verb="shifts to the left",
        did="shifted to the left and let zeros in",
        sign="\N{LEFTWARDS ARROW}",
        mixed_up="shifted right by",
        carry=_LEAVES_LEFT,
        column="move",
        line="shift left",
    ),
    Operation(
        symbol="shifted right by",
        expression=f"left >> {_BY}",
        overflow="",
        does="shifts the bits of {left} right by {right}, and zeros come in",
        verb="shifts to the right and lets zeros in",
        did="shifted to the right and let zeros in",
        sign="\N{RIGHTWARDS ARROW}",
        mixed_up="shifted left by",
        carry=_LEAVES_RIGHT,
        column="move",
        line="shift right",
    ),
    Operation(
        symbol="shifted right signed by",
        expression=f"((left ^ SIGN) - SIGN) >> {_BY}",
        overflow="",
        does="shifts the bits of {left} right by {right}, and copies of the sign bit come in",
        verb="shifts to the right and keeps the sign",
        did="shifted to the right and kept the sign",
        sign="\N{RIGHTWARDS ARROW}",
        mixed_up="shifted right by",
        carry=_LEAVES_RIGHT,
        column="move",
        line="shift right signed",
    ),
    Operation(
        symbol="rotated left by",
        expression=f"left << {_BY} | left >> BITS - {_BY}",
        overflow="",
        does="turns the bits of {left} round to the left by {right}: what leaves comes in again",
        verb="lets the bits that leave come in again",
        did="let the bits that left come in again",
        sign="\N{ANTICLOCKWISE OPEN CIRCLE ARROW}",
        mixed_up="shifted left by",
        carry=_LEAVES_LEFT,
        column="move",
        line="rotate left",
    ),
    Operation(
        symbol="rotated right by",
        expression=f"left >> {_BY} | left << BITS - {_BY}",
        overflow="",
        does="turns the bits of {left} round to the right by {right}: what leaves comes in again",
        verb="lets the bits that leave come in again",
        did="let the bits that left come in again",
        sign="\N{CLOCKWISE OPEN CIRCLE ARROW}",
        mixed_up="shifted right by",
        carry=_LEAVES_RIGHT,
        column="move",
        line="rotate right",
    ),
)
