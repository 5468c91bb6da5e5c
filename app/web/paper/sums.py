"""Sums on paper: what the ALU works out in a scene, column by column, to be filled in by hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from app.board.opened import OpenedAlu, opened_alu
from app.lesson.model import Lesson, Scene
from app.machine.gates import CIRCUITS
from app.machine.source.disassembler import write_instruction
from app.machine.telling.narration import working
from app.machine.telling.reading import Reading

# So far a run is followed, so many of its sums are looked at for some that differ, and so many of
# a scene have room on a sheet.
MOST_STEPS = 5_000
MOST_LOOKED_AT = 100
MOST_SUMS = 4


@dataclass(frozen=True, slots=True)
class PaperSum:
    """A sum of a run: the ALU in columns, what is to be worked out (without its result), the
    instruction, and which one of the run it is."""

    alu: OpenedAlu
    left_out: str
    instruction: str
    number: int


@dataclass(frozen=True, slots=True)
class SumSheet:
    """The sums of a scene (its number counted from 1), and one column of one of them, opened."""

    number: int
    scene: Scene
    sums: tuple[PaperSum, ...]
    opened_sum: PaperSum
    opened: OpenedAlu


def sum_sheets(lesson: Lesson, scenes: tuple[tuple[int, Scene], ...]) -> tuple[SumSheet, ...]:
    """A sheet for each of these scenes in whose run the ALU works."""
    found = []
    for number, scene in scenes:
        sums = tuple(islice(_sums(lesson, scene), MOST_SUMS))
        if sums:
            # The most that a column can show is a carry that comes in.
            fullest = max(sums, key=lambda each: _carried(each.alu) is not None)
            column = _carried(fullest.alu) or 0
            opened = replace(fullest.alu, column=column)
            found.append(SumSheet(number, scene, sums, fullest, opened))
    return tuple(found)


def has_sums(lesson: Lesson, scenes: Sequence[Scene] | None = None) -> bool:
    """Whether the ALU works in any run of these scenes of a lesson, or of all of them."""
    wanted = lesson.scenes if scenes is None else scenes
    return any(next(_sums(lesson, scene), None) for scene in wanted)


def _carried(alu: OpenedAlu) -> int | None:
    """The first column from the right into which a column before it carries a 1."""
    places = (each.place for each in alu.work.columns if each.place and each.bits.get("carry in"))
    return next(places, None)


def _sums(lesson: Lesson, scene: Scene) -> Iterator[PaperSum]:
    """What the ALU works out in the run of a scene, each sum once."""
    if not scene.program.words:
        return
    header, run, seen = lesson.header, scene.run, set()
    reading = Reading(run.machine, "denary", header.wording)
    steps = (
        (number, cycle, kind.transfer.operation)
        for number, cycle, kind, _value in islice(run.steps(), MOST_STEPS)
        if kind.transfer.uses_alu
    )
    summed = (each for each in steps if each[2] and each[2].column in CIRCUITS)
    for number, cycle, operation in islice(summed, MOST_LOOKED_AT):
        assert operation
        moment = run.moment(number)
        alu = opened_alu(reading, moment, symbols=header.gates)
        if alu.key in seen:
            continue
        seen.add(alu.key)
        written = write_instruction(run.machine, moment.after.cir, scene.program.labels)
        told = working(reading, moment)
        assert told
        sign = operation.symbol if operation.compares else told.sign
        left_out = f"{told.left} {sign} {told.right}".lstrip()
        yield PaperSum(alu, left_out, written, cycle)
