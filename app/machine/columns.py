"""What the ALU does in each column of its words: which bits come in, which gates they meet, what
comes out and what is carried on.

Nothing here is taken from the result of the operation: it is worked out gate by gate (``gates``),
and the tests hold it to the operation. Only where a moved bit comes from is found by giving the
operation one bit at a time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from .gates import CIRCUITS, Circuit
from .operations import Operation, Status
from .words import Format


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its ``place`` counts from 0 at the right, and ``bits`` has what is on each wire
    of its circuit. Where bits move, ``comes`` is the place that its bit comes from; None for one
    that comes in from nowhere."""

    place: int
    bits: Mapping[str, int]
    comes: int | None = None

    @property
    def worth(self) -> int:
        """What a 1 in this column counts."""
        return 1 << self.place


@dataclass(frozen=True, slots=True)
class Columns:
    """An operation on two bit patterns, column by column from the right. ``by`` is how many
    places bits move, where they do, ``to_left`` or to the right."""

    format: Format
    operation: Operation
    circuit: Circuit
    left: int
    right: int
    columns: tuple[Column, ...]
    by: int = 0
    to_left: bool = False

    @property
    def result(self) -> int:
        """The bit pattern that the columns make together; of a comparison, the difference."""
        return sum(each.bits["result"] << each.place for each in self.columns)

    @property
    def carry_out(self) -> int:
        """What the last column hands on; 0 where columns hand nothing on."""
        return self.columns[-1].bits.get("carry out", 0)

    @property
    def overflow(self) -> bool:
        """Whether a signed result does not fit: what is carried into the last column is not what
        is carried out of it."""
        last = self.columns[-1].bits
        return last.get("carry in", 0) != last.get("carry out", 0)

    @property
    def status(self) -> Status:
        """How the first word compares with the second, told from the bits of their difference:
        all are 0, or the sign bit says so, unless the difference did not fit."""
        if not self.result:
            return Status.EQUAL
        negative = bool(self.columns[-1].bits["result"]) != self.overflow
        return Status.LESS if negative else Status.MORE


def columns_of(format: Format, operation: Operation, left: int, right: int) -> Columns | None:
    """An operation on two bit patterns in columns; None for one that has no circuit."""
    circuit = CIRCUITS.get(operation.column)
    if circuit is None:
        return None
    if "move" in circuit.inputs:
        return _moved(format, operation, circuit, left, right)
    # A difference is a sum with the second word turned round, and 1 more.
    carry = int(operation.column == "subtract")
    made = []
    for place in range(format.word_bits):
        given = {"left": left >> place & 1, "right": right >> place & 1, "carry in": carry}
        bits = circuit.evaluate(given)
        carry = bits.get("carry out", 0)
        made.append(Column(place, bits))
    return Columns(format, operation, circuit, left, right, tuple(made))


def _moved(
    format: Format, operation: Operation, circuit: Circuit, left: int, right: int
) -> Columns:
    found = ways(format, operation, right)
    made = []
    for place in range(format.word_bits):
        from_left = found.comes[format.word_bits - 1 - place]
        comes = None if from_left is None else format.word_bits - 1 - from_left
        given = {
            "here": left >> place & 1,
            "coming": 0 if comes is None else left >> comes & 1,
            "move": int(found.by > 0),
        }
        made.append(Column(place, circuit.evaluate(given), comes))
    return Columns(format, operation, circuit, left, right, tuple(made), found.by, found.to_left)


@dataclass(frozen=True, slots=True)
class Ways:
    """Where bits go, as columns from the left: ``comes`` says for each column of the result where
    its bit comes from, ``carry`` which bit ends in the carry, and ``leave`` which leave the word:
    at its left end, where they go ``to_left``."""

    comes: tuple[int | None, ...]
    carry: int | None
    leave: tuple[int, ...]
    to_left: bool

    @property
    def by(self) -> int:
        """How many places: no more than the operation looks at."""
        last = len(self.comes) - 1
        end = self.comes[0] if self.to_left else self.comes[last]
        assert end is not None
        return end if self.to_left else last - end

    def goes_round(self, column: int) -> bool:
        """Whether the bit of a column of the result has come the other way."""
        comes = self.comes[column]
        return comes is not None and (comes < column if self.to_left else comes > column)


@cache
def ways(format: Format, operation: Operation, count: int) -> Ways:
    """Found by moving each bit alone."""
    bits = format.word_bits
    comes: list[int | None] = [None] * bits
    carry = None
    leave = []
    for column in range(bits):
        alone = 1 << (bits - 1 - column)
        made = operation.result(format, alone, count)
        if operation.left_over(format, alone, count):
            carry = column
        if not made:
            leave.append(column)
        for at in range(bits):
            if made >> (bits - 1 - at) & 1:
                comes[at] = column
    # Of a rotation no bit is lost: the last one that went round is where it came in again.
    to_left = 0 in leave if leave else comes[-1] == carry
    return Ways(tuple(comes), carry, tuple(leave), to_left)
