"""What lessons say of hits, misses, ticks and times, by the second account of cache and pipeline
(:mod:`tests.machine.watching.clockwork`), which shares no code with the app."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from tests.machine.watching import clockwork

from .ran import DECODE_STEPS, EFFECTS, FETCH_STEPS, Ran

MOST = 2_000


@dataclass
class Caching:
    """A run with a cache. Counts are those up to a step, or of the whole run."""

    ran: Ran
    lines: int
    words: int
    ways: int
    memory: int
    step: int | None = None

    @cached_property
    def _all(self) -> list[tuple[str, int]]:
        held = clockwork.Cached(
            list(self.ran.program.words), self.lines, self.words, self.ways, self.memory
        )
        clockwork.carry_out(held, list(self.ran.inputs), MOST)
        return held.looks

    @cached_property
    def _steps(self) -> list[int]:
        """The steps that go to memory: the second of a fetch, and by the published table."""
        found = []
        for each in self.ran.done:
            found.append(each.first + 1)
            effects = EFFECTS[each.code].split(";")
            start = each.first + FETCH_STEPS + DECODE_STEPS
            found += [start + at for at, one in enumerate(effects) if "memory[MAR]" in one]
        return found

    @property
    def looks(self) -> list[tuple[str, int]]:
        if self.step is None:
            return self._all
        return self._all[: sum(each <= self.step for each in self._steps)]

    def last_look(self, before: int) -> str:
        """What came of the last look after a step: hit, miss or write; empty for no look."""
        made = [each > before for each in self._steps][: len(self.looks)]
        return self.looks[-1][0] if made and made[-1] else ""

    def _count(self, kind: str) -> int:
        return sum(each == kind for each, _ in self.looks)

    @property
    def hits(self) -> int:
        return self._count("hit")

    @property
    def misses(self) -> int:
        return self._count("miss")

    @property
    def writes(self) -> int:
        return self._count("write")

    @property
    def reads(self) -> int:
        return self.hits + self.misses

    @property
    def _plain(self) -> int:
        steps = self.ran.steps if self.step is None else self.step
        return steps - len(self.looks)

    @property
    def ticks(self) -> int:
        return self._plain + sum(ticks for _, ticks in self.looks)

    @property
    def without(self) -> int:
        return self._plain + self.memory * len(self.looks)

    @property
    def average(self) -> Fraction:
        return 1 + Fraction(self.misses, self.reads) * self.memory

    def line(self, address: int) -> tuple[int, int]:
        """The addresses of the line of an address: the first and the last."""
        first = address - address % self.words
        return first, first + self.words - 1

    def place(self, address: int) -> int:
        """In which place of the cache the line of an address lies."""
        return address // self.words % (self.lines // self.ways)


@dataclass
class Piped:
    """A run in a pipeline."""

    ran: Ran
    stages: int
    memories: int

    @cached_property
    def done(self) -> list[clockwork.Carried]:
        memory = clockwork.Memory(list(self.ran.program.words))
        return clockwork.carry_out(memory, list(self.ran.inputs), MOST)[0]

    @cached_property
    def _account(self) -> tuple[list[list[int]], int]:
        return clockwork.pipeline(self.done, self.stages, self.memories)

    @property
    def starts(self) -> Sequence[Sequence[int]]:
        return self._account[0]

    @property
    def vain(self) -> int:
        return self._account[1]

    @property
    def ticks(self) -> int:
        """The last instruction is a HALT, which works a tick in its last stage."""
        return self.starts[-1][-1]

    @property
    def count(self) -> int:
        return len(self.done)

    @property
    def ideal(self) -> int:
        return self.stages + self.count - 1

    @property
    def lost(self) -> int:
        return self.ticks - self.ideal

    @property
    def without(self) -> int:
        whole = 0
        for each in self.done:
            kinds = [kind for kind, _ in each.trips]
            working = len(kinds) if self.stages == 3 else kinds.count("read")
            whole += self.stages - 1 + max(working, 1)
        return whole

    @property
    def times(self) -> Fraction:
        return round(Fraction(self.without, self.ticks), 2)

    @property
    def jumps(self) -> int:
        return sum(each.jumped for each in self.done)

    @property
    def lost_by_jumps(self) -> int:
        """A tick for each stage before the one in which a jump is executed."""
        return self.jumps * {3: 2, 5: 3}[self.stages]

    @property
    def trips(self) -> int:
        """How many trips to memory are made after the fetches."""
        return sum(len(each.trips) for each in self.done)

    def finished(self, tick: int) -> int:
        return sum(each[-1] < tick + 1 for each in self.starts)
