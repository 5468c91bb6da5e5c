"""A pipeline: the instructions of a run, each in another stage, worked out tick by tick.

It watches: the program does the same with it. An instruction goes through the stages in order, at
least a tick in each, and none overtakes another. It has to wait where the instruction before still
stands in the next stage, where memory is in use, or for a word that is not yet written; what is
fetched behind a jump that is taken was fetched in vain.

With three stages an instruction is executed in one (a trip to memory a tick). With five it reads
memory and what addresses are made of in *operand*, the other registers and the status in *execute*,
where it jumps, and its results are there after *write*. One memory answers one trip in a tick, be
it a fetch or not; with two the program has a memory of its own. What it takes to serve a request is
not worked out: a lesson has requests or a pipeline.

Stages, hazards and the diagram are those of the textbooks: W. Stallings, *Computer Organization and
Architecture*, chapter 'Processor structure and function' (n instructions in k stages without a
branch take k + n - 1 ticks: formula 12.1 of the tenth edition), and J. L. Hennessy and D. A.
Patterson, *Computer Architecture: A Quantitative Approach*, appendix on pipelining (structural,
data and control hazards; from memory).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from functools import cached_property
from itertools import accumulate, groupby

from app.machine.instructions import Instruction
from app.machine.machine import Machine
from app.machine.run import Run

from .work import Done, instructions

# A run is followed so far, in instructions.
MOST_INSTRUCTIONS = 2_000


class Stage(StrEnum):
    FETCH = "fetch"
    DECODE = "decode"
    OPERAND = "operand"
    EXECUTE = "execute"
    WRITE = "write"

    @property
    def letter(self) -> str:
        return self.value[0].upper()


STAGES = {
    3: (Stage.FETCH, Stage.DECODE, Stage.EXECUTE),
    5: tuple(Stage),
}
"""The stages of each pipeline that there is, by their number."""


@dataclass(frozen=True, slots=True)
class PipelineShape:
    """How many ``stages`` (a key of STAGES) and ``memories`` (1 or 2). KeyError for another
    number of stages."""

    stages: int = 3
    memories: int = 1

    def __post_init__(self) -> None:
        if self.stages not in STAGES:
            raise KeyError(f"no pipeline has {self.stages} stages here")

    @property
    def names(self) -> tuple[Stage, ...]:
        return STAGES[self.stages]


class Why(StrEnum):
    """Why a tick is lost; in words, see ``telling.watched.WHY``."""

    JUMP = "jump"
    MEMORY = "memory"
    WORD = "word"
    BEHIND = "behind"
    LONG = "long"


@dataclass(frozen=True, slots=True)
class Wait:
    """Ticks (``first`` to ``last``) in which an instruction waits for a ``stage``. ``by`` is the
    number of the instruction that it waits for, ``what`` the register, or ``memory[a]``, that this
    one has yet to write."""

    stage: Stage
    first: int
    last: int
    why: Why
    by: int
    what: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """An instruction on its way, ``number`` counted from 1. ``starts`` are the ticks in which it
    enters its stages, ``finish`` the last of its ticks. One that was fetched ``in_vain`` has the
    number of the jump, None for its instruction, and only the stages that it came to. ``word`` is
    the bit pattern that was fetched; 0 in vain."""

    number: int
    address: int
    instruction: Instruction | None
    starts: tuple[int, ...]
    finish: int
    waits: tuple[Wait, ...] = ()
    in_vain: bool = False
    last_step: int = 0
    word: int = 0

    def waiting(self, tick: int) -> Wait | None:
        return next((each for each in self.waits if each.first <= tick <= each.last), None)

    def stage(self, tick: int) -> int | None:
        """The place of the stage in which it is; None before the first and after the last."""
        if not self.starts or not self.starts[0] <= tick <= self.finish:
            return None
        return max(at for at, start in enumerate(self.starts) if start <= tick)

    @property
    def shown_from(self) -> int:
        """The first tick in which there is something to say of it."""
        at_door = [each.first for each in self.waits if each.why is not Why.JUMP]
        return min([*self.starts[:1], *at_door])


@dataclass
class PipelineAccount:
    """A run in a pipeline. ``rows`` are the instructions in their order, those fetched in vain
    after their jump. It is ``complete`` unless the run is longer than is followed."""

    machine: Machine
    shape: PipelineShape
    rows: tuple[Row, ...]
    without: int
    complete: bool
    lost_by: dict[Why, int]
    _done: list[Row] = field(repr=False)
    _finishes: list[int] = field(repr=False)

    @property
    def count(self) -> int:
        """How many instructions were carried out."""
        return len(self._done)

    @property
    def ticks(self) -> int:
        """How long all of it takes; 0 where there is no instruction."""
        return self._finishes[-1] if self._finishes else 0

    def come_by(self, tick: int) -> int:
        """How many of the rows have come, or wait at the door, by a tick, or stand before one that
        does."""
        return bisect_right(self._comes, tick)

    def around(self, tick: int) -> tuple[Row, ...]:
        """The rows of which there may be something to say in a tick, or for the last time in the
        one before: a few, of thousands."""
        return self.rows[bisect_left(self._gone, tick - 1) : self.come_by(tick)]

    @cached_property
    def _comes(self) -> list[int]:
        """For each row the first tick in which there is something to say of it or of a later one:
        so these are in order, whatever stands at the door."""
        firsts = (
            min((*each.starts[:1], *(wait.first for wait in each.waits)), default=each.finish)
            for each in reversed(self.rows)
        )
        return [*accumulate(firsts, min)][::-1]

    @cached_property
    def _gone(self) -> list[int]:
        """For each row the last tick in which there is something to say of it or of an earlier
        one."""
        ends = (max(each.finish, *(wait.last for wait in each.waits), 0) for each in self.rows)
        return [*accumulate(ends, max)]

    @property
    def ideal(self) -> int:
        """How long it would take without waiting: k + n - 1."""
        return self.shape.stages + self.count - 1 if self.count else 0

    @property
    def lost(self) -> int:
        return self.ticks - self.ideal

    @property
    def ratio(self) -> Fraction:
        """How many times as fast it is as one instruction after another."""
        return Fraction(self.without, self.ticks) if self.ticks else Fraction(1)

    def finished(self, tick: int) -> int:
        """How many instructions are done after a tick."""
        return bisect_left(self._finishes, tick + 1)

    def row(self, number: int) -> Row:
        """An instruction by its number, counted from 1."""
        return self._done[number - 1]

    def lost_by_tick(self, tick: int) -> int:
        """The ticks up to this one in which nothing came out though the pipeline had filled."""
        return max(tick - self.shape.stages + 1, 0) - self.finished(tick)


class _Needs:
    """What an instruction reads and writes, from its transfers. ``for_address`` are the registers
    that an address is made of. What its fetch writes is of use only while it is carried out."""

    def __init__(self, machine: Machine, instruction: Instruction) -> None:
        for_address: set[str] = set()
        reads: set[str] = set()
        self.writes: set[str] = set()
        for each in instruction.transfers:
            terms = {*each.terms} & machine.lasting
            (for_address if each.target in ("MAR", "SP") else reads).update(terms)
            if each.condition:
                reads.add("carry" if each.waits_for == "carry" else "status")
            self.writes.update({*each.targets} & machine.lasting)
        self.for_address, self.reads = sorted(for_address), sorted(reads)


class _Scheduler:
    def __init__(self, machine: Machine, shape: PipelineShape) -> None:
        self.machine = machine
        self.shape = shape
        self.names = shape.names
        self.rows: list[Row] = []
        self.done: list[Row] = []
        # The last tick of the stage that writes a register or a word, and whose it is.
        self.written: dict[str, tuple[int, int]] = {}
        # The ticks in which data is read or written, and by whom; only the last ones matter.
        self.busy: dict[int, int] = {}
        self.without = 0
        self.lost: dict[Why, int] = dict.fromkeys(Why, 0)
        self.needs: dict[int, _Needs] = {}
        # Of the instruction that was added last: whether it jumped.
        self.jumped = False
        self.executed = 0  # and the last tick in which it was
        # Of the one that was placed last: the last tick of its work in each stage, and when it has
        # memory after its fetch.
        self.ends: list[int] = []
        self.trips: list[int] = []

    def place(
        self,
        number: int,
        done: Done | None,
        ready: int,
        before: Row | None,
        waited: tuple[Wait, ...] = (),
    ) -> Row:
        """The way of an instruction that may be fetched from tick ``ready`` on and has ``waited``
        until then, ``before`` being the one before it in the pipeline."""
        starts: list[int] = []
        waits = [*waited]
        self.ends, self.trips = [], []
        needs = self._needs(done) if done else None
        for at, stage in enumerate(self.names):
            start = ready
            if before is not None:
                leaves = [*before.starts[1:], before.finish + 1][at]
                if at and leaves > start:
                    waits.append(Wait(stage, start, leaves - 1, Why.BEHIND, before.number))
                    start = leaves
            if done is not None and needs is not None:
                for key in self._awaited(stage, done, needs):
                    there, by = self.written.get(key, (0, 0))
                    if there >= start:
                        waits.append(Wait(stage, start, there, Why.WORD, by, key))
                        start = there + 1
            ready = self._work(stage, start, done, starts, waits)
        address = done.address if done else 0
        instruction = done.instruction if done else None
        last_step = done.last_step if done else 0
        return Row(
            number,
            address,
            instruction,
            tuple(starts),
            ready - 1,
            tuple(waits),
            last_step=last_step,
            word=done.word if done else 0,
        )

    def _needs(self, done: Done) -> _Needs:
        code = done.instruction.code
        if code not in self.needs:
            self.needs[code] = _Needs(self.machine, done.instruction)
        return self.needs[code]

    def _awaited(self, stage: Stage, done: Done, needs: _Needs) -> Iterator[str]:
        """What must be written before an instruction can work in a stage."""
        if stage is Stage.FETCH:
            yield _word(done.address)
        elif stage is Stage.OPERAND:
            yield from needs.for_address
            yield from (_word(each.address) for each in done.trips if not each.writes)
        elif stage is Stage.EXECUTE and Stage.OPERAND in self.names:
            yield from needs.reads

    def _work(
        self, stage: Stage, tick: int, done: Done | None, starts: list[int], waits: list[Wait]
    ) -> int:
        """What is done in a stage, from a tick on: the tick after it. Each trip to memory takes a
        tick in which no older instruction has it."""
        fetches = stage is Stage.FETCH
        makes = self._trips(stage, done) if done else 0
        asks = self.shape.memories == 1 if fetches else makes > 0
        for at in range(max(makes, 1)):
            first = tick
            while asks and tick in self.busy:
                tick += 1
            # Whom it waits for may change from one tick to the next.
            for by, ticks in groupby(range(first, tick), self.busy.__getitem__):
                had = [*ticks]
                waits.append(Wait(stage, had[0], had[-1], Why.MEMORY, by))
            if at == 0:
                starts.append(tick)
            if at < makes:
                self.trips.append(tick)
            tick += 1
        self.ends.append(tick - 1)
        return tick

    def _trips(self, stage: Stage, done: Done) -> int:
        """How many trips to memory an instruction makes in a stage after its fetch."""
        if Stage.OPERAND not in self.names:
            return len(done.trips) if stage is Stage.EXECUTE else 0
        writes = {Stage.OPERAND: False, Stage.WRITE: True}.get(stage)
        return 0 if writes is None else sum(each.writes is writes for each in done.trips)

    def add(self, done: Done) -> None:
        before = self.done[-1] if self.done else None
        ready = 1
        waited: tuple[Wait, ...] = ()
        if before is not None:
            ready = before.starts[1]
            if self.jumped:
                after = self.executed + 1
                self._in_vain(before, after)
                waited = (Wait(Stage.FETCH, ready, after - 1, Why.JUMP, before.number),)
                ready = after
        row = self.place(len(self.done) + 1, done, ready, before, waited)
        self._keep(row, done)
        self._count_lost(before.finish if before else self.shape.stages - 1, row)
        self.rows.append(row)
        self.done.append(row)
        self.jumped = done.jumped

    def _keep(self, row: Row, done: Done) -> None:
        """What an instruction writes and when, and when it has memory."""
        last = row.finish
        for each in self._needs(done).writes:
            self.written[each] = (last, row.number)
        self.executed = self.ends[self.names.index(Stage.EXECUTE)]
        self.busy = {tick: by for tick, by in self.busy.items() if tick >= row.starts[0]}
        self.busy |= dict.fromkeys(self.trips, row.number)
        for trip in done.trips:
            if trip.writes:
                self.written[_word(trip.address)] = (last, row.number)

    def _in_vain(self, jump: Row, after: int) -> None:
        """What has been fetched behind a jump before the tick in which it is known to jump."""
        before, ready, address = jump, jump.starts[1], jump.address + 1
        # Behind the last word of memory there is nothing to fetch.
        while ready < after and address < self.machine.memory_words:
            row = self.place(jump.number, None, ready, before)
            starts = tuple(each for each in row.starts if each < after)
            if not starts:
                return
            waits = tuple(
                Wait(each.stage, each.first, min(each.last, after - 1), each.why, each.by)
                for each in row.waits
                if each.first < after
            )
            self.rows.append(
                Row(jump.number, address, None, starts, after - 1, waits, in_vain=True)
            )
            before, ready, address = row, row.starts[1], address + 1

    def _count_lost(self, before: int, row: Row) -> None:
        """Each tick after ``before`` in which nothing was finished, for the reason that came
        last; and how long the instruction would take by itself."""
        reasons = {
            tick: each.why for each in row.waits for tick in range(each.first, each.last + 1)
        }
        self.without += len(self.names)
        for start, end in zip(row.starts, self.ends, strict=True):
            more = [tick for tick in range(start + 1, end + 1) if tick not in reasons]
            reasons |= dict.fromkeys(more, Why.LONG)
            self.without += len(more)
        for tick in sorted(reasons, reverse=True)[: row.finish - before - 1]:
            self.lost[reasons[tick]] += 1


def _word(address: int) -> str:
    return f"memory[{address}]"


def carried_out(run: Run) -> list[Done]:
    """As many instructions of a run as go through a pipeline, and one more where there are."""
    return [*instructions(run, MOST_INSTRUCTIONS + 1)]


def follow(run: Run, shape: PipelineShape, every: Sequence[Done] | None = None) -> PipelineAccount:
    """The account of a run, or of its first ``MOST_INSTRUCTIONS`` instructions. ``every`` are those
    that were ``carried_out``, if that is known already."""
    made = _Scheduler(run.machine, shape)
    complete = True
    for done in carried_out(run) if every is None else every:
        if len(made.done) == MOST_INSTRUCTIONS:
            complete = False
            break
        made.add(done)
    finishes = [each.finish for each in made.done]
    lost = {why: ticks for why, ticks in made.lost.items() if ticks}
    return PipelineAccount(
        run.machine, shape, tuple(made.rows), made.without, complete, lost, made.done, finishes
    )
