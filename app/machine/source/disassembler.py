"""From words back to source text."""

from __future__ import annotations

from collections.abc import Mapping

from app.machine.addressing import Operand
from app.machine.instructions import Instruction
from app.machine.machine import Machine


def decode(machine: Machine, word: int) -> tuple[Instruction | None, int]:
    """The instruction that a word is (None where no instruction has its code), and its operand."""
    opcode, operand = machine.split(word)
    return machine.by_code.get(opcode), operand


def can_be_written(instruction: Instruction, operand: int) -> bool:
    """Whether the instruction is ever written with this operand: one that stands alone has 0 in
    its right half, and what counts places has as many as there can be."""
    mode = instruction.mode
    if mode.operand is Operand.NONE:
        return operand == 0
    return operand >= mode.least and (mode.most is None or operand <= mode.most)


def write_instruction(machine: Machine, word: int, labels: Mapping[int, str] | None = None) -> str:
    """One word as source text: an instruction, or a number where it can only be data.

    ``labels`` names addresses. A word that no instruction is written as is a number too, so that
    assembling the text gives the same word again.
    """
    instruction, operand = decode(machine, word)
    if instruction is None or not can_be_written(instruction, operand):
        return str(machine.signed(word))
    named = instruction.operand is Operand.ADDRESS and labels and labels.get(operand)
    return instruction.write(named or str(operand))
