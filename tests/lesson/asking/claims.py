"""Reads what a reason claims and holds it to the hardware description.

Every sentence that explains a wrong answer is matched with one of the patterns below, which were
written from the sentences as a teacher reads them, and each fact in it (a number, a register, what
was there before, what would have come out) is looked up in the snapshots of
:mod:`tests.hardware.rtl`. Nothing here knows how the sentence was made.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

from tests.codes import (
    ALL_CODES,
    CODES,
    EXECUTE_STEPS,
    GROWN_BY,
    HALF_BITS,
    part_rows,
    rows,
)
from tests.hardware.rtl import Snapshot, signed

MINUS = "\N{MINUS SIGN}"
WRITTEN = {number: written for written, number in ALL_CODES.items()}
# Steps of an instruction: four of fetch, one of decode, and the transfers of the published table.
STEPS = {number: 5 + steps for number, steps in EXECUTE_STEPS.items()}
COMPARES = {-1: "is less than", 0: "is equal to", 1: "is more than"}
STATUS = {-1: "LESS", 0: "EQUAL", 1: "MORE"}


class FalseClaim(AssertionError):
    """A sentence says what is not so, or what nothing here can read."""


def show(value: int) -> str:
    return f"{MINUS}{-value}" if value < 0 else str(value)


def read(text: str) -> int:
    if text.startswith("'"):
        return ord(text[1])
    return int(text.replace(MINUS, "-"))


@dataclass(frozen=True)
class Span:
    """Steps in a row of a run, with the instruction that the last one belongs to."""

    machine: str
    snapshots: Sequence[Snapshot]  # [0] is the machine before the first step
    inputs: Sequence[int]  # signed
    first: int
    last: int
    begin: int  # the step before the instruction
    end: int  # its last step
    words: int  # of the program
    moved: int = 4  # the step of a fetch that moves the counter on

    @property
    def bits(self) -> int:
        return 2 * HALF_BITS[self.machine]

    @property
    def before(self) -> Snapshot:
        return self.snapshots[self.first - 1]

    @property
    def after(self) -> Snapshot:
        return self.snapshots[self.last]

    @property
    def start(self) -> Snapshot:
        return self.snapshots[self.begin]

    @property
    def finish(self) -> Snapshot:
        return self.snapshots[self.end]

    @property
    def address(self) -> int:
        """Where the instruction stands."""
        return self.start.pc

    @property
    def word(self) -> int:
        return self.start.memory[self.address]

    @property
    def code(self) -> int:
        return self.word >> HALF_BITS[self.machine]

    @property
    def operand(self) -> int:
        return self.word % (1 << HALF_BITS[self.machine])

    @property
    def written(self) -> str:
        return WRITTEN.get(self.code, "this word")

    @property
    def name(self) -> str:
        return "this word" if self.written == "this word" else self.written.split()[0]

    @property
    def immediate(self) -> bool:
        return "#n" in self.written and not self.written.endswith("STACK")

    @property
    def on_index(self) -> bool:
        """Whether it works on the index register and not on the accumulator."""
        return self.written.endswith(("TO INDEX", "FROM INDEX", "WITH INDEX"))

    @property
    def index(self) -> int:
        return signed(self.start.x, self.bits)

    @property
    def trail(self) -> list[int]:
        """The addresses that the instruction goes to, in turn."""
        sp, operand = self.start.sp, self.operand
        if self.written in ("RETURN", "RETURN FROM INTERRUPT", "POP", "PUSH", "CALL a"):
            return [sp - (self.name in ("PUSH", "CALL"))]
        if self.written.endswith("STACK"):
            return [sp + operand]
        if self.written.endswith("INDEXED"):
            return [operand + self.index]
        if self.written.endswith("INDIRECT"):
            return [operand, self.stored(operand, self.start)]
        return [operand]

    def held(self, at: Snapshot) -> int:
        """What the register holds that the instruction works on."""
        return signed(at.x if self.on_index else at.acc, self.bits)

    @property
    def reached(self) -> list[int]:
        """The addresses that it has gone to by the end of the span."""
        found: list[int] = []
        for each in self.snapshots[self.begin + 6 : self.last + 1]:
            if not found or each.mar != found[-1]:
                found += [each.mar]
        return found

    @property
    def executed(self) -> bool:
        return self.last >= self.end

    def wrap(self, value: int) -> int:
        return signed(value % (1 << self.bits), self.bits)

    def stored(self, address: int, at: Snapshot) -> int:
        return signed(at.memory[address], self.bits)

    def acc(self, at: Snapshot) -> int:
        return signed(at.acc, self.bits)

    @property
    def second(self) -> int:
        """The second number of a sum or a comparison."""
        return self.operand if self.immediate else self.stored(self.trail[-1], self.start)

    def worked(self, left: int, right: int, does: str = "") -> int:
        """What the instruction (or what ``does`` something else) makes of two numbers, however
        large a sum is."""
        does = does or " ".join((self.name, *self.written.split()[2:]))
        bits, mask, count = self.bits, (1 << self.bits) - 1, right & 15
        pattern = f"{left & mask:0{bits}b}"
        match does.split():
            case ["ADD", *_]:
                return left + right
            case ["AND"]:
                return self.wrap(left & right)
            case ["OR"]:
                return self.wrap(left | right)
            case ["XOR"]:
                return self.wrap(left ^ right)
            case ["NOT"]:
                return -left - 1
            # Shifts as texts: bits are taken off one end, and others put on at the other.
            case ["SHIFT", "LEFT"]:
                return self.wrap(int(pattern[count:] + "0" * count, 2))
            case ["SHIFT", "RIGHT"]:
                return self.wrap(int("0" * count + pattern[: bits - count], 2))
            case ["SHIFT", "RIGHT", "SIGNED"]:
                return self.wrap(int(pattern[0] * count + pattern[: bits - count], 2))
            case ["ROTATE", "LEFT"]:
                return self.wrap(int(pattern[count:] + pattern[:count], 2))
            case ["ROTATE", "RIGHT"]:
                return self.wrap(int(pattern[bits - count :] + pattern[: bits - count], 2))
        return left - right

    def holder(self, name: str, at: Snapshot) -> str:
        """What a thing that is named holds, as a text."""
        plain = name.strip().casefold().removeprefix("the ")
        if found := re.fullmatch(r"address (\d+)(?: \(\w+\))?", plain):
            return show(self.stored(int(found[1]), at))
        if plain == "output":
            return show(at.outputs[-1]) if at.outputs else "nothing yet"
        held = {
            "accumulator": at.acc,
            "memory data register": at.mdr,
            "current instruction register": at.cir,
            "index register": at.x,
            "carry": at.carry,
        }
        if plain in held:
            return show(signed(held[plain], self.bits))
        if plain == "status":
            return at.status or "no comparison yet"
        if plain == "interrupt flag":
            return "on" if at.interrupts else "off"
        addresses = {"program counter": at.pc, "memory address register": at.mar}
        more = {"stack pointer": at.sp, "interrupt vector register": at.v}
        return str((addresses | more)[plain])


def outputs(at: Snapshot) -> str:
    texts = [show(each) for each in at.outputs[-8:]]
    return ", ".join(["\N{HORIZONTAL ELLIPSIS}"] * (len(at.outputs) > 8) + texts) or "nothing yet"


Check = Callable[[Span, str, dict[str, str]], bool]
_PATTERNS: list[tuple[re.Pattern[str], Check]] = []


def claim(pattern: str) -> Callable[[Check], Check]:
    def note(check: Check) -> Check:
        _PATTERNS.append((re.compile(pattern), check))
        return check

    return note


def verify(sentence: str, said: str, span: Span) -> str:
    """The pattern that a sentence has, its facts found true of a span in which somebody ``said``
    that. Raises FalseClaim."""
    claimed = _claimed(sentence)
    if claimed is None:
        raise FalseClaim(f"nobody can check {sentence!r}")
    pattern, check, facts = claimed
    if not check(span, said, facts):
        raise FalseClaim(f"{sentence!r} of {said!r} at {span.first} to {span.last}")
    return pattern


# Most sentences are said of many runs.
@lru_cache(maxsize=50_000)
def _claimed(sentence: str) -> tuple[str, Check, dict[str, str]] | None:
    """What a sentence claims: its pattern, who checks it, and the facts that it names."""
    for pattern, check in _PATTERNS:
        if found := pattern.fullmatch(sentence):
            return pattern.pattern, check, found.groupdict()
    return None


# A number, or the character of ISO/IEC 646 that it names, where a lesson shows words so.
N = rf"(?:{MINUS}?\d+|'[ -~]')"
HOLDER = r"(?P<holder>[Tt]he [a-z ]+|[Aa]ddress \d+(?: \(\w+\))?)"
NAME = r"(?P<name>[A-Z]+|[Tt]his word)"
IS = "is less than|is equal to|is more than"


def named(span: Span, name: str) -> bool:
    return name.casefold() == span.name.casefold()


# Before and after.


@claim(rf"{HOLDER} held (?P<value>{N}|[A-Z]+) before; the question is what it holds afterwards\.")
def _before(span: Span, said: str, it: dict[str, str]) -> bool:
    held = span.holder(it["holder"], span.before)
    return it["value"] == said == held != span.holder(it["holder"], span.after)


@claim(rf"That comes later: {HOLDER} becomes (?P<value>{N}) when {NAME} is executed\.")
def _later(span: Span, said: str, it: dict[str, str]) -> bool:
    becomes = span.holder(it["holder"], span.finish)
    return not span.executed and it["value"] == said == becomes and named(span, it["name"])


@claim(rf"That comes later: {HOLDER} becomes (?P<value>{N}) in the next instruction, {NAME}\.")
def _one_too_far(span: Span, said: str, it: dict[str, str]) -> bool:
    word = span.finish.memory[span.finish.pc]
    code = word >> HALF_BITS[span.machine]
    following = span.snapshots[span.end + STEPS[code]]
    becomes = span.holder(it["holder"], following)
    named_so = WRITTEN[code].split()[0] == it["name"]
    return span.executed and it["value"] == said == becomes and named_so


# Addresses and what is stored there.


@claim(rf"(?P<at>\d+) is the address\. What counts is what is stored there, (?P<contents>{N})\.")
def _address(span: Span, said: str, it: dict[str, str]) -> bool:
    at = int(it["at"])
    writes = span.name == "STORE"
    return (
        said == it["at"]
        and span.after.mar == at
        and (span.trail[0] == at if span.reached == [at] else span.trail == span.reached)
        and read(it["contents"]) == span.stored(at, span.after if writes else span.start)
    )


@claim(r"(?P<at>\d+) is the address itself, not what is stored there\.")
def _address_itself(span: Span, said: str, it: dict[str, str]) -> bool:
    writes = span.name in ("STORE", "PUSH", "CALL")
    return said == it["at"] and span.trail[-1] == int(it["at"]) and writes


@claim(rf"That is the address itself\. What is stored at address (?P<at>\d+) is (?P<value>{N})\.")
def _address_of_word(span: Span, said: str, it: dict[str, str]) -> bool:
    held = [span.holder(f"address {it['at']}", each) for each in (span.before, span.after)]
    return said == it["at"] and held == [it["value"]] * 2


@claim(rf"(?P<at>\d+) is the address that {NAME} works with; {HOLDER} does not hold it\.")
def _address_not_held(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        said == it["at"] == str(span.operand)
        and named(span, it["name"])
        and not span.immediate
        and span.holder(it["holder"], span.after) != it["at"]
    )


@claim(
    rf"This works with the address, (?P<at>\d+)\. {NAME} works with the number that is stored"
    rf" there, (?P<contents>{N})\."
)
def _worked_with_address(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        [int(it["at"])] == span.trail
        and named(span, it["name"])
        and not span.immediate
        and read(it["contents"]) == span.second
        and read(said) == span.wrap(span.worked(span.held(span.start), span.trail[-1]))
    )


@claim(
    r"After #, (?P<n>\d+) is the number itself\. It is not an address, so what is stored at"
    r" address (?P<at>\d+) does not count\."
)
def _not_an_address(span: Span, said: str, it: dict[str, str]) -> bool:
    stored = span.stored(span.operand, span.start)
    held = span.held(span.start)
    came = stored if span.name == "LOAD" else span.wrap(span.worked(held, stored))
    return it["n"] == it["at"] == str(span.operand) and span.immediate and read(said) == came


@claim(
    rf"What is stored at address (?P<at>\d+) is (?P<contents>{N})\. The memory address register"
    r" takes the address itself\."
)
def _contents_for_address(span: Span, said: str, it: dict[str, str]) -> bool:
    at = int(it["at"])
    return said == it["contents"] == show(span.stored(at, span.after)) and span.after.mar == at


@claim(
    rf"What is stored at address (?P<at>\d+) is (?P<contents>{N})\. A jump goes to the address"
    r" itself\."
)
def _jump_to_contents(span: Span, said: str, it: dict[str, str]) -> bool:
    at = int(it["at"])
    stored = show(span.stored(at, span.start))
    goes = span.name == "JUMP" and span.finish.pc == span.operand == at
    return goes and said == it["contents"] == stored


# Copying.


@claim(rf"{NAME} makes a copy: {HOLDER} keeps its (?P<value>{N})\.")
def _copy_empties(span: Span, said: str, it: dict[str, str]) -> bool:
    kept = {span.holder(it["holder"], each) for each in (span.before, span.after)}
    # Where each copies from; on the way the number rests in the memory data register.
    source = "the index register" if span.on_index else "the accumulator"
    copies = {
        "STORE": (source, "the memory data register"),
        "OUTPUT": ("the accumulator",),
        "PUSH": ("the accumulator", "the memory data register"),
        "POP": ("the memory data register",),
        "CALL": ("the memory data register",),
        "RETURN": ("the memory data register",),
        "JUMP": ("the memory data register",),
        "LOAD": (f"address {span.operand}", "the memory data register"),
    }
    if span.written.endswith("INDIRECT"):
        # The address that it finds on its way is copied from there too.
        copies |= dict.fromkeys(("ADD", "SUBTRACT", "COMPARE"), ("the memory data register",))
    return (
        said == "0"
        and named(span, it["name"])
        and it["holder"].casefold().startswith(copies[span.name])
        and kept == {it["value"]}
    )


@claim(rf"{NAME} replaces what {HOLDER} held, (?P<value>{N}); it does not add to it\.")
def _copy_adds(span: Span, said: str, it: dict[str, str]) -> bool:
    before, after = read(it["value"]), read(span.holder(it["holder"], span.after))
    register = "register" in it["holder"] or it["holder"] == "the accumulator"
    return (
        span.name in (("LOAD", "INPUT", "POP") if register else ("STORE", "PUSH", "CALL"))
        and named(span, it["name"])
        and it["value"] == span.holder(it["holder"], span.start)
        and read(said) == span.wrap(before + after)
    )


@claim(rf"{NAME} copies from the accumulator to memory, not the other way round\.")
def _store_direction(span: Span, said: str, it: dict[str, str]) -> bool:
    there = show(span.stored(span.operand, span.start))
    return named(span, it["name"]) and span.name == "STORE" and said == there


@claim(rf"{NAME} copies from memory to the accumulator, not the other way round\.")
def _load_direction(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        named(span, it["name"])
        and span.name == "LOAD"
        and not span.immediate
        and said == show(span.acc(span.start))
    )


@claim(rf"The accumulator holds (?P<value>{N}), and it has not been stored at {HOLDER}\.")
def _not_stored(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        said == it["value"] == show(span.acc(span.after)) != span.holder(it["holder"], span.after)
    )


@claim(rf"The input (?P<value>{N}) comes after this one; the inputs come in their order\.")
def _next_input(span: Span, said: str, it: dict[str, str]) -> bool:
    taken = sum(
        each.memory[each.pc] >> HALF_BITS[span.machine] == CODES["INPUT"]
        for each in boundaries(span.snapshots, span.machine)
        if span.snapshots.index(each) <= span.begin
    )
    return said == it["value"] == show(span.inputs[taken])


def starts(snapshots: Sequence[Snapshot], machine: str) -> list[int]:
    """The step before each instruction."""
    found, at = [], 0
    while at < len(snapshots) and snapshots[at].pc < len(snapshots[at].memory):
        found.append(at)
        code = snapshots[at].memory[snapshots[at].pc] >> HALF_BITS[machine]
        if code not in STEPS:
            break
        at += STEPS[code]
        # Where a request is served, the stack pointer moves in place of a fetch.
        if at + 1 < len(snapshots) and snapshots[at + 1].sp != snapshots[at].sp:
            at += SERVING_STEPS
    return found


# The page, 'Serving a request'.
SERVING_STEPS = 6


def boundaries(snapshots: Sequence[Snapshot], machine: str) -> list[Snapshot]:
    """The machine before each instruction."""
    return [snapshots[each] for each in starts(snapshots, machine)]


# Sums.


# What an instruction does, and what the one does that it is mistaken for.
SAYS = {
    "ADD": ("adds", "SUBTRACT", "took away"),
    "SUBTRACT": ("takes away", "ADD", "added"),
    "AND": (
        "keeps the bits that are 1 in both",
        "OR",
        "made each bit 1 that is 1 in one of the two or in both",
    ),
    "OR": (
        "makes each bit 1 that is 1 in one of the two or in both",
        "AND",
        "kept the bits that are 1 in both",
    ),
    "XOR": (
        "makes each bit 1 that is 1 in just one of the two",
        "OR",
        "made each bit 1 that is 1 in one of the two or in both",
    ),
    "SHIFT LEFT": (
        "shifts to the left",
        "SHIFT RIGHT",
        "shifted to the right and let zeros in",
    ),
    "SHIFT RIGHT": (
        "shifts to the right and lets zeros in",
        "SHIFT LEFT",
        "shifted to the left and let zeros in",
    ),
    "SHIFT RIGHT SIGNED": (
        "shifts to the right and keeps the sign",
        "SHIFT RIGHT",
        "shifted to the right and let zeros in",
    ),
    "ROTATE LEFT": (
        "lets the bits that leave come in again",
        "SHIFT LEFT",
        "shifted to the left and let zeros in",
    ),
    "ROTATE RIGHT": (
        "lets the bits that leave come in again",
        "SHIFT RIGHT",
        "shifted to the right and let zeros in",
    ),
}


@claim(rf"{NAME} (?P<verb>[^;]+); this is what would come out if it (?P<did>.+)\.")
def _operation(span: Span, said: str, it: dict[str, str]) -> bool:
    moved = span.name in ("SHIFT", "ROTATE")
    does = " ".join((span.name, *(span.written.split()[2:] if moved else ())))
    verb, other, did = SAYS[does]
    came = span.worked(span.held(span.start), span.second, other)
    words = (it["verb"], it["did"]) == (verb, did)
    return words and named(span, it["name"]) and read(said) == span.wrap(came)


@claim(
    rf"This takes the two numbers the wrong way round: {NAME} works out (?P<left>{N}) {MINUS}"
    rf" (?P<right>{N})\."
)
def _order(span: Span, said: str, it: dict[str, str]) -> bool:
    left, right = read(it["left"]), read(it["right"])
    return (
        (left, right) == (span.held(span.start), span.second)
        and span.name == "SUBTRACT"
        and named(span, it["name"])
        and read(said) == span.wrap(right - left)
    )


@claim(
    rf"The number (?P<part>{N}) is only the second of the two; the question is what (?P<left>{N})"
    rf" (?P<sign>[+{MINUS}]|AND|OR|XOR) (?P<right>{N}) makes\."
)
def _part(span: Span, said: str, it: dict[str, str]) -> bool:
    signs = {"ADD": "+", "SUBTRACT": MINUS} | {each: each for each in ("AND", "OR", "XOR")}
    return (
        said == it["part"] == it["right"] == show(span.second)
        and read(it["left"]) == span.held(span.start)
        and signs.get(span.name) == it["sign"]
    )


@claim(
    rf"The full result, (?P<whole>{N}), does not fit a word of (?P<bits>\d+) bits, so it wraps"
    rf" round to (?P<value>{N})\."
)
def _wraps(span: Span, said: str, it: dict[str, str]) -> bool:
    whole = span.worked(span.held(span.start), span.second)
    half = 1 << (span.bits - 1)
    return (
        said == it["whole"] == show(whole)
        and not -half <= whole < half
        and int(it["bits"]) == span.bits
        and read(it["value"]) == span.held(span.after) == span.wrap(whole)
    )


@claim(
    rf"{NAME} does not (?P<verb>take|copy) (?P<right>{N}) (?P<way>away from|to) {HOLDER}: it only"
    rf" compares (?P<value>{N}) with (?P<second>{N})\."
)
def _comparing(span: Span, said: str, it: dict[str, str]) -> bool:
    kept = {span.holder(it["holder"], each) for each in (span.start, span.after)}
    second = span.second
    came = span.wrap(span.held(span.start) - second) if it["verb"] == "take" else second
    return (
        span.name == "COMPARE"
        and named(span, it["name"])
        and it["way"] == {"take": "away from", "copy": "to"}[it["verb"]]
        and kept == {it["value"]}
        and it["right"] == it["second"] == show(second)
        and read(it["value"]) == span.held(span.start)
        and read(said) == came
    )


# The program counter and jumps.


@claim(
    rf"(?P<at>\d+) is where {NAME} itself stands\. The program counter moved on from there in the"
    r" fetch\."
)
def _counter_here(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        said == it["at"] == str(span.address)
        and named(span, it["name"])
        and span.snapshots[span.begin + span.moved].pc == span.address + 1
        and span.last >= span.begin + span.moved
    )


@claim(
    rf"(?P<at>\d+) is where {NAME} itself stands\. It puts (?P<to>\d+) into the program counter\."
)
def _jump_here(span: Span, said: str, it: dict[str, str]) -> bool:
    jumps = span.name in ("JUMP", "CALL", "RETURN") and named(span, it["name"])
    to = int(it["to"])
    there = span.stored(span.trail[0], span.start) if span.name == "RETURN" else leads(span)
    if span.written == "RETURN FROM INTERRUPT":
        there = kept_in(span.start.memory[span.trail[0]])[1]
    return jumps and said == it["at"] == str(span.address) and to == there == span.after.pc


@claim(r"The program counter moves on by one, once in each fetch, so it is at (?P<at>\d+)\.")
def _counter_once(span: Span, said: str, it: dict[str, str]) -> bool:
    at = int(it["at"])
    return span.after.pc == at == span.address + 1 and int(said) == at + 1


def leads(span: Span) -> int:
    """Where a jump goes that is taken."""
    if span.written.endswith("INDIRECT"):
        return span.stored(span.operand, span.start)
    return span.operand + (span.index if span.written.endswith("INDEXED") else 0)


@claim(
    r"The jump leads to (?P<at>\d+); the program counter moves on from there in the next fetch\."
)
def _counter_after_jump(span: Span, said: str, it: dict[str, str]) -> bool:
    at = int(it["at"])
    further = re.search(r"\d+", said)  # in an address, or in 'It jumps to address 5.'
    assert further
    jumped = span.name == "JUMP" and span.finish.pc == at == leads(span)
    return jumped and int(further[0]) == at + 1


@claim(
    r"The address is copied before the program counter moves on: it still holds (?P<at>\d+) then\."
)
def _counter_not_yet(span: Span, said: str, it: dict[str, str]) -> bool:
    at = int(it["at"])
    return span.start.pc == span.snapshots[span.begin + 1].mar == at and int(said) == at + 1


@claim(r"The program counter has not moved on yet: it still holds (?P<at>\d+)\.")
def _counter_still(span: Span, said: str, it: dict[str, str]) -> bool:
    at = int(it["at"])
    return span.before.pc == span.after.pc == at == span.address and int(said) == at + 1


@claim(
    rf"(?P<at>\d+) is the address that {NAME} works with, not where the next instruction stands\."
)
def _operand_for_next(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        said == it["at"] == str(span.operand)
        and named(span, it["name"])
        and span.name not in ("JUMP", "CALL")
        and not span.immediate
        and span.after.pc != span.operand
    )


ALWAYS = ("JUMP a", "JUMP a INDIRECT", "JUMP a INDEXED")
NONE_YET = "There has been no comparison yet"
MARKS = "[Tt]he carry is [01]|[Tt]he overflow mark is (?:on|off)"
FOUND = rf"(?P<status>{NONE_YET}|The status is [A-Z]+|{MARKS})"
NEEDS = "(?P<needs>[A-Z]+|a carry of 1|the overflow mark)"
SETS = ("ADD", "SUBTRACT", "COMPARE", "AND", "OR", "XOR", "NOT", "SHIFT", "ROTATE")
# What writes the accumulator, unless it is for the index register.
WRITERS = ("LOAD", "INPUT", "POP", *(each for each in SETS if each != "COMPARE"))
# The status or the mark that a jump finds, and where the status is from.
WHY = (
    rf"(?P<why>(?P<plain>{NONE_YET}|The status is [A-Z]+|{MARKS})"
    r"|(?P<last>[A-Z]+) does not set the status: (?:there has been no comparison yet"
    rf"|it is still (?P<still>[A-Z]+), because (?P<setter>[A-Z]+) (?:made (?P<made>{N})"
    rf"|found that (?P<l>{N}) (?P<found>{IS}) (?P<r>{N})))"
    rf"|(?P<left>{N}|The result, {N},) (?P<is>{IS}) (?P<right>{N}), so the status is"
    r" (?P<fresh>[A-Z]+)"
    r"|The RETURN has brought the status back: (?:the status is (?P<back>[A-Z]+)"
    r"|there is (?P<none>no) status yet))"
)


def found(span: Span, words: str) -> bool:
    status = span.start.status
    if needs(span) == "CARRY":
        return words.casefold() == f"the carry is {span.start.carry}"
    if needs(span) == "OVERFLOW":
        return words.casefold() == f"the overflow mark is {'on' if span.start.overflow else 'off'}"
    said = f"The status is {status}" if status else NONE_YET
    return words.casefold() == said.casefold()


def done_before(span: Span) -> list[Span]:
    """Every instruction before this one, the last one last."""
    ends = [*starts(span.snapshots, span.machine)]
    pairs = [pair for pair in pairwise(ends) if pair[1] <= span.begin]
    return [replace(span, first=b + 1, last=e, begin=b, end=e) for b, e in pairs]


def why_found(span: Span, it: dict[str, str]) -> bool:
    """Whether the words of WHY are so."""
    status, before = span.start.status, done_before(span)
    setters = [each for each in before if each.name in SETS]
    if it["plain"]:
        return found(span, it["plain"]) and (not before or needs(span) in ("CARRY", "OVERFLOW"))
    if it["none"]:
        since = [each.name for each in before if each.name in (*SETS, "RETURN")]
        return since[-1] == "RETURN" and not status
    if it["back"]:
        return before[-1].name == "RETURN" and it["back"] == status
    if it["last"]:
        last = before[-1].name == it["last"] not in SETS
        if not it["still"]:
            return last and not setters and not status
        setter = setters[-1]
        if it["made"]:
            came = setter.name != "COMPARE" and read(it["made"]) == setter.held(setter.after)
        else:
            two = {"left": it["l"], "right": it["r"], "is": it["found"]}
            came = compared(setter, two)
        return last and it["still"] == status and setter.name == it["setter"] and came
    if before[-1].name == "COMPARE":
        two = {"left": it["left"], "right": it["right"], "is": it["is"]}
        return it["fresh"] == status and compared(before[-1], two)
    acc = before[-1].held(before[-1].after)
    way = (acc > 0) - (acc < 0)
    result = (it["left"], it["right"], it["is"]) == (
        f"The result, {show(acc)},",
        "0",
        COMPARES[way],
    )
    return result and before[-1].name in SETS and it["fresh"] == status == STATUS[way]


def needs(span: Span) -> str:
    return span.written.partition(" IF ")[2]


def holds(span: Span) -> bool:
    """Whether what the jump needs is so."""
    marks = {"CARRY": bool(span.start.carry), "OVERFLOW": span.start.overflow}
    return marks.get(needs(span), needs(span) == span.start.status)


def needed(span: Span, words: str) -> bool:
    marks = {"CARRY": "a carry of 1", "OVERFLOW": "the overflow mark"}
    return words == marks.get(needs(span), needs(span))


@claim(rf"{WHY}, and this jump needs {NEEDS}: it goes on to (?P<at>\d+)\.")
def _jump_taken(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        why_found(span, it)
        and needed(span, it["needs"])
        and not holds(span)
        and span.finish.pc == int(it["at"]) == span.address + 1
        and int(said) == span.operand
    )


@claim(
    rf"{WHY}, and that is what this jump needs: it goes on at (?P<at>\d+), not at (?P<next>\d+)\."
)
def _jump_not_taken(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        why_found(span, it)
        and holds(span)
        and said == it["next"] == str(span.address + 1)
        and span.finish.pc == int(it["at"]) == span.operand
    )


@claim(
    r"(?P<next>\d+) is next in line, but a JUMP without an IF always jumps: it goes on at"
    r" (?P<at>\d+)\."
)
def _jump_always(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        span.written in ALWAYS
        and said == it["next"] == str(span.address + 1)
        and span.finish.pc == int(it["at"]) == leads(span)
    )


@claim(rf"{WHY}, and that is what this jump needs\.")
def _it_jumps(span: Span, said: str, it: dict[str, str]) -> bool:
    went = span.finish.pc == span.operand and holds(span)
    return why_found(span, it) and went and said.startswith("It does not jump")


@claim(rf"{WHY}, and this jump needs {NEEDS}\.")
def _it_does_not_jump(span: Span, said: str, it: dict[str, str]) -> bool:
    stayed = span.finish.pc == span.address + 1
    return (
        why_found(span, it)
        and needed(span, it["needs"])
        and not holds(span)
        and stayed
        and said.startswith("It jumps")
    )


@claim(r"A JUMP without an IF always jumps\.")
def _it_always_jumps(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.written in ALWAYS and said.startswith("It does not jump")


@claim(r"A jump does not stop the machine: it goes on at address (?P<at>\d+)(?: \(\w+\))?\.")
def _nothing_stops(span: Span, said: str, it: dict[str, str]) -> bool:
    goes_on = span.finish.pc == int(it["at"])
    return span.name == "JUMP" and said == "The machine stops here." and goes_on


@claim(
    r"Not yet: first the machine goes on at address (?P<at>\d+)(?: \(\w+\))?\. The"
    r" (?P<stops>[A-Z]+) there stops it\."
)
def _not_yet_stopped(span: Span, said: str, it: dict[str, str]) -> bool:
    at = span.finish.pc
    halts = span.finish.memory[at] >> HALF_BITS[span.machine] == CODES["HALT"]
    goes_on = span.name == "JUMP" and int(it["at"]) == at and halts and it["stops"] == "HALT"
    return goes_on and said == "The machine stops here."


@claim(r"A jump goes one way each time\. Here it goes on at address (?P<at>\d+)(?: \(\w+\))?\.")
def _one_way(span: Span, said: str, it: dict[str, str]) -> bool:
    conditional = span.name == "JUMP" and bool(needs(span))
    return conditional and said.startswith("It goes both ways") and span.finish.pc == int(it["at"])


@claim(rf"{WHY}\. That is what this jump needs, so it jumps to address (?P<at>\d+)(?: \(\w+\))?\.")
def _why_it_jumps(span: Span, said: str, it: dict[str, str]) -> bool:
    went = span.finish.pc == int(it["at"]) == span.operand
    return why_found(span, it) and went and holds(span)


@claim(
    rf"{WHY}\. This jump needs {NEEDS}, so it goes on to address (?P<at>\d+)"
    r"(?: \(\w+\))?\."
)
def _why_no_jump(span: Span, said: str, it: dict[str, str]) -> bool:
    stayed = span.finish.pc == int(it["at"]) == span.address + 1
    return why_found(span, it) and stayed and needed(span, it["needs"]) and not holds(span)


@claim(r"A jump goes to the address in its operand, and that is (?P<at>\d+)\.")
def _not_to_the_start(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        span.name == "JUMP"
        and said.startswith("It jumps to address 0")
        and span.finish.pc == span.operand == int(it["at"])
    )


# The status.

# What makes a result, and sets the status by it.
MAKES = ("ADD", "SUBTRACT", "AND", "OR", "XOR", "NOT", "SHIFT", "ROTATE")


REGISTER = "The (?P<register>accumulator|index register)"


@claim(rf"{REGISTER} comes first: (?P<left>{N}) (?P<is>{IS}) (?P<right>{N})\.")
def _wrong_way_round(span: Span, said: str, it: dict[str, str]) -> bool:
    return compared(span, it) and {said, span.after.status} == {"LESS", "MORE"}


@claim(
    rf"{REGISTER}, (?P<left>{N}), (?P<is>{IS}) (?P<right>{N}): EQUAL is only for two that are"
    r" the same\."
)
def _not_equal(span: Span, said: str, it: dict[str, str]) -> bool:
    return compared(span, it) and said == "EQUAL" and it["left"] != it["right"]


@claim(rf"The two are the same, (?P<left>{N}), so the status is EQUAL\.")
def _are_equal(span: Span, said: str, it: dict[str, str]) -> bool:
    it = it | {"right": it["left"], "is": "is equal to"}
    return compared(span, it) and span.after.status == "EQUAL"


def compared(span: Span, it: dict[str, str]) -> bool:
    left, right = span.held(span.start), span.second
    way = (left > right) - (left < right)
    register = "index register" if span.on_index else "accumulator"
    return (
        span.name == "COMPARE"
        and it.get("register", register) == register
        and (read(it["left"]), read(it["right"])) == (left, right)
        and it["is"] == COMPARES[way]
        and span.after.status == STATUS[way]
    )


@claim(rf"{NAME} compares its result with 0, and (?P<value>{N}) (?P<is>{IS}) 0\.")
def _status_of_result(span: Span, said: str, it: dict[str, str]) -> bool:
    acc = span.held(span.after)
    way = (acc > 0) - (acc < 0)
    return (
        span.name in MAKES
        and named(span, it["name"])
        and read(it["value"]) == acc
        and it["is"] == COMPARES[way]
        and span.after.status == STATUS[way]
    )


@claim(rf"{NAME} does not set the status: it stays (?P<status>[A-Z]+)\.")
def _status_stays(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        span.name not in (*MAKES, "COMPARE")
        and named(span, it["name"])
        and span.start.status == span.after.status == it["status"]
    )


@claim(rf"{NAME} sets the status: it becomes (?P<status>[A-Z]+)\.")
def _status_set(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        span.name in (*MAKES, "COMPARE")
        and said == "no comparison yet"
        and span.after.status == it["status"] != span.before.status == ""
    )


@claim(r"The status changes only when an instruction is executed\.")
def _status_later(span: Span, said: str, it: dict[str, str]) -> bool:
    return not span.executed and span.before.status == span.after.status


@claim(r"Nothing has been compared yet, so there is no status\.")
def _no_status_yet(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.after.status == ""


# Outputs.


@claim(rf"This leaves out (?P<value>{N}), which OUTPUT sends\.")
def _left_out(span: Span, said: str, it: dict[str, str]) -> bool:
    sent = span.after.outputs
    return span.name == "OUTPUT" and said == outputs(span.before) and it["value"] == show(sent[-1])


@claim(r"What was sent before stays: (?P<earlier>.+)\.")
def _sent_stays(span: Span, said: str, it: dict[str, str]) -> bool:
    sent = span.after.outputs
    earlier = outputs(span.after._replace(outputs=sent[:-1]))
    return said == show(sent[-1]) and it["earlier"] == earlier


@claim(r"The number that was sent first stands first\.")
def _sent_in_order(span: Span, said: str, it: dict[str, str]) -> bool:
    turned = outputs(span.after._replace(outputs=span.after.outputs[::-1]))
    return said == turned and len(span.after.outputs) > 1


@claim(rf"The accumulator holds (?P<value>{N}), and it is sent only when OUTPUT is executed\.")
def _not_sent(span: Span, said: str, it: dict[str, str]) -> bool:
    acc = span.acc(span.after)
    more = outputs(span.after._replace(outputs=(*span.after.outputs, acc)))
    return (
        said == more
        and it["value"] == show(acc)
        and span.before.outputs == span.after.outputs
        and not (span.name == "OUTPUT" and span.executed and span.first > span.begin + 5)
    )


@claim(rf"The number (?P<before>{N}) was sent before; now (?P<now>{N}) is sent\.")
def _sent_before(span: Span, said: str, it: dict[str, str]) -> bool:
    before, now = span.before.outputs[-1], span.after.outputs[-1]
    return said == it["before"] == show(before) and it["now"] == show(now)


# Which instruction it is. ``said`` is the word of the instruction, as a number.


@claim(
    r"This one stands at address(?P<more>es)? (?P<places>\d+(?: and \d+)*)\. The program counter"
    r" held (?P<here>\d+), so the fetch takes the word there\."
)
def _stands(span: Span, said: str, it: dict[str, str]) -> bool:
    places = [int(each) for each in it["places"].split(" and ")]
    stands = all(span.after.memory[each] == int(said) for each in places)
    many = bool(it["more"]) == (len(places) > 1)
    here = int(it["here"]) == span.address and span.word != int(said)
    return stands and many and here and span.address not in places


@claim(
    r"This one stood at address (?P<at>\d+) at the start\. Another word has been stored"
    r" there since\."
)
def _written_over(span: Span, said: str, it: dict[str, str]) -> bool:
    at = int(it["at"])
    stood = span.snapshots[0].memory[at] == int(said) != span.start.memory[at]
    return stood and at == span.address


@claim(r"This one was in the register before; it has been carried out already\.")
def _fetched_before(span: Span, said: str, it: dict[str, str]) -> bool:
    return int(said) == span.start.cir and span.begin > 0


@claim(
    r"That is the address, (?P<at>\d+), written as a word\. What is fetched is the word that is"
    r" stored there\."
)
def _address_as_word(span: Span, said: str, it: dict[str, str]) -> bool:
    return int(said) == int(it["at"]) == span.address


@claim(
    r"That one stands at address (?P<at>\d+), after it\. The program counter is still at"
    r" (?P<here>\d+); it moves on at the end of the fetch\."
)
def _after_it(span: Span, said: str, it: dict[str, str]) -> bool:
    at, here = int(it["at"]), int(it["here"])
    still = span.before.pc == here
    return at == here + 1 and here == span.address and span.start.memory[at] == int(said) and still


@claim(
    r"That one stands at address (?P<at>\d+), after it\. The address of this one, (?P<here>\d+),"
    r" was copied before the program counter moved on\."
)
def _after_it_copied(span: Span, said: str, it: dict[str, str]) -> bool:
    at, here = int(it["at"]), int(it["here"])
    copied = span.snapshots[span.begin + 1]
    moved = span.snapshots[span.begin + span.moved]
    order = copied.mar == copied.pc == here and moved.pc == at and span.moved < 4
    return at == here + 1 and here == span.address and span.start.memory[at] == int(said) and order


@claim(r"The program has no such instruction\.")
def _no_such(span: Span, said: str, it: dict[str, str]) -> bool:
    return int(said) not in span.after.memory[: span.words]


@claim(
    r"The two halves are mixed up\. The left half, (?P<left>[01 ]+), is the opcode: it says what to"
    r" do\. The right half is the operand\."
)
def _halves(span: Span, said: str, it: dict[str, str]) -> bool:
    half = HALF_BITS[span.machine]
    left, right = divmod(int(said), 1 << half)
    return int(it["left"].replace(" ", ""), 2) == span.code == right and left == span.operand


@claim(
    r"Look the opcode up again: (?P<left>[01 ]+) is (?P<code>\d+), which means (?P<written>[^:]+?)"
    r"(?P<number>: # says that the operand is the number itself)?\."
)
def _opcode(span: Span, said: str, it: dict[str, str]) -> bool:
    taken = WRITTEN[int(said) >> HALF_BITS[span.machine]]
    return (
        int(it["left"].replace(" ", ""), 2) == int(it["code"]) == span.code
        and it["written"] == span.written != taken
        and (not it["number"] or {"#n" in taken, "#n" in span.written} == {True, False})
    )


# Which part changes. ``said`` is the tag of a part.

FETCHES = {4: ("MAR", "MDR", "CIR", "PC"), 2: ("MAR", "PC", "MDR", "CIR")}
EFFECTS = {
    number: effect for found in (rows(), *map(part_rows, GROWN_BY)) for number, _, effect in found
}
TAGS = {
    "the program counter": "PC",
    "the memory address register": "MAR",
    "the memory data register": "MDR",
    "the current instruction register": "CIR",
    "the accumulator": "ACC",
    "the status": "status",
    "a word of main memory": "memory",
    "the output": "output",
    "the index register": "X",
    "the stack pointer": "SP",
    "the carry": "carry",
    "the interrupt vector register": "V",
    "the interrupt flag": "interrupts",
}


def targets(span: Span, step: int) -> set[str]:
    """What the step writes, by the published table."""
    at = step - span.begin - 1
    fetch = FETCHES[span.moved]
    if at < len(fetch):
        return {fetch[at]}
    if at == len(fetch):
        return set()
    effect = EFFECTS[span.code].split(";")[at - len(fetch) - 1]
    left = effect.partition("<-")[0]
    found = {each.strip().removesuffix("[MAR]") for each in left.split(",")}
    # On a machine with a carry every sum and difference sets it (the page, 'Bit operations').
    return found | ({"carry"} if "status" in found and span.name in ("ADD", "SUBTRACT") else set())


def changed_in(span: Span) -> set[str]:
    """What the steps of the span write."""
    return {each for step in range(span.first, span.last + 1) for each in targets(span, step)}


def part(at: Snapshot, tag: str) -> object:
    held = {"memory": at.memory, "output": at.outputs, "status": at.status}
    return held[tag] if tag in held else getattr(at, tag.lower())


PLACE = "(?P<place>[Tt]he [a-z ]+|[Aa] word of main memory)"
TARGET = "(?P<target>the [a-z ]+|a word of main memory)"


@claim(rf"{PLACE} is where the value comes from: it keeps its value\. What changes is {TARGET}\.")
def _source_for_target(span: Span, said: str, it: dict[str, str]) -> bool:
    tag, target = TAGS[it["place"].casefold()], TAGS[it["target"]]
    kept = part(span.snapshots[span.last - 1], tag) == part(span.after, tag)
    return said == tag != target and kept and target in changed_in(span)


@claim(rf"{PLACE} changes too, but in a later step\. First it is {TARGET}\.")
def _later_step(span: Span, said: str, it: dict[str, str]) -> bool:
    tag, target = TAGS[it["place"].casefold()], TAGS[it["target"]]
    later = {each for step in range(span.last + 1, span.end + 1) for each in targets(span, step)}
    return said == tag in later and target in targets(span, span.last)


@claim(rf"{PLACE} has changed already, in an earlier step\. Now it is {TARGET}\.")
def _earlier_step(span: Span, said: str, it: dict[str, str]) -> bool:
    tag, target = TAGS[it["place"].casefold()], TAGS[it["target"]]
    done = {each for step in range(span.begin + 6, span.last) for each in targets(span, step)}
    return said == tag in done and target in targets(span, span.last)


def written_in(span: Span) -> set[str]:
    """What the steps of the span write."""
    return {each for at in range(span.first, span.last + 1) for each in targets(span, at)}


@claim(
    r"The program counter has moved on already, in the fetch\. What changes now is"
    rf" {TARGET}\."
)
def _counted_already(span: Span, said: str, it: dict[str, str]) -> bool:
    held = {each.pc for each in span.snapshots[span.begin + span.moved : span.last + 1]}
    changes = TAGS[it["target"]] in written_in(span)
    return said == "PC" and changes and held == {span.address + 1} and span.last > span.begin + 5


@claim(rf"{NAME} does not set the status\. What changes is {TARGET}\.")
def _status_not_set(span: Span, said: str, it: dict[str, str]) -> bool:
    changes = TAGS[it["target"]] in written_in(span)
    kept = span.start.status == span.finish.status
    return (
        said == "status" and changes and kept and named(span, it["name"]) and span.name not in SETS
    )


# What really happened: the sentences of the run.


@claim(
    r"The address of the next instruction, (?P<at>\d+), is copied to the memory address register\."
)
def _pc_to_mar(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.start.pc == span.snapshots[span.begin + 1].mar == int(it["at"])


@claim(
    rf"Memory is told to read\. What is stored at address (?P<at>\d+), (?P<value>{N}|[01 ]+), comes"
    r" back along the data bus\."
)
def _memory_read(span: Span, said: str, it: dict[str, str]) -> bool:
    at, in_fetch = int(it["at"]), span.last <= span.begin + 4
    word = span.after.memory[at]
    shown = f"{word:0{span.bits}b}" if in_fetch else show(signed(word, span.bits))
    return it["value"].replace(" ", "") == shown and span.after.mdr == word


@claim(r"A fetch takes what it finds as an instruction: .+ current instruction register\.")
def _to_cir(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.after.cir == span.start.memory[span.address]


@claim(
    r"The program counter held (?P<held>\d+), so the word at address (?P<at>\d+) is fetched as an"
    r" instruction: (?P<written>.+)\."
)
def _fetched(span: Span, said: str, it: dict[str, str]) -> bool:
    held = int(it["held"]) == span.snapshots[span.begin + 1].mar == span.start.pc
    return (
        held
        and int(it["at"]) == span.address
        and it["written"].split()[0]
        in (
            span.name,
            show(signed(span.word, span.bits)),
        )
    )


@claim(r"The program counter moves on by one, to (?P<at>\d+), ready for the next fetch\.")
def _counted(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.snapshots[span.begin + span.moved].pc == span.address + 1 == int(it["at"])


@claim(r"The program counter moved on in the fetch: it has held (?P<at>\d+) since then\.")
def _counted_before(span: Span, said: str, it: dict[str, str]) -> bool:
    held = {each.pc for each in span.snapshots[span.begin + span.moved : span.last + 1]}
    return held == {int(it["at"])}


# What each instruction means, in a teacher's words.
MEANS = {
    "HALT": "stop",
    "INPUT": "copy the next input to the accumulator",
    "OUTPUT": "send the accumulator to the output",
    "JUMP a": "go on from address {}",
    "JUMP a IF LESS": "go on from address {} if the status is LESS",
    "JUMP a IF EQUAL": "go on from address {} if the status is EQUAL",
    "JUMP a IF MORE": "go on from address {} if the status is MORE",
    "STORE a": "copy the accumulator to address {}",
    "COMPARE a": "compare the accumulator with what is stored at address {}",
    "COMPARE #n": "compare the accumulator with the number {}",
    "SUBTRACT a": "take what is stored at address {} away from the accumulator",
    "SUBTRACT #n": "take the number {} away from the accumulator",
    "ADD a": "add what is stored at address {} to the accumulator",
    "ADD #n": "add the number {} to the accumulator",
    "LOAD a": "copy what is stored at address {} to the accumulator",
    "LOAD #n": "put the number {} in the accumulator",
    "this word": "no instruction has this opcode",
    "AND a": "keep of the accumulator the bits that are 1 in what is stored at address {} too",
    "AND #n": "keep of the accumulator the bits that are 1 in the number {} too",
    "OR a": "make each bit of the accumulator 1 that is 1 in what is stored at address {}",
    "OR #n": "make each bit of the accumulator 1 that is 1 in the number {}",
    "XOR a": "turn round each bit of the accumulator that is 1 in what is stored at address {}",
    "XOR #n": "turn round each bit of the accumulator that is 1 in the number {}",
    "NOT": "turn every bit of the accumulator round",
    "SHIFT #n LEFT": "shift the accumulator left by {}",
    "SHIFT #n RIGHT": "shift the accumulator right by {}",
    "SHIFT #n RIGHT SIGNED": "shift the accumulator right by {} and keep its sign",
    "ROTATE #n LEFT": "turn the accumulator's bits round to the left by {}",
    "ROTATE #n RIGHT": "turn the accumulator's bits round to the right by {}",
    "JUMP a IF CARRY": "go on from address {} if the carry is 1",
    "JUMP a IF OVERFLOW": "go on from address {} if the result of the last ADD or SUBTRACT was too"
    " large for the word",
    "STORE a FROM INDEX": "copy the index to address {}",
    "COMPARE a WITH INDEX": "compare the index with what is stored at address {}",
    "COMPARE #n WITH INDEX": "compare the index with the number {}",
    "SUBTRACT #n FROM INDEX": "take the number {} away from the index",
    "ADD #n TO INDEX": "add the number {} to the index",
    "LOAD a TO INDEX": "copy what is stored at address {} to the index register",
    "LOAD #n TO INDEX": "put the number {} in the index register",
    "CALL a": "put the address to come back to on the stack, and go on from address {}",
    "RETURN": "take an address off the stack, and go on from there",
    "ENABLE a": "let requests break in from now on, and serve each with the routine at address {}",
    "DISABLE": "let no request break in from now on",
    "RETURN FROM INTERRUPT": "take status and program counter off the stack, and go on where the"
    " request broke in",
    "PUSH": "put a copy of the accumulator on the stack",
    "POP": "take the top of the stack off to the accumulator",
    "STORE #n TO STACK": "copy the accumulator to word {} of the stack (the top is word 0)",
    "LOAD #n FROM STACK": "copy word {} of the stack (the top is word 0) to the accumulator",
}
# An address that is read or worked out stands where the operand's own would.
for _each in ("JUMP a", "STORE a", "COMPARE a", "SUBTRACT a", "ADD a", "LOAD a"):
    MEANS[f"{_each} INDEXED"] = MEANS[_each].replace("address {}", "address {} plus the index")
    MEANS[f"{_each} INDIRECT"] = (
        MEANS[_each]
        .replace("address {}", "the address that is stored at address {}")
        .replace("at the address", "at the address")
    )


TOO_LARGE = re.compile(
    r" if the (?:result of the last ([A-Z]+) or ([A-Z]+)|last result) was too large"
)


def asks_truly(span: Span, means: str) -> bool:
    """Whether what a jump is said to ask of a sum is what it finds: of the instructions that are
    named, or of all that make a result, the last one is worked out in whole numbers."""
    asked = TOO_LARGE.search(means)
    if asked is None:
        return True
    names = asked.groups() if asked[1] else [each for each in SETS if each != "COMPARE"]
    before = done_before(span)
    made = [at for at, each in enumerate(before) if each.name in names]
    if any(each.written == "RETURN FROM INTERRUPT" for each in before[made[-1] if made else 0 :]):
        return True  # the mark of before the routine is back: that is held where it is brought back
    last = before[made[-1]] if made else None
    whole = last.worked(last.held(last.start), last.second) if last else 0
    half = 1 << span.bits - 1
    return span.start.overflow == (not -half <= whole < half)


@claim(
    r"(?:The control unit splits the instruction|Execute): (?P<means>[^;]+?)"
    r"(?:; the status becomes (?P<status>[A-Z]+))?\."
    rf"(?P<over> In full it is (?P<whole>{N}) and does not fit the word: overflow\.)?"
)
def _means(span: Span, said: str, it: dict[str, str]) -> bool:
    status = it["status"] is None or it["status"] == span.after.status
    # The mark stays from the last sum on: it is told of the sum alone.
    summed = span.executed and span.name in ("ADD", "SUBTRACT")
    over = bool(it["over"]) == (summed and span.after.overflow)
    means = it["means"] == MEANS[span.written].format(span.operand)
    return means and asks_truly(span, it["means"]) and status and over


@claim(r"Decode: the control unit works out what the instruction means: (?P<means>.+)\.")
def _decoded(span: Span, said: str, it: dict[str, str]) -> bool:
    return it["means"] == MEANS[span.written].format(span.operand) and asks_truly(span, it["means"])


@claim(
    r"Fetch: the instruction at address (?P<at>\d+) is copied from memory to the current"
    r" instruction register\. The program counter moves on to (?P<next>\d+)\."
)
def _phase_fetch(span: Span, said: str, it: dict[str, str]) -> bool:
    return int(it["at"]) == span.address == int(it["next"]) - 1


@claim(r"The operand is an address: (?P<at>\d+) goes to the memory address register\.")
def _operand_to_mar(span: Span, said: str, it: dict[str, str]) -> bool:
    return int(it["at"]) == span.operand == span.snapshots[span.begin + 6].mar


# Interrupts: how the word is put together that keeps a place is in `machine.md`, 'Interrupts'.
COMPARISON_BITS = {"00": "EQUAL", "01": "LESS", "10": "MORE", "11": "\N{EN DASH}"}


def kept_in(word: int) -> tuple[str, int]:
    """The status and the program counter that a word keeps, by its bits as text."""
    bits = f"{word:016b}"
    return COMPARISON_BITS[bits[6:8]], int(bits[8:], 2)


@claim(
    r"The operand is an address: (?P<at>\d+) goes to the interrupt vector register\. The routine"
    r" that serves a request starts there\."
)
def _operand_to_vector(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.written == "ENABLE a" and int(it["at"]) == span.operand == span.after.v


@claim(
    rf"What is stored at address (?P<at>\d+) is (?P<contents>{N})\. The interrupt vector register"
    r" takes the address itself\."
)
def _routine_itself(span: Span, said: str, it: dict[str, str]) -> bool:
    stored = read(it["contents"]) == span.stored(int(it["at"]), span.start) == read(said)
    return span.written == "ENABLE a" and stored and int(it["at"]) == span.operand == span.after.v


@claim(r"Interrupts were (?P<was>on|off) before; the question is what they are afterwards\.")
def _switched(span: Span, said: str, it: dict[str, str]) -> bool:
    return said == it["was"] == ("off", "on")[span.before.interrupts]


@claim(
    r"(?P<next>\d+) is next in line, but this RETURN goes on at the address that is kept on the"
    r" stack, (?P<at>\d+)\."
)
def _broke_in(span: Span, said: str, it: dict[str, str]) -> bool:
    top = span.start.memory[span.start.sp]
    next_in_line = said == it["next"] == str(span.address + 1)
    goes_on = span.written == "RETURN FROM INTERRUPT" and span.after.pc == int(it["at"])
    return next_in_line and goes_on and kept_in(top)[1] == int(it["at"])


@claim(
    r"(?P<vector>\d+) is what the interrupt vector register holds, where a routine starts\. This"
    r" RETURN goes on at the address that is kept on the stack, (?P<at>\d+)\."
)
def _not_the_vector(span: Span, said: str, it: dict[str, str]) -> bool:
    held = said == it["vector"] == str(span.after.v)
    goes_on = span.written == "RETURN FROM INTERRUPT" and span.after.pc == int(it["at"])
    return held and goes_on and kept_in(span.start.memory[span.start.sp])[1] == int(it["at"])


@claim(
    r"This RETURN takes the (?P<what>status|carry) from the word on the stack, and there it is"
    r" (?P<value>\S+)\."
)
def _brought_back(span: Span, said: str, it: dict[str, str]) -> bool:
    top = span.start.memory[span.start.sp]
    held = kept_in(top)[0] if it["what"] == "status" else f"{top:016b}"[5]
    shown = span.after.status or "\N{EN DASH}" if it["what"] == "status" else str(span.after.carry)
    return span.written == "RETURN FROM INTERRUPT" and it["value"] == held == shown != said


@claim(r"RETURN FROM INTERRUPT has brought it back from the stack: it is (?P<value>.+)\.")
def _is_back(span: Span, said: str, it: dict[str, str]) -> bool:
    top = span.start.memory[span.start.sp]
    status = kept_in(top)[0].replace("\N{EN DASH}", "no comparison yet")
    return span.written == "RETURN FROM INTERRUPT" and it["value"] in (status, f"{top:016b}"[5])


@claim(
    r"Interrupts are switched on: a request that waits is served when an instruction has ended\."
)
def _switched_on(span: Span, said: str, it: dict[str, str]) -> bool:
    on = span.written in ("ENABLE a", "RETURN FROM INTERRUPT")
    return on and span.executed and span.after.interrupts == 1


@claim(r"Interrupts are switched off: a request that comes now has to wait\.")
def _switched_off(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.written == "DISABLE" and span.after.interrupts == 0


@claim(
    r"The word is taken apart: the status becomes (?P<status>\S+?)(?:, the carry (?P<carry>[01]))?"
    r" and the program counter (?P<at>\d+), as they were when the request was served\."
)
def _taken_apart(span: Span, said: str, it: dict[str, str]) -> bool:
    held = it["status"], int(it["at"])
    after = span.after.status or "\N{EN DASH}", span.after.pc
    carries = {it["carry"], f"{span.after.mdr:016b}"[5], str(span.after.carry)} - {None}
    if it["carry"] and len(carries) != 1:
        return False
    return span.written == "RETURN FROM INTERRUPT" and held == kept_in(span.after.mdr) == after


@claim(
    rf"(?:The number|The operand is the number itself:) (?P<value>{N}) (?:is copied|goes) to the"
    r" (?P<to>accumulator|index register)\."
)
def _loaded(span: Span, said: str, it: dict[str, str]) -> bool:
    there = (it["to"] == "index register") == span.on_index and span.name in ("LOAD", "POP")
    return there and read(it["value"]) == span.held(span.after) == span.second


# Where a word that was read goes, and which instructions bring it there.
BRINGS = {
    "accumulator": ("acc", ("LOAD", "POP")),
    "index register": ("x", ("LOAD",)),
    "program counter": ("pc", ("RETURN", "JUMP")),
    "memory address register": ("mar", ("LOAD", "STORE", "ADD", "SUBTRACT", "COMPARE")),
}


@claim(
    rf"(?P<value>{N}) is stored at address (?P<at>\d+)(?: \(\w+\))?, and {NAME} copies it to the"
    rf" (?P<to>{'|'.join(BRINGS)})\."
)
def _copied_here(span: Span, said: str, it: dict[str, str]) -> bool:
    at, value = int(it["at"]), read(it["value"])
    tag, names = BRINGS[it["to"]]
    only_leads = tag == "mar" or span.name == "JUMP"
    return (
        span.name in names
        and named(span, it["name"])
        and span.on_index == (tag == "x")
        and span.written.endswith("INDIRECT") >= only_leads
        and at == span.trail[0 if only_leads else -1]
        and not span.immediate
        and value == span.stored(at, span.start) == span.wrap(getattr(span.after, tag))
    )


@claim(
    rf"(?P<value>{N}) is in the (?P<of>accumulator|index register|program counter), and {NAME}"
    r" copies it to address (?P<at>\d+)(?: \(\w+\))?\."
)
def _copied_there(span: Span, said: str, it: dict[str, str]) -> bool:
    at, value = int(it["at"]), read(it["value"])
    held = {
        "accumulator": span.acc(span.start) if not span.on_index else None,
        "index register": span.index if span.on_index else None,
        "program counter": span.address + 1 if span.name == "CALL" else None,
    }
    copied = value == span.stored(at, span.after) == held[it["of"]]
    stores = span.name in ("STORE", "PUSH", "CALL") and named(span, it["name"])
    return stores and at == span.trail[-1] and copied


@claim(rf"The next input, (?P<value>{N}), is copied to the accumulator\.")
def _input(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.name == "INPUT" and read(it["value"]) == span.acc(span.after)


@claim(
    rf"The accumulator's (?P<value>{N}) is (?:sent to the output|copied to the memory data"
    r" register, ready to be stored)\."
)
def _acc_goes(span: Span, said: str, it: dict[str, str]) -> bool:
    there = (
        span.after.outputs[-1:] if span.name == "OUTPUT" else (signed(span.after.mdr, span.bits),)
    )
    return span.name in ("OUTPUT", "STORE", "PUSH") and (
        there == (read(it["value"]),) == (span.acc(span.start),)
    )


@claim(rf"Memory is told to write: (?P<value>{N}) is stored at address (?P<at>\d+)\.")
def _written(span: Span, said: str, it: dict[str, str]) -> bool:
    at = int(it["at"])
    stored = span.stored(at, span.after)
    writes = span.name in ("STORE", "PUSH", "CALL")
    return writes and span.trail[-1] == at and stored == read(it["value"])


# What the ALU is said to do, by the first words of how the instruction is written.
DOES = {
    "ADD": "adds {a} and {b}",
    "SUBTRACT": "takes {b} away from {a}",
    "AND": "keeps of {a} the bits that are 1 in {b} too",
    "OR": "makes each bit 1 that is 1 in {a} or in {b} or in both",
    "XOR": "makes each bit 1 that is 1 in just one of {a} and {b}",
    "NOT": "turns every bit of {a} round",
    "SHIFT LEFT": "shifts the bits of {a} left by {b}, and zeros come in",
    "SHIFT RIGHT": "shifts the bits of {a} right by {b}, and zeros come in",
    "SHIFT RIGHT SIGNED": "shifts the bits of {a} right by {b}, and copies of the sign bit come in",
    "ROTATE LEFT": "turns the bits of {a} round to the left by {b}: what leaves comes in again",
    "ROTATE RIGHT": "turns the bits of {a} round to the right by {b}: what leaves comes in again",
}


@claim(
    rf"The ALU (?P<did>(?!compares)[^;]+); the result, (?P<value>{N}), goes to the"
    r" (?P<to>accumulator|index register)(?:,(?: and)? the carry becomes (?P<carry>[01]))?"
    r"(?:, and the status becomes (?P<status>[A-Z]+))?\."
    rf"(?P<over> In full it is (?P<whole>{N}) and does not fit the word: overflow\.)?"
)
def _alu(span: Span, said: str, it: dict[str, str]) -> bool:
    moved = span.name in ("SHIFT", "ROTATE")
    does = DOES[" ".join((span.name, *(span.written.split()[2:] if moved else ())))]
    left = span.held(span.start)
    right = span.second
    made = span.held(span.after)
    whole = span.worked(left, right)
    return (
        it["did"] == does.format(a=show(left), b=show(right))
        and it["to"] == ("index register" if span.on_index else "accumulator")
        and made == read(it["value"]) == span.wrap(whole)
        and it["status"] in (None, span.after.status)
        and span.after.status == STATUS[(made > 0) - (made < 0)]
        and (it["carry"] is None or it["carry"] == str(span.after.carry))
        and bool(it["over"]) == (whole != made)
        and (not it["over"] or read(it["whole"]) == whole)
    )


@claim(
    rf"(?P<sum>The ALU .+; the result, .+) (?P<value>{N}) (?P<is>{IS}) 0, so the status becomes"
    r" (?P<status>[A-Z]+)\."
)
def _status_of_sum(span: Span, said: str, it: dict[str, str]) -> bool:
    verify(it["sum"], said, span)
    acc = span.held(span.after)
    way = (acc > 0) - (acc < 0)
    found = (read(it["value"]), it["is"], it["status"]) == (acc, COMPARES[way], STATUS[way])
    return found and it["status"] == span.after.status


@claim(
    rf"The ALU compares (?P<left>{N}) with (?P<right>{N}): (?P<l>{N}) (?P<is>{IS}) (?P<r>{N}), so"
    r" the status becomes (?P<status>[A-Z]+)\."
)
def _compared(span: Span, said: str, it: dict[str, str]) -> bool:
    same = (it["left"], it["right"]) == (it["l"], it["r"])
    return same and compared(span, it) and it["status"] == span.after.status


@claim(r"A jump: the program counter becomes (?P<at>\d+), so the next fetch is there\.")
def _jumped(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.written in ("JUMP a", "CALL a") and span.finish.pc == int(it["at"])


@claim(rf"(?:Execute: )?{FOUND}, so it jumps: the program counter becomes (?P<at>\d+)\.")
def _so_it_jumps(span: Span, said: str, it: dict[str, str]) -> bool:
    there = span.finish.pc == int(it["at"]) == span.operand
    return there and holds(span) and found(span, it["status"])


@claim(
    rf"(?:Execute: )?(?P<status>{NONE_YET}|[Tt]he status is [A-Z]+|there has been no comparison"
    rf" yet|{MARKS}), so there is no jump: the program counter stays at (?P<at>\d+)\."
)
def _so_no_jump(span: Span, said: str, it: dict[str, str]) -> bool:
    there = span.finish.pc == int(it["at"]) == span.address + 1
    return there and not holds(span) and found(span, it["status"])


@claim(
    rf"(?:(?P<made>.+\.) )?(?P<sent>The accumulator's {N} is sent to the output\.)"
    r"(?: What was sent before stays: (?P<earlier>.+)\.)?"
)
def _sent_and_why(span: Span, said: str, it: dict[str, str]) -> bool:
    """What was sent, with what made the number and what was sent before."""
    verify(it["sent"], said, span)
    writers = [e for e in done_before(span) if e.name in WRITERS and not e.on_index]
    if it["made"]:
        verify(it["made"], "", writers[-1])
    sent = span.after.outputs[:-1]
    earlier = outputs(span.after._replace(outputs=sent)) if sent else None
    return bool(it["made"]) == bool(writers) and it["earlier"] == earlier


@claim(r"The control unit stops the clock: the program has ended\.")
def _halted(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.name == "HALT"


# What puts something into memory, and what leaves the accumulator as it is.
TO_MEMORY = ("STORE", "PUSH", "CALL")


def _said_of_the_rest(span: Span, holder: str, later: bool) -> bool:
    """'Not executed yet' is only said of what the instruction writes; of all else it is said that
    it does not change it, and then it is still so when the instruction is over."""
    now, then = (span.holder(holder, each) for each in (span.after, span.finish))
    if not later:
        return now == then
    if holder.startswith("address"):
        return span.name in TO_MEMORY and int(holder.split()[1]) in (span.operand, *span.trail)
    return now != then or holder != "the accumulator" or span.name in WRITERS


ENDINGS = "IF [A-Z]+|IN[A-Z]+|(?:TO|FROM|WITH) [A-Z]+|LEFT|RIGHT SIGNED|RIGHT"
WRITTEN_OUT = rf"(?P<written>[A-Z]+(?: [^ ]+)?(?: (?:{ENDINGS}))?)"


@claim(
    rf"{WRITTEN_OUT} (?:does not change it|sends nothing to the output|does not set the status|has"
    r" (?P<later>not been executed yet)), so (?:the status stays (?P<status>[A-Z]+)|there is no"
    rf" status yet|what was sent is still: (?P<sent>.+)|{HOLDER} still holds (?P<value>{N})|"
    r"interrupts are still (?P<switch>on|off))\."
)
def _nothing_happened(span: Span, said: str, it: dict[str, str]) -> bool:
    if it["written"].split()[0] != span.name:
        return False
    if it["holder"] and not _said_of_the_rest(span, it["holder"], bool(it["later"])):
        return False
    if it["switch"]:
        held = [span.holder("interrupt flag", each) for each in (span.before, span.after)]
        return held == [it["switch"]] * 2
    if it["holder"]:
        held = span.holder(it["holder"], span.after)
        return held == it["value"] == span.holder(it["holder"], span.before)
    if it["sent"]:
        return it["sent"] == outputs(span.after) == outputs(span.before)
    return (it["status"] or "") == span.after.status == span.before.status


@claim(rf"Nothing here changes it, so {HOLDER} still holds (?P<value>.+)\.")
def _nothing_changes(span: Span, said: str, it: dict[str, str]) -> bool:
    held = [span.holder(it["holder"], each) for each in (span.before, span.after)]
    shown = it["value"] == held[0] or it["value"].split()[0] == span.name
    return held[0] == held[1] and (shown or span.last < span.begin + 4)


# A grown machine.


@claim(
    rf"The number (?P<pointer>\d+) is stored at address (?P<at>\d+), and it is an address too\."
    rf" What counts is what is stored there, (?P<contents>{N})\."
)
def _pointer(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        span.written.endswith("INDIRECT")
        and [int(it["at"]), int(it["pointer"])] == span.trail
        and said == it["pointer"]
        and read(it["contents"]) == span.second
    )


@claim(
    rf"This works with (?P<pointer>\d+), which is stored at address (?P<at>\d+) and is an address"
    rf" too\. {NAME} works with what is stored there, (?P<contents>{N})\."
)
def _worked_with_pointer(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        [int(it["at"]), int(it["pointer"])] == span.trail
        and named(span, it["name"])
        and read(it["contents"]) == span.second
        and read(said) == span.wrap(span.worked(span.held(span.start), span.trail[1]))
    )


@claim(
    r"(?P<at>\d+) is only where the address stands\. What is stored there is (?P<value>\d+), and"
    r" that is the address\."
)
def _only_where(span: Span, said: str, it: dict[str, str]) -> bool:
    at, value = int(it["at"]), int(it["value"])
    there = span.written.endswith("INDIRECT") and [at, value] == span.trail
    return there and said == it["at"] == str(span.operand)


@claim(
    rf"This takes what is stored at address (?P<at>\d+)\. The index, (?P<index>{N}), is added to"
    r" that address first, which makes (?P<made>\d+)\."
)
def _index_left_out(span: Span, said: str, it: dict[str, str]) -> bool:
    stored = span.stored(span.operand, span.start)
    makes = span.name in MAKES and "accumulator"
    came = span.wrap(span.worked(span.held(span.start), stored)) if makes else stored
    return (
        span.written.endswith("INDEXED")
        and int(it["at"]) == span.operand
        and read(it["index"]) == span.index
        and [int(it["made"])] == span.trail
        and read(said) in (came, stored)
    )


@claim(
    rf"(?P<at>\d+) is the operand alone\. The index, (?P<index>{N}), is added to it, which makes"
    r" (?P<made>\d+)\."
)
def _operand_alone(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        span.written.endswith("INDEXED")
        and said == it["at"] == str(span.operand)
        and read(it["index"]) == span.index
        and [int(it["made"])] == span.trail
    )


@claim(
    rf"{NAME} adds the index to the operand only to find the address: {HOLDER} keeps its"
    rf" (?P<value>{N})\."
)
def _index_kept(span: Span, said: str, it: dict[str, str]) -> bool:
    kept = {span.holder(it["holder"], each) for each in (span.start, span.after)}
    return (
        span.written.endswith("INDEXED")
        and named(span, it["name"])
        and it["holder"].casefold() == "the index register"
        and kept == {it["value"]}
        and read(said) == span.operand + span.index
    )


@claim(
    r"The index is added on the way to memory\. The instruction stays as it is: its operand is"
    r" (?P<operand>\d+)\."
)
def _index_not_in_word(span: Span, said: str, it: dict[str, str]) -> bool:
    there = span.code << HALF_BITS[span.machine] | span.operand + span.index
    return (
        span.written.endswith("INDEXED")
        and int(it["operand"]) == span.operand
        and int(said) == there
    )


@claim(
    r"(?P<at>\d+) is where the CALL itself stands\. What was put on the stack is the address after"
    r" it, (?P<value>\d+)\."
)
def _call_itself(span: Span, said: str, it: dict[str, str]) -> bool:
    at, value = int(it["at"]), int(it["value"])
    call = span.start.memory[at] >> HALF_BITS[span.machine] == ALL_CODES["CALL a"]
    # The CALL that stands there has put it on the stack, or the RETURN takes it off.
    top = span.stored(span.trail[0], span.finish if span.name == "CALL" else span.start)
    return call and said == it["at"] and value == at + 1 == top


@claim(
    rf"(?P<next>\d+) is next in line, but {NAME} goes back to the address on top of the stack,"
    r" (?P<value>\d+)\."
)
def _comes_back(span: Span, said: str, it: dict[str, str]) -> bool:
    top = span.start.memory[span.start.sp]
    return (
        span.name == it["name"] == "RETURN"
        and said == it["next"] == str(span.address + 1)
        and top == int(it["value"]) == span.finish.pc
    )


@claim(
    r"(?P<next>\d+) is the address after the CALL: it is kept on the stack, to come back to\. The"
    r" CALL goes on at (?P<value>\d+)\."
)
def _call_keeps(span: Span, said: str, it: dict[str, str]) -> bool:
    kept = span.finish.memory[span.finish.sp]
    return (
        span.name == "CALL"
        and said == it["next"] == str(kept) == str(span.address + 1)
        and int(it["value"]) == span.finish.pc == span.operand
    )


@claim(rf"{NAME} makes a copy and moves the stack pointer: {HOLDER} keeps its (?P<value>{N})\.")
def _still_there(span: Span, said: str, it: dict[str, str]) -> bool:
    kept = {span.holder(it["holder"], each) for each in (span.start, span.after)}
    return (
        span.name in ("POP", "RETURN")
        and named(span, it["name"])
        and it["holder"].casefold().startswith(f"address {span.start.sp}")
        and kept == {it["value"]}
        and span.finish.sp == span.start.sp + 1
        and said == "0"
    )


@claim(
    rf"The stack grows down from the end of memory\. {NAME}"
    r" (?P<does>puts a word on|takes a word off), so the stack pointer moves"
    r" (?P<way>up|down), from (?P<was>\d+) to (?P<now>\d+)\."
)
def _grows_down(span: Span, said: str, it: dict[str, str]) -> bool:
    was, now = int(it["was"]), int(it["now"])
    by = {"PUSH": -1, "CALL": -1, "POP": 1, "RETURN": 1}[span.name]
    return (
        named(span, it["name"])
        and (was, now) == (span.start.sp, span.after.sp)
        and now == was + by
        and int(said) == was - by
        and (it["does"], it["way"])
        == {1: ("takes a word off", "up"), -1: ("puts a word on", "down")}[by]
    )


@claim(
    r"A shift to the left doubles only while the result fits the word\. With a sign a word holds"
    rf" (?P<least>{N}) to (?P<most>{N}): (?P<whole>{N}) does not fit, so it becomes"
    rf" (?P<value>{N})\."
)
def _shift_doubles(span: Span, said: str, it: dict[str, str]) -> bool:
    whole = span.held(span.start) * 2 ** (span.operand & 15)
    half = 1 << (span.bits - 1)
    return (
        span.written == "SHIFT #n LEFT"
        and said == it["whole"] == show(whole)
        and (read(it["least"]), read(it["most"])) == (-half, half - 1)
        and not -half <= whole < half
        and read(it["value"]) == span.held(span.after)
    )


@claim(
    r"This keeps the sign\. Without SIGNED zeros come in on the left, so it becomes"
    rf" (?P<value>{N})\."
)
def _shift_loses_sign(span: Span, said: str, it: dict[str, str]) -> bool:
    # Division that rounds down, as Python's does.
    kept = span.held(span.start) // 2 ** (span.operand & 15)
    return (
        span.written == "SHIFT #n RIGHT"
        and read(said) == kept < 0
        and read(it["value"]) == span.held(span.after) >= 0
    )


@claim(
    r"That is the number with its sign changed\. NOT turns every bit round, and that makes one"
    rf" less: (?P<value>{N})\."
)
def _not_negative(span: Span, said: str, it: dict[str, str]) -> bool:
    negative = -span.held(span.start)
    made = span.held(span.after)
    there = span.name == "NOT" and read(it["value"]) == made == span.wrap(negative - 1)
    return there and read(said) == negative


@claim(rf"{NAME} does not set the carry: it stays (?P<value>[01])\.")
def _carry_stays(span: Span, said: str, it: dict[str, str]) -> bool:
    return (
        span.name not in ("ADD", "SUBTRACT", "SHIFT", "ROTATE")
        and named(span, it["name"])
        and str(span.start.carry) == str(span.after.carry) == it["value"] != said
    )


@claim(r"The carry changes only when an instruction is executed\.")
def _carry_later(span: Span, said: str, it: dict[str, str]) -> bool:
    return not span.executed and span.before.carry == span.after.carry != int(said)


def plain(span: Span, value: int) -> int:
    """A number read without a sign."""
    return value % (1 << span.bits)


@claim(
    r"Without signs, (?P<left>\d+) and (?P<right>\d+) make (?P<full>\d+)\. A word holds up to"
    r" (?P<most>\d+), so the carry is (?P<value>[01])\."
)
def _carry_of_sum(span: Span, said: str, it: dict[str, str]) -> bool:
    left, right = plain(span, span.held(span.start)), plain(span, span.second)
    full, most = int(it["full"]), int(it["most"])
    return (
        span.name == "ADD"
        and (int(it["left"]), int(it["right"])) == (left, right)
        and full == left + right
        and most == (1 << span.bits) - 1
        and int(it["value"]) == span.after.carry == (full > most) != int(said)
    )


@claim(
    r"Without signs, (?P<right>\d+) (?P<is>is more than|is not more than) (?P<left>\d+), so the"
    r" carry is (?P<value>[01])\."
)
def _carry_of_difference(span: Span, said: str, it: dict[str, str]) -> bool:
    left, right = plain(span, span.held(span.start)), plain(span, span.second)
    return (
        span.name == "SUBTRACT"
        and (int(it["left"]), int(it["right"])) == (left, right)
        and (it["is"] == "is more than") == (right > left)
        and int(it["value"]) == span.after.carry == (right > left) != int(said)
    )


@claim(r"The carry is the bit that left last, and that is (?P<value>[01])\.")
def _carry_of_shift(span: Span, said: str, it: dict[str, str]) -> bool:
    bits, count = f"{span.start.acc:0{span.bits}b}", span.operand & 15
    at = count - 1 if span.written.endswith("LEFT") else span.bits - count
    gone = int(bits[at]) if count else 0
    moved = span.name in ("SHIFT", "ROTATE")
    return moved and gone == span.after.carry == int(it["value"]) != int(said)


# What really happened there.


@claim(r"What was read is an address: (?P<at>\d+) goes to the memory address register\.")
def _pointer_to_mar(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.written.endswith("INDIRECT") and int(it["at"]) == span.after.mar == span.trail[1]


@claim(
    r"What was read is an address: the program counter becomes (?P<at>\d+), so the next fetch is"
    r" there\."
)
def _pointer_to_pc(span: Span, said: str, it: dict[str, str]) -> bool:
    read_there = span.start.memory[span.trail[0]]
    there = span.written in ("RETURN", "JUMP a INDIRECT")
    return there and int(it["at"]) == read_there == span.finish.pc


@claim(
    rf"The operand (?P<operand>\d+) and the index (?P<index>{N}) are added: (?:their sum,"
    r" (?P<sum>\d+), is the address and goes to the memory address register|the program counter"
    r" becomes (?P<at>\d+), so the next fetch is there)\."
)
def _index_is_added(span: Span, said: str, it: dict[str, str]) -> bool:
    made = int(it["operand"]) + read(it["index"])
    parts = (int(it["operand"]), read(it["index"])) == (span.operand, span.index)
    arrived = span.finish.pc if it["at"] else span.snapshots[span.begin + 6].mar
    goes = (it["at"] is not None) == (span.name == "JUMP")
    return parts and goes and int(it["sum"] or it["at"]) == made == arrived


@claim(
    r"The stack pointer's (?P<sp>\d+) and the operand (?P<operand>\d+) are added: their sum,"
    r" (?P<sum>\d+), is the address and goes to the memory address register\."
)
def _on_the_stack(span: Span, said: str, it: dict[str, str]) -> bool:
    parts = (int(it["sp"]), int(it["operand"])) == (span.start.sp, span.operand)
    return parts and int(it["sum"]) == sum((span.start.sp, span.operand)) == span.after.mar


@claim(r"The stack pointer moves down by one, to (?P<at>\d+): the stack grows by a word\.")
def _down(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.name in ("PUSH", "CALL") and int(it["at"]) == span.finish.sp == span.start.sp - 1


@claim(
    r"The stack pointer moves up by one, to (?P<at>\d+): a word is off the stack, and memory still"
    r" holds it\."
)
def _up(span: Span, said: str, it: dict[str, str]) -> bool:
    kept = span.start.memory[span.start.sp] == span.finish.memory[span.start.sp]
    there = span.name in ("POP", "RETURN") and int(it["at"]) == span.finish.sp == span.start.sp + 1
    return there and kept


@claim(
    r"The stack pointer holds the address of the top of the stack: (?P<at>\d+) is copied to the"
    r" memory address register\."
)
def _top_to_mar(span: Span, said: str, it: dict[str, str]) -> bool:
    return int(it["at"]) == span.trail[0] == span.after.mar


@claim(
    r"The address to come back to, (?P<at>\d+), is copied from the program counter to the memory"
    r" data register\."
)
def _kept_address(span: Span, said: str, it: dict[str, str]) -> bool:
    return span.name == "CALL" and int(it["at"]) == span.address + 1 == span.after.mdr


@claim(
    rf"The index register's (?P<value>{N}) is copied to the memory data register, ready to be"
    r" stored\."
)
def _index_goes(span: Span, said: str, it: dict[str, str]) -> bool:
    there = span.written == "STORE a FROM INDEX" and signed(span.after.mdr, span.bits)
    return there == read(it["value"]) == span.index
