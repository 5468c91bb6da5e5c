"""Values as a reader sees them: in a number base, instructions always as bits or digits."""

from __future__ import annotations

from app.machine.engine import Step
from app.machine.instructions import Phase
from app.machine.source.disassembler import decode
from app.machine.state import State
from app.machine.transfers import Status, status_shown
from app.machine.words import Format, show_pattern, show_word

COMPARISONS = {
    Status.LESS: "is less than",
    Status.EQUAL: "is equal to",
    Status.MORE: "is more than",
}


class Reading:
    """How the values of one machine are written in one base (a name of ``words.BASES``)."""

    def __init__(self, format: Format, base: str) -> None:
        self.format = format
        self.base = base
        self._bits = "hexadecimal" if base == "hexadecimal" else "binary"

    def address(self, value: int) -> str:
        return show_pattern(value, self.format.operand_bits, self.base)

    def number(self, pattern: int) -> str:
        """A data word; in denary its signed value."""
        return show_word(self.format, pattern, self.base)

    def instruction(self, pattern: int) -> str:
        """An instruction word: as denary it would say nothing, so then it is binary."""
        return show_pattern(pattern, self.format.word_bits, self._bits)

    def halves(self, pattern: int) -> tuple[str, str]:
        """The opcode and the operand of an instruction word."""
        opcode, operand = self.format.split(pattern)
        return (
            show_pattern(opcode, self.format.opcode_bits, self._bits),
            show_pattern(operand, self.format.operand_bits, self._bits),
        )

    def term(self, term: str, state: State, fetching: bool = False) -> str:
        """The value of a term of the transfer notation in a state; empty where it has none.

        ``fetching`` tells that MDR holds an instruction on its way to CIR.
        """
        match term:
            case "PC":
                return self.address(state.pc)
            case "MAR":
                return self.address(state.mar)
            case "MDR" if fetching or state.mdr == state.cir:
                return self.instruction(state.mdr)
            case "MDR":
                return self.number(state.mdr)
            case "CIR":
                return self.instruction(state.cir)
            case "ACC" | "input" | "output":
                return self.number(state.acc)
            case "operand":
                return self.address(self.format.split(state.cir)[1])
            case "memory[MAR]" if fetching:
                return self.instruction(state.memory[state.mar])
            case "memory[MAR]":
                return self.number(state.memory[state.mar])
            case "status":
                return status_shown(state.status)
            case _:
                return ""

    def meaning(self, word: int) -> str:
        """What an instruction word means, in plain words."""
        instruction, operand = decode(self.format, word)
        if instruction is None:
            return "no instruction has this opcode"
        return instruction.meaning.format(operand=self.address(operand))


def fetching(step: Step | None, after: bool = True) -> bool:
    """Whether MDR holds an instruction just read, after (or before) a step."""
    return (
        step is not None
        and step.kind.phase is Phase.FETCH
        and step.kind.place_in_phase >= (1 if after else 2)
    )
