"""Values as a reader sees them: in a number base, instructions always as bits or digits."""

from __future__ import annotations

from app.machine.machine import Machine
from app.machine.operations import status_shown
from app.machine.registers import Holds
from app.machine.source.disassembler import decode
from app.machine.state import State
from app.machine.transfers import KEPT, KEPT_WITH_CARRY
from app.machine.words import show_pattern, show_signed, show_word

from .wording import USUAL, Wording


def pattern_of(machine: Machine, term: str, state: State) -> int:
    """A term that the ALU works on, as a bit pattern; 0 for none."""
    if term == "operand":
        return machine.split(state.cir)[1]
    return _pattern(state, term) if term else 0


def value_of(machine: Machine, term: str, state: State) -> int:
    """The same as a number: a word has a sign, the operand and an address have none."""
    pattern = pattern_of(machine, term, state)
    register = machine.register.get(term)
    return machine.signed(pattern) if register and register.holds is Holds.WORD else pattern


class Reading:
    """How the values of one machine are written in one base (a name of ``words.EVERY_BASE``), and
    in which words things are told."""

    def __init__(self, machine: Machine, base: str, wording: Wording = USUAL) -> None:
        self.machine = machine
        self.base = base
        self.wording = wording
        self._bits = "hexadecimal" if base == "hexadecimal" else "binary"

    def address(self, value: int) -> str:
        return show_pattern(value, self.machine.operand_bits, self.base)

    def number(self, pattern: int) -> str:
        """A data word; in denary its signed value."""
        return show_word(self.machine, pattern, self.base)

    def in_full(self, value: int) -> str:
        """A number as everybody counts: in denary, which is said where the others are in another
        base. Not every one fits a word."""
        base = " in denary" if self.base in ("binary", "hexadecimal") else ""
        return f"{show_signed(value)}{base}"

    def instruction(self, pattern: int) -> str:
        """An instruction word: as denary it would say nothing, so then it is binary."""
        return show_pattern(pattern, self.machine.word_bits, self._bits)

    def halves(self, pattern: int) -> tuple[str, str]:
        """The opcode and the operand of an instruction word."""
        opcode, operand = self.machine.split(pattern)
        return (
            show_pattern(opcode, self.machine.opcode_bits, self._bits),
            show_pattern(operand, self.machine.operand_bits, self._bits),
        )

    def term(self, term: str, state: State, instruction: bool = False) -> str:
        """The value of a term of the transfer notation in a state; empty where it has none.

        ``instruction`` tells that the word on its way between memory and CIR is one (see
        :mod:`app.machine.provenance`).
        """
        register = self.machine.register.get(term)
        if term == "operand":
            return self.address(self.machine.split(state.cir)[1])
        if term == "status":
            return status_shown(state.status)
        if register and register.holds is Holds.SWITCH:
            return "on" if _pattern(state, term) else "off"
        if term in (KEPT, KEPT_WITH_CARRY):
            return ", ".join(self.term(each, state) for each in term.split(", "))
        if term == "overflow" or (register and register.holds is Holds.BIT):
            return str(int(_pattern(state, term)))
        if register and register.holds is Holds.ADDRESS:
            return self.address(_pattern(state, term))
        if term == "CIR" or (instruction and term == "MDR"):
            return self.instruction(_pattern(state, term))
        if register:
            return self.number(_pattern(state, term))
        if term == "memory[MAR]":
            word = state.memory[state.mar]
            return self.instruction(word) if instruction else self.number(word)
        # What came in or goes out is in the accumulator.
        return self.number(state.acc) if term in ("input", "output") else ""

    def meaning(self, word: int) -> str:
        """What an instruction word means, in plain words."""
        instruction, operand = decode(self.machine, word)
        if instruction is None:
            return "no instruction has this opcode"
        return self.wording.say(instruction.meaning.format(operand=self.address(operand)))


def _pattern(state: State, tag: str) -> int:
    value = state.held(tag)
    assert isinstance(value, int)
    return value
