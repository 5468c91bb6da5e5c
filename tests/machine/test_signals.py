"""The control lines, held to the transfers that were carried out: a machine that knows nothing but
which lines are on must come to the same values."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from app.machine.engine import walk
from app.machine.growing import PARTS, grown
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT, Machine, machine_with
from app.machine.operations import Status
from app.machine.requests import Request
from app.machine.signals import Group, every_line, lines_of
from app.machine.state import State

GROWN = grown(frozenset(PARTS))
BITS = {8: 0xFF, 16: 0xFFFF}  # data


def signed(value: int, mask: int) -> int:
    return value - mask - 1 if value > mask // 2 else value


def rotated(value: int, by: int, mask: int) -> int:
    width = mask.bit_length()
    digits = f"{value:0{width}b}"
    by %= width
    return int(digits[by:] + digits[:by], 2)


# What the ALU does at the word of each line, written once more: of two words and the mask of one.
ALU: dict[str, Callable[[int, int, int], int]] = {
    "add": lambda a, b, mask: (a + b) & mask,
    "subtract": lambda a, b, mask: (a - b) & mask,
    "compare": lambda a, b, mask: signed(a, mask) - signed(b, mask),
    "AND": lambda a, b, mask: a & b,
    "OR": lambda a, b, mask: a | b,
    "XOR": lambda a, b, mask: a ^ b,
    "NOT": lambda a, b, mask: mask - a,
    "shift left": lambda a, b, mask: (a << b % 16) & mask,
    "shift right": lambda a, b, mask: a >> b % 16,
    "shift right signed": lambda a, b, mask: (signed(a, mask) >> b % 16) & mask,
    "rotate left": lambda a, b, mask: rotated(a, b % 16, mask),
    "rotate right": lambda a, b, mask: rotated(a, -(b % 16), mask),
}


def bits_of(value: int, mask: int) -> str:
    return f"{value:0{mask.bit_length()}b}"


def last_out(digits: str, by: int) -> int:
    """The bit that leaves last of these, given in the order in which they leave; 0 for no place."""
    return int(digits[by % 16 - 1]) if by % 16 else 0


# What is left over, in words in tests/hardware/machine.md ('Bit operations'), written once more.
CARRY: dict[str, Callable[[int, int, int], int]] = {
    "add": lambda a, b, mask: int(a + b > mask),
    "subtract": lambda a, b, mask: int(b > a),
    **dict.fromkeys(
        ("shift left", "rotate left"), lambda a, b, mask: last_out(bits_of(a, mask), b)
    ),
    **dict.fromkeys(
        ("shift right", "shift right signed", "rotate right"),
        lambda a, b, mask: last_out(bits_of(a, mask)[::-1], b),
    ),
}


COMPARISONS = (Status.EQUAL, Status.LESS, Status.MORE, None)


class Datapath:
    """Registers, memory and two ways to them, told by control lines alone what to do."""

    def __init__(self, machine: Machine, state: State, inputs: list[int]) -> None:
        self.mask = BITS[machine.word_bits]
        self.half = machine.word_bits // 2
        self.held = {each.tag: state.held(each.tag) for each in machine.registers}
        self.memory = list(state.memory)
        self.inputs, self.outputs = inputs, [0] * 0
        self.brought: list[int] = []
        self.stopped = False

    def out(self, name: str) -> int:
        if name == "operand":
            return self.held["CIR"] % (1 << self.half)  # type: ignore[operator]
        value = self.held[name]
        assert isinstance(value, int)
        return value

    def kept(self, overflow: bool, carry: int) -> int:
        """The word of tests/hardware/machine.md: bit 11, bit 10, bits 9 and 8, and the counter."""
        marks = 8 * overflow + 4 * carry + COMPARISONS.index(self.held["status"])
        return marks << self.half | self.out("PC")

    def tick(self, lines: list[str], overflow: bool) -> None:
        names = [line.rpartition(" ")[0] for line in lines if line.endswith(" out")]
        address = self.held["MAR"]
        assert isinstance(address, int)
        reads, writes = "memory read" in lines, "memory write" in lines
        if reads or writes:
            names.remove("MAR")
        keeps = "status" in names
        given = [self.out(name) for name in names if name not in ("status", "carry")]
        if keeps:
            given = [self.kept(overflow, self.out("carry") if "carry" in names else 0)]
        if reads:
            given.append(self.memory[address])
        if "input read" in lines:
            given.append((self.brought or self.inputs).pop(0))
        value = given[0] if given else 0
        carry = 0
        for line in lines:
            worker, _, how = line.partition(" ")
            if worker == "ALU":
                value = ALU[how](given[0], given[-1], self.mask)
                carry = CARRY[how](given[0], given[-1], self.mask) if "carry in" in lines else 0
            elif worker == "adder":
                value = sum(signed(each, self.mask) for each in given)
        restores = "status in" in lines and "PC in" in lines
        for line in lines:
            name, _, how = line.rpartition(" ")
            if how == "in" and name not in ("status", "carry"):
                self.held[name] = value % (1 << self.half) if restores else value
            elif how in ("on", "off"):
                self.held[name] = how == "on"
            elif how in ("up", "down"):
                self.held[name] = self.out(name) + (1 if how == "up" else -1)
        if restores:
            self.held["status"] = COMPARISONS[value >> self.half & 3]
            carry = value >> self.half + 2 & 1
        elif "status in" in lines:
            compares = "ALU compare" in lines
            number = value if compares else signed(value, self.mask)
            order = (number > 0) - (number < 0)
            self.held["status"] = [Status.EQUAL, Status.MORE, Status.LESS][order]
        if "carry in" in lines:
            self.held["carry"] = carry
        if writes:
            self.memory[address] = value
        if "output write" in lines:
            self.outputs.append(value)
        self.stopped = "clock stop" in lines


def image(machine: Machine, seed: int) -> tuple[int, ...]:
    """Words at random, most of them instructions that the machine has."""
    chance = random.Random(seed)
    codes = [each.code for each in machine.instructions]
    words = []
    for _ in range(machine.memory_words // 2):
        code = chance.choice(codes)
        words.append(code << machine.operand_bits | chance.randrange(machine.memory_words))
    return tuple(words)


MACHINES = {
    "8-bit": EIGHT_BIT,
    "16-bit": SIXTEEN_BIT,
    "all parts": GROWN,
    "counter second": machine_with(EIGHT_BIT, "second"),
}


@pytest.mark.parametrize("machine", MACHINES.values(), ids=MACHINES)
def test_the_lines_alone_do_what_the_transfers_did(machine: Machine) -> None:
    met: set[str] = set()
    for seed in range(60):
        inputs = [seed, 250, 3]
        requests = [Request(number, 0, number) for number in range(2, 40, 3)]
        state = State.start(machine, image(machine, seed))
        path = Datapath(machine, state, inputs.copy())
        outputs: list[int] = []
        for _ in range(40):
            if state.ending is not None or state.pc >= machine.memory_words:
                break
            served = state.served
            for step in walk(machine, state, tuple(inputs), outputs, requests):
                taken = step.value is not None or step.kind.transfer.condition is None
                lines = [each.name for each in lines_of(step.kind.transfer, taken)]
                met.update(lines)
                path.tick(lines, state.overflow)
                if state.served > served:
                    path.brought.append(requests[served].value)
                assert path.memory == state.memory
                now = {tag: state.held(tag) for tag in path.held}
                assert path.held == now, (step.kind.transfer.notation, lines)
        assert path.outputs == outputs
    unmet = {each.name for each in every_line(machine)} - met
    assert not unmet, "these programs do not come to every line"


@pytest.mark.parametrize("machine", MACHINES.values(), ids=MACHINES)
def test_every_line_has_one_name_and_a_group(machine: Machine) -> None:
    names = [each.name for each in every_line(machine)]
    assert len(names) == len(set(names))
    groups = [each.group for each in every_line(machine)]
    assert groups == sorted(groups, key=list(Group).index)


def test_the_lines_of_a_fetch() -> None:
    """By hand, from the transfers of the textbooks: M. Morris Mano, chapter 5 (from memory)."""
    assert [[line.name for line in lines_of(each)] for each in EIGHT_BIT.fetch] == [
        ["PC out", "MAR in"],
        ["MAR out", "memory read", "MDR in"],
        ["MDR out", "CIR in"],
        ["PC up"],
    ]


def test_a_jump_that_is_not_taken_only_looks() -> None:
    jumps = [
        transfer
        for each in EIGHT_BIT.instructions
        for transfer in each.transfers
        if transfer.condition
    ]
    assert jumps
    for transfer in jumps:
        assert [each.name for each in lines_of(transfer, taken=False)] == ["status test"]
        assert [each.name for each in lines_of(transfer)] == ["status test", "operand out", "PC in"]


def test_a_plain_machine_has_no_line_of_a_part() -> None:
    names = {each.name for each in every_line(SIXTEEN_BIT)}
    more = {each.name for each in every_line(GROWN)} - names
    assert {"SP up", "SP down", "X in", "carry in", "adder add", "ALU NOT"} <= more
    assert not any("X" in each or "SP" in each for each in names)
