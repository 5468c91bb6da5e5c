"""How an instruction finds what it works on: the addressing modes, each defined once.

A mode says how the operand is written, which transfers bring what it stands for, and where the
value is then. An instruction is a mode and what is done with the value.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Operand(StrEnum):
    """What the right half of an instruction word is for."""

    NONE = "none"
    ADDRESS = "address"
    NUMBER = "number"


@dataclass(frozen=True, slots=True)
class Mode:
    """One addressing mode.

    ``brings`` are the transfers after decode that bring the value, and ``value`` is the term that
    holds it then. ``means`` says what the value is, with ``{operand}`` left to fill. A number that
    is written is from ``least`` to ``most``; None for as large as an operand can be.
    """

    operand: Operand
    brings: tuple[str, ...] = ()
    value: str = ""
    means: str = ""
    least: int = 0
    most: int | None = None

    @property
    def reads(self) -> bool:
        """Whether the value comes from memory."""
        return any("<- memory" in each for each in self.brings)


# The names are those of the textbooks, for example M. Morris Mano, Computer System Architecture
# (3rd edition), section 8-5, 'Addressing modes'.
IMPLIED = Mode(Operand.NONE)
IMMEDIATE = Mode(Operand.NUMBER, (), "operand", "the number {operand}")
DIRECT = Mode(
    Operand.ADDRESS,
    ("MAR <- operand", "MDR <- memory[MAR]"),
    "MDR",
    "what is stored at address {operand}",
)
# Of a word that is written, and of the instruction that comes next, the operand is the address.
WRITTEN = Mode(Operand.ADDRESS, ("MAR <- operand",), "memory[MAR]", "address {operand}")
NEXT = Mode(Operand.ADDRESS, (), "operand", "address {operand}")

# How far to shift: only the right four bits are looked at, and by 0 nothing would be shifted.
COUNT = Mode(Operand.NUMBER, (), "operand", "{operand}", least=1, most=15)

# The operand is where the address stands.
_TO_THE_ADDRESS = ("MAR <- operand", "MDR <- memory[MAR]", "MAR <- MDR")
_STORED = "the address that is stored at address {operand}"
INDIRECT = Mode(
    Operand.ADDRESS, (*_TO_THE_ADDRESS, "MDR <- memory[MAR]"), "MDR", f"what is stored at {_STORED}"
)
WRITTEN_INDIRECT = Mode(Operand.ADDRESS, _TO_THE_ADDRESS, "memory[MAR]", _STORED)
NEXT_INDIRECT = Mode(Operand.ADDRESS, _TO_THE_ADDRESS[:2], "MDR", _STORED)

# The operand is where a list starts, and the index register says how far into it.
_TO_THE_PLACE = ("MAR <- operand + X",)
_PLACE = "address {operand} plus the index"
INDEXED = Mode(
    Operand.ADDRESS, (*_TO_THE_PLACE, "MDR <- memory[MAR]"), "MDR", f"what is stored at {_PLACE}"
)
WRITTEN_INDEXED = Mode(Operand.ADDRESS, _TO_THE_PLACE, "memory[MAR]", _PLACE)
NEXT_INDEXED = Mode(Operand.ADDRESS, (), "operand + X", _PLACE)

# The operand counts from the top of the stack, which is word 0.
_FROM_TOP = ("MAR <- SP + operand",)
_ON_STACK = "word {operand} of the stack (the top is word 0)"
ON_STACK = Mode(Operand.NUMBER, (*_FROM_TOP, "MDR <- memory[MAR]"), "MDR", _ON_STACK)
WRITTEN_ON_STACK = Mode(Operand.NUMBER, _FROM_TOP, "memory[MAR]", _ON_STACK)
