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
    holds it then. ``means`` says what the value is, with ``{operand}`` left to fill.
    """

    operand: Operand
    brings: tuple[str, ...] = ()
    value: str = ""
    means: str = ""

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
