"""What a lesson file says, as data."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from app.lesson.asking.questions import AskedQuestion, Question, ask_all
from app.lesson.blocks.cues import Cue, CueSheet
from app.lesson.blocks.scale import Scale
from app.lesson.blocks.speed import Speed
from app.lesson.blocks.task import Task
from app.machine.characters import CHARACTERS
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.source.problems import Problem
from app.machine.telling.wording import USUAL, Wording

from .header import Depth, Header, Press
from .parts import ALL_PARTS, all_parts
from .timeline import Timeline


@dataclass(frozen=True)
class Scene:
    """One scene: what the teacher says (``notes``, HTML made from the file's prose), and the
    program that runs, with the inputs that arrive (bit patterns).

    ``parts`` are on stage at the start, by the names of the drawing. A scene with a ``scale`` is
    a zoom: its steps are the stations, and it has no program. ``watch`` has the addresses of
    the words that stay in sight beside the window of a large memory, None where the lesson
    leaves that to the board. ``asked`` holds the questions as
    they were written, ``questions`` as the run answers them. ``program_line`` is the line of the
    file that the program's text starts on, 0 where the scene keeps an earlier program;
    ``inputs_line`` the same of its inputs. ``solution`` is a program that does the task: for the
    teacher, never for the class. ``homework`` is HTML, empty for none. ``minutes`` is its planned
    time, ``press`` how far one press goes; each None where the file does not say. ``wording`` has
    the words of the syllabus, ``changed`` the lines that this scene changes in an earlier program.
    """

    title: str
    line: int
    notes: str
    program: Program
    inputs: tuple[int, ...]
    limit: int
    cues: tuple[Cue, ...] = ()
    parts: frozenset[str] = ALL_PARTS
    asked: tuple[Question, ...] = ()
    scale: Scale | None = None
    speed: Speed | None = None
    task: Task | None = None
    watch: tuple[int, ...] | None = None
    homework: str = ""
    minutes: int | None = None
    depth: Depth = Depth.TRANSFERS
    press: Press | None = None
    solution: Program | None = None
    program_line: int = 0
    inputs_line: int = 0
    solution_line: int = 0
    wording: Wording = USUAL
    changed: tuple[str, ...] = ()

    @cached_property
    def run(self) -> Run:
        """The run of the program; one without a step where the scene has no program."""
        return Run(
            self.program.machine,
            self.program.words,
            self.inputs,
            self.limit if self.program.words else 0,
        )

    @cached_property
    def timeline(self) -> Timeline:
        """Where everything happens in the run."""
        return Timeline(self.run, self.program)

    @cached_property
    def cue_sheet(self) -> CueSheet:
        return CueSheet(self.cues, self.timeline, self.parts)

    @property
    def questions(self) -> tuple[AskedQuestion, ...]:
        """Every question at its places in the run, in the order of the run."""
        return self._asking[0]

    @property
    def question_problems(self) -> list[Problem]:
        """Warnings for what cannot be asked as it was written."""
        return self._asking[1]

    def base_of_questions(self, step: int) -> str:
        """The base of a question at a step: denary, unless the lesson shows characters there."""
        return CHARACTERS if self.cue_sheet.base(step) == CHARACTERS else "denary"

    @cached_property
    def _asking(self) -> tuple[tuple[AskedQuestion, ...], list[Problem]]:
        sheet = self.cue_sheet
        return ask_all(
            self.asked,
            self.timeline,
            self.program,
            self.wording,
            lambda step: all_parts(self.program.machine) - sheet.parts(step),
            self.base_of_questions,
        )


@dataclass(frozen=True, slots=True)
class Lesson:
    """A whole lesson. With any problem that is not a warning, and without a scene, it must not be
    taught from."""

    slug: str
    header: Header
    scenes: tuple[Scene, ...]
    problems: tuple[Problem, ...] = ()
    source: str = field(default="", repr=False)

    @property
    def faults(self) -> tuple[Problem, ...]:
        return tuple(each for each in self.problems if not each.warning)

    @property
    def can_be_taught(self) -> bool:
        return bool(self.scenes) and not self.faults
