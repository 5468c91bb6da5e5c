"""A pupil's program on the machine: its run, its timeline of instructions, and moves along it.

A run is a pure function of (machine, program, inputs), so nothing here belongs to a pupil. The
trials used last are kept, so that a press costs the drawing of one frame; one that has gone is
made again, with the same outcome.
"""

from __future__ import annotations

import threading
from array import array
from bisect import bisect_left
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from app.classroom.course import MOVES, Course, course_of
from app.classroom.inside import LOOKS, Inside
from app.classroom.pace import rest_seconds
from app.classroom.settings import CHANGES, Settings
from app.classroom.view import View, Went
from app.lesson.header import ONLY_IN_TRANSFERS, Depth, Header, Symbols
from app.lesson.model import Lesson, Scene
from app.machine.instructions import Phase
from app.machine.machine import Machine
from app.machine.requests import Request
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.state import Ending
from app.machine.telling.astray import astray
from app.machine.telling.wording import USUAL, Wording

from .work import LIMITS, Work, assembled, write_requests

# One trial of the largest kind (16-bit, 10,000 instructions) takes some 700 kB: see the benchmark.
MOST_TRIALS = 64
# One that is followed further takes ten times as much.
MOST_LONG_TRIALS = 4

RINGING = ("bell", "take-back")
MOST_RUNG = 40

EMPTY = "Write a program: one instruction on each line. The card lists the instructions."


@dataclass(frozen=True, slots=True)
class Timeline:
    """Where each instruction of a run starts: the step before it, and its address."""

    starts: array[int]
    addresses: array[int]

    @classmethod
    def of(cls, run: Run) -> Timeline:
        starts, addresses = array("L"), array("H")
        for number, _cycle, kind, value in run.steps():
            if kind.phase is Phase.FETCH and kind.place_in_phase == 0:
                starts.append(number - 1)
                addresses.append(value)  # type: ignore[arg-type]  # an address: MAR <- PC
        return cls(starts, addresses)

    def __len__(self) -> int:
        return len(self.starts)

    def at(self, step: int) -> int:
        """How many instructions have been started at ``step``."""
        return bisect_left(self.starts, step)

    def address(self, step: int) -> int | None:
        """The address of the instruction that ``step`` belongs to; at the start the first."""
        return self.addresses[max(self.at(step) - 1, 0)] if self.addresses else None

    def arrival(self, address: int, after: int) -> int | None:
        """The first step later than ``after`` at which the instruction there comes next."""
        for at in range(self.at(after + 1), len(self)):
            if self.addresses[at] == address:
                return self.starts[at]
        return None


class Trial:
    """A program with its inputs on the machine. Use under its ``lock``: a run is not made for
    two threads at a time."""

    def __init__(
        self,
        machine: Machine,
        source: str,
        inputs: tuple[int, ...],
        about: str,
        limit: int,
        requests: tuple[Request, ...] = (),
    ) -> None:
        self.lock = threading.Lock()
        self.program: Program = assembled(machine, source)
        title = about if self.program.words else EMPTY
        self.scene = Scene(title, 1, "", self.program, inputs, limit, requests=requests)
        self._timeline: Timeline | None = None

    @property
    def run(self) -> Run:
        return self.scene.run

    @property
    def timeline(self) -> Timeline:
        if self._timeline is None:
            words = self.program.words
            self._timeline = Timeline.of(self.run) if words else Timeline(array("L"), array("H"))
        return self._timeline

    @cached_property
    def strays(self) -> str:
        """What to say of a run that carries out what is no instruction; empty where it does not."""
        found = astray(self.program, self.timeline.addresses)
        return f"{found.what} {found.mend}" if found else ""

    @cached_property
    def course(self) -> Course:
        return course_of(self.scene)

    def nearest(self, step: int) -> int:
        """A step of the run, or the last where it has fewer."""
        return step if self.course.reaches(step) else self.course.last_step()

    def view(
        self,
        title: str,
        settings: Settings,
        step: int,
        went: Went,
        wording: Wording = USUAL,
        unseen: frozenset[str] = frozenset(),
        gates: Symbols = Symbols.RECTANGLES,
        opened: Inside | None = None,
    ) -> View:
        """What is to be seen at a step, which the run must have; ``unseen`` are parts that the
        lesson leaves out, ``opened`` is what is looked into."""
        header = Header(title, self.run.machine, settings.depth, wording=wording, gates=gates)
        lesson = Lesson("", header, (self.scene,))
        moment = self.course.moment(step)
        hidden = ONLY_IN_TRANSFERS if settings.depth is Depth.PHASES else frozenset()
        return View(lesson, 0, settings, step, moment, None, went, hidden | unseen, opened=opened)


_trial = lru_cache(maxsize=MOST_TRIALS)(Trial)
_long_trial = lru_cache(maxsize=MOST_LONG_TRIALS)(Trial)


def trial(work: Work) -> Trial:
    """The trial of a program, kept while it is among those used last."""
    kept = _trial if work.limit == LIMITS[0] else _long_trial
    requests = (*work.requests, *work.rung)
    return kept(work.machine, work.source, work.inputs.values, work.about, work.limit, requests)


