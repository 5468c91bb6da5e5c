"""What the instructions of a run did, one after another: the trips to memory and the jumps.

Read from the steps of a run, which it leaves as it is. Who watches a run (a cache, a pipeline)
starts from here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from app.machine.instructions import Instruction, Phase
from app.machine.run import Run


@dataclass(frozen=True, slots=True)
class Trip:
    """One trip to memory: the ``step`` and the instruction (``cycle``) that made it, each counted
    from 1, and the ``address``. It ``writes`` or reads; one that ``fetches`` reads an
    instruction."""

    step: int
    cycle: int
    address: int
    writes: bool
    fetches: bool


@dataclass(frozen=True, slots=True)
class Done:
    """One instruction that was carried out to its end: where it stood, the ``word`` (a bit pattern)
    that was fetched there, its trips to memory after the fetch, whether it ``jumped`` (a jump that
    was taken, a call or a return), and its steps."""

    cycle: int
    address: int
    word: int
    instruction: Instruction
    trips: tuple[Trip, ...]
    jumped: bool
    first_step: int
    last_step: int


def trips(run: Run, most: int) -> Iterator[Trip]:
    """The trips to memory of the first ``most`` steps of a run, in their order; of one that was
    changed in its middle, with those of the run before it."""
    if run.earlier:
        yield from trips(run.earlier, min(most, run.first_step))
    address = 0
    for step, cycle, kind, value in run.steps():
        if step > most:
            return
        transfer = kind.transfer
        if transfer.target == "MAR":
            assert isinstance(value, int)
            address = value
        elif transfer.goes_to_memory:
            fetches = kind.phase is Phase.FETCH
            yield Trip(step, cycle, address, transfer.target == "memory[MAR]", fetches)
        if step in run.changed_at:
            address = run.moment(step).after.mar


def instructions(run: Run, most: int) -> Iterator[Done]:
    """The first ``most`` instructions of a run that came to their end, in their order. One that
    breaks off (an unknown code, a missing input) is left out."""
    made: list[Trip] = []
    address = fetched = word = first = 0
    jumped = False
    for step, cycle, kind, value in run.steps():
        if cycle > most:
            return
        transfer = kind.transfer
        if kind.phase is Phase.FETCH and kind.place_in_phase == 0:
            made, jumped, first = [], False, step
        if transfer.target == "MAR":
            assert isinstance(value, int)
            address = value
            if kind.phase is Phase.FETCH:
                fetched = value
        elif transfer.target == "CIR":
            assert isinstance(value, int)
            word = value
        elif transfer.goes_to_memory and kind.phase is not Phase.FETCH:
            made.append(Trip(step, cycle, address, transfer.target == "memory[MAR]", False))
        if kind.phase is not Phase.EXECUTE or kind.instruction is None:
            continue
        jumped = jumped or (transfer.target == "PC" and value is not None)
        if kind.place_in_phase == len(kind.instruction.transfers) - 1:
            yield Done(cycle, fetched, word, kind.instruction, tuple(made), jumped, first, step)
