"""Programs that run on behind their last instruction, and programs that do not."""

from __future__ import annotations

import pytest

from app.machine.machine import EIGHT_BIT
from app.machine.run import Run
from app.machine.source.assembler import assemble
from app.machine.telling.missing_halt import addresses_carried_out, halt_is_missing
from tests.codes import word


def missing(source: str) -> bool:
    program = assemble(EIGHT_BIT, source)
    assert program.words, program.problems
    run = Run(EIGHT_BIT, program.words, limit=50)
    return halt_is_missing(program, addresses_carried_out(run))


@pytest.mark.parametrize(
    "source",
    [
        "LOAD x\nx: 5",  # 5 in a word of eight bits has the code of HALT
        "LOAD #1\nOUTPUT",
        "JUMP on\nx: 9\non: ADD x",
        # A HALT on one way does not help the other one.
        "LOAD #1\nCOMPARE #1\nJUMP on IF EQUAL\nHALT\non: OUTPUT",
        f"LOAD #1\nx: {word('INPUT')}",
    ],
)
def test_a_halt_is_missing(source: str) -> None:
    assert missing(source)


@pytest.mark.parametrize(
    "source",
    [
        "HALT",
        "LOAD x\nHALT\nx: 5",
        "again: JUMP again",
        "INPUT",  # waits in its last instruction
        "LOAD #0\n" * 16,  # comes to the end of memory, which is told as that
        f"{word('LOAD #9')}\n{word('OUTPUT')}",  # written as numbers
        f"JUMP made\nmade: {word('HALT')}",  # goes to its data on purpose
        "LOAD stop\nSTORE x\nx: OUTPUT\nstop: 0",  # makes its own HALT
    ],
)
def test_no_halt_is_missing(source: str) -> None:
    assert not missing(source)


def test_the_addresses_that_are_carried_out() -> None:
    program = assemble(EIGHT_BIT, "JUMP end\n0\n0\nend: OUTPUT\nHALT")
    assert list(addresses_carried_out(Run(EIGHT_BIT, program.words))) == [0, 3, 4]
