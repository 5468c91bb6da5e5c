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

LESS, EQUAL, MORE = -1, 0, 1
STATUSES = {LESS: "LESS", EQUAL: "EQUAL", MORE: "MORE", None: None}


@dataclass(frozen=True, slots=True)
class End:
    memory: list[int]
    pc: int
    acc: int
    status: int | None
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
    status = None
    while count < limit:
        now = memory[pc]
        pc += 1
        count += 1
        code, operand = now >> half, now & mask
        if code == 0:
            break
        elif code == 14:
            acc = memory[operand]
        elif code == 15:
            acc = operand
        elif code == 7:
            memory[operand] = acc
        elif code == 12 or code == 13:
            acc = (acc + (memory[operand] if code == 12 else operand)) & word
            status = EQUAL if acc == 0 else LESS if acc & sign else MORE
        elif code == 10 or code == 11:
            acc = (acc - (memory[operand] if code == 10 else operand)) & word
            status = EQUAL if acc == 0 else LESS if acc & sign else MORE
        elif code == 8 or code == 9:
            left = acc ^ sign
            right = (memory[operand] if code == 8 else operand) ^ sign
            status = EQUAL if left == right else LESS if left < right else MORE
        elif code == 3:
            pc = operand
        elif code == 4:
            if status == LESS:
                pc = operand
        elif code == 5:
            if status == EQUAL:
                pc = operand
        elif code == 6:
            if status == MORE:
                pc = operand
        elif code == 1:
            acc = next(waiting)
        elif code == 2:
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
        and STATUSES[bare.status] == state.status
        and tuple(bare.outputs) == run.outputs(state.sent)
    )