# How a run ends, as it is said after the number of its instructions.
ENDS = {
    Ending.HALTED: "",
    Ending.LIMIT: ": it has not stopped, and is followed no further",
    Ending.WAITING: " so far",
    Ending.OFF_MEMORY: ": then it runs past the end",
    Ending.UNKNOWN_CODE: ": then it meets no instruction",
    Ending.NO_ADDRESS: ": then there is no such address",
    Ending.STACK_EMPTY: ": then the stack is empty",
    Ending.STACK_FULL: ": then the stack is full",
}


@dataclass(frozen=True, slots=True)
class Position:
    """Where a press led: the view, and what the page has to know beside the frame.

    ``at`` of ``count`` instructions have been started; ``line`` of the program is under way;
    ``pace`` is how long playing waits, in milliseconds; ``note`` is said where a press could
    not do all that it was asked; ``strays`` tells where the run leaves its instructions, and
    ``limit`` how many instructions are followed. ``rung`` holds the requests that the pupil has
    made, as a form does.
    """

    view: View
    at: int
    count: int
    line: int | None
    ending: Ending | None
    over: bool
    pace: int
    note: str = ""
    strays: str = ""
    limit: int = LIMITS[0]
    rung: str = ""

    @property
    def can_go_further(self) -> bool:
        """Whether the run has not stopped, and more of it can be followed."""
        return self.ending is Ending.LIMIT and self.limit < LIMITS[-1]

    @property
    def ends(self) -> str:
        """How the run ends, after the number of its instructions."""
        return ENDS[self.ending] if self.ending else ""

    @property
    def waits(self) -> bool:
        return self.over and self.ending is Ending.WAITING


def go(work: Work, action: str, target: int = 0) -> Position:
    """Do what a press says. KeyError where there is no such action.

    ``target`` is a line of the program for ``line``, and an instruction for ``to``.
    """
    note = ""
    if action == "further":
        work = replace(work, limit=LIMITS[-1])
    elif action in RINGING:
        work, note = _ring(work, action)
    made = trial(work)
    with made.lock:
        course, settings = made.course, work.settings
        step = made.nearest(work.step)
        went = Went.THERE
        opened = work.opened if action in CHANGES or action in LOOKS else None
        if action in CHANGES:
            settings = CHANGES[action](settings)
        elif action in LOOKS:
            opened = LOOKS[action](opened, work.machine.word_bits)
            went = Went.ON if opened and not work.opened else Went.THERE
        elif action == "line":
            step, note = _to_line(made, step, target)
        elif action == "to":
            starts = made.timeline.starts
            step = starts[target] if target < len(starts) else course.last_step()
        elif action not in ("further", *RINGING):
            moved = MOVES[action](course, step, settings.depth)
            if action == "forward" and moved > step:
                went = Went.ON
            elif moved < step:
                went = Went.BACK
            step = moved
        view = made.view(
            work.title, settings, step, went, work.wording, work.hidden, work.gates, opened
        )
        note = view.cannot_open or note
        return replace(_position(made, view, note), rung=write_requests(work.machine, work.rung))


def _ring(work: Work, action: str) -> tuple[Work, str]:
    """A request is made at the step where the machine stands, or the last one taken back; and what
    to say where that cannot be done."""
    if not work.machine.interrupt:
        return work, "Nothing can interrupt this machine."
    if action == "take-back":
        if not work.rung:
            return work, "You have made no request that could be taken back."
        return replace(work, rung=work.rung[:-1]), "The last request is taken back."
    if len(work.rung) >= MOST_RUNG:
        return work, "That is enough: take some requests back first."
    made = trial(work)
    if not made.program.words:
        return work, "Write a program first."
    with made.lock:
        request = made.run.request(made.nearest(work.step), work.bell)
    return replace(work, rung=(*work.rung, request)), ""


def _position(made: Trial, view: View, note: str) -> Position:
    timeline, step = made.timeline, view.step
    last_step = made.course.last_step()
    address = timeline.address(step)
    origins = made.program.origins
    known = address is not None and address < len(origins)
    return Position(
        view=view,
        at=timeline.at(step),
        count=len(timeline),
        line=origins[address].line if known and address is not None else None,
        ending=made.run.ending if made.program.words else None,
        over=step == last_step,
        pace=round(1000 * rest_seconds(view.moment, view.settings.depth, view.settings.speed)),
        note=note,
        strays=made.strays,
        limit=made.run.limit,
    )


def _to_line(made: Trial, step: int, line: int) -> tuple[int, str]:
    address = made.program.address_of_line(line)
    if address is None:
        return step, f"There is no instruction on line {line} to run to."
    arrival = made.timeline.arrival(address, step)
    if arrival is None:
        if made.program.origins[address].is_data and address not in made.timeline.addresses:
            return step, f"Line {line} is data, so the machine never carries it out."
        return step, f"From here the program does not come to line {line} again."
    return arrival, ""


# Beside the moves of a cursor: the run followed further, from the step where it is.
ACTIONS = (*MOVES, *CHANGES, *LOOKS, *RINGING, "further", "line", "to")
