"""The instruction set, each instruction defined once.

One clause per instruction: its code, its name, its addressing mode, what is done with the value
that the mode brings, as register transfers, and what that means in plain words. ``a`` stands for
an address and ``#n`` for a number. The assembler, the engine, the board, the reference card and
the worksheets all read this table, through the :class:`~app.machine.machine.Machine` that has it.

The transfers follow the register-transfer notation of the standard textbooks, for example
M. Morris Mano, *Computer System Architecture* (3rd edition), chapters 4 and 5.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from .addressing import DIRECT, IMMEDIATE, IMPLIED, NEXT, WRITTEN, Mode, Operand
from .operations import OPERATIONS, Operation
from .registers import REGISTERS, Register
from .transfers import ADDER, Transfer


class Phase(StrEnum):
    """The phases of an instruction. The last comes only where a request is served after it."""

    FETCH = "fetch"
    DECODE = "decode"
    EXECUTE = "execute"
    INTERRUPT = "interrupt"


@dataclass(frozen=True, slots=True)
class Instruction:
    """One instruction of the set.

    ``name`` is its first word (LOAD) and ``ending`` the words after its operand (IF LESS).
    ``meaning`` completes 'this instruction means: ...', with ``{operand}`` left to fill.
    """

    code: int
    name: str
    mode: Mode
    ending: str
    transfers: tuple[Transfer, ...]
    meaning: str

    @property
    def operand(self) -> Operand:
        return self.mode.operand

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
    def moves_counter(self) -> bool:
        """Whether it can change where the next fetch is: a jump, a call or a return."""
        return any(transfer.target == "PC" for transfer in self.transfers)

    @property
    def jumps(self) -> bool:
        return self.moves_counter and not (self.calls or self.returns)

    @property
    def calls(self) -> bool:
        """Whether it goes on elsewhere and keeps the address to come back to."""
        return any(transfer.left == "PC" for transfer in self.transfers)

    @property
    def returns(self) -> bool:
        """Whether it goes on from an address that is taken off the stack."""
        return self.moves_counter and any(
            each.unconditional == "SP <- SP + 1" for each in self.transfers
        )

    @property
    def index(self) -> str:
        """The register that is added to its operand for an address; empty for none."""
        made = (each.right for each in self.transfers if each.worker == ADDER)
        return next((each for each in made if each != "operand"), "")

    @property
    def restores(self) -> bool:
        """Whether it brings status and program counter back, which an interrupt has kept."""
        return any(transfer.restores for transfer in self.transfers)

    @property
    def trips(self) -> int:
        """How often it goes to memory while it is executed, to read or to write."""
        return sum(each.goes_to_memory for each in self.transfers)

    @property
    def looks_at_status(self) -> bool:
        """Whether it jumps by what the status shows: the comparison or the overflow mark. The carry
        is a part of its own."""
        asked = (each.waits_for for each in self.transfers if each.condition)
        return any(each in ("status", "overflow") for each in asked)

    @property
    def compares(self) -> bool:
        return self.operation is not None and self.operation.compares

    @property
    def halts(self) -> bool:
        return any(transfer.halts for transfer in self.transfers)

    @property
    def operation(self) -> Operation | None:
        """What the ALU does in it; None where it does nothing."""
        return next((each.operation for each in self.transfers if each.uses_alu), None)


def define(
    code: int,
    written: str,
    mode: Mode,
    transfers: str,
    meaning: str,
    registers: Iterable[Register] = REGISTERS,
    operations: Iterable[Operation] = OPERATIONS,
) -> Instruction:
    """An instruction from its clause.

    ``written`` is the name and, after it, the ending. In the ``transfers`` (set apart by
    semicolons) and in the ``meaning``, ``{value}`` stands for what the mode brings. Raises
    ValueError for a transfer that no part of the machine carries out.
    """
    name, _, ending = written.partition(" ")
    done = [each.strip().replace("{value}", mode.value) for each in transfers.split(";")]
    return Instruction(
        code,
        name,
        mode,
        ending,
        tuple(Transfer.parse(each, registers, operations) for each in (*mode.brings, *done)),
        meaning.replace("{value}", mode.means),
    )


def _read(notations: str) -> tuple[Transfer, ...]:
    return tuple(Transfer.parse(each) for each in notations.split(";"))


# Courses differ in when the counter moves on: as the last step of the fetch, or as its second.
FETCHES = {
    "last": _read("MAR <- PC; MDR <- memory[MAR]; CIR <- MDR; PC <- PC + 1"),
    "second": _read("MAR <- PC; PC <- PC + 1; MDR <- memory[MAR]; CIR <- MDR"),
}
FETCH = FETCHES["last"]
DECODE = _read("opcode, operand <- CIR")

_ADD = ("ACC, status <- ACC + {value}", "add {value} to the accumulator")
_SUBTRACT = ("ACC, status <- ACC - {value}", "take {value} away from the accumulator")
_COMPARE = ("status <- ACC compared with {value}", "compare the accumulator with {value}")

# What needs no operand comes first, then the jumps, then STORE; from 8 up the last bit of the
# code tells a number (1) from an address (0).
INSTRUCTIONS: tuple[Instruction, ...] = (
    define(0, "HALT", IMPLIED, "clock <- stopped", "stop"),
    define(1, "INPUT", IMPLIED, "ACC <- input", "copy the next input to the accumulator"),
    define(2, "OUTPUT", IMPLIED, "output <- ACC", "send the accumulator to the output"),
    define(3, "JUMP", NEXT, "PC <- {value}", "go on from {value}"),
    define(
        4,
        "JUMP IF LESS",
        NEXT,
        "PC <- {value}, when status is LESS",
        "go on from {value} if the status is LESS",
    ),
    define(
        5,
        "JUMP IF EQUAL",
        NEXT,
        "PC <- {value}, when status is EQUAL",
        "go on from {value} if the status is EQUAL",
    ),
    define(
        6,
        "JUMP IF MORE",
        NEXT,
        "PC <- {value}, when status is MORE",
        "go on from {value} if the status is MORE",
    ),
    define(7, "STORE", WRITTEN, "MDR <- ACC; {value} <- MDR", "copy the accumulator to {value}"),
    define(8, "COMPARE", DIRECT, *_COMPARE),
    define(9, "COMPARE", IMMEDIATE, *_COMPARE),
    define(10, "SUBTRACT", DIRECT, *_SUBTRACT),
    define(11, "SUBTRACT", IMMEDIATE, *_SUBTRACT),
    define(12, "ADD", DIRECT, *_ADD),
    define(13, "ADD", IMMEDIATE, *_ADD),
    define(14, "LOAD", DIRECT, "ACC <- {value}", "copy {value} to the accumulator"),
    define(15, "LOAD", IMMEDIATE, "ACC <- {value}", "put {value} in the accumulator"),
)
