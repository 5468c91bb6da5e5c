"""Questions about what watches a run: hits and misses, ticks, lost ticks, what is faster.

The right answers are those of the accounts of :mod:`app.machine.watching`; the wrong ones are what
the usual mix-ups make of the same accounts, each with the facts that clear it up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from app.lesson.entries import Wrong
from app.machine.source.problems import capital
from app.machine.telling.counts import counted
from app.machine.telling.watched import decimal, end_sentence, lost_sentence
from app.machine.watching.cache import HIT_TICKS, CacheAccount, Look
from app.machine.watching.cores import share_of_time
from app.machine.watching.pipeline import PipelineAccount, Why

from .mixups import Misconception, Reason
from .subjects import Subject

_Account = TypeVar("_Account", CacheAccount, PipelineAccount)

HIT = "hit"
MISS_EMPTY = "miss: its place is empty"
MISS_OTHER = "miss: another line lies there"


@dataclass(frozen=True, slots=True)
class Racer:
    """One of the machines that a scene compares: its ``clock`` in hertz, its time in ``seconds``,
    the share ``parallel`` of the work that its ``cores`` can do side by side, and the ``stages`` of
    its pipeline (0 for none). ``memory_ticks`` is how long memory takes that it has a cache for."""

    name: str
    ticks: int
    seconds: Fraction
    clock: Fraction
    cores: int
    parallel: Fraction
    stages: int = 0
    memory_ticks: int = 0


@dataclass(frozen=True, slots=True)
class Watched:
    """What watches the run of a scene: a ``cache``, beside it the ``other`` that the lesson has
    elsewhere (with its words), a ``pipeline``, or the machines it is compared on; where they cannot
    be, ``not_compared`` has why, as what follows 'the program', and how to mend it."""

    cache: CacheAccount | None = None
    other: tuple[CacheAccount, str] | None = None
    pipeline: PipelineAccount | None = None
    racers: tuple[Racer, ...] = ()
    not_compared: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """The right answer, why, and the wrong ones, the likelier first. ``step`` is where the board
    shows it, None for the end of what is asked about."""

    right: str
    because: str
    wrong: tuple[Misconception, ...]
    step: int | None = None


def answer(subject: Subject, watched: Watched, first: int, last: int) -> Answer:
    """The answer after the step ``last``; for *hit or miss* of the trip between ``first`` and
    ``last``. Raises Wrong where the scene has nothing that could answer."""
    if subject.kind == "look":
        return _look(_needed(watched.cache, "a cache"), first, last)
    if subject.kind in ("misses", "hits"):
        return _counted(subject, watched, last)
    if subject.kind == "ticks" and watched.cache and not watched.pipeline:
        return _cache_ticks(watched.cache, last)
    if subject.kind == "faster" and watched.racers:
        return _raced(watched.racers)
    if subject.kind == "faster" and watched.not_compared:
        why, mend = watched.not_compared
        raise Wrong(f"The program {why}.", mend)
    pipeline = _needed(watched.pipeline, "a pipeline")
    kinds: dict[str, Callable[[PipelineAccount], Answer]] = {
        "ticks": _pipeline_ticks,
        "lost": _lost,
        "faster": _faster,
    }
    return kinds[subject.kind](pipeline)


def _needed(found: _Account | None, kind: str) -> _Account:
    if found is None:
        raise Wrong(f"This scene has not {kind} that could answer.", f"Give the scene {kind}.")
    return found


# A cache.


def _look(account: CacheAccount, first: int, last: int) -> Answer:
    looks = [found for step in range(first, last + 1) if (found := account.look(step))]
    reads = [each for each in looks if not each.trip.writes]
    if not reads:
        what = "Nothing is read from memory here, so there is no hit and no miss."
        raise Wrong(what, "Ask before a fetch, or before a LOAD or an ADD.")
    look = reads[0]
    right, reason = _kind(look)
    facts = {"address": str(look.trip.address)}
    others = [each for each in (HIT, MISS_EMPTY, MISS_OTHER) if each != right]
    wrong = tuple(Misconception(each, reason, facts) for each in others)
    return Answer(right, wrong[0].sentence, wrong, look.trip.step)


def _kind(look: Look) -> tuple[str, Reason]:
    if look.hit:
        return HIT, Reason.IN_CACHE_ALREADY
    if look.replaced is None:
        return MISS_EMPTY, Reason.PLACE_IS_EMPTY
    return MISS_OTHER, Reason.OTHER_LINE_THERE


def _counted(subject: Subject, watched: Watched, last: int) -> Answer:
    account = _needed(watched.cache, "a cache")
    count, shape = account.count(last), account.shape
    reads = counted(count.reads, "read")
    said = {"reads": reads, "hits": str(count.hits), "misses": str(count.misses)}
    because = f"Of {reads} {_were_hits(count.hits)} and {count.misses} missed."
    wrong: list[Misconception] = []
    if subject.kind == "misses":
        right = count.misses
        bigger = _bigger(watched, last, count.misses)
        wrong += [bigger] if bigger else []
        looks = account.looks[: account.after(last)]
        lines = len({each.trip.address // shape.words for each in looks if not each.trip.writes})
        if lines != right:
            wrong.append(Misconception(lines, Reason.EACH_LINE_ONCE, said | {"lines": str(lines)}))
        wrong.append(Misconception(count.reads, Reason.EVERY_READ_MISSES, said))
        wrong.append(Misconception(count.hits, Reason.HITS_COUNTED, said))
    else:
        right = count.hits
        wrong.append(Misconception(count.reads, Reason.EVERY_READ_HITS, said))
        wrong.append(Misconception(count.misses, Reason.MISSES_COUNTED, said))
    return Answer(str(right), because, tuple(wrong))


def _were_hits(hits: int) -> str:
    return "1 was a hit" if hits == 1 else f"{hits} were hits"


def _bigger(watched: Watched, last: int, misses: int) -> Misconception | None:
    """What comes out for who thinks that so many times the cache has so many times less misses."""
    if watched.other is None or watched.cache is None:
        return None
    other, words = watched.other
    sizes = [each.shape.lines * each.shape.words for each in (watched.cache, other)]
    times = sizes[0] // sizes[1]
    before = other.count(last).misses
    if times < 2 or before // times == misses:
        return None
    facts = {"times": str(times), "misses": str(misses), "other": words}
    facts["before"] = counted(before, "miss")
    return Misconception(before // times, Reason.BIGGER_IS_FASTER, facts)


def _cache_ticks(account: CacheAccount, last: int) -> Answer:
    count, shape = account.count(last), account.shape
    miss = HIT_TICKS + shape.memory_ticks
    each = "" if count.hits == 1 else " each"
    reads = "1 read was a hit" if count.hits == 1 else f"{count.hits:,} reads were hits"
    facts = {"took": f"{reads}, and took 1 tick{each}", "miss": str(miss)}
    take = "takes" if count.hits == 1 else "take"
    because = (
        f"{counted(count.hits, 'hit')} {take} 1 tick{each}, {counted(count.misses, 'miss')} {miss},"
        f" {counted(count.writes, 'write')} {shape.memory_ticks}, and every other step takes 1."
    )
    wrong = (
        Misconception(count.without, Reason.EVERY_TRIP_TO_MEMORY, facts),
        Misconception(last, Reason.EVERY_TRIP_ONE_TICK, facts),
    )
    return Answer(str(count.ticks), because, wrong)


# A pipeline.


def _facts(account: PipelineAccount) -> dict[str, str]:
    facts = {
        "ticks": account.ticks,
        "without": account.without,
        "ideal": account.ideal,
        "stages": account.shape.stages,
    }
    said = {name: str(value) for name, value in facts.items()}
    return said | {"more": f"{account.lost} more {'is' if account.lost == 1 else 'are'}"}


def _pipeline_ticks(account: PipelineAccount) -> Answer:
    facts = _facts(account)
    wrong = [Misconception(account.without, Reason.ONE_AFTER_ANOTHER, facts)]
    if account.lost:
        wrong.append(Misconception(account.ideal, Reason.NEVER_WAITS, facts))
    share = account.without // account.shape.stages
    wrong.append(Misconception(share, Reason.EACH_FASTER, facts))
    return Answer(str(account.ticks), _because(account), tuple(wrong))


def _because(account: PipelineAccount) -> str:
    return f"{end_sentence(account)} {lost_sentence(account)}".rstrip()


def _lost(account: PipelineAccount) -> Answer:
    facts, wrong = _facts(account), []
    jumps = account.lost_by.get(Why.JUMP, 0)
    if account.lost:
        wrong.append(Misconception(0, Reason.NOTHING_LOST, facts))
    if 0 < jumps < account.lost:
        waited = account.lost - jumps
        more = {"other": f"{counted(waited, 'more tick')} {'is' if waited == 1 else 'are'}"}
        wrong.append(Misconception(jumps, Reason.ONLY_JUMPS, facts | more))
        more = {"jumps": counted(jumps, "more tick")}
        wrong.append(Misconception(account.lost - jumps, Reason.ONLY_WAITING, facts | more))
    because = lost_sentence(account) or "No tick is lost."
    return Answer(str(account.lost), because, tuple(wrong))


def _times(value: Fraction) -> str:
    if value == 1:
        return "just as fast"
    return f"{decimal(value)} times"


def _faster(account: PipelineAccount) -> Answer:
    facts = _facts(account)
    wrong = (
        Misconception(_times(Fraction(account.shape.stages)), Reason.AS_MANY_AS_STAGES, facts),
        Misconception(_times(Fraction(1)), Reason.NO_FASTER, facts),
        Misconception(
            _times(Fraction(account.without, account.ideal or 1)), Reason.NEVER_WAITS, facts
        ),
    )
    return Answer(_times(account.ratio), _because(account), wrong[: 3 if account.lost else 2])


# Machines side by side: the last against the first.


def _raced(racers: tuple[Racer, ...]) -> Answer:
    first, last = racers[0], racers[-1]
    return Answer(
        _times(first.seconds / last.seconds),
        f"{capital(first.name)} takes {_took(first)}, {last.name} {_took(last)}.",
        tuple(_race_mixups(first, last)),
    )


def _took(racer: Racer) -> str:
    return f"{counted(racer.ticks, 'tick')} and {decimal(racer.seconds * 10**9)} ns"


def _race_mixups(first: Racer, last: Racer) -> Iterator[Misconception]:
    right = first.seconds / last.seconds
    facts = {
        "first": first.name,
        "last": last.name,
        "ticks": str(last.ticks),
        "before": str(first.ticks),
        "cores": str(last.cores),
        "share": decimal(last.parallel * 100),
    }
    clocks = last.clock / first.clock
    if last.memory_ticks > 1 and right != last.memory_ticks:
        ten = _times(Fraction(last.memory_ticks))
        yield Misconception(ten, Reason.ONLY_HITS, facts | {"memory": str(last.memory_ticks)})
    if last.stages and right != last.stages:
        stages = {"stages": str(last.stages), "without": str(first.ticks)}
        many = _times(Fraction(last.stages))
        yield Misconception(many, Reason.AS_MANY_AS_STAGES, facts | stages)
    if last.cores > 1 and last.parallel < 1:
        every = right * last.cores * share_of_time(last.cores, last.parallel)
        yield Misconception(_times(every), Reason.ALL_SHARED, facts)
    if clocks != 1 and clocks != right:
        yield Misconception(_times(clocks), Reason.ONLY_CLOCK, facts)
    ticks = Fraction(first.ticks, last.ticks)
    if ticks not in (1, right):
        yield Misconception(_times(ticks), Reason.ONLY_TICKS, facts)
    if right != 1:
        yield Misconception(_times(Fraction(1)), Reason.EQUALLY_FAST, facts)
