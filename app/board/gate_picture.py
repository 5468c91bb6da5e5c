"""A circuit of gates as a picture: where its gates stand, and the wires between them with their
bits. Which wires there are comes from the circuit; only the places are chosen here.

The symbols are the rectangles of IEC 60617-12 or the distinctive shapes of IEEE Std 91-1984.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.lesson.header import Symbols
from app.machine.gates import KINDS, Circuit, Gate

Point = tuple[float, float]
# Half the size of a gate, and how far from its middle its two inputs are.
HALF, PIN = 20.0, 12.0
RIGHT = 350.0  # where the outputs end


# The places of the gates, by the wire that leads out of each; the height at which an input comes
# in; and where a wire turns on its way to a gate, by its name and that of the gate's output.
_ADDER_AT = {
    "half": (130.0, 40.0),
    "result": (235.0, 52.0),
    "passed on": (235.0, 114.0),
    "both": (235.0, 172.0),
    "carry out": (310.0, 143.0),
}
_ADDER_TURNS = {"left": 97.0, "half": 166.0, "carry in": 190.0, "passed on": 276.0, "both": 276.0}
_PLACES: dict[str, dict[str, Point]] = {
    "full adder": _ADDER_AT,
    "full adder with a NOT gate": {
        **{name: (x + 66, y) for name, (x, y) in _ADDER_AT.items()},
        "turned": (112.0, 52.0),
    },
    "selector": {
        "stay": (150.0, 138.0),
        "stayed": (230.0, 40.0),
        "moved": (230.0, 100.0),
        "result": (310.0, 70.0),
    },
}
_ONE_GATE = {"result": (210.0, 60.0)}
_TURNS: dict[str, dict[str, float]] = {
    "full adder": {**_ADDER_TURNS, "right": 85.0},
    "full adder with a NOT gate": {
        **{name: x + 66 for name, x in _ADDER_TURNS.items()},
        "turned": 147.0,
    },
    "selector": {"move": 110.0, "stay": 184.0, "stayed": 270.0, "moved": 270.0},
}
_HEIGHTS: dict[str, dict[str, float]] = {
    "full adder": {"left": 28.0, "right": 52.0, "carry in": 86.0},
    "full adder with a NOT gate": {"left": 28.0, "right": 52.0, "carry in": 86.0},
    "selector": {"here": 28.0, "coming": 88.0, "move": 138.0},
}
# What stands beside a wire at the edge, where it is called otherwise than the wire.
_NAMES = {"carry in": "carried in", "carry out": "carry"}
LEFT = 76.0  # where the inputs begin, right of their names


@dataclass(frozen=True, slots=True)
class Drawn:
    """A gate: its kind, its ``sign``, its middle and whether its output is turned round."""

    kind: str
    sign: str
    x: float
    y: float
    turns: bool


@dataclass(frozen=True, slots=True)
class Wire:
    """What leads from one place to all that need it: its ``path`` and the ``dots`` where it
    branches; its bit, and where that stands if it is not at the edge."""

    name: str
    bit: int
    path: str
    ends: tuple[Point, ...]
    dots: tuple[Point, ...]
    label: Point | None


@dataclass(frozen=True, slots=True)
class Terminal:
    """An input or an output at the edge: its name, its bit and the end of its wire."""

    name: str
    bit: int
    x: float
    y: float
    out: bool


@dataclass(frozen=True, slots=True)
class GatePicture:
    """``name`` is that of the circuit, ``said`` what each gate makes, for those who listen."""

    name: str
    symbols: Symbols
    width: float
    height: float
    gates: tuple[Drawn, ...]
    wires: tuple[Wire, ...]
    terminals: tuple[Terminal, ...]
    said: tuple[str, ...]

    @property
    def kinds(self) -> str:
        """Which gates it has, without what is on the wires."""
        return f"Gates: {', '.join(each.kind for each in self.gates)}."


def gate_picture(
    circuit: Circuit, bits: Mapping[str, int], symbols: Symbols, names: Mapping[str, str]
) -> GatePicture:
    """The picture of a circuit with these bits on its wires. ``names`` has what inputs are called
    that come from a register."""
    places = _PLACES.get(circuit.name, _ONE_GATE)
    shift = max(x for x, _ in places.values()) - 310 if circuit.name in _PLACES else 0
    right = RIGHT + shift
    gates = tuple(
        Drawn(each.kind, KINDS[each.kind].sign, *places[each.output], KINDS[each.kind].turns)
        for each in circuit.gates
    )
    starts = {name: (LEFT, height) for name, height in _inputs(circuit, places).items()}
    starts |= {
        each.output: (places[each.output][0] + HALF, places[each.output][1])
        for each in circuit.gates
    }
    ends: dict[str, list[Point]] = {name: [] for name in starts}
    for gate in circuit.gates:
        for at, name in enumerate(gate.inputs):
            ends[name].append(pin(gate, places[gate.output], at))
    outputs = [(name, (right, starts[name][1])) for name in circuit.outputs]
    for name, end in outputs:
        ends[name].append(end)
    turns = _TURNS.get(circuit.name, {})
    wires = tuple(
        _wire(
            name,
            bits[name],
            starts[name],
            tuple(ends[name]),
            turns.get(name, 0.0),
            inner=name not in (*circuit.inputs, *circuit.outputs),
        )
        for name in starts
    )
    told = {**_NAMES, **names}
    terminals = [
        Terminal(told.get(name, name), bits[name], *starts[name], False) for name in circuit.inputs
    ]
    terminals += [Terminal(told.get(name, name), bits[name], *end, True) for name, end in outputs]
    lowest = max([*(y for _, y in places.values()), *(y for _, y in starts.values())])
    return GatePicture(
        circuit.name,
        symbols,
        right + 90,
        lowest + HALF + 8,
        gates,
        wires,
        tuple(terminals),
        tuple(_said(each, bits) for each in circuit.gates),
    )


def pin(gate: Gate, at: Point, number: int) -> Point:
    """Where an input of a gate is."""
    x, y = at
    return (x - HALF, y) if len(gate.inputs) == 1 else (x - HALF, y - PIN + 2 * PIN * number)


def _inputs(circuit: Circuit, places: Mapping[str, Point]) -> dict[str, float]:
    """The height at which each input comes in; that of a single gate's are those of its pins."""
    chosen = _HEIGHTS.get(circuit.name)
    if chosen:
        return chosen
    gate = circuit.gates[0]
    return {name: pin(gate, places[gate.output], at)[1] for at, name in enumerate(circuit.inputs)}


