"""Programs that leave their instructions, and what is said of them."""

from __future__ import annotations

import pytest

from app.machine.machine import EIGHT_BIT
from app.machine.run import Run
from app.machine.source.assembler import assemble
from app.machine.telling.astray import Astray, astray
from tests.codes import word


def found(source: str) -> Astray | None:
    program = assemble(EIGHT_BIT, source)
    assert program.words, program.problems
    steps = Run(EIGHT_BIT, program.words, limit=50).steps()
    return astray(program, [step[3] for step in steps if step[2].transfer.notation == "MAR <- PC"])


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("LOAD x\nx: 5", Astray(1, True, 2)),
        ("LOAD #1\nOUTPUT", Astray(2, True, None)),
        # A HALT on one way does not help the other one.
        ("LOAD #1\nJUMP on IF MORE\nJUMP on\nHALT\non: OUTPUT", Astray(5, True, None)),
        # There is a HALT, and a number comes first.
        ("LOAD x\n\nx: 5\nHALT", Astray(1, False, 3)),
        ("x: 5\nLOAD x\nHALT", Astray(0, False, 1)),
        ("JUMP 9\nHALT", Astray(9, False, None)),
    ],
)
def test_a_run_goes_astray(source: str, expected: Astray) -> None:
    assert found(source) == expected


def test_where_nothing_came_before_nothing_is_decoded(monkeypatch: pytest.MonkeyPatch) -> None:
    decoded: list[int] = []
    monkeypatch.setattr(
        "app.machine.telling.astray.decode",
        lambda machine, word: decoded.append(word) or (None, 0),
    )
    assert found("x: 5\nLOAD x\nHALT") == Astray(0, False, 1)
    assert decoded == []


@pytest.mark.parametrize(
    "source",
    [
        "HALT",
        "LOAD x\nHALT\nx: 5",
        "again: JUMP again",
        "INPUT",  # waits in its last instruction
        "LOAD #0\n" * 16,  # comes to the end of memory, which is told as that
        f"{word('LOAD #9')}\n{word('OUTPUT')}",  # written as numbers
        f"JUMP made\nHALT\nmade: {word('OUTPUT')}\n{word('HALT')}",  # goes there on purpose
        f"JUMP made\nmade: {word('HALT')}",
        "LOAD stop\nSTORE x\nx: OUTPUT\nstop: 0",  # makes its own HALT
    ],
)
def test_a_run_does_not(source: str) -> None:
    assert found(source) is None


def test_what_is_said() -> None:
    missing, number, empty = Astray(1, True, 2), Astray(1, False, 3), Astray(9, False, None)
    assert missing.mend == "Perhaps a HALT is missing."
    assert "HALT is missing" not in f"{number.what} {number.mend} {empty.what} {empty.mend}"
    assert number.what.startswith("Line 3 is a number")
