"""Trace tables, held to an interpreter that shares no code with ``app`` (``model.py``), to a table
written by hand, and their files to the reader of Python's own ``csv``."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

import pytest

from app.lesson.paper import trace as module
from app.lesson.paper.trace import (
    MOST_MEMORY_COLUMNS,
    Rows,
    all_columns,
    chosen_columns,
    column,
    trace_csv,
    trace_table,
    usual_columns,
)
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT
from app.machine.run import Run
from app.machine.source.assembler import assemble
from app.machine.telling.reading import Reading
from app.machine.words import Format
from tests.codes import bits, word
from tests.lesson.model import model_of

COUNTING = """
        LOAD  cans
again:  OUTPUT
        SUBTRACT #1
        STORE cans
        COMPARE #0
        JUMP again IF MORE
        HALT
cans:   2
"""
LARGER = """
        INPUT
        STORE one
        INPUT
        COMPARE one
        JUMP out IF MORE
        LOAD one
out:    OUTPUT
        HALT
one:    0
"""
TIMES = """
again:  LOAD  sum
        ADD   left
        STORE sum
        LOAD  right
        SUBTRACT #1
        STORE right
        JUMP again IF MORE
        LOAD  sum
        OUTPUT
        HALT
left:   6
right:  4
sum:    0
"""
BELOW_NOUGHT = """
        LOAD #3
        SUBTRACT #5
        OUTPUT
        ADD #2
        OUTPUT
        JUMP end IF EQUAL
        LOAD #9
