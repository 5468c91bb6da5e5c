"""The run of a scene at a glance: a row for each instruction that is carried out, and the step that
each of its phases ends with.

Which steps those are the timeline knows, what was done in them the run, and what is said and asked
there the cues and questions of the scene. A run may be long, so only the rows around one of them
are made.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from app.lesson.blocks.cues import Cue
from app.lesson.model import Scene
from app.lesson.pressing import Pressing
from app.lesson.timeline import Span
from app.machine.instructions import Phase
from app.machine.run import Moment
from app.machine.source.disassembler import write_instruction
from app.machine.state import Ending
from app.machine.telling.narration import sentence
from app.machine.telling.reading import Reading

MOST_ROWS = 40
# The rows change only where the board has left so many of them.
_TURNED = 20


@dataclass(frozen=True, slots=True)
class Remark:
    """What is said, or ``asked``, at a moment: ``phase`` is the one in which that is, empty at the
    start and at the end."""

    words: str
    asked: bool
    phase: str = ""


@dataclass(frozen=True, slots=True)
class Stop:
    """A phase and its steps: the board goes to the last of them."""

    phase: str
    steps: Span

    def holds(self, step: int) -> bool:
        return self.steps.first <= step <= self.steps.last


@dataclass(frozen=True, slots=True)
class Row:
    """An instruction that is carried out, ``number`` counted from 1. ``label`` is the one that it
    stands at, ``did`` what it has put where: 'ACC 13'."""

    number: int
    label: str
    instruction: str
    did: str
    stops: tuple[Stop, ...]
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class Glance:
    """The rows around one of them, of ``carried`` that there are; ``last`` is the last step of the
    run, as far as it is followed, and ``ending`` how it ends, empty where it is not followed so
    far; it ``waits`` where an input is missing. ``earlier`` and ``later`` are the numbers of rows
    further up and down that are not among these, None where there is none."""

    rows: tuple[Row, ...]
    carried: int
    last: int
    ending: str
    waits: bool
    at_start: tuple[Remark, ...]
    at_end: tuple[Remark, ...]
    earlier: int | None
    later: int | None


def glance(scene: Scene, step: int, around: int = 0) -> Glance | None:
    """The run of a scene around the instruction of a step, or around that of the number
    ``around`` where that is not 0. None for a scene in which no instruction is carried out."""
    timeline = scene.timeline if scene.program.words and not scene.scale else None
    carried = timeline.carried if timeline else 0
    if timeline is None or not carried:
        return None
    number = min(max(around or timeline.number_at(step), 1), carried)
    first = (number - 1) // _TURNED * _TURNED + 1 - (MOST_ROWS - _TURNED) // 2
    first = max(min(first, carried - MOST_ROWS + 1), 1)
    last = min(first + MOST_ROWS - 1, carried)
    asked = _Asked(scene)
    reading = Reading(scene.program.machine, "denary", scene.wording)
    ending, waits = "", False
    if timeline.complete:
        moment = scene.run.moment(scene.run.last_step)
        ending = sentence(reading, moment, scene.limit)
        waits = moment.after.ending is Ending.WAITING
    at_start = [Remark(each.words, False) for each in scene.cue_sheet.spoken(0, 0)]
    at_end = [Remark(each.words, False) for each in scene.cues if _is_end(each) and each.words]
    return Glance(
        tuple(_row(scene, each, reading, asked) for each in range(first, last + 1)),
        carried,
        timeline.last_step,
        ending,
        waits,
        (*at_start, *asked.at(0, 0)),
        tuple(at_end) if timeline.complete else (),
        first - 1 if first > 1 else None,
        last + 1 if last < carried else None,
    )


def _is_end(cue: Cue) -> bool:
    return cue.when.kind == "end"


class _Asked:
    """Where the questions of a scene are asked."""

    def __init__(self, scene: Scene) -> None:
        pressing = Pressing(scene, scene.depth)
        self._places = [(pressing.ask_step(each), each.prompt) for each in scene.questions]

    def at(self, first: int, last: int, phase: str = "") -> Iterator[Remark]:
        for step, prompt in self._places:
            if first <= step <= last:
                yield Remark(prompt, True, phase)


def _row(scene: Scene, number: int, reading: Reading, asked: _Asked) -> Row:
    steps = scene.timeline.in_the_run(number)
    start = scene.run.moment(steps.first).before
    labels = scene.program.labels
    stops = tuple(Stop(*each) for each in scene.timeline.phases_of(number))
    remarks: dict[tuple[str, bool], Remark] = {}
    for stop in stops:
        first, last = stop.steps.first, stop.steps.last
        for cue in scene.cue_sheet.spoken(first, last):
            if not _is_end(cue):
                remarks.setdefault((cue.text, False), Remark(cue.words, False, stop.phase))
        for each in asked.at(first, last, stop.phase):
            remarks.setdefault((each.words, True), each)
    return Row(
        number,
        labels.get(start.pc, ""),
        write_instruction(scene.program.machine, start.memory[start.pc], labels),
        reading.wording.say(_did(scene, steps, reading)),
        stops,
        tuple(remarks.values()),
    )


def _did(scene: Scene, steps: Span, reading: Reading) -> str:
    """What the steps of an instruction have put where."""
    done: list[str] = []
    for step in range(steps.first, steps.last + 1):
        moment = scene.run.moment(step)
        if moment.phase is Phase.EXECUTE or moment.phase is Phase.INTERRUPT:
            said = _put(moment, reading, scene.program.labels)
            done += [said] if said else []
    return ", ".join(done)


def _put(moment: Moment, reading: Reading, labels: dict[int, str]) -> str:
    """What one transfer has put where; empty for what only passes through."""
    assert moment.step
    transfer, after = moment.step.kind.transfer, moment.after
    target = transfer.target
    if transfer.halts:
        return "stops"
    if target == "PC" and moment.step.value is None:
        return "no jump"
    if target == "memory[MAR]":
        address = after.mar
        return f"{labels.get(address) or f'[{address}]'} {reading.number(after.memory[address])}"
    if target in ("MAR", "MDR"):
        return ""
    return f"{target} {reading.term(target, after)}"
