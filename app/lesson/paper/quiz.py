"""The questions of a scene on paper, with their answers and the reasons of the wrong choices."""

from __future__ import annotations

from dataclasses import dataclass
from string import ascii_uppercase

from app.lesson.header import Depth
from app.lesson.model import Scene
from app.machine.instructions import DECODE, Phase
from app.machine.provenance import mdr_is_instruction
from app.machine.run import Moment
from app.machine.source.disassembler import write_instruction
from app.machine.telling.reading import Reading

from .already_asked import (
    Earlier,
    instead,
    instead_of_outputs,
    names_instruction,
    outputs_before,
)

# So many of the numbers that were sent out are printed with a question, the last ones: even the
# longest take no more than six lines of their column.
MOST_OUTPUTS = 20


@dataclass(frozen=True, slots=True)
class QuizChoice:
    """``reason`` is why a wrong choice is wrong."""

    letter: str
    text: str
    right: bool
    reason: str


@dataclass(frozen=True, slots=True)
class QuizItem:
    """A question of a scene on paper: ``where`` says how far the run has come, ``state`` what
    stands in the registers then. ``instead`` has for each of these what is printed in its place
    where the value would tell the answer to an earlier question, else nothing. ``line`` is
    the line of the program, from 1, with the instruction that ``where`` speaks of; 0 for none."""

    number: int
    where: str
    state: tuple[tuple[str, str, str], ...]
    prompt: str
    choices: tuple[QuizChoice, ...]
    because: str
    instead: tuple[str, ...] = ()
    line: int = 0

    @property
    def answer(self) -> QuizChoice:
        return next(each for each in self.choices if each.right)


def make_quiz(
    scene: Scene, depth: Depth, first: int = 1, alone: bool = False
) -> tuple[QuizItem, ...]:
    """The questions of a scene, in the order of its run; ``first`` is the number of the first.
    Where each is asked ``alone``, nothing is left out that would tell the answer to another."""
    machine, say = scene.program.machine, scene.wording.say
    fetched = {each.target for each in machine.fetch} - {"PC"}
    if not scene.questions:
        return ()
    # A class that looks at whole phases does not see what only a fetch goes through, and none
    # sees a status that is not on stage.
    unseen = set(fetched) if depth is Depth.PHASES else set()
    unseen |= {"status"} - scene.cue_sheet.parts(scene.questions[-1].step)
    shown = [each for each in machine.registers if each.tag not in unseen]
    subjects = {each.line: each.subject for each in scene.asked}
    items = []
    earlier: list[Earlier] = []
    for number, asked in enumerate(scene.questions, start=first):
        reading = Reading(machine, scene.base_of_questions(asked.step), scene.wording)
        moment = scene.paced.moment(asked.step)
        kind = moment.step.kind if moment.step else None
        instruction = mdr_is_instruction(machine, moment.after, kind)
        values = tuple(
            (say(each.tag), say(each.name), reading.term(each.tag, moment.after, instruction))
            for each in shown
        )
        hidden = [
            instead(each.tag, text, moment.after, earlier)
            for each, (_, _, text) in zip(shown, values, strict=True)
        ]
        sent = moment.after.sent
        before = max(sent - MOST_OUTPUTS, 0)
        outputs = [reading.number(each) for each in scene.run.outputs(sent, before)]
        if outputs:
            text = ", ".join([*outputs_before(before), *outputs])
            values = (*values, ("output", "output so far", text))
            hidden.append(instead_of_outputs(outputs, earlier, before))
        items.append(
            QuizItem(
                number=number,
                where=_where(scene, moment, names_instruction(moment.after, earlier)),
                state=values,
                prompt=asked.prompt,
                choices=tuple(
                    QuizChoice(ascii_uppercase[at], text, at == asked.answer, why)
                    for at, (text, why) in enumerate(zip(asked.choices, asked.reasons, strict=True))
                ),
                because=asked.because,
                instead=tuple(hidden),
                line=_line(scene, moment),
            )
        )
        known = scene.paced.moment(asked.reveal_step).after
        right = asked.choices[asked.answer]
        if alone:
            continue
        earlier.append(Earlier(number, subjects[asked.line], right, moment.after.sent, known))
    return tuple(items)


def _line(scene: Scene, moment: Moment) -> int:
    program = scene.program
    if moment.step is None:
        return 0
    address = scene.run.moment(scene.run.before_instruction(moment.step.number)).after.pc
    if address >= len(program.origins):
        return 0
    return program.origins[address].line


def _where(scene: Scene, moment: Moment, unnamed: bool) -> str:
    """How far the run has come, as it is said on paper, and whether a request waits; ``unnamed``
    leaves the instruction out."""
    waits = bool(moment.step and scene.run.waiting(moment.step.number))
    return f"{_place(scene, moment, unnamed)}{'; a request waits' if waits else ''}"


def _place(scene: Scene, moment: Moment, unnamed: bool) -> str:
    step = moment.step
    if step is None:
        return "Before the program starts"
    run, program = scene.run, scene.program
    before = run.moment(run.before_instruction(step.number)).after
    text = write_instruction(program.machine, before.memory[before.pc], program.labels)
    text = f"{step.cycle}" if unnamed else f"{step.cycle}, {text}"
    serves = step.kind.phase is Phase.INTERRUPT
    if moment.after.cycles == step.cycle and not serves:
        return f"After instruction {text}"
    done = {
        (Phase.FETCH, len(run.machine.fetch)): "it has been fetched",
        (Phase.DECODE, len(DECODE)): "it has been decoded",
    }.get((step.kind.phase, len(moment.steps_of_phase)))
    if done is None:
        written = step.kind.transfer.written("status" in scene.cue_sheet.parts(step.number))
        notation = scene.wording.say(written).replace("<-", "\N{LEFTWARDS ARROW}")
        done = f"the last transfer was {notation}"
    return f"{'After' if serves else 'In'} instruction {text}: {done}"
