"""Cues: words tied to places in a run, the places named as a teacher would name them.

A cue line is ``when: words``. What stands before the colon is one of

=====================  ==============================================================
``start``              before the first step
``end``                the last step of the run
``step 12``            that step
``fetch 2``            the fetch of the second instruction carried out; also
                       ``decode 2`` and ``execute 2``
``decode of ADD``      every decode of an ADD; also ``fetch of`` and ``execute of``
``first OUTPUT``       the execute phase of the first OUTPUT; also ``last`` and ``each``,
                       and with a phase: ``first decode of ADD``
=====================  ==============================================================
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from app.machine.instructions import NAMES, Phase
from app.machine.problems import Problem, nearest
from app.machine.run import Run

_PHASES = tuple(each.value for each in Phase)
_CHOICES = ("first", "last", "each")


@dataclass(frozen=True, slots=True)
class When:
    """The place of a cue: ``kind`` is start, end, step, phase (by number) or instruction."""

    kind: str
    number: int = 0
    phase: Phase = Phase.EXECUTE
    instruction: str = ""
    choice: str = "each"


@dataclass(frozen=True, slots=True)
class Cue:
    """Words for a place in the run. ``text`` is the place as it was written."""

    when: When
    words: str
    text: str
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Span:
    """The steps, first to last, during which a cue is shown."""

    first: int
    last: int


def read_when(text: str) -> When:
    """Read the place of a cue.

    Raises ValueError with two arguments, what is wrong and how to mend it.
    """
    words = text.split()
    lowered = [each.casefold() for each in words]
    if len(words) == 1 and lowered[0] in ("start", "end"):
        return When(lowered[0])
    if len(words) == 2 and lowered[0] in ("step", *_PHASES):
        if not re.fullmatch(r"[1-9]\d{0,6}", words[1]):
            raise ValueError(
                f"'{words[1]}' is not a whole number.", f"Write a number, as in '{lowered[0]} 1'."
            )
        if lowered[0] == "step":
            return When("step", number=int(words[1]))
        return When("phase", number=int(words[1]), phase=Phase(lowered[0]))
    choice, rest = "each", lowered
    if rest and rest[0] in _CHOICES:
        choice, rest = rest[0], rest[1:]
    phase = Phase.EXECUTE
    if len(rest) >= 2 and rest[0] in _PHASES and rest[1] == "of":
        phase, rest = Phase(rest[0]), rest[2:]
    if len(rest) == 1:
        name = rest[0].upper()
        if name in NAMES:
            return When("instruction", phase=phase, instruction=name, choice=choice)
    known = [*NAMES, *_PHASES, *_CHOICES, "start", "end", "step"]
    for word in words:
        if word.casefold() not in (each.casefold() for each in known) and word != "of":
            near = nearest(word, known)
            if near:
                raise ValueError(f"'{text}' is not a place in a run.", f"Did you mean '{near}'?")
    raise ValueError(
        f"'{text}' is not a place in a run.",
        "Write for example 'start', 'fetch 1', 'decode of ADD', 'first OUTPUT', 'step 12' or"
        " 'end'.",
    )


def read_cues(text: str, first_line: int) -> tuple[list[Cue], list[Problem]]:
    """The cues of a block, one a line; an indented line carries on the words of the one above."""
    cues: list[Cue] = []
    problems: list[Problem] = []
    for number, line in enumerate(text.splitlines(), start=first_line):
        if not line.strip():
            continue
        if line[0] in " \t" and cues and cues[-1].line < number:
            last = cues.pop()
            words = f"{last.words} {line.strip()}"
            cues.append(Cue(last.when, words, last.text, last.line, last.column))
            continue
        place, colon, words = line.partition(":")
        column = len(line) - len(line.lstrip()) + 1
        length = max(len(place.strip()), 1)
        if not colon or not words.strip():
            what = "A cue is a place in the run, a colon, and words."
            mend = "Write for example 'fetch 1: The first instruction is fetched.'"
            problems.append(Problem(number, column, length, what, mend))
            continue
        try:
            when = read_when(place.strip())
        except ValueError as error:
            problems.append(Problem(number, column, length, *error.args))
            continue
        cues.append(Cue(when, words.strip(), place.strip(), number, column))
    return cues, problems


class CueSheet:
    """The cues of a scene, each with the places of the run that it names.

    Every place is found once, by following the whole run, so a cue comes up at the same step
    however that step is reached.
    """

    def __init__(self, cues: tuple[Cue, ...], run: Run) -> None:
        self._entries: list[tuple[Span, Cue]] = []
        self.unused: list[Cue] = []  # cues whose place the run never comes to
        spans = _spans(run)
        for cue in cues:
            places = [(span, cue) for span in _places(cue.when, spans, run)]
            self._entries += places
            if not places:
                self.unused.append(cue)
        # The narrower place is the more particular one; of two alike the first written wins.
        self._entries.sort(key=lambda entry: entry[0].last - entry[0].first)

    def at(self, step: int) -> Cue | None:
        """The cue to show just after ``step``."""
        return next((cue for span, cue in self._entries if span.first <= step <= span.last), None)

    def after(self, step: int) -> tuple[int, Cue] | None:
        """The next cue that starts later than ``step``, and the step it starts at."""
        later = [(span.first, cue) for span, cue in self._entries if span.first > step]
        return min(later, key=lambda each: each[0]) if later else None


def _spans(run: Run) -> list[tuple[int, Phase, str, Span]]:
    """Every phase of the run: its cycle, phase, instruction name, and steps."""
    found: list[tuple[int, Phase, str, Span]] = []
    start, previous = 1, None
    fetched: int | None = None
    for number, cycle, kind, _value in run.steps():
        key = (cycle, kind.phase)
        if key != previous:
            if kind.phase is Phase.FETCH:
                fetched = len(found)
            start, previous = number, key
            found.append((cycle, kind.phase, "", Span(number, number)))
        name = kind.instruction.name if kind.instruction else ""
        found[-1] = (cycle, kind.phase, name, Span(start, number))
        if name and fetched is not None:
            # Only decoding tells which instruction was fetched.
            cycle_, phase_, _, span_ = found[fetched]
            found[fetched] = (cycle_, phase_, name, span_)
            fetched = None
    return found


def _places(when: When, spans: list[tuple[int, Phase, str, Span]], run: Run) -> Iterator[Span]:
    last_step = run.last_step
    if when.kind == "start":
        yield Span(0, 0)
    elif when.kind == "end":
        yield Span(last_step, last_step)
    elif when.kind == "step":
        if when.number <= last_step:
            yield Span(when.number, when.number)
    elif when.kind == "phase":
        for cycle, phase, _name, span in spans:
            if (cycle, phase) == (when.number, when.phase):
                yield span
    else:
        found = [
            span
            for _cycle, phase, name, span in spans
            if phase is when.phase and name == when.instruction
        ]
        if found:
            yield from {"first": found[:1], "last": found[-1:], "each": found}[when.choice]
