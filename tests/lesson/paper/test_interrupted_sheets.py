"""Sheets of a run that requests break into: a row for each request that is served, held to the
hardware, and what is said about requests beside the program."""

from __future__ import annotations

import pytest

from app.lesson.file.reader import read_lesson
from app.lesson.model import Scene
from app.lesson.paper.quiz import make_quiz
from app.lesson.paper.trace import SERVED, Rows, all_columns, trace_table, usual_columns
from app.lesson.paper.versions import Version
from app.lesson.paper.worksheet import Support, make_worksheet
from app.machine.growing import PARTS, grown
from app.machine.requests import Request
from app.machine.run import Run
from app.machine.source.assembler import assemble
from tests.board.test_interrupted_board import LESSON
from tests.hardware.rtl import Asked, simulate

REQUESTS = "in instruction 6: 65\nafter instruction 9: 66"
TEXT = (
    LESSON.replace("in instruction 6: 65", REQUESTS)
    + """
```question
ask at first request comes: When will it be served?
answer at request served
ask: when the request is served
```

```question
before transfer 3 of request served: Which address will be kept?
ask: which address is kept
```
"""
)


@pytest.fixture
def scene() -> Scene:
    (found,) = read_lesson("bell", TEXT).scenes
    return found


def test_a_request_has_a_row_of_its_own(scene: Scene) -> None:
    """After each row the registers are those of the hardware after its last step."""
    asked = [Asked(6, 4, 65), Asked(9, 0, 66)]
    parts = frozenset({"stack", "interrupts"})
    real = simulate("16-bit", scene.program.words, (), 300, parts=parts, requests=asked)
    for rows_are in Rows:
        trace = trace_table(
            scene.run, scene.program, all_columns(scene.run, scene.program), rows_are, most=400
        )
        keys = [each.key for each in trace.columns]
        assert trace.complete and trace.rows[-1].step == len(real)
        for row in trace.rows:
            after = real[row.step - 1]
            held = dict(zip(keys, row.values, strict=True))
            assert held["PC"] == str(after.pc) and held["SP"] == str(after.sp)
            assert (
                held["V"] == str(after.v) and held["interrupts"] == ("off", "on")[after.interrupts]
            )
            assert held["status"] == (after.status or "\N{EN DASH}")
        served = [row for row in trace.rows if row.instruction == SERVED]
        assert len(served) == (2 if rows_are is Rows.INSTRUCTIONS else 12)
        assert all(row.address == "" for row in served)


def test_the_row_tells_what_the_fourth_phase_has_written(scene: Scene) -> None:
    columns = usual_columns(scene.run, scene.program, Rows.INSTRUCTIONS)
    titles = [each.title for each in columns]
    assert {"SP", "flag"} <= set(titles)
    trace = trace_table(scene.run, scene.program, columns)
    row = next(each for each in trace.rows if each.instruction == SERVED)
    written = {title for title, it in zip(titles, row.written, strict=True) if it}
    assert {"PC", "SP", "flag"} <= written and "ACC" not in written and "status" not in written
    before = trace.rows[trace.rows.index(row) - 1]
    assert before.number == row.number and before.instruction == "ADD #1"


def test_the_sheet_says_when_requests_come(scene: Scene) -> None:
    sheet = make_worksheet(Version("A", scene), Support.SOME)
    assert sheet.requests == tuple(REQUESTS.split("\n"))


def test_the_quiz_says_that_a_request_waits(scene: Scene) -> None:
    first, second = make_quiz(scene, scene.depth)
    assert first.where == "In instruction 6, ADD #1: it has been fetched; a request waits"
    assert second.where.startswith("After instruction 6, ADD #1: the last transfer was MAR")


def test_the_row_of_a_return_has_the_carry_as_written() -> None:
    """-1 + -1 carries, and what the routine adds does not."""
    machine = grown(frozenset(PARTS))
    source = "ENABLE 4\nLOAD 6\nADD 6\nHALT\nADD #1\nRETURN FROM INTERRUPT\n-1"
    program = assemble(machine, source)
    run = Run(machine, program.words, requests=[Request(3, 0, 5)])
    trace = trace_table(run, program, all_columns(run, program))
    at = [each.key for each in trace.columns].index("carry")
    before, back = [
        each for each in trace.rows if "ADD #1" in each.instruction or "RETURN" in each.instruction
    ]
    assert (before.values[at], back.values[at]) == ("0", "1")
    assert back.written[at]