end:    HALT
"""
PROGRAMS = [
    (COUNTING, []),
    (LARGER, [3, 8]),
    (LARGER, [8, 3]),
    (LARGER, [5, 5]),
    (TIMES, []),
    (BELOW_NOUGHT, []),
]


def made(source: str, inputs: list[int], format: Format = EIGHT_BIT) -> tuple[Run, object]:
    program = assemble(format, source)
    assert not program.problems
    return Run(format, program.words, [format.pattern(each) for each in inputs]), program


@pytest.mark.parametrize("format", [EIGHT_BIT, SIXTEEN_BIT], ids=lambda each: each.name)
@pytest.mark.parametrize(("source", "inputs"), PROGRAMS)
def test_the_table_says_what_another_interpreter_does(source, inputs, format):
    run, program = made(source, inputs, format)
    trace = trace_table(run, program, all_columns(run, program))
    model = model_of(source, inputs).run()
    assert len(trace.rows) == len(model)
    assert trace.complete
    for row, expected in zip(trace.rows, model, strict=True):
        shown = {
            each.key: value.replace("\N{MINUS SIGN}", "-")
            for each, value in zip(trace.columns, row.values, strict=True)
        }
        assert row.address == str(expected.address)
        assert shown["PC"] == str(expected.pc)
        assert shown["ACC"] == str(expected.acc)
        assert shown["status"] == expected.status
        assert shown["output"] == expected.output
        for each in trace.columns:
            if each.address is not None:
                assert shown[each.key] == str(expected.memory[each.address])


def test_a_table_written_by_hand():
    run, program = made(COUNTING, [])
    trace = trace_table(run, program, usual_columns(run, program, Rows.INSTRUCTIONS))
    assert [each.title for each in trace.columns] == ["PC", "ACC", "status", "cans", "output"]
    assert trace.start == ("0", "0", "–", "2", "")
    assert [(row.instruction, row.values) for row in trace.rows] == [
        ("LOAD cans", ("1", "2", "–", "2", "")),
        ("OUTPUT", ("2", "2", "–", "2", "2")),
        ("SUBTRACT #1", ("3", "1", "MORE", "2", "")),
        ("STORE cans", ("4", "1", "MORE", "1", "")),
        ("COMPARE #0", ("5", "1", "MORE", "1", "")),
        ("JUMP again IF MORE", ("1", "1", "MORE", "1", "")),
        ("OUTPUT", ("2", "1", "MORE", "1", "1")),
        ("SUBTRACT #1", ("3", "0", "EQUAL", "1", "")),
        ("STORE cans", ("4", "0", "EQUAL", "0", "")),
        ("COMPARE #0", ("5", "0", "EQUAL", "0", "")),
        ("JUMP again IF MORE", ("6", "0", "EQUAL", "0", "")),
        ("HALT", ("7", "0", "EQUAL", "0", "")),
    ]
    written = [row.written for row in trace.rows]
    assert written[1] == (True, False, False, False, True)
    assert written[2] == (True, True, True, False, False)
    assert written[3] == (True, False, False, True, False)


def test_transfers_by_hand():
    """The first instruction of a program, register by register, as the textbooks have the cycle."""
    run, program = made(COUNTING, [])
    columns = chosen_columns(run, program, ["PC", "MAR", "MDR", "CIR", "ACC"])
    trace = trace_table(run, program, columns, Rows.TRANSFERS, most=8)
    assert [(row.transfer, row.values) for row in trace.rows] == [
        ("MAR <- PC", ("0", "0", "0", "0", "0")),
        ("MDR <- memory[MAR]", ("0", "0", "LOAD 7", "0", "0")),
        ("CIR <- MDR", ("0", "0", "LOAD 7", "LOAD 7", "0")),
        ("PC <- PC + 1", ("1", "0", "LOAD 7", "LOAD 7", "0")),
        ("opcode, operand <- CIR", ("1", "0", "LOAD 7", "LOAD 7", "0")),
        ("MAR <- operand", ("1", "7", "LOAD 7", "LOAD 7", "0")),
        ("MDR <- memory[MAR]", ("1", "7", "2", "LOAD 7", "0")),
        ("ACC <- MDR", ("1", "7", "2", "LOAD 7", "2")),
    ]
    assert not trace.complete


def test_a_number_that_looks_like_an_instruction_is_shown_as_a_number():
    """The pattern of STORE 7: what was read last tells which of the two MDR holds."""
    number = word("STORE 7")
    run, program = made(f"LOAD 2\nHALT\n{number}", [])
    trace = trace_table(run, program, chosen_columns(run, program, ["MDR", "CIR"]))
    assert trace.rows[0].values == (str(number), "LOAD 2")
    assert trace.rows[1].values == ("HALT", "HALT")


def test_binary():
    run, program = made(COUNTING, [])
    columns = chosen_columns(run, program, ["PC", "CIR", "ACC"])
    trace = trace_table(run, program, columns, reading=Reading(run.machine, "binary"))
    assert trace.rows[0].values == ("0001", bits("LOAD 7"), "0000 0010")


@pytest.mark.parametrize(
    ("source", "inputs", "rows"),
    [
        ("INPUT\nINPUT\nHALT", [4], 2),  # waits in the second
        ("LOAD #1\nADD #1", [], 3),  # then an empty word, which is HALT
        ("again: JUMP again", [], 60),  # has no end
    ],
)
def test_runs_that_do_not_end_as_they_should(source, inputs, rows):
    run, program = made(source, inputs)
    assert len(trace_table(run, program, (column("PC", program),)).rows) == rows


def test_a_run_off_memory_has_a_row_for_each_word():
    source = "\n".join(["ADD #1"] * 16)
    run, program = made(source, [])
    trace = trace_table(run, program, (column("PC", program),))
    assert [row.values for row in trace.rows] == [(str(each),) for each in range(1, 17)]
    assert trace.complete


def test_the_columns_that_say_something():
    def titles(source, inputs=(), rows_are=Rows.INSTRUCTIONS):
        run, program = made(source, list(inputs))
        return [each.title for each in usual_columns(run, program, rows_are)]

    assert titles("LOAD #1\nHALT") == ["PC", "ACC"]
    assert titles("LOAD #1\nOUTPUT\nHALT") == ["PC", "ACC", "output"]
    assert titles("LOAD #1\nSTORE 9\nHALT") == ["PC", "ACC", "[9]"]
    assert titles(LARGER, [1, 2]) == ["PC", "ACC", "status", "one", "output"]
    assert titles("HALT", rows_are=Rows.TRANSFERS) == ["PC", "MAR", "MDR", "CIR", "ACC"]
    many = "\n".join([*(f"STORE {at}" for at in range(9, 15)), "HALT"])
    assert titles(f"LOAD #1\n{many}").count("[9]") == 1
    assert len(titles(f"LOAD #1\n{many}")) == 2 + MOST_MEMORY_COLUMNS


def test_an_unknown_column_is_refused():
    run, program = made(COUNTING, [])
    for key in ("memory 16", "memory x", "memory", "ALU", ""):
        with pytest.raises(ValueError, match="no column"):
            column(key, program)
    with pytest.raises(ValueError, match="'total'"):
        chosen_columns(run, program, ["PC", "total"])


def test_csv():
    run, program = made(BELOW_NOUGHT, [])
    read = list(csv.DictReader(io.StringIO("".join(trace_csv(run, program)), newline="")))
    model = model_of(BELOW_NOUGHT, []).run()
    assert [(int(each["PC"]), int(each["ACC"]), each["status"]) for each in read] == [
        (row.pc, row.acc, row.status) for row in model
    ]
    assert [each["output"] for each in read if each["output"]] == ["-2", "0"]
    assert read[-1]["instruction"] == "HALT"
    # Fetch 4, decode 1, execute 1 of every instruction but JUMP, LOAD and HALT alike.
    assert int(read[-1]["step"]) == run.last_step


def read_csv(lines: Iterable[str]) -> list[list[str]]:
    return [*csv.reader(io.StringIO("".join(lines), newline=""))]


def test_a_csv_file_of_a_long_run_has_an_end_that_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    run, program = made("again: ADD #1\nSTORE 14\nSTORE 15\nJUMP again", [])
    head, *rows, end = whole = read_csv(trace_csv(run, program, Rows.TRANSFERS))
    assert len(rows) == module.MOST_CSV_ROWS
    assert [int(each[0]) for each in rows] == [*range(1, len(rows) + 1)]
    assert {*map(len, whole)} == {len(head)}
    assert end == ["The run goes on: these are its first 12,000 rows.", *[""] * (len(head) - 1)]
    # Many columns leave fewer rows.
    monkeypatch.setattr(module, "MOST_CSV_CELLS", 10 * len(head) + 3)
    *fewer, end = read_csv(trace_csv(run, program, Rows.TRANSFERS))
    assert fewer == whole[:11] and end[0] == "The run goes on: these are its first 10 rows."


def test_a_csv_file_that_is_just_full_does_not_say_that_the_run_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    run, program = made(BELOW_NOUGHT, [])
    text = [*trace_csv(run, program)]
    monkeypatch.setattr(module, "MOST_CSV_ROWS", len(text) - 1)
    assert [*trace_csv(run, program)] == text
    monkeypatch.setattr(module, "MOST_CSV_ROWS", len(text) - 2)
    assert [*trace_csv(run, program)][:-1] == text[:-1]


def test_csv_by_transfer_has_every_step():
    run, program = made(TIMES, [])
    text = "".join(trace_csv(run, program, Rows.TRANSFERS))
    assert text.endswith("\r\n")
    read = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [int(each["step"]) for each in read] == list(range(1, run.last_step + 1))
    assert {each["phase"] for each in read} == {"fetch", "decode", "execute"}
    assert read[4]["transfer"] == "opcode, operand <- CIR"
    assert read[-1]["sum"] == "24"
