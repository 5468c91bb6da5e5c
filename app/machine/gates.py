"""Gates, and the small circuits of them that stand in each column of the ALU: as data.

A circuit is a list of gates and the wires between them; what is on a wire is worked out from it
and nowhere written down. The full adder of two half adders is the one of the textbooks, for
example M. Morris Mano, *Digital Design*, section 'Binary Adder-Subtractor', where a difference is
a sum, too: the second word with every bit turned round, and a 1 carried in at the right (from
memory). The selector is the 2-to-1 multiplexer of the same book.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import reduce
from operator import and_, or_, xor


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of gate. ``sign`` is its qualifying symbol in IEC 60617-12, ``makes`` combines its
    inputs two at a time, and one that ``turns`` gives the opposite of that. ``says`` completes
    'it makes a 1 where ...'."""

    name: str
    sign: str
    makes: Callable[[int, int], int]
    says: str
    turns: bool = False


KINDS = {
    each.name: each
    for each in (
        Kind("AND", "&", and_, "both bits are 1"),
        Kind("OR", "\N{GREATER-THAN OR EQUAL TO}1", or_, "one of the bits is 1, or both are"),
        Kind("XOR", "=1", xor, "just one of the bits is 1"),
        Kind("NOT", "1", or_, "the bit is 0", turns=True),
    )
}


@dataclass(frozen=True, slots=True)
class Gate:
    """A gate of a kind (a name of KINDS): the wires that lead in, and the one that leads out."""

    kind: str
    inputs: tuple[str, ...]
    output: str


@dataclass(frozen=True, slots=True)
class Circuit:
    """Gates, each after those that it depends on, between ``inputs`` and ``outputs``, which are
    names of wires."""

    name: str
    inputs: tuple[str, ...]
    gates: tuple[Gate, ...]
    outputs: tuple[str, ...]

    def evaluate(self, given: Mapping[str, int], ones: int = 1) -> dict[str, int]:
        """What is on every wire, for what is given on the inputs. With ``ones`` a row of ones, the
        values are rows of bits as long, each worked out by itself. KeyError for a wire that
        nothing leads to."""
        bits = {name: given[name] for name in self.inputs}
        for gate in self.gates:
            kind = KINDS[gate.kind]
            made = reduce(kind.makes, (bits[name] for name in gate.inputs))
            bits[gate.output] = made ^ ones if kind.turns else made
        return bits

    @property
    def carries(self) -> bool:
        """Whether each column hands something on to the next one."""
        return "carry in" in self.inputs


def _one_gate(kind: str, *inputs: str) -> Circuit:
    return Circuit(f"{kind} gate", inputs, (Gate(kind, inputs, "result"),), ("result",))


def _adder(second: str) -> tuple[Gate, ...]:
    """A full adder whose second bit is on the wire of this name."""
    return (
        Gate("XOR", ("left", second), "half"),
        Gate("XOR", ("half", "carry in"), "result"),
        Gate("AND", ("half", "carry in"), "passed on"),
        Gate("AND", ("left", second), "both"),
        Gate("OR", ("passed on", "both"), "carry out"),
    )


_INTO_ADDER = ("left", "right", "carry in")
_OUT_OF_ADDER = ("result", "carry out")

CIRCUITS = {
    "add": Circuit("full adder", _INTO_ADDER, _adder("right"), _OUT_OF_ADDER),
    "subtract": Circuit(
        "full adder with a NOT gate",
        _INTO_ADDER,
        (Gate("NOT", ("right",), "turned"), *_adder("turned")),
        _OUT_OF_ADDER,
    ),
    "and": _one_gate("AND", "left", "right"),
    "or": _one_gate("OR", "left", "right"),
    "xor": _one_gate("XOR", "left", "right"),
    "not": _one_gate("NOT", "left"),
    "move": Circuit(
        "selector",
        ("here", "coming", "move"),
        (
            Gate("NOT", ("move",), "stay"),
            Gate("AND", ("here", "stay"), "stayed"),
            Gate("AND", ("coming", "move"), "moved"),
            Gate("OR", ("stayed", "moved"), "result"),
        ),
        ("result",),
    ),
}
"""What stands in a column, by the names that ``Operation.column`` has."""
