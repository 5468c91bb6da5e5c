"""What a cache or a pipeline does at a step or a tick, in plain sentences."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from app.machine.source.problems import listed
from app.machine.watching.cache import CacheShape, Count, Look
from app.machine.watching.pipeline import PipelineAccount, Row, Wait, Why

from .counts import counted
from .reading import Reading

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def line_range(reading: Reading, shape: CacheShape, tag: int, group: int, to: str = " to ") -> str:
    """The addresses of a line: ``12 to 15``, or ``12`` where it is one word."""
    first = shape.first(tag, group)
    ends = (first, first + shape.words - 1) if shape.words > 1 else (first,)
    return to.join(reading.address(each) for each in ends)


@dataclass(frozen=True, slots=True)
class Because:
    """Why a tick is lost, in words: while it is (``now``) and afterwards (``then``), and as there
    is room for it in a cell of the diagram; empty where no cell says it."""

    now: str
    then: str
    short: str = ""


WHY = {
    Why.JUMP: Because("a jump is taken", "a jump was taken"),
    Why.MEMORY: Because("memory is busy", "memory was busy", "mem"),
    Why.WORD: Because("a word is not yet written", "a word was not yet written", "word"),
    Why.BEHIND: Because("the one before is not done", "the one before was not done", "\N{EN DASH}"),
    Why.LONG: Because("a stage takes two ticks", "a stage took two ticks"),
}


def look_sentence(reading: Reading, shape: CacheShape, look: Look) -> str:
    """What came of one look into the cache."""
    address = reading.address(look.trip.address)
    group = shape.split(look.trip.address)[1]
    lines = line_range(reading, shape, look.tag, group)
    ticks = counted(look.ticks, "tick")
    if look.trip.writes:
        also = (
            " The line in the cache gets the word, too."
            if look.hit
            else " The cache does not have this line, and leaves it so."
        )
        return f"Write: the word goes through to memory, to address {address}: {ticks}.{also}"
    if look.hit:
        return f"Hit: the cache has address {address} already, in the line {lines}: {ticks}."
    gone = (
        f" It takes the place of the line {line_range(reading, shape, look.replaced, group)}."
        if look.replaced is not None
        else ""
    )
    return (
        f"Miss: address {address} is not in the cache. The line {lines} comes from memory:"
        f" {ticks}.{gone}"
    )


def decimal(value: Fraction) -> str:
    """A number to two decimal places at the most: ``3.5``, ``about 2.33``."""
    near = round(value, 2)
    text = f"{float(near):,.2f}".rstrip("0").rstrip(".")
    return text if near == value else f"about {text}"


def cache_sum(count: Count, shape: CacheShape) -> str:
    """How the average time of a read comes about: hit time + miss rate x miss penalty."""
    if not count.reads:
        return ""
    return (
        f"Average of a read: 1 + {count.misses}/{count.reads} \N{MULTIPLICATION SIGN}"
        f" {shape.memory_ticks} = {decimal(count.average(shape))} ticks"
    )


def name_of(row: Row) -> str:
    """An instruction by its first word."""
    return row.instruction.name if row.instruction else "This word"


def tick_sentence(reading: Reading, account: PipelineAccount, tick: int) -> str:
    """What happens in a tick; the reasons of waiting first."""
    if tick == 0:
        return "The pipeline is empty. Each press is one tick of the clock."
    said = [*_waits(reading, account, tick)]
    jump = _jumped_before(account, tick)
    if jump:
        vain = sum(each.in_vain and each.number == jump.number for each in account.rows)
        said.insert(0, f"{name_of(jump)} was taken: {_in_vain(vain)}.")
    if not said:
        at_work = sum(
            each.stage(tick) is not None and not each.waiting(tick) for each in account.around(tick)
        )
        stages = account.shape.stages
        said.append(
            "All stages are at work."
            if at_work == stages
            else f"{_NUMBERS[at_work].capitalize()} of the {_NUMBERS[stages]} stages"
            f" {'is' if at_work == 1 else 'are'} at work."
        )
    if tick == account.ticks:
        said.append(end_sentence(account))
    return " ".join(said)


def _in_vain(count: int) -> str:
    was = "instruction was" if count == 1 else "instructions were"
    return f"{_NUMBERS[count]} {was} fetched in vain" if count else "nothing was fetched in vain"


def _jumped_before(account: PipelineAccount, tick: int) -> Row | None:
    """The jump that was taken in the tick before."""
    for each in account.around(tick):
        if each.in_vain and each.finish == tick - 1:
            return account.row(each.number)
    return None


def _waits(reading: Reading, account: PipelineAccount, tick: int) -> list[str]:
    found = []
    for row in account.around(tick):
        wait = row.waiting(tick)
        if wait is not None and wait.why is not Why.JUMP and not row.in_vain:
            found.append(wait_sentence(reading, account, row, wait))
    # Who only stands behind another waits for the reason of that one.
    causes = [text for text, behind in found if not behind] or [text for text, _ in found]
    return causes[:2]


def wait_sentence(
    reading: Reading, account: PipelineAccount, row: Row, wait: Wait
) -> tuple[str, bool]:
    """Why an instruction waits, and whether only because it stands behind another."""
    by = name_of(account.row(wait.by))
    name = name_of(row)
    match wait.why:
        case Why.MEMORY:
            does = "be fetched" if wait.stage is account.shape.names[0] else "go to memory"
            return f"{name} waits to {does}: memory is busy with {by}.", False
        case Why.WORD:
            what = (
                f"the word at address {reading.address(int(wait.what[7:-1]))}"
                if wait.what.startswith("memory[")
                else f"the {account.machine.register[wait.what].name}"
            )
            return f"{name} waits: {by} has not yet written {what}.", False
    return f"{name} waits behind {by}.", True


def end_sentence(account: PipelineAccount) -> str:
    """The sum at the end: with and without, and what was lost."""
    faster = decimal(account.ratio)
    said = (
        f"{account.ticks} ticks, and one after another it would be {account.without}:"
        f" {faster} times as fast."
    )
    if not account.complete:
        return f"So far as it was followed: {said}"
    return said


def lost_sentence(account: PipelineAccount) -> str:
    """What was lost, by reasons; empty for nothing."""
    reasons = [f"{ticks} because {WHY[why].then}" for why, ticks in account.lost_by.items()]
    if not reasons:
        return ""
    return f"Lost: {listed(reasons, 'and')}."