def _wire(
    name: str, bit: int, start: Point, ends: tuple[Point, ...], turn: float, inner: bool
) -> Wire:
    """Across to where it turns, up or down there, and across again to each end."""
    x, y = start
    straight = [each for each in ends if each[1] == y]
    bent = [each for each in ends if each[1] != y]
    path = [f"M{x:g} {y:g} H{max([*(each[0] for each in straight), *([turn] if bent else [])]):g}"]
    path += [f"M{turn:g} {y:g} V{end[1]:g} H{end[0]:g}" for end in bent]
    heights = sorted({y, *(end[1] for end in bent)})
    # It branches where it goes on straight, too, or both ways, or past a way that leads off.
    dots = [(turn, y)] if bent and (straight or heights[0] < y < heights[-1]) else []
    dots += [(turn, end[1]) for end in bent if end[1] not in (heights[0], heights[-1])]
    return Wire(name, bit, " ".join(path), ends, tuple(dots), (x + 8, y - 6) if inner else None)


def _said(gate: Gate, bits: Mapping[str, int]) -> str:
    given = " and ".join(str(bits[name]) for name in gate.inputs)
    alone = len(gate.inputs) == 1
    return f"{gate.kind} gate: {given} {'gives' if alone else 'give'} {bits[gate.output]}."
