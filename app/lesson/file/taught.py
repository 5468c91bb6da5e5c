"""What a lesson has used of its machine: more must not be in its warm-up."""

from __future__ import annotations

from dataclasses import dataclass

from app.lesson.asking.questions import AskedQuestion
from app.lesson.asking.subjects import read_subject
from app.lesson.entries import Wrong
from app.lesson.model import Lesson, Scene
from app.lesson.parts import all_parts
from app.machine.instructions import Instruction
from app.machine.machine import Machine
from app.machine.source.assembler import Program
from app.machine.source.disassembler import decode

# The parts that are behind what is asked about, where that is no part itself.
_BEHIND = {"jump": "PC", "sent": "output"}


@dataclass(frozen=True, slots=True)
class Taught:
    """``codes`` are those of the instructions in a lesson's programs, tasks and solutions;
    ``hidden`` the parts that were never on stage beside a program. ``unready`` says whether it has
    a jump that looks at the status with nothing before it that sets it."""

    machine: Machine
    codes: frozenset[int]
    hidden: frozenset[str]
    unready: bool

    @classmethod
    def by(cls, lesson: Lesson) -> Taught:
        """What a lesson has used."""
        machine = lesson.header.machine
        scenes = [each for each in lesson.scenes if each.program.words]
        programs = [one for each in scenes for one in (each.program, each.solution) if one]
        seen: set[str] = set()
        for scene in scenes:
            seen |= scene.cue_sheet.parts(0)
            for cue in scene.cues:
                seen |= cue.actions.show
        return cls(
            machine,
            frozenset(each.code for one in programs for each in _instructions(one)),
            all_parts(machine) - seen if scenes else frozenset(),
            any(map(_jumps_unready, programs)),
        )

    @property
    def names(self) -> frozenset[str]:
        """The instructions as they are written without an operand, such as 'JUMP IF LESS'."""
        known = (self.machine.by_code[each] for each in self.codes)
        return frozenset(each.write("").replace("  ", " ").strip() for each in known)

    def knows(self, program: Program) -> bool:
        """Whether a program has nothing that the lesson's programs do not have."""
        if not {each.code for each in _instructions(program)} <= self.codes:
            return False
        return self.unready or not _jumps_unready(program)

    def has_seen(self, subject: str) -> bool:
        """Whether what is asked about, as a lesson file says it, has been on stage."""
        try:
            kind = read_subject(subject, self.machine).kind
        except Wrong:
            return False
        return _BEHIND.get(kind, kind) not in self.hidden


def about(scene: Scene, asked: AskedQuestion) -> str:
    """The name of the instruction that runs where a question is answered; empty where none is
    known by then."""
    step = scene.paced.moment(asked.reveal_step).step
    return step.kind.instruction.name if step and step.kind.instruction else ""


def _instructions(program: Program) -> list[Instruction]:
    """What a program has as instructions, in the order of the addresses."""
    words = zip(program.words, program.origins, strict=True)
    found = (decode(program.machine, word)[0] for word, origin in words if not origin.is_data)
    return [each for each in found if each]


def _jumps_unready(program: Program) -> bool:
    for each in _instructions(program):
        if each.looks_at_status:
            return True
        if any(transfer.target == "status" or transfer.uses_alu for transfer in each.transfers):
            return False
    return False
