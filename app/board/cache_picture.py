"""The cache as the board shows it: between the processor and the lines of memory.

What it shows comes from the account of the run, and the words of a line from memory itself: a cache
that writes through always agrees with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.machine.machine import Machine
from app.machine.source.assembler import Program
from app.machine.source.disassembler import can_be_written, decode
from app.machine.state import State
from app.machine.telling.counts import counted
from app.machine.telling.reading import Reading
from app.machine.telling.watched import cache_sum, line_range
from app.machine.watching.cache import CacheAccount, Count, Look

from .queues import Value

# So many lines of memory are in sight.
MOST_BLOCKS = 8
# The words of a longer line have no room to be written.
MOST_WRITTEN = 4
_LONG = 5  # letters


@dataclass(frozen=True, slots=True)
class Word:
    """A word of a line: its text, ``long`` where it needs small letters; ``lit`` where it is the
    one that is read or written."""

    text: Value
    lit: bool

    @property
    def long(self) -> bool:
        return max(len(self.text.now), len(self.text.was)) > _LONG


@dataclass(frozen=True, slots=True)
class Line:
    """A line, in the cache or in memory: ``key`` names it for what moves. ``name`` is its number,
    ``tag`` empty in memory; ``addresses`` are those it holds. In the cache ``mark`` says what came
    of the look (hit, miss or write), in memory ``place`` in which place of the cache it lies."""

    key: str
    name: str
    tag: Value
    addresses: Value
    words: tuple[Word, ...]
    mark: str = ""
    place: Value | None = None


@dataclass(frozen=True, slots=True)
class Way:
    """Something that travels: from one part to another, by their keys, in a beat."""

    source: str
    target: str
    carrier: str
    value: str
    beat: int


@dataclass(frozen=True, slots=True)
class CachePicture:
    """``asked`` is what the processor asks for, ``verdict`` what came of it (hit, miss, write, or
    empty); ``slow`` says how long memory takes, and how many lines of it that the run uses are out
    of sight."""

    title: str
    slow: str
    two_way: bool
    lines: tuple[Line, ...]
    blocks: tuple[Line, ...]
    asked: str
    verdict: str
    count: Count
    was: Count
    average: str
    ways: tuple[Way, ...]
    words: int


def cache_picture(
    account: CacheAccount,
    reading: Reading,
    program: Program,
    before: State,
    after: State,
    looks: Sequence[Look],
    title: str,
) -> CachePicture:
    """The picture after a press that led from ``before`` to ``after`` with some ``looks``."""
    return _Maker(account, reading, program, before, after, looks).picture(title)


class _Maker:
    def __init__(
        self,
        account: CacheAccount,
        reading: Reading,
        program: Program,
        before: State,
        after: State,
        looks: Sequence[Look],
    ) -> None:
        self.account, self.shape = account, account.shape
        # Binary has no room in a line: its words are then in denary, as everybody counts.
        base = reading.base if reading.base != "binary" else "denary"
        self.reading = Reading(reading.machine, base, reading.wording)
        self.machine: Machine = reading.machine
        self.program = program
        self.before, self.after = before, after
        self.looks = looks
        self.look = looks[-1] if looks else None

    def picture(self, title: str) -> CachePicture:
        shape, look = self.shape, self.look
        blocks = self._blocks()
        count = self.account.count(self.after.steps)
        left_out = len(self.account.used) - len(blocks)
        more = f"; {counted(left_out, 'line')} more" if left_out else ""
        return CachePicture(
            title,
            f"takes {counted(shape.memory_ticks, 'tick')}{more}",
            shape.ways > 1,
            tuple(self._line(slot) for slot in range(shape.lines)),
            tuple(self._block(each) for each in blocks),
            self._asked(look),
            "" if look is None else _verdict(look),
            count,
            self.account.count(self.before.steps),
            cache_sum(count, shape) if self.after.ending else "",
            tuple(self._ways()),
            shape.words,
        )

    def _asked(self, look: Look | None) -> str:
        if look is None:
            return ""
        does = "write" if look.trip.writes else "read"
        return f"{does} {self.reading.address(look.trip.address)}"

    # The lines of the cache.

    def _line(self, slot: int) -> Line:
        group = self.account.group(slot)
        was = self.account.tags(self.before.steps)[slot]
        now = self.account.tags(self.after.steps)[slot]
        look = self.look
        here = look is not None and look.slot == slot
        lit = self.shape.split(look.trip.address)[2] if look and here else -1
        return Line(
            f"line-{slot}",
            str(slot if self.shape.ways == 1 else group),
            _value(self._tag(was), self._tag(now)),
            _value(self._range(was, group), self._range(now, group)),
            tuple(
                Word(
                    _value(
                        self._text(was, group, at, self.before),
                        self._text(now, group, at, self.after),
                    ),
                    at == lit,
                )
                for at in range(self.shape.words)
            ),
            _verdict(look) if look and here else "",
        )

    @staticmethod
    def _tag(tag: int | None) -> str:
        return "\N{EN DASH}" if tag is None else str(tag)

    def _range(self, tag: int | None, group: int) -> str:
        if tag is None:
            return "empty"
        return line_range(self.reading, self.shape, tag, group, "\N{EN DASH}")

    def _text(self, tag: int | None, group: int, at: int, state: State) -> str:
        if tag is None:
            return ""
        return self._written(self.shape.first(tag, group) + at, state)

    def _written(self, address: int, state: State) -> str:
        """A word: the name of an instruction, or the number."""
        if address >= len(state.memory) or self.shape.words > MOST_WRITTEN:
            return ""
        word, origins = state.memory[address], self.program.origins
        if address < len(origins) and not origins[address].is_data:
            instruction, operand = decode(self.machine, word)
            if instruction is not None and can_be_written(instruction, operand):
                return instruction.name
        return self.reading.number(word)

    # The lines of memory.

    def _blocks(self) -> tuple[int, ...]:
        """Those in sight: all that are used, or those round the one that is asked for."""
        used = self.account.used
        if len(used) <= MOST_BLOCKS:
            return used
        address = self.look.trip.address if self.look else self.after.pc
        here = address // self.shape.words
        at = next((place for place, each in enumerate(used) if each >= here), len(used) - 1)
        first = min(at // MOST_BLOCKS * MOST_BLOCKS, len(used) - MOST_BLOCKS)
        return used[first : first + MOST_BLOCKS]

    def _block(self, block: int) -> Line:
        shape, look = self.shape, self.look
        first = block * shape.words
        tag, group, _ = shape.split(first)
        # A hit asks memory for nothing.
        asks = look is not None and not (look.hit and not look.trip.writes)
        here = asks and look is not None and look.trip.address // shape.words == block
        lit = look.trip.address % shape.words if look and here else -1
        words = tuple(
            Word(
                _value(
                    self._written(first + at, self.before), self._written(first + at, self.after)
                ),
                at == lit,
            )
            for at in range(shape.words)
        )
        addresses = line_range(self.reading, shape, tag, group, "\N{EN DASH}")
        return Line(
            f"block-{block}",
            "",
            _value("", ""),
            _value(addresses, addresses),
            words,
            _verdict(look) if look and here else "",
            _value(
                self._lies(tag, group, self.before.steps), self._lies(tag, group, self.after.steps)
            ),
        )

    def _lies(self, tag: int, group: int, step: int) -> str:
        tags, ways = self.account.tags(step), self.shape.ways
        found = any(tags[each] == tag for each in range(group * ways, (group + 1) * ways))
        return "in the cache" if found else ""

    # What travels.

    def _ways(self) -> list[Way]:
        found: list[Way] = []
        shape, beat = self.shape, 0
        for look in self.looks:
            address = self.reading.address(look.trip.address)
            at = look.trip.address % shape.words
            block = f"block-{look.trip.address // shape.words}"
            line = f"line-{look.slot}" if look.slot is not None else "cache"
            state = self.after
            word = self._plain(look.trip.address, state)
            if look.trip.writes:
                legs = [("asking", line, "data", word)] if look.hit else []
                legs.append((line if look.hit else "asking", f"{block}-{at}", "data", word))
            elif look.hit:
                legs = [("asking", line, "address", address)]
                legs.append((f"{line}-{at}", "asking", "data", word))
            else:
                whole = " ".join(
                    self._plain(look.trip.address - at + each, state) for each in range(shape.words)
                )
                legs = [("asking", line, "address", address), (line, block, "address", address)]
                legs += [
                    (block, line, "data line", whole),
                    (f"{line}-{at}", "asking", "data", word),
                ]
            for source, target, carrier, value in legs:
                found.append(Way(source, target, carrier, value, beat))
                beat += 1
        return found

    def _plain(self, address: int, state: State) -> str:
        if address >= len(state.memory):
            return ""
        return self._written(address, state) or self.reading.number(state.memory[address])


def _verdict(look: Look) -> str:
    return "write" if look.trip.writes else "hit" if look.hit else "miss"


def _value(was: str, now: str) -> Value:
    return Value(was, now, was != now)
