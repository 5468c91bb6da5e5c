"""A cache between processor and memory, worked out from the steps of a run.

It watches: what the program does is the same with it. Memory is cut into lines of some words. A
read looks into the cache first; where its line is missing the whole line is brought, and replaces
what lay in its place. Writes go through to memory and bring nothing; a line that is in the cache
gets the new word too, so that cache and memory always agree.

Time is in ticks: a step takes one, and so does a read that hits. A read that misses takes as long
as memory more, a write as long as memory. The average time of a read is the textbooks' *hit time +
miss rate x miss penalty* (J. L. Hennessy and D. A. Patterson, *Computer Architecture: A
Quantitative Approach*, appendix on caches; from memory).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from itertools import accumulate

from app.machine.run import Run

from .work import Trip, trips

# A run is followed so far, in steps.
MOST_STEPS = 50_000
MOST_LINES = 8
MOST_WORDS = 8
MOST_WAYS = 2
MOST_MEMORY_TICKS = 1000
HIT_TICKS = 1


@dataclass(frozen=True, slots=True)
class CacheShape:
    """``lines`` of ``words`` each. ``ways`` is in how many places a line may lie: 1 is direct
    mapped. ``memory_ticks`` is how long memory takes for a word or a line.

    Raises ValueError where a number but that is no power of two, where there are fewer lines than
    ways, or where memory takes no tick.
    """

    lines: int
    words: int
    ways: int = 1
    memory_ticks: int = 10

    def __post_init__(self) -> None:
        for number in (self.lines, self.words, self.ways):
            if number < 1 or number & (number - 1):
                raise ValueError(f"{number} is not a power of two")
        if self.ways > self.lines or self.memory_ticks < 1:
            raise ValueError("a cache has a line for each way, and memory takes a tick or more")

    @property
    def sets(self) -> int:
        """How many groups of places there are; a line may lie in one of them only."""
        return self.lines // self.ways

    def split(self, address: int) -> tuple[int, int, int]:
        """An address as tag, group and word in the line: the line's number is *tag x groups +
        group*."""
        line, word = divmod(address, self.words)
        tag, group = divmod(line, self.sets)
        return tag, group, word

    def first(self, tag: int, group: int) -> int:
        """The address of the first word of a line."""
        return (tag * self.sets + group) * self.words


@dataclass(frozen=True, slots=True)
class Look:
    """What came of one trip to memory: the place (``slot``, from 0) where its line lies or comes
    to lie, None for a write that finds no line; whether it ``hit``; the tag that had to go
    (``replaced``, None for none); the ``ticks`` that the trip took."""

    trip: Trip
    tag: int
    slot: int | None
    hit: bool
    replaced: int | None
    ticks: int

    @property
    def brings(self) -> bool:
        """Whether a line was brought from memory."""
        return not self.trip.writes and not self.hit


@dataclass(frozen=True, slots=True)
class Count:
    """What has come together by a step: reads that hit and that missed, writes, and ticks, with
    the cache and without one."""

    hits: int
    misses: int
    writes: int
    ticks: int
    without: int

    @property
    def reads(self) -> int:
        return self.hits + self.misses

    @property
    def miss_rate(self) -> Fraction:
        """The share of the reads that missed; 0 where there was none."""
        return Fraction(self.misses, self.reads) if self.reads else Fraction(0)

    def average(self, shape: CacheShape) -> Fraction:
        """The average time of a read in ticks: hit time + miss rate x miss penalty."""
        return HIT_TICKS + self.miss_rate * shape.memory_ticks


@dataclass
class CacheAccount:
    """A run with a cache of a ``shape``: its looks in order, and what lies in it at any step."""

    shape: CacheShape
    looks: tuple[Look, ...]
    _steps: list[int] = field(repr=False)
    _sums: list[Count] = field(repr=False)
    # For each place the looks that brought a line there, and the tags that they brought.
    _brought: list[list[int]] = field(repr=False)
    _tags: list[list[int]] = field(repr=False)

    @cached_property
    def used(self) -> tuple[int, ...]:
        """The lines of memory that the run goes to, by their numbers."""
        return tuple(sorted({each.trip.address // self.shape.words for each in self.looks}))

    def after(self, step: int) -> int:
        """How many of the looks are over after a step."""
        return bisect_right(self._steps, step)

    def look(self, step: int) -> Look | None:
        """The look of this very step."""
        at = self.after(step)
        return self.looks[at - 1] if at and self._steps[at - 1] == step else None

    def tags(self, step: int) -> tuple[int | None, ...]:
        """The tag of the line in each place after a step; None for an empty one."""
        done, found = self.after(step), []
        for brought, tags in zip(self._brought, self._tags, strict=True):
            at = bisect_right(brought, done - 1)
            found.append(tags[at - 1] if at else None)
        return tuple(found)

    def group(self, slot: int) -> int:
        """The group that a place belongs to."""
        return slot // self.shape.ways

    def count(self, step: int) -> Count:
        """What has come together after a step."""
        step = min(step, MOST_STEPS)
        sums = self._sums[self.after(step)]
        plain = step - self.after(step)  # steps that do not go to memory
        return Count(sums.hits, sums.misses, sums.writes, sums.ticks + plain, sums.without + plain)


def follow(run: Run, shape: CacheShape) -> CacheAccount:
    """The account of a run, or of its first ``MOST_STEPS`` steps."""
    # In each group the places, the one that was used last at the end.
    order = [[group * shape.ways + way for way in range(shape.ways)] for group in range(shape.sets)]
    held: list[int | None] = [None] * shape.lines
    brought: list[list[int]] = [[] for _ in held]
    tags: list[list[int]] = [[] for _ in held]
    looks: list[Look] = []
    for trip in trips(run, MOST_STEPS):
        tag, group, _word = shape.split(trip.address)
        places = order[group]
        slot = next((each for each in places if held[each] == tag), None)
        hit, replaced = slot is not None, None
        if slot is None and not trip.writes:
            slot = places[0]  # the one that has not been used for longest
            replaced, held[slot] = held[slot], tag
            brought[slot].append(len(looks))
            tags[slot].append(tag)
        if slot is not None:
            places.remove(slot)
            places.append(slot)
        if trip.writes:
            ticks = shape.memory_ticks
        else:
            ticks = HIT_TICKS if hit else HIT_TICKS + shape.memory_ticks
        looks.append(Look(trip, tag, slot, hit, replaced, ticks))
    sums = accumulate(looks, lambda before, each: _add(before, each, shape), initial=_NOTHING)
    return CacheAccount(
        shape, tuple(looks), [each.trip.step for each in looks], list(sums), brought, tags
    )


_NOTHING = Count(0, 0, 0, 0, 0)


def _add(before: Count, look: Look, shape: CacheShape) -> Count:
    reads = not look.trip.writes
    return Count(
        before.hits + (reads and look.hit),
        before.misses + (reads and not look.hit),
        before.writes + look.trip.writes,
        before.ticks + look.ticks,
        before.without + shape.memory_ticks,
    )
