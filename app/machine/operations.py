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


def status_shown(status: Status | None) -> str:
    """The status as the board shows it; None, before anything has set it, is a dash."""
    return status.value if status else NO_STATUS


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
    only compares. ``does`` completes 'the ALU ...' with the values ``{left}`` and ``{right}``,
    ``verb`` and ``did`` say in a word or two what the instruction does and did, and ``mixed_up``
    is the symbol of the operation that it is usually mistaken for.
    """

    symbol: str
    expression: str
    overflow: str
    does: str
    verb: str
    did: str
    sign: str = ""
    mixed_up: str = ""

    @property
    def compares(self) -> bool:
        """Whether it only finds out how its values compare, and makes no result."""
        return not self.expression

    @property
    def shown(self) -> str:
        return self.sign or self.symbol

    @cached_property
    def _function(self) -> Callable[[int, int], int]:
        made: Callable[[int, int], int] = eval(f"lambda left, right: {self.expression}")
        return made

    def whole(self, left: int, right: int) -> int:
        """What the operation makes of two signed values where no word cuts it short."""
        return self._function(left, right)


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
    ),
    Operation(
        symbol="compared with",
        expression="",
        overflow="",
        does="compares {left} with {right}",
        verb="compares",
        did="compared",
    ),
)
