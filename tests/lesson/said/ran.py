"""What a run does, as the hardware description tells it: nothing here is the app's engine.

Only the words of a program, its labels and where a place in the run begins and ends come from the
app; each has tests of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

from app.machine.source.assembler import Program
from tests.codes import CODES, EXECUTE_STEPS, GROWN_BY, HALF_BITS, part_rows, rows
from tests.hardware.rtl import Asked, Snapshot, at_the_start, signed, simulate

MOST_STEPS = 40_000
JUMPS = {code for written, code in CODES.items() if written.startswith("JUMP")}
FETCH_STEPS, DECODE_STEPS, SERVING_STEPS = 4, 1, 6
SERVES = ("SP", "MAR", "MDR", "memory", "interrupts", "PC")
FETCHED = ("MAR", "MDR", "CIR", "PC")
EFFECTS = {
    code: effect for found in (rows(), *map(part_rows, GROWN_BY)) for code, _, effect in found
}

_simulate = lru_cache(maxsize=64)(simulate)


@dataclass(frozen=True)
class Done:
    """One instruction carried out: its code, its steps (from 1, both included), and what was and
    what is."""

    address: int
    code: int
    operand: int
    first: int
    last: int
    was: Snapshot
    now: Snapshot


@dataclass
class Ran:
    """A program and its run with some inputs (signed numbers)."""

    program: Program
    inputs: Sequence[int]
    requests: tuple[Asked, ...] = ()
    start: Snapshot = field(init=False)

    def __post_init__(self) -> None:
        machine = self.program.machine
        words = self.program.words
        memory = (*words, *[0] * (machine.memory_words - len(words)))
        self.parts = frozenset(machine.parts)
        self.start = at_the_start(memory, self.parts)
        self.name, self.bits = machine.name, machine.word_bits
        self.half = HALF_BITS[machine.name]

    @cached_property
    def snapshots(self) -> list[Snapshot]:
        given = tuple(each & ((1 << self.bits) - 1) for each in self.inputs)
        words = self.program.words
        requests = self.requests
        return _simulate(self.name, words, given, MOST_STEPS, False, self.parts, requests)

    def after(self, step: int) -> Snapshot:
        return self.snapshots[step - 1] if step else self.start

    @property
    def halts(self) -> bool:
        return self.snapshots[-1].ended == "halted"

    @cached_property
    def done(self) -> list[Done]:
        found = []
        first = 1
        while first + FETCH_STEPS <= len(self.snapshots):
            was = self.after(first - 1)
            code, operand = divmod(self.after(first + FETCH_STEPS - 1).cir, 1 << self.half)
            last = first + FETCH_STEPS + DECODE_STEPS + EXECUTE_STEPS.get(code, 1) - 1
            if last > len(self.snapshots):
                break
            found.append(Done(was.pc, code, operand, first, last, was, self.after(last)))
            first = last + 1
            if first + SERVING_STEPS <= len(self.snapshots) and self._serves(first):
                first += SERVING_STEPS
        return found

    def _serves(self, step: int) -> bool:
        """Whether a request is served from a step on: then the stack pointer moves, where a fetch
        would only copy the program counter."""
        return self.after(step).sp != self.after(step - 1).sp

    @cached_property
    def served(self) -> list[Done]:
        """The instructions after which a request is served."""
        ends = [each for each in self.done if each.last < len(self.snapshots)]
        return [each for each in ends if self._serves(each.last + 1)]

    def without(self) -> Ran:
        """The same without its requests."""
        return replace(self, requests=())

    def written(self, first: int, last: int) -> set[str]:
        """What some steps write, by the published table: ``ACC``, ``memory``, ``status`` ..."""
        found: set[str] = set()
        for each in self.done:
            effects = EFFECTS[each.code].split(";")
            for step in range(max(first, each.first), min(last, each.last) + 1):
                at = step - each.first
                if at < FETCH_STEPS:
                    found.add(FETCHED[at])
                elif at >= FETCH_STEPS + DECODE_STEPS:
                    target = effects[at - FETCH_STEPS - DECODE_STEPS].partition("<-")[0]
                    found |= {one.strip().removesuffix("[MAR]") for one in target.split(",")}
        for each in self.served:
            at = each.last + 1
            found |= {to for n, to in enumerate(SERVES, start=at) if first <= n <= last}
        return found

    # What lessons speak of.

    @property
    def steps(self) -> int:
        return len(self.snapshots)

    @property
    def count(self) -> int:
        """How many instructions are carried out."""
        return len(self.done)

    def ticks(self, number: int) -> int:
        """The steps of the instruction that is carried out as that one."""
        each = self.done[number - 1]
        return each.last - each.first + 1

    @property
    def outs(self) -> tuple[int, ...]:
        return self.snapshots[-1].outputs

    @property
    def out(self) -> int:
        return self.outs[-1]

    def acc_after(self, number: int) -> int:
        return signed(self.done[number - 1].now.acc, self.bits)

    def addr(self, label: str) -> int:
        at = self.program.address_of(label)
        assert at is not None, label
        return at

    def image(self, label: str) -> int:
        return signed(self.program.words[self.addr(label)], self.bits)

    def values(self, label: str) -> list[int]:
        """What a word of memory becomes, one after another, from its start."""
        at = self.addr(label)
        found = [self.start.memory[at]]
        for each in self.done:
            if each.now.memory[at] != found[-1]:
                found.append(each.now.memory[at])
        return [signed(each, self.bits) for each in found]

    @property
    def size(self) -> int:
        return len(self.program.words)

    @property
    def lines(self) -> int:
        """How many words are written as instructions."""
        return sum(not each.is_data for each in self.program.origins)

    def word_of(self, address: int) -> str:
        return f"{self.program.words[address]:0{self.bits}b}"

    def operand_of(self, address: int) -> int:
        return self.program.words[address] & ((1 << self.half) - 1)

    def met(self, codes: set[int]) -> list[Done]:
        return [each for each in self.done if each.code in codes]

    @property
    def jumps(self) -> list[int]:
        """The addresses of the jumps in the program."""
        return [
            at
            for at, each in enumerate(self.program.origins)
            if not each.is_data and self.program.words[at] >> self.half in JUMPS
        ]
