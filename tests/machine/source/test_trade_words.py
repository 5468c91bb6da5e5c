"""What is offered for the words of other machines: it assembles, and it does the same."""

from __future__ import annotations

import re

import pytest

from app.machine.growing import PARTS, grown, part_with
from app.machine.machine import EIGHT_BIT, MACHINES
from app.machine.operations import Status
from app.machine.run import Run
from app.machine.source.assembler import assemble
from app.machine.source.problems import nearest
from app.machine.source.trade_words import TRADE_WORDS, instructions_meant, outcomes_meant

QUOTED = re.compile(r"'([^']*)'")


def mend_of(line: str) -> str:
    """How to mend the one line of a program that cannot be read."""
    problems = assemble(EIGHT_BIT, f"{line}\na: 1\nb: 2\nagain: HALT").problems
    assert len(problems) == 1, line
    return problems[0].mend


@pytest.mark.parametrize(
    ("line", "offered"),
    [
        ("PRINT", ["OUTPUT"]),
        ("READ", ["INPUT"]),
        ("STOP", ["HALT"]),
        ("END", ["HALT"]),
        ("STA a", ["STORE a"]),
        ("STO a", ["STORE a"]),
        ("LDA a", ["LOAD a"]),
        ("lda #5", ["LOAD #5"]),
        ("LDM 5", ["LOAD #5"]),
        ("BRA again", ["JUMP again"]),
        ("JMP again", ["JUMP again"]),
        ("GOTO again", ["JUMP again"]),
        ("STA #5", ["STORE a"]),
        ("BNE again", ["JUMP again IF LESS", "JUMP again IF MORE"]),
        ("BRP again", ["COMPARE #0", "JUMP again IF EQUAL", "JUMP again IF MORE"]),
        ("MOV a, b", ["LOAD a", "STORE b"]),
        ("DAT 5", ["5"]),
        ("total DAT 5", ["total: 5"]),
    ],
)
def test_what_is_written_here(line: str, offered: list[str]) -> None:
    """Common practice: what these mnemonics do on the machines that have them."""
    assert QUOTED.findall(
        mend_of(line).split(": ", 1)[-1] if line == "DAT 5" else mend_of(line)
    ) == (offered)


@pytest.mark.parametrize("word", TRADE_WORDS)
@pytest.mark.parametrize("machine", MACHINES.values(), ids=MACHINES)
def test_every_offer_can_be_written(machine, word: str) -> None:  # type: ignore[no-untyped-def]
    assert word == word.upper()
    lines = "\n".join(each.replace("#n", "#7") for each in TRADE_WORDS[word])
    if any(part_with(each, EIGHT_BIT) for each in TRADE_WORDS[word]):
        machine = grown(frozenset(PARTS))
    assert assemble(machine, f"{lines}\na: 1\nb: 2").problems == ()
    # A word of ours needs no translation, and a word with none is not answered with another.
    assert word not in machine.names
    if not lines:
        assert instructions_meant(word, machine.names) == ()


@pytest.mark.parametrize(
    ("line", "offered", "part"),
    [
        ("LSL #2", "SHIFT #2 LEFT", "bit operations"),
        ("ASR 3", "SHIFT #3 RIGHT SIGNED", "bit operations"),
        ("LDX again", "LOAD again INDEXED", "index register"),
        ("INX", "ADD #1 TO INDEX", "index register"),
        ("JSR again", "CALL again", "stack"),
        ("RTS", "RETURN", "stack"),
        ("BCS again", "JUMP again IF CARRY", "bit operations"),
    ],
)
def test_words_for_what_the_parts_do(line: str, offered: str, part: str) -> None:
    """Common practice again; without the part, the part is named."""
    (problem,) = assemble(grown(frozenset({part})), f"{line}\nagain: HALT").problems
    assert QUOTED.findall(problem.mend) == [offered]
    assert f"'with: {part}'" in mend_of(line)


