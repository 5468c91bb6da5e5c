"""Register transfers as data.

A transfer is written as the textbooks write it, ``ACC <- ACC + MDR``; this module reads that
notation into a :class:`Transfer`. Execution (``engine``), movement on the board (``beats``)
and the plain sentence (``words``) are all taken from it, so they cannot disagree.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum


class Status(StrEnum):
    """What the accumulator was, compared with the last thing it was compared with."""

    LESS = "LESS"
    EQUAL = "EQUAL"
    MORE = "MORE"


# What the status shows before the first comparison.
NO_STATUS = "\N{EN DASH}"


def status_shown(status: Status | None) -> str:
    """The status as the board shows it; None, before the first comparison, is a dash."""
    return status.value if status else NO_STATUS


def status_words(status: Status | None) -> str:
    """The start of a sentence that says what a conditional jump found."""
    return f"The status is {status}" if status else "There has been no comparison yet"


class Place(StrEnum):
    """A part of the machine that holds, makes or shows a value: a station on the board."""

    CONTROL_UNIT = "CU"
    PC = "PC"
    MAR = "MAR"
    MDR = "MDR"
    CIR = "CIR"
    ACC = "ACC"
    ALU = "ALU"
    STATUS = "status"
    MEMORY = "memory"
    INPUT = "input"
    OUTPUT = "output"


class Carrier(StrEnum):
    """What a value travels on."""

    ADDRESS = "address"
    DATA = "data"
    CONTROL = "control"
    INSIDE = "inside"


@dataclass(frozen=True, slots=True)
class Leg:
    """One movement of one value: from a place, on a carrier, to a place.

    ``carries`` is the term whose value travels: a term of the notation, ``result`` for what
    the ALU made, or the name of a control signal.
    """

    source: Place
    target: Place
    carrier: Carrier
    carries: str


# The place in which each term of the notation lives.
TERM_PLACES = {
    "PC": Place.PC,
    "MAR": Place.MAR,
    "MDR": Place.MDR,
    "CIR": Place.CIR,
    "ACC": Place.ACC,
    "status": Place.STATUS,
    "operand": Place.CONTROL_UNIT,
    "opcode, operand": Place.CONTROL_UNIT,
    "memory[MAR]": Place.MEMORY,
    "input": Place.INPUT,
    "output": Place.OUTPUT,
    "clock": Place.CONTROL_UNIT,
}

_NOTATION = re.compile(
    r"(?P<target>[^<]+?) <- (?P<left>\S+)"
    r"(?: (?P<operation>\+|-|compared with) (?P<right>\S+))?"
    r"(?:, when status is (?P<condition>LESS|EQUAL|MORE))?"
)

# One plain sentence per transfer. {value} is what the target becomes, {address} the address in
# MAR, {left} and {right} what the ALU works on, {status} what the last comparison has left.
_WORDS = {
    "MAR <- PC": "The address of the next instruction, {value}, is copied to the memory address"
    " register.",
    "MDR <- memory[MAR]": "Memory is told to read: what is stored at address {address}, {value},"
    " comes back along the data bus.",
    "CIR <- MDR": "It is an instruction, so it is copied to the current instruction register.",
    "PC <- PC + 1": "The program counter moves on by one, to {value}, ready for the next fetch.",
    "opcode, operand <- CIR": "The control unit splits the instruction: {meaning}.",
    "MAR <- operand": "The operand is an address: {value} goes to the memory address register.",
    "ACC <- MDR": "The number {value} is copied to the accumulator.",
    "ACC <- operand": "The operand is the number itself: {value} goes to the accumulator.",
    "MDR <- ACC": "The accumulator's {value} is copied to the memory data register, ready to"
    " be stored.",
    "memory[MAR] <- MDR": "Memory is told to write: {value} is stored at address {address}.",
    "ACC <- ACC + MDR": "The ALU adds {left} and {right}; the result, {value}, goes to the"
    " accumulator.",
    "ACC <- ACC + operand": "The ALU adds {left} and {right}; the result, {value}, goes to the"
    " accumulator.",
    "ACC <- ACC - MDR": "The ALU takes {right} away from {left}; the result, {value}, goes to"
    " the accumulator.",
    "ACC <- ACC - operand": "The ALU takes {right} away from {left}; the result, {value}, goes"
    " to the accumulator.",
    "status <- ACC compared with MDR": "The ALU compares {left} with {right}: {left} {compares}"
    " {right}.",
    "status <- ACC compared with operand": "The ALU compares {left} with {right}: {left}"
    " {compares} {right}.",
    "PC <- operand": "A jump: the program counter becomes {value}, so the next fetch is there.",
    "ACC <- input": "The next input, {value}, is copied to the accumulator.",
    "output <- ACC": "The accumulator's {value} is sent to the output.",
    "clock <- stopped": "The control unit stops the clock: the program has ended.",
}
_WORDS_TAKEN = "{status}, so it jumps: the program counter becomes {value}."
_WORDS_NOT_TAKEN = "{status}, so there is no jump: the program counter stays at {pc}."


@dataclass(frozen=True, slots=True)
class Transfer:
    """One register transfer, read from its notation.

    ``operation`` is ``+``, ``-``, ``compared with`` or empty for a plain copy; ``condition``
    is the status under which the transfer happens, or None for always.
    """

    target: str
    left: str
    operation: str
    right: str
    condition: Status | None

    @classmethod
    def parse(cls, notation: str) -> Transfer:
        """Read ``target <- left [operation right][, when status is STATUS]``.

        Raises ValueError for a notation that this machine has no part for.
        """
        found = _NOTATION.fullmatch(notation.strip())
        if not found:
            raise ValueError(f"not a register transfer: {notation!r}")
        condition = found["condition"]
        transfer = cls(
            found["target"],
            found["left"],
            found["operation"] or "",
            found["right"] or "",
            Status(condition) if condition else None,
        )
        if transfer.unconditional not in _WORDS:
            raise ValueError(f"no part of the machine carries out {notation!r}")
        return transfer

    @property
    def unconditional(self) -> str:
        """The notation without its condition."""
        operation = f" {self.operation} {self.right}" if self.operation else ""
        return f"{self.target} <- {self.left}{operation}"

    @property
    def notation(self) -> str:
        condition = f", when status is {self.condition}" if self.condition else ""
        return self.unconditional + condition

    @property
    def uses_alu(self) -> bool:
        """Whether the ALU makes the value. PC + 1 is done by the program counter itself."""
        return bool(self.operation) and self.target != "PC"

    @property
    def target_place(self) -> Place:
        return TERM_PLACES[self.target]

    def words(self, taken: bool) -> str:
        """The plain sentence, with its values still as ``{names}``."""
        if self.condition:
            return _WORDS_TAKEN if taken else _WORDS_NOT_TAKEN
        return _WORDS[self.unconditional]

    def beats(self, taken: bool = True) -> tuple[tuple[Leg, ...], ...]:
        """What moves, in order: each beat is the legs that move together.

        ``taken`` is False where the condition did not hold: then only the status travels.
        """
        if self.condition:
            asked = (Leg(Place.STATUS, Place.CONTROL_UNIT, Carrier.INSIDE, "status"),)
            jump = Leg(Place.CONTROL_UNIT, self.target_place, Carrier.INSIDE, self.left)
            return (asked, (jump,)) if taken else (asked,)
        if self.target == "clock":
            return ()
        target = self.target_place
        if "memory[MAR]" in (self.target, self.left):
            signal = "read" if self.left == "memory[MAR]" else "write"
            source = TERM_PLACES[self.left]
            return (
                (
                    Leg(Place.MAR, Place.MEMORY, Carrier.ADDRESS, "MAR"),
                    Leg(Place.CONTROL_UNIT, Place.MEMORY, Carrier.CONTROL, signal),
                ),
                (Leg(source, target, Carrier.DATA, self.left),),
            )
        if self.uses_alu:
            into = tuple(
                Leg(TERM_PLACES[term], Place.ALU, Carrier.INSIDE, term)
                for term in (self.left, self.right)
            )
            return into, (Leg(Place.ALU, target, Carrier.INSIDE, "result"),)
        outside = {Place.INPUT, Place.OUTPUT} & {target, TERM_PLACES[self.left]}
        carrier = Carrier.DATA if outside else Carrier.INSIDE
        carries = "result" if self.operation else self.left
        return ((Leg(TERM_PLACES[self.left], target, carrier, carries),),)
