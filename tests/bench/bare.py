"""A bare interpreter of the machine's instructions: what the model's speed is compared with.

One loop, written by hand, as somebody would who wants the result and nothing else: no table, no
registers but PC and ACC, no steps, no overflow mark. It counts instructions, stops at a limit,
and comes to the same memory, outputs and status as the model (:func:`same_end` looks).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.machine.run import Run
from app.machine.words import Format
from tests.codes import CODES

LESS, EQUAL, MORE = -1, 0, 1
NO_COMPARISON = 2

# The loop asks for the usual instructions first, as one by hand would.
ORDER = (
    *("HALT", "LOAD a", "LOAD #n", "STORE a", "ADD a", "ADD #n", "SUBTRACT a", "SUBTRACT #n"),
    *("COMPARE a", "COMPARE #n", "JUMP a", "JUMP a IF LESS", "JUMP a IF EQUAL", "JUMP a IF MORE"),
    *("INPUT", "OUTPUT"),
)


CODED = tuple(CODES[each] for each in ORDER)


@dataclass(frozen=True, slots=True)
class End:
    memory: list[int]
    pc: int
    acc: int
    status: int
    outputs: list[int]
    instructions: int


def interpret(format: Format, image: Sequence[int], inputs: Sequence[int], limit: int) -> End:
    """Run an image to its HALT or its limit. Whatever else stops the machine raises."""
    half, mask = format.operand_bits, format.operand_mask
    word, sign = format.word_mask, 1 << (format.word_bits - 1)
    memory = [*image, *[0] * (format.memory_words - len(image))]
    waiting = iter(inputs)
    outputs: list[int] = []
    pc = acc = count = 0
    status = NO_COMPARISON
    # Local names, which Python finds as fast as numbers. Asked for one by one (SIM109): a tuple of
    # them would be made anew for every instruction.
    halt, load, load_number, store, add, add_number, subtract, subtract_number, *others = CODED
    compare, compare_number, jump, jump_if_less, jump_if_equal, jump_if_more, *others = others
    input_, output = others
    while count < limit:
        now = memory[pc]
        pc += 1
        count += 1
        code, operand = now >> half, now & mask
        if code == halt:
            break
        elif code == load:
            acc = memory[operand]
        elif code == load_number:
            acc = operand
        elif code == store:
            memory[operand] = acc
        elif code == add or code == add_number:  # noqa: SIM109
            acc = (acc + (memory[operand] if code == add else operand)) & word
            status = EQUAL if acc == 0 else LESS if acc & sign else MORE
        elif code == subtract or code == subtract_number:  # noqa: SIM109
            acc = (acc - (memory[operand] if code == subtract else operand)) & word
            status = EQUAL if acc == 0 else LESS if acc & sign else MORE
        elif code == compare or code == compare_number:  # noqa: SIM109
            left = acc ^ sign
            right = (memory[operand] if code == compare else operand) ^ sign
            status = EQUAL if left == right else LESS if left < right else MORE
        elif code == jump:
            pc = operand
        elif code == jump_if_less:
            if status == LESS:
                pc = operand
        elif code == jump_if_equal:
            if status == EQUAL:
                pc = operand
        elif code == jump_if_more:
            if status == MORE:
                pc = operand
        elif code == input_:
            acc = next(waiting)
        elif code == output:
            outputs.append(acc)
        else:
            raise ValueError(f"no instruction has the code {code}")
    return End(memory, pc, acc, status, outputs, count)


def same_end(bare: End, run: Run) -> bool:
    """Whether the bare loop and the model came to the same end."""
    state = run.finish()
    return (
        bare.memory == state.memory
        and (bare.pc, bare.acc, bare.instructions) == (state.pc, state.acc, state.cycles)
        and ("LESS", "EQUAL", "MORE", None)[bare.status + 1] == state.status
        and tuple(bare.outputs) == run.outputs(state.sent)
    )
