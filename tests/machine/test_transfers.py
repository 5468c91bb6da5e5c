"""Register transfers: their notation, what they move on the buses, and their sentences."""

from __future__ import annotations

import string

import pytest

from app.machine.instructions import DECODE, FETCH, INSTRUCTIONS
from app.machine.operations import Status
from app.machine.transfers import Carrier, Leg, Place, Transfer

ALL = {
    each.notation: each
    for each in (*FETCH, *DECODE, *(part for each in INSTRUCTIONS for part in each.transfers))
}
EVERY = pytest.mark.parametrize("transfer", ALL.values(), ids=ALL)
CONDITIONAL = [each for each in ALL.values() if each.condition]
# The parts that lie outside the processor, and so are reached over a bus.
OUTSIDE = {Place.MEMORY, Place.INPUT, Place.OUTPUT}


def legs(transfer: Transfer) -> list[Leg]:
    return [leg for beat in transfer.beats() for leg in beat]


@EVERY
def test_notation_is_read_and_written_alike(transfer: Transfer) -> None:
    assert Transfer.parse(transfer.notation) == transfer


def test_parts_of_a_notation() -> None:
    transfer = Transfer.parse("ACC, status <- ACC - MDR")
    assert (transfer.target, transfer.left, transfer.right) == ("ACC", "ACC", "MDR")
    assert transfer.operation is not None and transfer.operation.symbol == "-"
    assert transfer.targets == ("ACC", "status")
    assert Transfer.parse("ACC <- ACC - MDR").targets == ("ACC",)
    assert Transfer.parse("PC <- operand, when status is MORE").condition is Status.MORE
    assert Transfer.parse("PC <- operand").condition is None


@pytest.mark.parametrize(
    "notation",
    [
        "",
        "ACC",
        "ACC <- ",
        "MDR -> ACC",
        "ACC <- ACC * MDR",
        "PC <- operand, when status is ODD",
        "ACC <- memory[MAR]",  # a transfer in form, but there is no such path
        "CIR <- ACC",
        "MAR <- MDR",  # a word may be no address
        "status <- ACC",
        "status <- ACC + MDR",
        "ACC <- ACC compared with MDR",
        "PC <- PC - 1",
        "ACC, status <- MDR",
        "ACC <- X",
        "MAR <- operand, when status is LESS",
    ],
)
def test_what_the_machine_cannot_do_is_refused(notation: str) -> None:
    with pytest.raises(ValueError, match=r"transfer|no part"):
        Transfer.parse(notation)


def test_memory_is_read_over_the_buses() -> None:
    """The textbook read, from memory: the address goes out on the address bus while the control
    unit raises the read signal; then the word comes back on the data bus to the MDR."""
    together, then = ALL["MDR <- memory[MAR]"].beats()
    assert set(together) == {
        Leg(Place.MAR, Place.MEMORY, Carrier.ADDRESS, "MAR"),
        Leg(Place.CONTROL_UNIT, Place.MEMORY, Carrier.CONTROL, "read"),
    }
    assert then == (Leg(Place.MEMORY, Place.MDR, Carrier.DATA, "memory[MAR]"),)


def test_memory_is_written_over_the_buses() -> None:
    together, then = ALL["memory[MAR] <- MDR"].beats()
    assert set(together) == {
        Leg(Place.MAR, Place.MEMORY, Carrier.ADDRESS, "MAR"),
        Leg(Place.CONTROL_UNIT, Place.MEMORY, Carrier.CONTROL, "write"),
    }
    assert then == (Leg(Place.MDR, Place.MEMORY, Carrier.DATA, "MDR"),)


@EVERY
def test_a_bus_is_used_exactly_to_leave_the_processor(transfer: Transfer) -> None:
    for leg in legs(transfer):
        assert (leg.carrier is Carrier.INSIDE) == (not OUTSIDE & {leg.source, leg.target})


@EVERY
def test_memory_is_reached_only_through_its_two_registers(transfer: Transfer) -> None:
    beside_memory = {
        other
        for leg in legs(transfer)
        for other, place in ((leg.source, leg.target), (leg.target, leg.source))
        if place is Place.MEMORY
    }
    assert beside_memory <= {Place.MAR, Place.MDR, Place.CONTROL_UNIT}


@EVERY
def test_the_last_movement_arrives_at_the_target(transfer: Transfer) -> None:
    arrivals = {leg.target for leg in transfer.beats()[-1]} if transfer.beats() else set()
    assert arrivals == (set(transfer.target_places) if transfer.target != "clock" else set())


@EVERY
def test_the_alu_gets_both_values_before_it_gives_a_result(transfer: Transfer) -> None:
    if not transfer.uses_alu:
        assert Place.ALU not in {
            place for leg in legs(transfer) for place in (leg.source, leg.target)
        }
        return
    into, out = transfer.beats()
    assert [leg.carries for leg in into] == [transfer.left, transfer.right]
    assert {leg.target for leg in into} == {Place.ALU}
    assert [leg.source for leg in out] == [Place.ALU] * len(transfer.targets)
    assert [leg.target for leg in out] == list(transfer.target_places)


def test_what_uses_the_alu() -> None:
    """Arithmetic and comparison; PC + 1 is counted by the program counter itself."""
    assert {each.notation for each in ALL.values() if each.uses_alu} == {
        "ACC, status <- ACC + MDR",
        "ACC, status <- ACC + operand",
        "ACC, status <- ACC - MDR",
        "ACC, status <- ACC - operand",
        "status <- ACC compared with MDR",
        "status <- ACC compared with operand",
    }


@pytest.mark.parametrize("transfer", CONDITIONAL, ids=lambda each: each.notation)
def test_a_jump_asks_the_status_first(transfer: Transfer) -> None:
    asked, jump = transfer.beats(taken=True)
    assert [(leg.source, leg.target) for leg in asked] == [(Place.STATUS, Place.CONTROL_UNIT)]
    assert [(leg.source, leg.target) for leg in jump] == [(Place.CONTROL_UNIT, Place.PC)]
    assert transfer.beats(taken=False) == (asked,)


@pytest.mark.parametrize("taken", [True, False])
@EVERY
def test_every_transfer_has_a_sentence(transfer: Transfer, taken: bool) -> None:
    words = transfer.words(taken)
    names = {name for _, name, _, _ in string.Formatter().parse(words) if name}
    known = {"value", "address", "left", "right", "status", "compares", "becomes", "pc"}
    known |= {"meaning"}
    assert words.endswith(".")
    assert names <= known


def test_a_jump_not_taken_is_told_otherwise() -> None:
    transfer = CONDITIONAL[0]
    assert "so it jumps" in transfer.words(taken=True)
    assert "no jump" in transfer.words(taken=False)
