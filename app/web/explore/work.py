"""A pupil's work as each press sends it: the server itself keeps nothing of it.

The page holds the program, the inputs, the step and the settings, and sends them all with every
request. Here they are read and bounded; what is malformed is answered with 400 and a sentence.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from flask import abort

from app.classroom.inside import Inside, read_inside
from app.classroom.settings import Settings
from app.lesson.blocks.actions import SPEEDS
from app.lesson.entries import Wrong
from app.lesson.file.habits import read_words
from app.lesson.header import Depth, Symbols
from app.machine.growing import machine_of
from app.machine.instructions import FETCHES
from app.machine.machine import Machine, machine_with
from app.machine.requests import Request
from app.machine.run import DEFAULT_LIMIT
from app.machine.source.assembler import LARGEST_SOURCE, Program, assemble
from app.machine.source.disassembler import decode
from app.machine.source.numbers import MOST_INPUTS, read_numbers
from app.machine.source.problems import Problem
from app.machine.telling.wording import USUAL, Wording, wording_of
from app.machine.words import EVERY_BASE

LONGEST_INPUTS = 16_000
LARGEST_STEP = 1_000_000
LONGEST_TITLE = 200
# How many instructions of a run are followed, and how many where somebody asks for more.
LIMITS = (DEFAULT_LIMIT, 100_000)
LONGEST_REQUESTS = 4000
_REQUEST = re.compile(r"([0-9]{1,7})\.([0-9]{1,2}):(-?[0-9]{1,6})")
# The programs assembled last are kept: a press sends again what the one before sent.
MOST_PROGRAMS = 128


@dataclass(frozen=True, slots=True)
class Inputs:
    """The values typed for the machine, as bit patterns, and what is wrong with the text or, with
    a warning, surely not meant."""

    values: tuple[int, ...]
    problems: tuple[Problem, ...] = ()

    @property
    def fault(self) -> Problem | None:
        """The first thing that must be mended before the machine can run."""
        return next((each for each in self.problems if not each.warning), None)


@lru_cache(maxsize=MOST_PROGRAMS)
def assembled(machine: Machine, source: str) -> Program:
    """The program of a text, however often a request and the next ones ask for it."""
    return assemble(machine, source)


@dataclass(frozen=True, slots=True)
class Work:
    """What a press says. ``predict`` is whether a step on is asked about first, ``only_execute``
    whether that is so in the execute phase alone. ``unseen`` is whether the lesson leaves the
    status out, ``opened`` the part that is looked into, and ``gates`` how gates are drawn."""

    machine: Machine
    source: str
    inputs: Inputs
    step: int
    settings: Settings
    predict: bool
    title: str
    about: str
    limit: int = DEFAULT_LIMIT
    wording: Wording = USUAL
    only_execute: bool = False
    unseen: bool = False
    # The requests of the lesson, those that the pupil has made, and what the next one brings.
    requests: tuple[Request, ...] = ()
    rung: tuple[Request, ...] = ()
    bell: int = 1
    opened: Inside | None = None
    gates: Symbols = Symbols.RECTANGLES

    @property
    def hidden(self) -> frozenset[str]:
        """The parts that are not shown: the status, unless the program needs it."""
        words = self.program.words
        found = [decode(self.machine, word)[0] for word in words] if self.unseen else []
        needed = any(each and (each.looks_at_status or each.compares) for each in found)
        return frozenset({"status"} if self.unseen and not needed else ())

    @property
    def program(self) -> Program:
        return assembled(self.machine, self.source)


def read_work(form: Mapping[str, str]) -> Work:
    """The work in a request's form. Answers 400 for what no page of ours would send."""
    plain = machine_of(form.get("machine", ""))
    if plain is None:
        abort(400, "'machine' must be 8-bit or 16-bit, or that with its parts.")
    machine = machine_with(plain, _one_of(form, "counter", list(FETCHES), "last"))
    source = form.get("program", "").replace("\r\n", "\n").replace("\r", "\n")
    if len(source) > LARGEST_SOURCE:
        abort(400, f"The program is too long. Keep it under {LARGEST_SOURCE} characters.")
    settings = Settings(
        depth=Depth(_one_of(form, "depth", [each.value for each in Depth], "transfers")),
        base=_one_of(form, "base", EVERY_BASE, "denary"),
        characters=form.get("characters") == "yes",
        speed=_speed(form.get("speed", "1")),
        movement=form.get("movement", "on") == "on",
    )
    return Work(
        machine=machine,
        source=source,
        inputs=read_inputs(machine, form.get("inputs", "")),
        step=whole_number(form, "step", LARGEST_STEP),
        settings=settings,
        predict=form.get("predict") in ("on", "execute"),
        only_execute=form.get("predict") == "execute",
        unseen=form.get("unseen") == "status",
        title=form.get("title", "")[:LONGEST_TITLE] or "Your own machine",
        about=form.get("about", "")[:LONGEST_TITLE],
        wording=_wording(form.get("words", "")),
        requests=read_requests(machine, form, "requests"),
        rung=read_requests(machine, form, "rung"),
        bell=_word(machine, form.get("bell", "1")),
        opened=_opened(form.get("inside", "")),
        gates=Symbols(_one_of(form, "gates", [each.value for each in Symbols], "rectangles")),
        limit=int(_one_of(form, "limit", [str(each) for each in LIMITS], str(DEFAULT_LIMIT))),
    )