@pytest.mark.parametrize(
    ("said", "jumps"),
    [
        ("IF NOT EQUAL", "LESS MORE"),
        ("IF UNEQUAL", "LESS MORE"),
        ("IF NOTEQUAL", "LESS MORE"),
        ("if !=", "LESS MORE"),
        ("IF UNEQAL", "LESS MORE"),
        ("UNLESS EQUAL", "LESS MORE"),
        ("IF NOT LESS", "EQUAL MORE"),
        ("IF NOT MORE", "LESS EQUAL"),
        ("IF NOT GREATER THAN", "LESS EQUAL"),
        ("IF LESS OR EQUAL", "LESS EQUAL"),
        ("IF AT LEAST", "EQUAL MORE"),
        ("IF NOT UNEQUAL", "EQUAL"),
        ("IF GREATER", "MORE"),
        ("IF LES", "LESS"),
        ("IF EQAUL", "EQUAL"),
        ("IF THE SAME", "EQUAL"),
        ("LESS", "LESS"),
        ("IF NOT LESS OR EQUAL", ""),
        ("IF LESS OR NOT EQUAL", ""),
        ("IF LESS OR EQUAL OR MORE", ""),
        ("IF NOT", ""),
        ("IF WET", ""),
        ("UNLESS", ""),
    ],
)
def test_conditions(said: str, jumps: str) -> None:
    assert [each.value for each in outcomes_meant(said.split())] == jumps.split()
    mend = mend_of(f"JUMP again {said}")
    offered = re.findall(r"IF ([A-Z]+)", mend)
    assert offered == (jumps.split() or ["LESS", "EQUAL", "MORE"])


@pytest.mark.parametrize("said", ["NOT EQUAL", "NOT LESS", "NOT MORE", "UNEQUAL"])
@pytest.mark.parametrize("value", [3, 4, 5])
def test_the_jumps_offered_do_what_was_meant(said: str, value: int) -> None:
    """Carried out: they jump just where the condition, read as English, holds of a value and 4."""
    wanted = {
        "NOT EQUAL": value != 4,
        "UNEQUAL": value != 4,
        "NOT LESS": value >= 4,
        "NOT MORE": value <= 4,
    }[said]
    jumps = "\n".join(QUOTED.findall(mend_of(f"JUMP again IF {said}")))
    source = f"LOAD #{value}\nCOMPARE #4\n{jumps}\nLOAD #0\nHALT\nagain: LOAD #1\nHALT"
    program = assemble(EIGHT_BIT, source)
    assert program.problems == ()
    assert Run(EIGHT_BIT, program.words).finish().acc == wanted


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        *(("lod", "LOAD"), ("LAOD", "LOAD"), ("STROE", "STORE"), ("OUPUT", "OUTPUT")),
        *(("IMPUT", "INPUT"), ("HATL", "HALT"), ("SUBSTRACT", "SUBTRACT"), ("COMPAIR", "COMPARE")),
        *(("JUMPS", "JUMP"), ("OUTP", "OUTPUT"), ("ADDD", "ADD"), ("STOP", "HALT")),
        # No slip of the hand makes one of these of an operation.
        *(("AND", None), ("OR", None), ("RESTORE", None), ("PORT", None), ("UNLOAD", None)),
        *(("BNE", None), ("ODD", None), ("SUM", None), ("I", None), ("zzz", None)),
    ],
)
def test_slips_of_the_hand(typed: str, meant: str | None) -> None:
    assert instructions_meant(typed, EIGHT_BIT.names) == ((meant,) if meant else ())


def test_a_slip_that_is_as_near_to_two_is_told_of_both() -> None:
    assert instructions_meant("ANDD", ("ADD", "AND", "HALT")) == ("ADD", "AND")


@pytest.mark.parametrize(
    ("typed", "known"),
    [("unhide", "hide"), ("not less", "less"), ("unequal", "equal"), ("disable", "able")],
)
def test_the_opposite_is_no_near_miss(typed: str, known: str) -> None:
    assert nearest(typed, [known]) is None
    assert nearest(f"{known}x", [known]) == known


@pytest.mark.parametrize("status", Status)
def test_a_condition_without_its_space(status: Status) -> None:
    """IFEQUAL is nearer to UNEQUAL than to EQUAL."""
    assert outcomes_meant([f"IF{status}"]) == (status,)


def test_every_outcome_is_one_of_the_status() -> None:
    assert [outcomes_meant([each]) for each in Status] == [(each,) for each in Status]


@pytest.mark.parametrize("label", ["status", "ACC", "accumulator", "Pc", "mbr"])
def test_a_label_with_the_name_of_a_register(label: str) -> None:
    program = assemble(EIGHT_BIT, f"HALT\n {label}: 4")
    (warning,) = program.warnings
    assert (warning.line, warning.column, warning.length) == (2, 2, len(label))
    assert program.problems == () and "register" in warning.what
    assert f"{label}_1" in warning.mend
