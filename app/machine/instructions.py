"""The instruction set, each instruction defined once.

One clause per instruction: its code, how it is written, its register transfers after decode,
and what it means in plain words. ``a`` stands for an address and ``#n`` for a number. The
assembler, the engine, the board, the reference card and the worksheets all read this table.

The transfers follow the register-transfer notation of the standard textbooks, for example
M. Morris Mano, *Computer System Architecture* (3rd edition), chapters 4 and 5.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from .transfers import Transfer


class Phase(StrEnum):
    FETCH = "fetch"
    DECODE = "decode"
    EXECUTE = "execute"


class Operand(StrEnum):
    """What the right half of an instruction word is for."""

    NONE = "none"
    ADDRESS = "address"
    NUMBER = "number"


def _read(notations: str) -> tuple[Transfer, ...]:
    return tuple(Transfer.parse(each) for each in notations.split(";"))


@dataclass(frozen=True, slots=True)
class Instruction:
    """One instruction of the set.

    ``name`` is its first word (LOAD) and ``ending`` the words after its operand (IF LESS).
    ``meaning`` completes 'this instruction means: ...', with ``{operand}`` left to fill.
    """

    code: int
    name: str
    operand: Operand
    ending: str
    transfers: tuple[Transfer, ...]
    meaning: str

    @property
    def written(self) -> str:
        """How the instruction is written, with ``a`` or ``#n`` for its operand."""
        sign = {Operand.NONE: "", Operand.ADDRESS: "a", Operand.NUMBER: "#n"}[self.operand]
        return " ".join(part for part in (self.name, sign, self.ending) if part)

    def write(self, operand: str) -> str:
        """The instruction as source text with this operand (an address, a label or a number)."""
        sign = {Operand.NONE: "", Operand.ADDRESS: operand, Operand.NUMBER: f"#{operand}"}
        return " ".join(part for part in (self.name, sign[self.operand], self.ending) if part)

    @property
    def jumps(self) -> bool:
        return any(transfer.target == "PC" for transfer in self.transfers)


def _define(code: int, written: str, transfers: str, meaning: str) -> Instruction:
    name, *rest = written.split()
    operand = Operand.NONE
    if rest:
        operand = Operand.NUMBER if rest.pop(0) == "#n" else Operand.ADDRESS
    return Instruction(code, name, operand, " ".join(rest), _read(transfers), meaning)


FETCH = _read("MAR <- PC; MDR <- memory[MAR]; CIR <- MDR; PC <- PC + 1")
DECODE = _read("opcode, operand <- CIR")

# What needs no operand comes first, then the jumps, then STORE. From 8 up the last bit of the code
# tells whether the operand is a number (1) or an address (0).
INSTRUCTIONS: tuple[Instruction, ...] = (
    _define(
        0,
        "HALT",
        "clock <- stopped",
        "stop",
    ),
    _define(
        1,
        "INPUT",
        "ACC <- input",
        "copy the next input to the accumulator",
    ),
    _define(
        2,
        "OUTPUT",
        "output <- ACC",
        "send the accumulator to the output",
    ),
    _define(
        3,
        "JUMP a",
        "PC <- operand",
        "go on from address {operand}",
    ),
    _define(
        4,
        "JUMP a IF LESS",
        "PC <- operand, when status is LESS",
        "go on from address {operand} if the status is LESS",
    ),
    _define(
        5,
        "JUMP a IF EQUAL",
        "PC <- operand, when status is EQUAL",
        "go on from address {operand} if the status is EQUAL",
    ),
    _define(
        6,
        "JUMP a IF MORE",
        "PC <- operand, when status is MORE",
        "go on from address {operand} if the status is MORE",
    ),
    _define(
        7,
        "STORE a",
        "MAR <- operand; MDR <- ACC; memory[MAR] <- MDR",
        "copy the accumulator to address {operand}",
    ),
    _define(
        8,
        "COMPARE a",
        "MAR <- operand; MDR <- memory[MAR]; status <- ACC compared with MDR",
        "compare the accumulator with what is stored at address {operand}",
    ),
    _define(
        9,
        "COMPARE #n",
        "status <- ACC compared with operand",
        "compare the accumulator with the number {operand}",
    ),
    _define(
        10,
        "SUBTRACT a",
        "MAR <- operand; MDR <- memory[MAR]; ACC <- ACC - MDR",
        "take what is stored at address {operand} away from the accumulator",
    ),
    _define(
        11,
        "SUBTRACT #n",
        "ACC <- ACC - operand",
        "take the number {operand} away from the accumulator",
    ),
    _define(
        12,
        "ADD a",
        "MAR <- operand; MDR <- memory[MAR]; ACC <- ACC + MDR",
        "add what is stored at address {operand} to the accumulator",
    ),
    _define(
        13,
        "ADD #n",
        "ACC <- ACC + operand",
        "add the number {operand} to the accumulator",
    ),
    _define(
        14,
        "LOAD a",
        "MAR <- operand; MDR <- memory[MAR]; ACC <- MDR",
        "copy what is stored at address {operand} to the accumulator",
    ),
    _define(
        15,
        "LOAD #n",
        "ACC <- operand",
        "put the number {operand} in the accumulator",
    ),
)

BY_CODE = {each.code: each for each in INSTRUCTIONS}
# The words that start an instruction, in the order of the table.
NAMES = tuple(dict.fromkeys(each.name for each in INSTRUCTIONS))
