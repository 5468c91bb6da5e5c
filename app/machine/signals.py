"""The control lines of a machine, made from its transfers.

A transfer needs a few lines switched on: what gives its value onto the way, what does something
with it, and what takes it. No list of lines is written down: those that a machine has are those
that its transfers need. The words are those of the trade, for example M. Morris Mano, *Computer
System Architecture*, section 5-9, and J. L. Hennessy and D. A. Patterson, *Computer Organization
and Design*, chapter 4 (from memory): a register lets its value *out* or takes one *in*, memory
is told to *read* or *write*, the ALU is told what to do.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from .machine import Machine
from .transfers import ADDER, Place, Transfer


class Group(StrEnum):
    """What a line leads to, in the order in which lines are shown, as it stands over them."""

    OUT = "lets its value out"
    WORK = "does its work"
    IN = "takes a value in"
    DEVICES = "memory, input and output"
    CONTROL = "control"


@dataclass(frozen=True, slots=True)
class Line:
    """One control line: what it is called, and what kind of part it leads to."""

    name: str
    group: Group


# Terms that are no register and let nothing out or in by themselves: what is done instead.
_OUT = {
    "memory[MAR]": (Line("MAR out", Group.OUT), Line("memory read", Group.DEVICES)),
    "input": (Line("input read", Group.DEVICES),),
}
_IN = {
    "memory[MAR]": (Line("MAR out", Group.OUT), Line("memory write", Group.DEVICES)),
    "output": (Line("output write", Group.DEVICES),),
    "opcode, operand": (Line("decode", Group.CONTROL),),
}
# What is switched on or off by a line of its own takes nothing in.
SWITCHED = ("on", "off")


def lines_of(transfer: Transfer, taken: bool = True) -> tuple[Line, ...]:
    """The lines that a transfer needs, in the order of its notation. ``taken`` is False where it
    waits for something that does not hold: then that is only looked at."""
    if transfer.halts:
        return (Line("clock stop", Group.CONTROL),)
    found: list[Line] = []
    if transfer.condition:
        found.append(Line(f"{transfer.waits_for} test", Group.CONTROL))
        if not taken:
            return tuple(found)
    operation = transfer.operation
    if operation and transfer.worker not in (Place.ALU, ADDER):
        # A register that counts does so by itself.
        way = "up" if operation.symbol == "+" else "down"
        return (*found, Line(f"{transfer.target} {way}", Group.WORK))
    if transfer.left in SWITCHED:
        return (*found, Line(f"{transfer.target} {transfer.left}", Group.WORK))
    for term in transfer.terms:
        # What is kept in one word is let out part by part.
        parts = tuple(Line(f"{each} out", Group.OUT) for each in term.split(", "))
        found += _OUT.get(term, parts)
    if operation:
        worker = "ALU" if transfer.worker == Place.ALU else ADDER
        found.append(Line(f"{worker} {operation.line or operation.symbol}", Group.WORK))
    for target in transfer.targets:
        found += _IN.get(target, (Line(f"{target} in", Group.IN),))
    return tuple(dict.fromkeys(found))


@cache
def every_line(machine: Machine) -> tuple[Line, ...]:
    """All control lines of a machine, group by group, those of the fetch first in each."""
    lines = dict.fromkeys(line for each in machine.transfers for line in lines_of(each))
    return tuple(sorted(lines, key=lambda line: list(Group).index(line.group)))
