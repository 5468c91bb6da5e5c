"""What a lesson file says, as data."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

from app.lesson.asking.questions import AskedQuestion, Question, ask_all
from app.lesson.asking.watched import Racer, Watched
from app.lesson.blocks.cache import in_words
from app.lesson.blocks.compare import Comparison, Result
from app.lesson.blocks.cues import Cue, CueSheet
from app.lesson.blocks.scale import Scale
from app.lesson.blocks.speed import Speed
from app.lesson.blocks.task import Task
from app.machine.characters import CHARACTERS
from app.machine.requests import Request
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.source.problems import Problem
from app.machine.telling.wording import USUAL, Wording
from app.machine.watching.accounts import Accounts
from app.machine.watching.cache import CacheAccount, CacheShape
from app.machine.watching.pipeline import PipelineAccount, PipelineShape
from app.machine.watching.ticks import Ticks
from app.machine.watching.turns import Turns

from .header import Depth, Header, Press
from .parts import ALL_PARTS, all_parts
from .ticks import TickTimeline, TurnTimeline
from .timeline import FOLLOWED, Timeline
from .worked_out import Kept, WorkedOut

_WORKED_OUT = WorkedOut()
# What a scene has of its run, and the run itself, which has its outputs and states of it.
_OF_THE_RUN = (
    "timeline",
    "cue_sheet",
    "watching",
    "_asking",
    "accounts",
    "results",
    "paced",
    "run",
)

# What a question takes to be asked at a place, beside a step of a run that is only followed. From
# measuring.
QUESTION_WORK = 800


@dataclass(frozen=True)
class Scene(Kept):
    """One scene: what the teacher says (``notes``, HTML made from the file's prose), and the
    program that runs, with the inputs that arrive (bit patterns) and the ``requests`` that break
    in.

    ``parts`` are on stage at the start, by the names of the drawing. A scene with a ``scale`` is
    a zoom: its steps are the stations, and it has no program. ``watch`` has the addresses of
    the words that stay in sight beside the window of a large memory, None where the lesson
    leaves that to the board. ``asked`` holds the questions as
    they were written, ``questions`` as the run answers them. ``program_line`` is the line of the
    file that the program's text starts on, 0 where the scene keeps an earlier program;
    ``inputs_line`` and ``requests_line`` the same of its inputs and requests. ``solution`` is a
    program that does the task: for the teacher, never for the class. ``homework`` is HTML, empty
    for none. ``minutes`` is its planned time, ``press`` how far one press goes; each None where
    the file does not say. ``wording`` has the words of the syllabus, ``changed`` the lines that
    this scene changes in an earlier program. With a ``cache`` or a ``pipeline`` its run is watched
    by one (the ``other_cache`` is that of the header), and ``compare`` has the machines that it is
    compared on.
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
    requests: tuple[Request, ...] = ()
    requests_line: int = 0
    cache: CacheShape | None = None
    other_cache: CacheShape | None = None
    pipeline: PipelineShape | None = None
    compare: Comparison | None = None

    @property
    def bell(self) -> int:
        """What a request brings that is made by hand: what the first of the scene's does, else 1.
        A bit pattern."""
        return self.requests[0].value if self.requests else 1

    @cached_property
    def run(self) -> Run:
        """The run of the program; one without a step where the scene has no program."""
        return Run(
            self.program.machine,
            self.program.words,
            self.inputs,
            self.limit if self.program.words else 0,
            self.requests,
        )

    @cached_property
    def paced(self) -> Run:
        """What the steps of the scene are those of: its run, or the ticks of its pipeline."""
        if self.pipeline and self.program.words:
            return Ticks(self.run, self.accounts.piped(self.pipeline))
        if self.compare and self.program.words:
            return Turns(self.run, self.compare.last_step)
        return self.run

    @cached_property
    def results(self) -> tuple[Result, ...]:
        """What comes of the machines that it compares."""
        return self.compare.results(self.run, self.accounts) if self.compare else ()

    @property
    def in_pipeline(self) -> PipelineAccount | None:
        """The account of its pipeline; None where it has none."""
        return self.paced.account if isinstance(self.paced, Ticks) else None

    def cached(self, shape: CacheShape) -> CacheAccount:
        """The account of its run with a cache."""
        return self.accounts.cached(shape)

    @property
    def work(self) -> int:
        # None is made for this.
        run, *made = (self.__dict__.get(each) for each in ("run", "accounts", "timeline"))
        followed = min(run.known_steps, FOLLOWED) if run else 0
        return followed + sum(each.work for each in made if each)

    @property
    def taken(self) -> int:
        """What all of it has taken: what is kept, and its questions."""
        asking = self.__dict__.get("_asking")
        return self.work + (QUESTION_WORK * len(asking[0]) if asking else 0)

    def with_cues(self, cues: Iterable[Cue]) -> Scene:
        """The same scene with other cues, to be tried: what its run comes to is not worked out
        anew."""
        return self._sharing(replace(self, cues=tuple(cues)))

    def with_parts(self, parts: frozenset[str]) -> Scene:
        """The same with other parts on stage at the start."""
        return self._sharing(replace(self, parts=parts))

    def with_asked(self, asked: Iterable[Question]) -> Scene:
        """The same with other questions."""
        return self._sharing(replace(self, asked=tuple(asked)))

    def _sharing(self, made: Scene) -> Scene:
        made.__dict__.update(
            run=self.run, accounts=self.accounts, paced=self.paced, timeline=self.timeline
        )
        return made

    def let_go(self) -> None:
        for name in _OF_THE_RUN:
            self.__dict__.pop(name, None)

    @cached_property
    def accounts(self) -> Accounts:
        """All that watches its run."""
        _WORKED_OUT.add(self)
        return Accounts(self.run)

    @cached_property
    def timeline(self) -> Timeline:
        """Where everything happens in the scene, by its steps."""
        _WORKED_OUT.add(self)
        if isinstance(self.paced, Ticks):
            return TickTimeline(self.paced, self.program)
        if isinstance(self.paced, Turns):
            return TurnTimeline(self.paced, self.program)
        return Timeline(self.run, self.program)

    @cached_property
    def cue_sheet(self) -> CueSheet:
        return CueSheet(self.cues, self.timeline, self.parts)

    @cached_property
    def watching(self) -> Watched:
        """What watches the run, for questions about it."""
        racers = tuple(
            Racer(
                each.rival.name,
                each.ticks,
                each.seconds,
                each.rival.clock,
                each.rival.cores,
                each.rival.parallel,
                each.rival.pipeline.stages if each.rival.pipeline else 0,
                each.rival.cache.memory_ticks if each.rival.cache else 0,
            )
            for each in self.results
        )
        cache, other = self.cache, self.other_cache
        return Watched(
            self.cached(cache) if cache else None,
            (self.cached(other), in_words(other)) if cache and other and cache != other else None,
            self.in_pipeline,
            racers,
            self.compare.not_compared(self.run) if self.compare else None,
        )

    @property
    def by_turns(self) -> bool:
        """Whether its steps are not those of the machine: it has a pipeline, or machines to
        compare. Nothing is made to know it."""
        return bool(self.program.words and (self.pipeline or self.compare))

    @property
    def unit(self) -> str:
        """What one of its steps is: a step of the machine, a tick of its pipeline, or a press that
        brings the next machine."""
        if self.by_turns:
            return "tick" if self.pipeline else "press"
        return "step"

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
            lambda: self.watching,
            self.by_turns,
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
    def watched(self) -> bool:
        """Whether any scene asks what makes a machine faster: by a cache, a pipeline, machines side
        by side, or cores."""
        return any(
            each.cache
            or each.pipeline
            or each.compare
            or (each.speed and each.speed.asks_what_is_faster)
            for each in self.scenes
        )

    @property
    def faults(self) -> tuple[Problem, ...]:
        return tuple(each for each in self.problems if not each.warning)

    @property
    def can_be_taught(self) -> bool:
        return bool(self.scenes) and not self.faults
