"""Whether a HALT is missing: the run goes on behind the last instruction of its program.

What comes there is data, or empty memory. Memory is full of zeros, and 0 is the word of HALT, so
such a run may end by chance as if it were all right.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

from app.machine.instructions import Phase
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.source.disassembler import decode


def halt_is_missing(program: Program, addresses: Iterable[int]) -> bool:
    """Whether a program that carries out the words at these addresses, one after another, comes
    from its last instruction to the word behind it.

    A program that is written as numbers, to show that it is made of them, has no last instruction;
    one that jumps to its data means to.
    """
    written = [at for at, each in enumerate(program.origins) if not each.is_data]
    if not written:
        return False
    last = written[-1]
    instruction, operand = decode(program.machine, program.words[last])
    if instruction and instruction.jumps and operand == last + 1:
        return False
    return (last, last + 1) in pairwise(addresses)


def addresses_carried_out(run: Run) -> Iterator[int]:
    """Where each instruction of a run stands, in the order in which they are carried out."""
    for _number, _cycle, kind, value in run.steps():
        # The address that a fetch begins with.
        if kind.phase is Phase.FETCH and kind.transfer.target == "MAR" and isinstance(value, int):
            yield value
