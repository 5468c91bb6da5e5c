"""The picture of a circuit: its wires are followed on the paper, as somebody would who looks."""

from __future__ import annotations

import re
from itertools import combinations, product

import pytest

from app.board.gate_picture import HALF, PIN, GatePicture, gate_picture
from app.lesson.header import Symbols
from app.machine.gates import CIRCUITS, Circuit

Point = tuple[float, float]
Piece = tuple[Point, Point]
NAMED = {"left": "ACC", "right": "MDR"}
CLEAR = 4.0  # units between two wires that are not the same

every_circuit = pytest.mark.parametrize("circuit", CIRCUITS.values(), ids=CIRCUITS)


def drawn(circuit: Circuit, given: tuple[int, ...] | None = None) -> GatePicture:
    values = given or (0,) * len(circuit.inputs)
    bits = circuit.evaluate(dict(zip(circuit.inputs, values, strict=True)))
    return gate_picture(circuit, bits, Symbols.RECTANGLES, NAMED)


def pieces(path: str) -> list[Piece]:
    """The straight pieces of a path of M, H and V."""
    found: list[Piece] = []
    x = y = 0.0
    for letter, numbers in re.findall(r"([MHV])([-\d. ]+)", path):
        values = [float(each) for each in numbers.split()]
        at = {"M": (values[0], values[-1]), "H": (values[0], y), "V": (x, values[0])}[letter]
        if letter != "M":
            found.append(((x, y), at))
        x, y = at
    return found


def on(point: Point, piece: Piece) -> bool:
    (x1, y1), (x2, y2) = piece
    return min(x1, x2) <= point[0] <= max(x1, x2) and min(y1, y2) <= point[1] <= max(y1, y2)


def reached(picture: GatePicture, name: str) -> set[Point]:
    """All corners and ends that a wire connects with its start."""
    wire = next(each for each in picture.wires if each.name == name)
    parts = pieces(wire.path)
    seen = [parts[0]]
    while more := [
        each
        for each in parts
        if each not in seen and any(on(each[0], one) or on(one[1], each) for one in seen)
    ]:
        seen += more
    assert len(seen) == len(parts), f"a part of '{name}' hangs in the air"
    return {point for piece in seen for point in piece}


@every_circuit
def test_each_input_of_a_gate_is_reached_by_its_wire_alone(circuit: Circuit) -> None:
    picture = drawn(circuit)
    places = {gate.output: at for gate, at in zip(circuit.gates, picture.gates, strict=True)}
    ends = {each.name: reached(picture, each.name) for each in picture.wires}
    for gate in circuit.gates:
        at = places[gate.output]
        heights = [at.y] if len(gate.inputs) == 1 else [at.y - PIN, at.y + PIN]
        for name, height in zip(gate.inputs, heights, strict=True):
            there = [wire for wire, points in ends.items() if (at.x - HALF, height) in points]
            assert there == [name]
        assert (at.x + HALF, at.y) in ends[gate.output]


@every_circuit
def test_wires_only_cross(circuit: Circuit) -> None:
    """Two wires that run along one another, or through a gate, could be taken for one."""
    picture = drawn(circuit)
    for one, other in combinations(picture.wires, 2):
        for (a, b), (c, d) in product(pieces(one.path), pieces(other.path)):
            for across in (0, 1):
                same_way = a[across] == b[across] and c[across] == d[across]
                if not same_way or abs(a[across] - c[across]) >= CLEAR:
                    continue
                along = 1 - across
                first, last = sorted((a[along], b[along]))
                start, end = sorted((c[along], d[along]))
                assert last < start or end < first, (one.name, other.name)
    for wire, gate in product(picture.wires, picture.gates):
        for (x1, y1), (x2, y2) in pieces(wire.path):
            left, right = sorted((x1, x2))
            top, bottom = sorted((y1, y2))
            beside = right <= gate.x - HALF or left >= gate.x + HALF
            assert beside or bottom < gate.y - HALF or top > gate.y + HALF, (wire.name, gate)


@every_circuit
def test_a_dot_stands_where_a_wire_branches_and_nowhere_else(circuit: Circuit) -> None:
    for wire in drawn(circuit).wires:
        parts = pieces(wire.path)
        branches = set()
        for point in {each for piece in parts for each in piece}:
            ways = set()
            for (x1, y1), (x2, y2) in parts:
                if not on(point, ((x1, y1), (x2, y2))):
                    continue
                ways |= {"left"} if min(x1, x2) < point[0] else set()
                ways |= {"right"} if max(x1, x2) > point[0] else set()
                ways |= {"up"} if min(y1, y2) < point[1] else set()
                ways |= {"down"} if max(y1, y2) > point[1] else set()
            if len(ways) > 2:
                branches.add(point)
        assert set(wire.dots) == branches, wire.name


@every_circuit
def test_the_bits_are_on_the_wires(circuit: Circuit) -> None:
    for given in product((0, 1), repeat=len(circuit.inputs)):
        picture = drawn(circuit, given)
        bits = circuit.evaluate(dict(zip(circuit.inputs, given, strict=True)))
        assert {each.name: each.bit for each in picture.wires} == bits
        shown = [each.bit for each in picture.terminals if each.out]
        assert shown == [bits[name] for name in circuit.outputs]
        # What has no name at the edge has its bit beside it.
        inner = {each.name for each in picture.wires if each.label}
        assert inner == set(bits) - set(circuit.inputs) - set(circuit.outputs)


@every_circuit
def test_everything_is_on_the_paper(circuit: Circuit) -> None:
    picture = drawn(circuit)
    for gate in picture.gates:
        assert HALF <= gate.y <= picture.height - HALF
        assert gate.x + HALF < picture.width
    for wire in picture.wires:
        for (x1, y1), (x2, y2) in pieces(wire.path):
            assert min(x1, x2) > 0 and max(x1, x2) < picture.width
            assert min(y1, y2) > 0 and max(y1, y2) < picture.height
