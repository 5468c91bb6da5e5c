"""Cues: words tied to places in a run, and what happens on stage there.

A cue line is ``place: words`` (the places are listed in :mod:`app.lesson.places`). Actions of
:mod:`app.lesson.blocks.actions` may stand in square brackets at its end; a line may hold only
actions::

    first OUTPUT: The ticket is printed. [show output, pause]
    fetch 2: [speed 2]
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from heapq import merge
from itertools import chain, islice
from typing import TypeVar

from app.lesson.entries import Entry, Wrong, carried_on, read_entries, too_many
from app.lesson.parts import ALL_PARTS
from app.lesson.places import When, names_place, read_when
from app.lesson.timeline import Span, Spans, Timeline
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.source.problems import MOST_FAULTS, Problem

from .actions import (
    NO_ACTIONS,
    Actions,
    WrongAction,
    old_words,
    other_brackets,
    read_actions,
    stray_actions,
    without_actions,
)

MOST_CUES = 200
LONGEST_CUE = 600
# For so many letters the board has room under its drawing, on a projector of 1024 by 768 and beside
# a line that tells the task; more grow over the drawing.
ROOM_FOR_WORDS = 190
# For so many steps it is kept which cue stands there.
_KEPT = 4096
_Set = TypeVar("_Set", float, str)

__all__ = ["Cue", "CueSheet", "Span", "When", "read_cues", "read_when"]


@dataclass(frozen=True, slots=True)
class Cue:
    """Words for a place in the run, and actions there. ``text`` is the place as written."""

    when: When
    words: str
    text: str
    line: int
    column: int
    actions: Actions = NO_ACTIONS


def read_cues(
    text: str, first_line: int, most: int = MOST_CUES, machine: Machine = EIGHT_BIT
) -> tuple[list[Cue], list[Problem]]:
    """The cues of a block, one a line; an indented line carries on the words of the one above.

    No more than ``most`` are read, and a problem says so where there are more.
    """
    cues: list[Cue] = []
    problems: list[Problem] = []
    warnings: list[Problem] = []
    entries = read_entries(text, first_line)

    def is_cue(line: str) -> bool:
        place, colon, _ = line.partition(":")
        return bool(colon) and names_place(place, machine)

    for entry in entries[: max(most, 0)]:
        if len(problems) == MOST_FAULTS:
            problems.append(too_many(entry.whole))
            break
        found = _read_cue(entry, machine)
        if isinstance(found, Cue):
            cues.append(found)
            found_more = chain(
                stray_actions(entry),
                other_brackets(entry, machine),
                old_words(entry),
                carried_on(entry, is_cue),
            )
            warnings += islice(found_more, max(MOST_FAULTS - len(warnings), 0))
        else:
            problems.append(found)
    if len(entries) > most >= 0 and len(problems) <= MOST_FAULTS:
        what = f"The scene has more than {MOST_CUES} cues."
        problems.append(entries[most].whole.problem(what, "Make two scenes of it."))
    return cues, problems + warnings


def _read_cue(entry: Entry, machine: Machine) -> Cue | Problem:
    halves = entry.at_colon()
    if not halves or not halves[1].text:
        what = "A cue is a place in the run, a colon, and words."
        mend = "Write for example 'fetch 1: The first instruction is fetched.'"
        if not halves:
            mend += " If it goes on from the line above, indent it."
        return (halves[0] if halves else entry.whole).problem(what, mend)
    place, words = halves
    try:
        when = read_when(place.text, machine=machine)
        actions = read_actions(entry, machine)
    except WrongAction as wrong:
        return wrong.piece.problem(wrong.what, wrong.mend)
    except Wrong as wrong:
        return place.problem(wrong.what, wrong.mend)
    said = without_actions(words.text) if actions else words.text
    if len(said) > LONGEST_CUE:
        what = f"The words of this cue have {len(said)} letters."
        mend = f"Keep them under {LONGEST_CUE + 1}, so that they fit the board."
        return words.problem(what, mend)
    return Cue(when, said, place.text, place.line, place.column, actions)


class CueSheet:
    """The cues of a scene, each with the places of the run that it names.

    Every answer depends on the step alone, however that step is reached: going back or jumping
    gives the same stage as playing. ``shown`` are the parts on stage at the start.

    Of several cues at the start the first stands there when the scene begins, and each press
    brings the next. Which of them it is has a number, counted from 0, that is asked for at step 0
    alone; without one, all of them have been said and the last one stands.
    """

    def __init__(
        self, cues: Iterable[Cue], timeline: Timeline, shown: frozenset[str] = ALL_PARTS
    ) -> None:
        self._shown = shown
        found = [(cue, timeline.spans(cue.when)) for cue in cues]
        self.unused = [cue for cue, spans in found if not spans]
        """Cues whose place the run never comes to."""
        self._entries: list[tuple[Cue, Spans]] = [each for each in found if each[1]]
        self._speaking = [each for each in self._entries if each[0].words]
        opening = [cue for cue, spans in self._speaking if cue.when.kind == "start"]
        self.opening = len(opening)
        """How many cues are said one after another at the start."""
        self._opening: dict[Cue, int] = {}
        said = 0
        for cue, _ in self._entries:
            # What a silent cue does at the start is done with the words written after it.
            if cue.when.kind == "start":
                self._opening[cue] = min(said, max(self.opening - 1, 0))
                said += bool(cue.words)
        # Of several that speak, or do not, at the same place one is enough to stop there, and no
        # other than the first stands there.
        pausing = [each for each in self._entries if each[0].actions.pause and not each[0].words]
        self._first_to_speak = _at_different_places(self._speaking)
        self._stopping = [*self._first_to_speak, *_at_different_places(pausing)]
        # Many cues may have places one in the other, and a press asks each of them where it stands.
        self._standing: dict[tuple[int, int], Cue | None] = {}
        # How many places were looked at for that.
        self.looked = 0

    def last_said(self, said: int | None) -> int:
        """The number of the cue that stands at the start."""
        last = max(self.opening - 1, 0)
        return last if said is None else min(max(said, 0), last)

    def number_at_start(self, cue: Cue) -> int:
        """Which of the cues at the start a cue is, counted from 0; 0 for any other."""
        return self._opening.get(cue, 0)

    def at(self, step: int, since: int | None = None, said: int | None = None) -> Cue | None:
        """The cue whose words to show just after ``step``.

        Where one press goes over several steps, ``since`` is the step it started from: then a
        place on the way counts too. The narrower place is the more particular one and wins; of
        two alike, the first written.
        """
        if step == 0 and self.opening > 1:
            number = self.last_said(said)
            return next(c for c, at in self._opening.items() if at == number and c.words)
        between = (step if since is None else min(since + 1, step), step)
        if between not in self._standing:
            if len(self._standing) == _KEPT:
                self._standing.clear()
            self._standing[between] = self._narrowest(*between)
        return self._standing[between]

    def _narrowest(self, first: int, last: int) -> Cue | None:
        best: tuple[int, Cue] | None = None
        self.looked += len(self._first_to_speak)
        for cue, spans in self._first_to_speak:
            span = spans.meeting(first, last)
            if span and (best is None or span.last - span.first < best[0]):
                best = (span.last - span.first, cue)
        return best[1] if best else None

    def spoken(self, first: int, last: int) -> list[Cue]:
        """The cues with words of which a place shares a step with ``first`` to ``last``, as they
        are written."""
        return [cue for cue, spans in self._speaking if spans.meeting(first, last)]

    def after(self, step: int) -> tuple[int, Cue] | None:
        """The next cue with words that starts later than ``step``, and the step it starts at."""
        best: tuple[int, Cue] | None = None
        for cue, spans in self._speaking:
            start = spans.starts_after(step)
            if start is not None and (best is None or start < best[0]):
                best = (start, cue)
        return best

    def _done(self, step: int, said: int | None) -> Iterator[tuple[Cue, int]]:
        """The cues that have come by ``step``, each with the step where its latest place starts."""
        for cue, spans in self._entries:
            if step == 0 and self._opening.get(cue, 0) > self.last_said(said):
                continue
            start = spans.started_by(step) if cue.actions else None
            if start is not None:
                yield cue, start

    def parts(self, step: int, said: int | None = None) -> frozenset[str]:
        """The parts on stage at ``step``: those at the start, and every show and hide since.

        Of a show and a hide of one part the later counts; at the same step, the later written.
        """
        latest: dict[str, tuple[int, bool]] = {}
        for cue, start in self._done(step, said):
            for part in cue.actions.show | cue.actions.hide:
                if part not in latest or start >= latest[part][0]:
                    latest[part] = (start, part in cue.actions.show)
        brought = {part for part, (_, seen) in latest.items() if seen}
        return (self._shown - latest.keys()) | brought

    def pauses(self, step: int, since: int | None = None) -> bool:
        """Whether playing pauses on coming to ``step`` (from ``since``, else the step before)."""
        first = step if since is None else since + 1
        return any(
            cue.actions.pause and _starts_within(spans, first, step) for cue, spans in self._entries
        )

    def speed(self, step: int, said: int | None = None) -> float | None:
        """The speed, times the usual pace, that a cue set last at or before ``step``; or None."""
        found = [(at, each.actions.speed) for each, at in self._done(step, said)]
        return _latest(found)

    def base(self, step: int, said: int | None = None) -> str | None:
        """The number base that a cue set last at or before ``step``; or None."""
        found = [(at, each.actions.base) for each, at in self._done(step, said)]
        return _latest(found)

    # Where a press stops that goes from cue to cue.

    def stops(self, step: int, to: Callable[[int], int], by: int) -> Iterator[int]:
        """For each cue that speaks or pauses, the step nearest to ``step`` where a press stops at
        it: later than ``step``, or where ``by`` is -1 earlier.

        That is the end of its place, where what it says has happened. ``to`` is given it, and
        answers the end of the movement that it belongs to.
        """
        for cue, spans in self._stopping:
            at = bisect_right(spans.lasts, step) if by > 0 else bisect_left(spans.lasts, step)
            nearest = range(at, at + 3) if by > 0 else range(at, at - 4, -1)
            for number in nearest:
                if not 0 <= number < len(spans):
                    continue
                stop = to(self.stop(cue, spans[number]))
                if (stop - step) * by > 0:
                    yield stop
                    break

    def all_stops(self, to: Callable[[int], int]) -> Iterator[tuple[int, int]]:
        """Those of all cues in the order of the run, each with the end of its place; one at which
        several cues stop comes as often. A place is looked at when its turn comes."""

        def of(cue: Cue, spans: Spans) -> Iterator[tuple[int, int]]:
            return ((to(self.stop(cue, each)), each.last) for each in spans)

        return merge(*(of(cue, spans) for cue, spans in self._stopping))

    def stop(self, cue: Cue, span: Span) -> int:
        """The last step of a place at which its cue stands: a narrower one may end with it."""
        if not cue.words:
            return span.first
        steps = range(span.last, span.first - 1, -1)
        return next((each for each in steps if self.at(each) is cue), span.last)


def _at_different_places(entries: Iterable[tuple[Cue, Spans]]) -> list[tuple[Cue, Spans]]:
    """The first of these cues at each place, in their order."""
    found: dict[int, tuple[Cue, Spans]] = {}
    for each in entries:
        found.setdefault(id(each[1]), each)
    return [*found.values()]


def _latest(found: Iterable[tuple[int, _Set | None]]) -> _Set | None:
    """The value that was set last; at the same step, the one written later."""
    best: tuple[int, _Set] | None = None
    for start, value in found:
        if value is not None and (best is None or start >= best[0]):
            best = (start, value)
    return best[1] if best else None


def _starts_within(spans: Spans, first: int, last: int) -> bool:
    return bisect_right(spans.firsts, last) > bisect_right(spans.firsts, first - 1)
