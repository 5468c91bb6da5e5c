"""The places of a run in its pipeline: for each place of the run the tick in which it is so.

``fetch``, ``decode`` and ``execute`` of an instruction are the ticks in which it enters that stage,
an instruction as a whole the one in which it is fetched, a change the one in which it is finished,
and a step is a tick.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from functools import cached_property

from app.machine.instructions import Phase
from app.machine.source.assembler import Program
from app.machine.watching.pipeline import Row, Stage
from app.machine.watching.ticks import Ticks
from app.machine.watching.turns import Turns

from .places import When
from .timeline import Span, Spans, Timeline


class TurnTimeline(Timeline):
    """The timeline of a scene whose steps are turns: it has a start, an end, and its steps."""

    def __init__(self, turns: Turns, program: Program) -> None:
        super().__init__(turns, program)
        self._of_run = Timeline(turns.run, program)

    @property
    def complete(self) -> bool:  # type: ignore[override]
        return True

    @property
    def last_step(self) -> int:  # type: ignore[override]
        return self.run.last_step

    def changing(self, label: str) -> int | str | None:
        return self._of_run.changing(label)

    def trips(self, step: int) -> int:
        return 0

    @property
    def carried(self) -> int:
        return 0  # its turns are no instructions

    def number_at(self, step: int) -> int:
        return 0

    def carried_out(self, address: int) -> Spans:
        return Spans()  # no one turn is that of an instruction

    def in_the_run(self, number: int) -> Span:
        return self._of_run.in_the_run(number)

    def phases_of(self, number: int) -> tuple[tuple[str, Span], ...]:
        return ()

    def _choose(self, when: When) -> Spans:
        last = self.last_step
        turns = {"start": 0, "end": last if self.complete else last + 1, "step": when.number}
        turn = turns.get(when.kind, last + 1)
        return Spans([turn], [turn]) if turn <= last else Spans()


class TickTimeline(TurnTimeline):
    """The timeline of a scene with a pipeline, in ticks."""

    def __init__(self, ticks: Ticks, program: Program) -> None:
        super().__init__(ticks, program)
        self._ticks = ticks

    @property
    def complete(self) -> bool:  # type: ignore[override]
        return self._ticks.account.complete

    @property
    def carried(self) -> int:
        return self._ticks.account.count

    def number_at(self, step: int) -> int:
        """The oldest of the instructions that are under way in a tick."""
        return min(self._ticks.account.finished(step - 1) + 1, self.carried) if step else 0

    def carried_out(self, address: int) -> Spans:
        """The tick in which the instruction at an address is done, each time that it is."""
        account = self._ticks.account
        rows = (account.row(number) for number in range(1, account.count + 1))
        done = [each.finish for each in rows if each.address == address]
        return Spans(done, done)

    def phases_of(self, number: int) -> tuple[tuple[str, Span], ...]:
        """The stages of an instruction, each with the tick in which it comes there."""
        starts = self._ticks.account.row(number).starts
        names = (each.value for each in self._ticks.shape.names)
        return tuple((name, Span(at, at)) for name, at in zip(names, starts, strict=True))

    def _choose(self, when: When) -> Spans:
        if when.kind in ("start", "end", "step"):
            return super()._choose(when)
        found = set()
        before = self._of_run.work
        places = self._of_run.spans(when)
        # The account may end long before the run is followed to its end.
        counted = bisect_right(places.lasts, self._ends[-1]) if self._ends else 0
        self.work += self._of_run.work - before + counted
        for last in places.lasts[:counted]:
            at = bisect_left(self._ends, last)
            found.add(self._tick(when, self._ticks.account.row(at + 1)))
        steps = sorted(found)
        return Spans(steps, steps)

    @cached_property
    def _ends(self) -> list[int]:
        """The last step of the machine in each of the instructions."""
        rows = self._ticks.account
        return [rows.row(number).last_step for number in range(1, rows.count + 1)]

    def _tick(self, when: When, row: Row) -> int:
        names = [*self._ticks.shape.names]
        match when.kind:
            case "cycle" | "at":
                return row.starts[0]
            case "change":
                return row.finish
            case "phase" | "phase at" | "instruction" if when.phase is Phase.FETCH:
                return row.starts[0]
            case "phase" | "phase at" | "instruction" if when.phase is Phase.DECODE:
                return row.starts[1]
        return row.starts[names.index(Stage.EXECUTE)]
