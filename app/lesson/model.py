"""What a lesson file says, as data."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from app.machine.assembler import Program
from app.machine.problems import Problem
from app.machine.run import Run

from .cues import Cue, CueSheet
from .header import Header


@dataclass(frozen=True)
class Scene:
    """One scene: what the teacher says (``notes``, HTML made from the file's prose), and the
    program that runs, with the inputs that arrive (bit patterns)."""

    title: str
    line: int
    notes: str
    program: Program
    inputs: tuple[int, ...]
    limit: int
    cues: tuple[Cue, ...] = ()

    @cached_property
    def run(self) -> Run:
        """The run of the program; one without a step where the scene has no program."""
        return Run(
            self.program.format,
            self.program.words,
            self.inputs,
            self.limit if self.program.words else 0,
        )

    @cached_property
    def cue_sheet(self) -> CueSheet:
        return CueSheet(self.cues, self.run)


@dataclass(frozen=True, slots=True)
class Lesson:
    """A whole lesson. With any problem that is not a warning it must not be taught from."""

    slug: str
    header: Header
    scenes: tuple[Scene, ...]
    problems: tuple[Problem, ...] = ()
    source: str = field(default="", repr=False)

    @property
    def faults(self) -> tuple[Problem, ...]:
        return tuple(each for each in self.problems if not each.warning)
