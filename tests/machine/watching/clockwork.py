"""A second account of cache and pipeline, which shares no code with the first.

It carries programs out by itself, from the tables of ``tests/hardware/machine.md`` alone: with a
cache that really holds copies of words and answers the reads, and with a pipeline in which
instructions are moved from latch to latch, tick by tick, from the oldest to the youngest. The first
account asks of each instruction when it may enter a stage; this one asks of each tick who moves.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from itertools import pairwise

from tests.codes import CODES, PART_CODES

_KNOWN = (CODES, PART_CODES["index register"], PART_CODES["stack"])
WRITTEN = {code: written for each in _KNOWN for written, code in each.items()}
WORDS = 256


@dataclass
class Carried:
    """One instruction: where it stood, the trips it made after its fetch as (kind, address), the
    registers it reads for an address and for its work, those it writes, and whether it jumped."""

    address: int
    written: str
    trips: list[tuple[str, int]] = field(default_factory=list)
    for_address: frozenset[str] = frozenset()
    for_work: frozenset[str] = frozenset()
    leaves: frozenset[str] = frozenset()
    jumped: bool = False


class Memory:
    """Plain memory; each look is written down as (hit or miss or write, ticks)."""

    def __init__(self, image: list[int], ticks: int = 10) -> None:
        self.program = len(image)
        self.words = [*image, *[0] * (WORDS - len(image))]
        self.ticks = ticks
        self.looks: list[tuple[str, int]] = []

    def read(self, address: int) -> int:
        self.looks.append(("memory", self.ticks))
        return self.words[address]

    def write(self, address: int, word: int) -> None:
        self.looks.append(("write", self.ticks))
        self.words[address] = word


class Cached(Memory):
    """Memory behind a cache that holds copies: what is read comes from the copy."""

    def __init__(self, image: list[int], lines: int, words: int, ways: int, ticks: int) -> None:
        super().__init__(image, ticks)
        self.size = words
        # For each group the copies by the address of their first word, the oldest use first.
        self.groups: list[dict[int, list[int]]] = [{} for _ in range(lines // ways)]
        self.ways = ways

    def place(self, address: int) -> tuple[dict[int, list[int]], int, int]:
        first = address - address % self.size
        return self.groups[first // self.size % len(self.groups)], first, address - first

    def read(self, address: int) -> int:
        group, first, word = self.place(address)
        if first in group:
            group[first] = group.pop(first)
            self.looks.append(("hit", 1))
        else:
            if len(group) == self.ways:
                del group[next(iter(group))]
            group[first] = self.words[first : first + self.size]
            self.looks.append(("miss", 1 + self.ticks))
        return group[first][word]

    def write(self, address: int, word: int) -> None:
        super().write(address, word)
        group, first, at = self.place(address)
        if first in group:
            group[first] = group.pop(first)
            group[first][at] = word


SIGN = 1 << 15
MASK = (1 << 16) - 1


def signed(word: int) -> int:
    return word - 2 * SIGN if word & SIGN else word


def compared(left: int, right: int) -> str:
    return "LESS" if left < right else "MORE" if left > right else "EQUAL"


def carry_out(memory: Memory, inputs: list[int], most: int) -> tuple[list[Carried], list[int]]:
    """The first ``most`` instructions of a program of the 16-bit machine with an index register
    and a stack, and what it sends out. It ends where the machine would."""
    acc = pc = index = 0
    pointer = WORDS
    status = ""
    coming, sent, done = deque(inputs), [], []
    while len(done) < most and pc < WORDS:
        word = memory.read(pc)
        here = Carried(pc, WRITTEN.get(word >> 8, ""))
        pc += 1
        name, *rest = here.written.split() or [""]
        operand = word & 255
        reads, by, leaves = set(), set(), set()

        def look(address: int, trips: list[tuple[str, int]] = here.trips) -> int:
            trips.append(("read", address))
            return memory.read(address)

        def put(address: int, value: int, trips: list[tuple[str, int]] = here.trips) -> None:
            trips.append(("write", address))
            memory.write(address, value)

        if not here.written or (name == "INPUT" and not coming):
            break
        # Where the value is: its address, or the operand itself.
        address = operand
        if rest[-1:] == ["INDIRECT"]:
            address = look(operand)
        elif rest[-1:] == ["INDEXED"]:
            address = operand + signed(index)
            by |= {"X"}
        elif rest[-1:] == ["STACK"]:
            if pointer == WORDS:
                break
            address = operand + pointer
            by |= {"SP"}
        if not 0 <= address < WORDS:
            break
        is_number = "#n" in rest and rest[-1] != "STACK"
        if name in ("ADD", "SUBTRACT", "COMPARE", "LOAD"):
            value = operand if is_number else signed(look(address))
            target = "X" if "INDEX" in rest else "ACC"
            held = signed(index if target == "X" else acc)
            if name == "LOAD":
                result = value
            else:
                result = held + {"ADD": value, "SUBTRACT": -value, "COMPARE": 0}[name]
                reads |= {target}
            if name == "COMPARE":
                status, leaves = compared(held, value), {"status"}
            else:
                leaves |= {target}
                if target == "X":
                    index = result & MASK
                else:
                    acc = result & MASK
                if name != "LOAD":
                    status = compared(signed(result & MASK), 0)
                    leaves |= {"status"}
        elif name == "STORE":
            reads |= {"X" if "INDEX" in rest else "ACC"}
            put(address, index if "INDEX" in rest else acc)
        elif name == "JUMP":
            asked = rest[2] if "IF" in rest else ""
            reads |= {"status"} if asked else set()
            if not asked or asked == status:
                pc, here.jumped = address, True
        elif name == "INPUT":
            acc, leaves = coming.popleft(), {"ACC"}
        elif name == "OUTPUT":
            sent.append(acc)
            reads |= {"ACC"}
        elif name in ("CALL", "PUSH"):
            if pointer - 1 < memory.program:
                break
            pointer -= 1
            put(pointer, pc if name == "CALL" else acc)
            by, leaves = {"SP"}, {"SP"}
            if name == "PUSH":
                reads |= {"ACC"}
            else:
                pc, here.jumped = operand, True
        elif name in ("RETURN", "POP"):
            if pointer == WORDS:
                break
            by, leaves = {"SP"}, {"SP"}
            top = look(pointer)
            pointer += 1
            if name == "POP":
                acc, leaves = top, {"SP", "ACC"}
            else:
                if top >= WORDS:
                    break
                pc, here.jumped = top, True
        elif name != "HALT":
            break
        here.for_address, here.for_work = frozenset(by), frozenset(reads)
        here.leaves = frozenset(leaves)
        done.append(here)
        if name == "HALT":
            break
    return done, sent


@dataclass
class _Latch:
    """An instruction in a stage: which it is (``None`` behind a jump), how long it still works."""

    number: int | None
    left: int
    vain: int | None = None


def pipeline(
    done: list[Carried], stages: int, memories: int, has: dict[int, int] | None = None
) -> tuple[list[list[int]], int]:
    """For each instruction the tick in which it starts in each stage (from 1); and how many words
    behind jumps were fetched in vain. In ``has`` is written down, for each tick in which memory is
    read or written beside the fetches, which instruction has it (from 0)."""
    has = {} if has is None else has
    three = stages == 3
    decides = 2 if three else 3
    starts: list[list[int]] = [[] for _ in done]
    stations: list[_Latch | None] = [None] * stages
    # When each thing that is written by an instruction is there: the tick after its last.
    pending: dict[int, set[str]] = {}
    coming, in_vain, behind_jump, tick, finished = 0, 0, False, 0, 0

    def length(number: int | None, stage: int) -> int:
        if number is None:
            return 1
        trips = done[number].trips
        if three:
            return max(len(trips), 1) if stage == 2 else 1
        return max(sum(kind == "read" for kind, _ in trips), 1) if stage == 2 else 1

    def uses(number: int | None, stage: int) -> int:
        """How many ticks of a stage an instruction has (data) memory for."""
        if number is None or stage < 2:
            return 0
        kinds = [kind for kind, _ in done[number].trips]
        if three:
            return len(kinds)
        return {2: kinds.count("read"), 4: kinds.count("write")}.get(stage, 0)

    def asks_for(number: int | None, stage: int) -> set[str]:
        if number is None:
            return set()
        here = done[number]
        if stage == 0:
            return {f"word {here.address}"}
        if three:
            return set()
        if stage == 2:
            words = {f"word {at}" for kind, at in here.trips if kind == "read"}
            return set(here.for_address) | words
        return set(here.for_work) if stage == 3 else set()

    # The last tick of an instruction's work in a stage, once it is over.
    ends: dict[tuple[int | None, int], int] = {}

    while finished < len(done):
        tick += 1
        assert tick < 20 * len(done) + 20, "the pipeline stands still"
        data_busy = False
        for stage in range(stages - 1, -1, -1):
            latch = stations[stage]
            if latch is None:
                continue
            if latch.left > 0:
                # It works on; what is left of its trips needs memory.
                worked = length(latch.number, stage) - latch.left
                trip = worked < uses(latch.number, stage)
                if not (trip and data_busy):
                    data_busy |= trip
                    if trip and latch.number is not None:
                        has[tick] = latch.number
                    latch.left -= 1
                    if not latch.left:
                        ends[latch.number, stage] = tick
                continue
            # Ready to move. What is not yet written belongs to one that is older.
            if stage == stages - 1:
                stations[stage] = None
                assert latch.number is not None
                finished += 1
                pending.pop(latch.number, None)
                continue
            to = stage + 1
            if latch.number is None and to > decides:
                continue
            waits = stations[to] is not None or any(
                asks_for(latch.number, to) & there
                for other, there in pending.items()
                if latch.number is not None and other < latch.number
            )
            needed = uses(latch.number, to) > 0
            if waits or (data_busy and needed):
                continue
            stations[stage], stations[to] = None, latch
            latch.left = length(latch.number, to) - 1
            data_busy |= needed
            if needed and latch.number is not None:
                has[tick] = latch.number
            if not latch.left:
                ends[latch.number, to] = tick
            if latch.number is not None:
                starts[latch.number].append(tick)
        # A jump that has been executed: what stands behind it goes, and this tick fetches anew.
        for stage in range(decides + 1):
            latch = stations[stage]
            behind = latch is not None and latch.vain is not None
            if behind and tick > ends.get((latch.vain, decides), tick):
                stations[stage] = None
        if behind_jump:
            behind_jump = tick <= ends.get((coming - 1, decides), tick)
        if stations[0] is None and (behind_jump or coming < len(done)):
            number = None if behind_jump else coming
            late = any(asks_for(number, 0) & there for there in pending.values())
            if not late and not (memories == 1 and data_busy):
                if number is None:
                    stations[0] = _Latch(None, 0, coming - 1)
                    in_vain += 1
                else:
                    stations[0] = _Latch(number, 0)
                    starts[number].append(tick)
                    here = done[number]
                    words = {f"word {at}" for kind, at in here.trips if kind == "write"}
                    pending[number] = set(here.leaves) | words
                    behind_jump = here.jumped and number + 1 < len(done)
                    coming += 1
    assert all(one[0] < other[0] for one, other in pairwise(starts))
    return starts, in_vain
