"""Where a run leaves the instructions of its program and carries out what is none.

What it comes to is a number or empty memory. Memory is full of zeros, and 0 is the word of HALT, so
such a run may end by chance as if it were all right.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain, pairwise

from app.machine.source.assembler import Program
from app.machine.source.disassembler import decode


@dataclass(frozen=True, slots=True)
class Astray:
    """A run comes from the instruction at one address to ``at``, which is no instruction.

    ``behind`` tells that ``at`` is the word behind the last instruction, so that a HALT is
    missing; ``line`` is the line of the source that the word stands on, None for empty memory.
    """

    at: int
    behind: bool
    line: int | None

    @property
    def what(self) -> str:
        if self.behind:
            return "The program runs on past its last instruction."
        if self.line is None:
            return "The program jumps past its last line, where memory is empty."
        return (
            f"Line {self.line} is a number, and the machine comes to it before it comes to HALT"
            " and carries it out."
        )

    @property
    def mend(self) -> str:
        if self.behind:
            return "Perhaps a HALT is missing."
        if self.line is None:
            return "Look at its jumps."
        return "Put numbers behind the HALT, or jump over them."


def astray(program: Program, addresses: Iterable[int]) -> Astray | None:
    """Where a program that carries out the words at these addresses, in this order, first comes to
    what is no instruction of it; None where it does not, or means to.

    A program that is written as numbers, to show that it is made of them, knows what it does, and
    so does one that jumps to a number of its own.
    """
    origins = program.origins
    written = [at for at, each in enumerate(origins) if not each.is_data]
    if not written:
        return None
    for before, at in pairwise(chain([-1], addresses)):
        inside = at < len(origins)
        if inside and not origins[at].is_data:
            continue
        if before >= len(origins) or (before >= 0 and origins[before].is_data):
            return None  # it was sent among its numbers before, and goes on from there
        line = origins[at].line if inside else None
        if before < 0:
            return Astray(at, False, line)
        if at == before + 1:
            instruction, operand = decode(program.machine, program.words[before])
            if instruction and instruction.jumps and operand == at:
                return None
            return Astray(at, before == written[-1], line)
        return None if inside else Astray(at, False, None)
    return None
