"""All that is needed is on the board: tags, labels, counts, the goal; and a change has its mark."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app
from app.board.frames import make_frame
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.machine.machine import MACHINES
from app.machine.words import BASES
from tests.showing import show_with

LESSON = """---
title: The heron's pond
machine: {machine}
---

# Counting

```program
again:  INPUT
        OUTPUT
        COMPARE #3
        JUMP  again IF MORE
        HALT
spare:  -3
```

```inputs
9, 8, 7, 6, 5, 4, 4, 4, 4, 4, 4, 1
```

```task
goal: Output every number.
inputs 1 gives 1
```
"""


@pytest.fixture(params=MACHINES)
def session(request: pytest.FixtureRequest) -> Session:
    lesson = read_lesson("pond", LESSON.format(machine=request.param))
    assert not lesson.problems
    return Session("pond", lesson)


def test_an_instruction_shows_its_label(session: Session) -> None:
    rows = make_frame(session.view()).rows
    assert [(row.label, row.text) for row in rows[:2]] == [("again", "INPUT"), ("", "OUTPUT")]
    # The label of data is its text, as before.
    assert ("", "spare") in [(row.label, row.text) for row in rows]


def test_the_numbers_of_instructions_are_in_the_base_of_the_board(session: Session) -> None:
    show_with(session, base="binary")
    texts = [row.text for row in make_frame(session.view()).rows]
    digits = session.lesson.header.machine.operand_bits
    assert f"COMPARE #{'0011' if digits == 4 else '0000 0011'}" in texts
    show_with(session, base="hexadecimal")
    texts = [row.text for row in make_frame(session.view()).rows]
    assert f"COMPARE #{'3' if digits == 4 else '03'}" in texts


def test_the_goal_is_told_before_the_first_step_and_at_the_end(session: Session) -> None:
    assert make_frame(session.view()).goal == "Output every number."
    session.forward()
    assert make_frame(session.view()).goal == ""
    session.go_to_step(session.lesson.scenes[0].run.last_step)
    assert make_frame(session.view()).goal == "Output every number."


def test_inputs_and_outputs_are_counted(session: Session) -> None:
    frame = make_frame(session.view())
    assert (frame.inputs.count, frame.outputs.count) == (12, 0)
    session.go_to_step(session.lesson.scenes[0].run.last_step)
    frame = make_frame(session.view())
    assert (frame.inputs.count, frame.outputs.count) == (0, 12)
    assert [each.now for each in frame.outputs.values[:2]] == ["1", "4"]


def test_what_is_read_and_what_is_changed_have_marks_of_their_own(session: Session) -> None:
    session.forward()
    frame = make_frame(session.view())
    assert (frame.lit, frame.changed) == ({"PC", "MAR"}, {"MAR"})
    # A read changes nothing in memory, though an address comes to it.
    session.forward()
    frame = make_frame(session.view())
    assert "memory" in frame.lit and frame.changed == {"MDR"}


def test_without_the_registers_of_the_buses_the_board_is_drawn_without_them(
    session: Session,
) -> None:
    assert not make_frame(session.view()).ports
    show_with(session, depth=Depth.PHASES)
    assert make_frame(session.view()).ports
    session.show_part("MAR", True)
    assert not make_frame(session.view()).ports


@pytest.fixture(params=MACHINES)
def board(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[FlaskClient, str]:
    text = LESSON.format(machine=request.param)
    (tmp_path / "pond.md").write_text(text, encoding="utf-8")
    client = create_app(tmp_path).test_client()
    return client, client.post("/lessons/pond/teach").location


def test_every_register_has_its_tag_in_every_base(board: tuple[FlaskClient, str]) -> None:
    client, address = board
    client.post(f"{address}/step", data={"step": "9"})
    for _ in BASES:
        page = client.get(address).text
        tags = re.findall(r'<span class="tag">(\w+)</span>', page)
        assert sorted(tags) == ["ACC", "CIR", "MAR", "MDR", "PC"]
        client.post(f"{address}/base")


def test_the_page_says_how_many_more_there_are(board: tuple[FlaskClient, str]) -> None:
    client, address = board
    page = client.get(address).text
    column, row = (
        int(re.search(rf'class="more of-{form}">(\d+) more<', page)[1])  # type: ignore[index]
        for form in ("column", "row")
    )
    # Of twelve numbers of one digit a row of seventeen characters has room for nine.
    assert row == 3
    assert 0 < column < 12
    assert "Task:</b> Output every number." in page


def test_the_line_to_input_and_output_has_a_name_of_its_own(
    board: tuple[FlaskClient, str],
) -> None:
    client, address = board
    assert "I/O line" in client.get(address).text
    client.post(f"{address}/part", data={"part": "ACC"})
    assert "I/O line" not in client.get(address).text


def test_a_status_that_is_not_on_stage_is_in_no_notation() -> None:
    source = "---\ntitle: T\n{}---\n# One\n```program\nLOAD #1\nADD #2\nHALT\n```\n"
    shown = []
    for line in ("", "show: everything but the status\n"):
        session = Session("s", read_lesson("t", source.format(line)))
        for _ in range(12):
            session.forward()
        frame = make_frame(session.view())
        shown.append((frame.notation, frame.sentence))
    assert shown == [
        (
            "ACC, status ← ACC + operand",
            "The ALU adds 1 and 2; the result, 3, goes to the accumulator, and the status becomes"
            " MORE.",
        ),
        (
            "ACC ← ACC + operand",
            "The ALU adds 1 and 2; the result, 3, goes to the accumulator.",
        ),
    ]


def test_before_the_first_fetch_there_is_no_instruction_in_cir(session: Session) -> None:
    """Zeros there would be HALT, which nobody has fetched. The third transfer brings one: see
    tests/hardware/machine.md."""
    held = []
    for step in range(5):
        session.go_to_step(step)
        (cir,) = (each for each in make_frame(session.view()).registers if each.place == "CIR")
        held.append(cir.value)
    assert [each.now for each in held[:3]] == ["–"] * 3
    assert held[3].was == "–" and set(held[3].now) <= set("01 ") and held[3].now == held[4].now
    # A HALT that was fetched is shown as what it is.
    session.go_to_scene(0)
    session.suppose("CIR", "1")
    (cir,) = (each for each in make_frame(session.view()).registers if each.place == "CIR")
    assert cir.value.now.endswith("1")
