"""Gates and the circuits made of them, held to tables that stand in books and to hardware."""

from __future__ import annotations

from itertools import product

import pyrtl  # type: ignore[import-untyped]
import pytest
from pyrtl.rtllib.adders import one_bit_add  # type: ignore[import-untyped]

from app.machine.gates import CIRCUITS, KINDS, Circuit, Gate

# The truth tables of the functions, for the inputs 00, 01, 10, 11 (of NOT: 0, 1). IEEE Std 91-1984
# and IEC 60617-12 define the symbols by these; common knowledge of every textbook.
TRUTH = {"AND": "0001", "OR": "0111", "XOR": "0110", "NOT": "10"}
# The general qualifying symbols of IEC 60617-12: of the AND element, the OR element, the exclusive
# OR element and the buffer, which a negation circle at its output makes a NOT element.
SIGNS = {"AND": "&", "OR": "≥1", "XOR": "=1", "NOT": "1"}


@pytest.mark.parametrize("kind", KINDS)
def test_truth_table(kind: str) -> None:
    inputs = ("a",) if kind == "NOT" else ("a", "b")
    one = Circuit("one", inputs, (Gate(kind, inputs, "made"),), ("made",))
    made = [
        one.evaluate(dict(zip(inputs, bits, strict=True)))["made"]
        for bits in product((0, 1), repeat=len(inputs))
    ]
    assert "".join(map(str, made)) == TRUTH[kind]


def test_the_signs_and_the_negation_are_those_of_the_standard() -> None:
    assert {name: kind.sign for name, kind in KINDS.items()} == SIGNS
    assert [name for name, kind in KINDS.items() if kind.turns] == ["NOT"]


@pytest.mark.parametrize("given", list(product((0, 1), repeat=3)))
def test_the_full_adder_does_what_that_of_the_hardware_library_does(given: tuple[int, ...]) -> None:
    pyrtl.reset_working_block()
    inputs = [pyrtl.Input(1, name) for name in ("left", "right", "carried")]
    made = pyrtl.Output(2, "made")
    made <<= pyrtl.concat(*reversed(one_bit_add(*inputs)))
    simulation = pyrtl.FastSimulation(tracer=None)
    simulation.step(dict(zip(("left", "right", "carried"), given, strict=True)))
    bits = CIRCUITS["add"].evaluate(dict(zip(CIRCUITS["add"].inputs, given, strict=True)))
    assert 2 * bits["carry out"] + bits["result"] == simulation.inspect(made) == sum(given)


@pytest.mark.parametrize("given", list(product((0, 1), repeat=3)))
def test_the_selector_is_a_multiplexer(given: tuple[int, ...]) -> None:
    here, coming, move = given
    circuit = CIRCUITS["move"]
    bits = circuit.evaluate(dict(zip(circuit.inputs, given, strict=True)))
    # The 2-to-1 multiplexer of M. Morris Mano, Digital Design (from memory).
    assert bits["result"] == (coming if move else here)


@pytest.mark.parametrize("circuit", CIRCUITS.values(), ids=CIRCUITS)
def test_every_wire_comes_from_somewhere_and_leads_somewhere(circuit: Circuit) -> None:
    """Looked at as a list of connections, as an electrician would."""
    sources = [*circuit.inputs, *(gate.output for gate in circuit.gates)]
    assert len(sources) == len(set(sources))
    used = {name for gate in circuit.gates for name in gate.inputs} | set(circuit.outputs)
    assert used == set(sources)
    there = set(circuit.inputs)
    for gate in circuit.gates:
        assert set(gate.inputs) <= there
        there.add(gate.output)


def test_rows_of_bits_are_worked_out_at_once() -> None:
    bits = CIRCUITS["not"].evaluate({"left": 0b0110}, ones=0b1111)
    assert bits["result"] == 0b1001
