"""The bits of a word while the ALU combines or moves them, to be drawn in columns.

Where each bit goes is not written down here: it is found by giving the operation one bit at a
time, so that what is drawn is what the table of operations does.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.classroom.pace import bit_by_bit
from app.machine.columns import ways
from app.machine.machine import Machine
from app.machine.run import Moment
from app.machine.telling.counts import counted
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
    found = ways(machine, operation, right)
    rows = (_digits(machine, left),)
    made = tuple(
        Bit(digit, at, found.comes[at], found.goes_round(at)) for at, digit in enumerate(result)
    )
    carry = None
    gone: tuple[Bit, ...] = ()
    if found.carry is not None:
        outside = -1 if found.to_left else machine.word_bits
        held = pattern_of(machine, "carry", moment.after)
        carry = Bit(str(held), outside, found.carry)
        gone = tuple(Bit(rows[0][at], outside, at) for at in found.leave if at != found.carry)
    said = f"{rows[0]} {operation.symbol} {found.by} gives {result}"
    if carry:
        said += f", and the carry becomes {carry.value}"
    places = f"{operation.shown} {counted(found.by, 'place')}"
    return Bits(places, f"{said}.", rows, made, True, carry, gone, found.to_left)


def _said(symbol: str, rows: tuple[str, ...], result: str) -> str:
    return f"{' '.join((*rows[:-1], symbol, rows[-1]))} gives {result}."


def _digits(machine: Machine, pattern: int) -> str:
    return f"{pattern:0{machine.word_bits}b}"
