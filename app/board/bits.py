"""The bits of a word while the ALU combines or moves them, to be drawn in columns.

Where each bit goes is not written down here: it is found by giving the operation one bit at a
time, so that what is drawn is what the table of operations does.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from app.classroom.pace import bit_by_bit
from app.machine.machine import Machine
from app.machine.operations import Operation
from app.machine.run import Moment
from app.machine.telling.reading import pattern_of


@dataclass(frozen=True, slots=True)
class Bit:
    """One bit of the result: ``column`` counts from the left, the carry stands one column outside
    the word (-1, or the number of bits). ``comes`` is the column that it comes from; None for one
    that comes in from nowhere. One that goes ``round`` leaves at one end and comes in at the
    other."""

    value: str
    column: int
    comes: int | None
    round: bool = False


@dataclass(frozen=True, slots=True)
class Bits:
    """What the ALU does with bits in a step.

    ``given`` are the rows of bits that it works on, each a text of digits, and ``made`` the result.
    Where bits are ``moved``, ``to_left`` or to the right, one of them ends in the ``carry``; the
    others that leave the word are ``gone``. ``sign`` is what is done, ``said`` all of it for those
    who listen.
    """

    sign: str
    said: str
    given: tuple[str, ...]
    made: tuple[Bit, ...]
    moved: bool
    carry: Bit | None = None
    gone: tuple[Bit, ...] = ()
    to_left: bool = False


def bits_of(machine: Machine, moment: Moment) -> Bits | None:
    """The bits that a step combines or moves; None for a step that does neither."""
    transfer = moment.step.kind.transfer if moment.step else None
    operation = transfer.operation if transfer else None
    if transfer is None or operation is None or not bit_by_bit(operation):
        return None
    left = pattern_of(machine, transfer.left, moment.before)
    right = pattern_of(machine, transfer.right, moment.before)
    result = _digits(machine, pattern_of(machine, transfer.target, moment.after))
    if not operation.carry:
        given = (left,) if operation.alone else (left, right)
        rows = tuple(_digits(machine, each) for each in given)
        made = tuple(Bit(digit, at, at) for at, digit in enumerate(result))
        return Bits(operation.shown, _said(operation.symbol, rows, result), rows, made, False)
    ways = _ways(machine, operation, right)
    rows = (_digits(machine, left),)
    made = tuple(
        Bit(digit, at, ways.comes[at], ways.goes_round(at)) for at, digit in enumerate(result)
    )
    carry = None
    gone: tuple[Bit, ...] = ()
    if ways.carry is not None:
        outside = -1 if ways.to_left else machine.word_bits
        held = pattern_of(machine, "carry", moment.after)
        carry = Bit(str(held), outside, ways.carry)
        gone = tuple(Bit(rows[0][at], outside, at) for at in ways.leave if at != ways.carry)
    said = f"{rows[0]} {operation.symbol} {ways.by} gives {result}"
    if carry:
        said += f", and the carry becomes {carry.value}"
    places = f"{operation.shown} {ways.by} {'place' if ways.by == 1 else 'places'}"
    return Bits(places, f"{said}.", rows, made, True, carry, gone, ways.to_left)


def _said(symbol: str, rows: tuple[str, ...], result: str) -> str:
    return f"{' '.join((*rows[:-1], symbol, rows[-1]))} gives {result}."


def _digits(machine: Machine, pattern: int) -> str:
    return f"{pattern:0{machine.word_bits}b}"


@dataclass(frozen=True, slots=True)
class _Ways:
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
def _ways(machine: Machine, operation: Operation, count: int) -> _Ways:
    """Found by moving each bit alone."""
    bits = machine.word_bits
    comes: list[int | None] = [None] * bits
    carry = None
    leave = []
    for column in range(bits):
        alone = 1 << (bits - 1 - column)
        made = operation.result(machine, alone, count)
        if operation.left_over(machine, alone, count):
            carry = column
        if not made:
            leave.append(column)
        for at in range(bits):
            if made >> (bits - 1 - at) & 1:
                comes[at] = column
    # Of a rotation no bit is lost: the last one that went round is where it came in again.
    to_left = 0 in leave if leave else comes[-1] == carry
    return _Ways(tuple(comes), carry, tuple(leave), to_left)
