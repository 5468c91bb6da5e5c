"""Memory images drawn at random; the same seed always draws the same one."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from app.machine.instructions import INSTRUCTIONS
from app.machine.machine import Machine
from app.machine.source.disassembler import write_instruction
from app.machine.words import Format

# Any code at all; no HALT; and no HALT, INPUT or LOAD #, so that many runs go round and round.
KINDS_OF_CODE = tuple(
    [each.code for each in INSTRUCTIONS if each.written not in left_out]
    for left_out in ((), ("HALT",), ("HALT", "INPUT", "LOAD #n"))
)


def draw(format: Format, seed: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """A full memory image and some inputs, as bit patterns."""
    rng = Random(seed)
    codes = KINDS_OF_CODE[seed % len(KINDS_OF_CODE)]
    image = []
    for _ in range(format.memory_words):
        if rng.random() < 0.02:
            image.append(rng.randint(0, format.word_mask))
        else:
            # Small operands keep the jumps of the large memory close together.
            operand = rng.choice((rng.randint(0, format.operand_mask), rng.randint(0, 15)))
            image.append(format.join(rng.choice(codes), operand))
    inputs = tuple(rng.randint(0, format.word_mask) for _ in range(rng.randint(0, 5)))
    return tuple(image), inputs


def disassemble(machine: Machine, image: Sequence[int]) -> str:
    """An image as source text, one word a line."""
    return "".join(f"{write_instruction(machine, word)}\n" for word in image)