def write_requests(machine: Machine, requests: Iterable[Request]) -> str:
    """Requests as a form holds them: ``12.3:65`` for each, as in :class:`Request`."""
    return " ".join(
        f"{each.instruction}.{each.step}:{machine.signed(each.value)}" for each in requests
    )


def read_requests(machine: Machine, form: Mapping[str, str], name: str) -> tuple[Request, ...]:
    """The requests of a field; none on a machine that nothing can interrupt."""
    text = form.get(name, "")
    if not text or not machine.interrupt:
        return ()
    if len(text) > LONGEST_REQUESTS:
        abort(400, f"'{name}' holds too many requests.")
    found = [_REQUEST.fullmatch(each) for each in text.split()]
    if any(each is None for each in found):
        abort(400, f"'{name}' must be requests such as 12.3:65.")
    return tuple(
        Request(int(each[1]), int(each[2]), _word(machine, each[3])) for each in found if each
    )


def _word(machine: Machine, text: str) -> int:
    """What a request brings, as a bit pattern."""
    if not re.fullmatch(r"-?[0-9]{1,6}", text) or not machine.fits(int(text)):
        abort(400, "A request must bring a number that fits a word.")
    return machine.pattern(int(text))


def _wording(text: str) -> Wording:
    """The words of the syllabus whose lesson the page came from."""
    try:
        return wording_of(read_words(text[:LONGEST_TITLE]) if text else {})
    except Wrong as wrong:
        abort(400, f"'words' cannot be used. {wrong.what} {wrong.mend}")


def _opened(text: str) -> Inside | None:
    """What is looked into on the page that sends this."""
    try:
        return read_inside(text)
    except ValueError:
        abort(400, "'inside' must name a part that can be opened.")


def whole_number(form: Mapping[str, str], name: str, largest: int) -> int:
    """A whole number from 0 in a form; 0 where it is not there."""
    text = form.get(name, "") or "0"
    if not re.fullmatch(r"[0-9]{1,7}", text) or int(text) > largest:
        abort(400, f"'{name}' must be a whole number from 0 to {largest}.")
    return int(text)


def _one_of(
    form: Mapping[str, str], name: str, known: tuple[str, ...] | list[str], else_: str
) -> str:
    said = form.get(name, else_)
    if said not in known:
        abort(400, f"'{name}' must be one of: {', '.join(known)}.")
    return said


def _speed(text: str) -> float:
    for speed in SPEEDS:
        if text == f"{speed:g}":
            return speed
    abort(400, f"'speed' must be one of: {', '.join(f'{each:g}' for each in SPEEDS)}.")


def read_inputs(machine: Machine, text: str) -> Inputs:
    """The numbers of an inputs field."""
    if len(text) > LONGEST_INPUTS:
        problem = Problem(1, 1, 1, "There are too many inputs.", f"Keep to {MOST_INPUTS}.")
        return Inputs((), (problem,))
    values, problems = read_numbers(machine, text, comments=False)
    return Inputs(values, tuple(problems))
