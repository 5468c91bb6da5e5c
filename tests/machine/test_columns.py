"""The columns of the ALU, held to a gate-level description in hardware and to the operations."""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import cache

import pyrtl  # type: ignore[import-untyped]
import pytest

from app.machine.columns import Columns, columns_of
from app.machine.gates import CIRCUITS
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT
from app.machine.operations import BIT_OPERATIONS, OPERATIONS, Operation, compared
from app.machine.words import Format

EVERY = (*OPERATIONS, *BIT_OPERATIONS)
NAMED = {each.symbol: each for each in EVERY}
EDGES = (0, 1, 127, 128, 255, 0x7FFF, 0x8000, 0xFFFE, 0xFFFF, 0x5555, 0xAAAA)


def made(format: Format, operation: Operation, left: int, right: int) -> Columns:
    found = columns_of(format, operation, left, right)
    assert found is not None
    return found


def pairs(format: Format, count: int) -> Iterator[tuple[int, int]]:
    chance = random.Random(20)
    edges = [each & format.word_mask for each in EDGES]
    yield from ((left, right) for left in edges for right in edges)
    for _ in range(count):
        yield chance.randrange(format.word_mask + 1), chance.randrange(format.word_mask + 1)


@cache
def hardware_carries() -> dict[tuple[str, int, int], int]:
    """What is carried into each column and out of the last, for all pairs of 8 bits: a row of
    nine bits, made by gates that the library itself puts together and by no code of ours."""
    found = {}
    for symbol in ("+", "-"):
        pyrtl.reset_working_block()
        left, right = pyrtl.Input(8, "left"), pyrtl.Input(8, "right")
        second, more = (right, 0) if symbol == "+" else (~right, 1)
        carries = [pyrtl.Const(more, 1)]
        for bits in range(1, 9):
            lowest = left[:bits] + second[:bits] + pyrtl.Const(more, 1)
            carries.append(lowest[bits])
        out = pyrtl.Output(9, "carries")
        out <<= pyrtl.concat_list(carries)
        pyrtl.synthesize()
        pyrtl.optimize()
        simulation = pyrtl.FastSimulation(tracer=None)
        for a in range(256):
            for b in range(256):
                simulation.step({"left": a, "right": b})
                found[symbol, a, b] = simulation.inspect("carries")
    return found


def rows(symbol: str) -> tuple[list[int], list[int], int]:
    """All pairs of 8 bits at once: for each column a row with a bit for each pair."""
    lefts = [sum((a >> place & 1) << (256 * a) for a in range(256)) for place in range(8)]
    row = (1 << 256) - 1
    left = [each * row for each in lefts]
    low = [sum((b >> place & 1) << b for b in range(256)) for place in range(8)]
    every = sum(1 << (256 * a) for a in range(256))
    return left, [each * every for each in low], int(symbol == "-")


@pytest.mark.parametrize("symbol", ["+", "-"])
def test_carries_of_all_pairs_are_those_of_the_hardware(symbol: str) -> None:
    left, right, first = rows(symbol)
    ones = (1 << 65536) - 1
    carry = ones * first
    circuit = CIRCUITS[NAMED[symbol].column]
    carries, results = [carry], []
    for place in range(8):
        given = {"left": left[place], "right": right[place], "carry in": carry}
        bits = circuit.evaluate(given, ones)
        carry = bits["carry out"]
        carries.append(carry)
        results.append(bits["result"])
    for (name, a, b), expected in hardware_carries().items():
        if name == symbol:
            at = 256 * a + b
            assert sum((row >> at & 1) << k for k, row in enumerate(carries)) == expected, (a, b)
    for a in range(256):
        for b in range(256):
            whole = sum((row >> (256 * a + b) & 1) << k for k, row in enumerate(results))
            assert whole == ((a + b if symbol == "+" else a - b) & 255)


@pytest.mark.parametrize("symbol", ["+", "-"])
def test_the_carries_of_single_columns_are_the_same(symbol: str) -> None:
    chance = random.Random(4)
    for (name, a, b), expected in chance.sample(sorted(hardware_carries().items()), 2000):
        if name == symbol:
            found = made(EIGHT_BIT, NAMED[symbol], a, b)
            carried = [each.bits["carry in"] for each in found.columns] + [found.carry_out]
            assert sum(bit << k for k, bit in enumerate(carried)) == expected


@pytest.mark.parametrize(
    ("format", "operation"),
    # Only the larger machine has bit operations.
    [*((EIGHT_BIT, each) for each in OPERATIONS), *((SIXTEEN_BIT, each) for each in EVERY)],
    ids=lambda each: getattr(each, "name", "") or each.symbol,
)
def test_the_columns_make_what_the_operation_makes(format: Format, operation: Operation) -> None:
    for left, right in pairs(format, 300):
        found = made(format, operation, left, right)
        if operation.compares:
            signed = compared(format.signed(left), format.signed(right))
            assert found.status is signed, (left, right)
            continue
        assert found.result == operation.result(format, left, right), (left, right)
        if operation.symbol in "+-":
            borrowed = operation.symbol == "-"
            assert found.carry_out ^ borrowed == operation.left_over(format, left, right)
            whole = operation.whole(format.signed(left), format.signed(right))
            assert found.overflow != (format.smallest <= whole <= format.largest)


def test_a_moved_bit_comes_from_where_it_stood() -> None:
    found = made(SIXTEEN_BIT, NAMED["shifted left by"], 0b1011, 3)
    assert [each.comes for each in found.columns] == [None, None, None, *range(13)]
    assert found.by == 3
    turned = made(SIXTEEN_BIT, NAMED["rotated right by"], 0b1011, 1)
    assert [each.comes for each in turned.columns] == [*range(1, 16), 0]


def test_an_operation_without_a_circuit_has_no_columns() -> None:
    other = Operation("times", "left * right", "", "", "", "")
    assert columns_of(EIGHT_BIT, other, 3, 4) is None
