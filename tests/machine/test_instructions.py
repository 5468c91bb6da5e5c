"""The instruction table and the fetch, against the specification and against the textbooks."""

from __future__ import annotations

import string

import pytest

from app.machine.addressing import Operand
from app.machine.instructions import DECODE, FETCH, INSTRUCTIONS, Instruction
from app.machine.machine import EIGHT_BIT
from tests.codes import rows

# Where the specification's words and the notation differ.
SAID_OTHERWISE = {"the control unit stops the clock": "clock <- stopped", "next input": "input"}

# Fetch as the textbooks have it, from memory. W. Stallings, Computer Organization and
# Architecture, chapter on the control unit's micro-operations, "The fetch cycle":
#     t1: MAR <- (PC);  t2: MBR <- Memory, PC <- (PC) + I;  t3: IR <- (MBR)
# and he adds that the PC may as well be counted at t3, which is the schedule below. M. Morris
# Mano, Computer System Architecture, 3rd edition, section 5-5, "Fetch and decode", has no MBR:
#     T0: AR <- PC;  T1: IR <- M[AR], PC <- PC + 1;  T2: decode IR(12-14), AR <- IR(0-11)
# Our MDR is Stallings' MBR, our CIR his IR, and I is one word. What he does within one clock is
# one step after another here: t1 is our step 1, t2 our step 2, t3 our steps 3 and 4.
STALLINGS_FETCH = (
    {"MAR <- PC"},
    {"MBR <- Memory"},
    {"PC <- PC + I", "IR <- MBR"},
)
STALLINGS_ADD = ("MAR <- IR(address)", "MBR <- Memory", "R1 <- R1 + MBR")
OURS_TO_STALLINGS = {
    "MAR <- PC": "MAR <- PC",
    "MDR <- memory[MAR]": "MBR <- Memory",
    "CIR <- MDR": "IR <- MBR",
    "PC <- PC + 1": "PC <- PC + I",
    "MAR <- operand": "MAR <- IR(address)",
    "ACC, status <- ACC + MDR": "R1 <- R1 + MBR",
}


def by_written(written: str) -> Instruction:
    return next(each for each in INSTRUCTIONS if each.written == written)


@pytest.mark.parametrize(("code", "written", "effect"), rows(), ids=lambda value: str(value))
def test_instruction_is_as_specified(code: int, written: str, effect: str) -> None:
    for words, notation in SAID_OTHERWISE.items():
        effect = effect.replace(words, notation)
    instruction = EIGHT_BIT.by_code[code]
    assert instruction.written == written
    notation = "; ".join(each.notation for each in instruction.transfers)
    assert notation.casefold() == effect.casefold()


def test_sixteen_codes_fill_the_small_opcode() -> None:
    assert [each.code for each in INSTRUCTIONS] == list(range(16))


def test_fetch_is_that_of_the_textbook() -> None:
    ours = [OURS_TO_STALLINGS[each.notation] for each in FETCH]
    clocks = [
        next(at for at, together in enumerate(STALLINGS_FETCH) if each in together) for each in ours
    ]
    assert set(ours) == set().union(*STALLINGS_FETCH)
    assert len(ours) == 4
    assert clocks == sorted(clocks)


def test_adding_from_memory_is_that_of_the_textbook() -> None:
    """Stallings' execute cycle of ADD R1, X."""
    ours = tuple(OURS_TO_STALLINGS[each.notation] for each in by_written("ADD a").transfers)
    assert ours == STALLINGS_ADD


def test_decoding_only_reads_the_instruction_register() -> None:
    """Mano's T2: decode operation code, and the address part from IR."""
    assert [(each.left, each.target) for each in DECODE] == [("CIR", "opcode, operand")]


def test_names_are_the_first_words() -> None:
    assert set(EIGHT_BIT.names) == {each.written.split()[0] for each in INSTRUCTIONS}
    assert len(EIGHT_BIT.names) == len(set(EIGHT_BIT.names))


@pytest.mark.parametrize("instruction", INSTRUCTIONS, ids=lambda each: each.written)
def test_the_meaning_names_the_operand_where_there_is_one(instruction: Instruction) -> None:
    fields = [name for _, name, _, _ in string.Formatter().parse(instruction.meaning) if name]
    assert fields == ([] if instruction.operand is Operand.NONE else ["operand"])


@pytest.mark.parametrize("instruction", INSTRUCTIONS, ids=lambda each: each.written)
def test_the_operand_is_used_as_it_is_written(instruction: Instruction) -> None:
    """An address goes to MAR or PC; a number goes anywhere else; no operand is not read."""
    targets = {
        each.target for each in instruction.transfers if "operand" in (each.left, each.right)
    }
    goes_to = {
        Operand.NONE: not targets,
        Operand.ADDRESS: bool(targets) and targets <= {"MAR", "PC"},
        Operand.NUMBER: bool(targets) and not targets & {"MAR", "PC"},
    }
    assert goes_to[instruction.operand]


@pytest.mark.parametrize(
    ("written", "text"),
    [
        ("HALT", "HALT"),
        ("LOAD a", "LOAD fare"),
        ("SUBTRACT #n", "SUBTRACT #fare"),
        ("JUMP a IF MORE", "JUMP fare IF MORE"),
    ],
)
def test_writing_an_instruction(written: str, text: str) -> None:
    assert by_written(written).write("fare") == text


def test_only_jumps_jump() -> None:
    assert {each.written for each in INSTRUCTIONS if each.jumps} == {
        "JUMP a",
        "JUMP a IF LESS",
        "JUMP a IF EQUAL",
        "JUMP a IF MORE",
    }
