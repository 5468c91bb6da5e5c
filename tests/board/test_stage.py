"""Which parts are on the board: what the lesson shows, and what the teacher does by hand."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app
from app.board.drawing import Form, drawing
from app.board.frames import make_frame
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.parts import ALL_PARTS, TITLES
from app.machine.machine import MACHINES
from tests.showing import show_with

LESSON = """---
title: The library lift
machine: 8-bit
---

# One part after another

```show
main memory, program counter
```

```program
        LOAD  floor
        OUTPUT
        HALT
floor:  2
```

```cues
decode 1: Here is the control unit. [show control unit]
execute 1: [show ACC, speed 2]
fetch 2: [pause]
end: [hide main memory]
```
"""


@pytest.fixture
def session() -> Session:
    lesson = read_lesson("lift", LESSON)
    assert not lesson.problems
    return Session("lift", lesson)


def shown(session: Session) -> set[str]:
    return set(ALL_PARTS - session.view().hidden)


def test_the_drawing_knows_the_parts_of_the_lesson() -> None:
    for form in Form:
        for format in MACHINES.values():
            assert set(ALL_PARTS) <= set(drawing(form, format).boxes)


def test_parts_come_and_go_with_the_step_however_it_is_reached(session: Session) -> None:
    assert shown(session) == {"memory", "PC"}
    session.go_to_step(5)
    assert shown(session) == {"memory", "PC", "CU"}
    session.go_to_step(8)
    assert shown(session) == {"memory", "PC", "CU", "ACC"}
    session.go_to_step(session.lesson.scenes[0].run.last_step)
    assert shown(session) == {"PC", "CU", "ACC"}
    session.restart()
    assert shown(session) == {"memory", "PC"}


def test_by_hand_counts_more_than_the_lesson(session: Session) -> None:
    session.show_part("ALU", True)
    session.show_part("PC", False)
    assert shown(session) == {"memory", "ALU"}
    session.go_to_scene(0)
    assert shown(session) == {"memory", "PC"}


def test_nothing_moves_to_or_from_a_part_that_is_not_shown(session: Session) -> None:
    session.show_part("MAR", True)
    session.forward()
    (moving,) = make_frame(session.view()).moving
    assert (moving.routes, moving.value) == (("PC-MAR",), "0")
    # The buses are not on the board, so the read moves nothing.
    session.forward()
    assert make_frame(session.view()).moving == ()


def test_past_the_registers_of_the_buses_a_value_goes_on(session: Session) -> None:
    for part in ("store", "address bus", "data bus", "control bus", "CU", "CIR"):
        session.show_part(part, True)
    show_with(session, depth=Depth.PHASES)
    session.forward()
    routes = [each.routes for each in make_frame(session.view()).moving]
    assert ("PC-MAR", "MAR-memory") in routes
    assert ("memory0-MDR", "MDR-CIR") in routes


def test_nothing_moves_where_neither_the_register_nor_its_panel_is_shown(
    session: Session,
) -> None:
    for part in ("address bus", "data bus", "control bus", "CU", "CIR"):
        session.show_part(part, True)
    show_with(session, depth=Depth.PHASES)
    session.forward()
    routes = [each.routes for each in make_frame(session.view()).moving]
    assert routes == [("CU-memory",), ("PC-PC",)]


def test_a_cue_sets_the_speed_and_going_on_keeps_it(session: Session) -> None:
    assert session.view().settings.speed == 1
    session.go_to_step(6)
    assert session.view().settings.speed == 2
    show_with(session, speed=4)
    session.forward()
    assert session.view().settings.speed == 4


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    (tmp_path / "lift.md").write_text(LESSON, encoding="utf-8")
    return create_app(tmp_path).test_client()


def test_the_page_leaves_out_what_is_hidden(client: FlaskClient) -> None:
    board = client.post("/lessons/lift/teach").location
    page = client.get(board).text
    assert "Arithmetic and logic unit" not in page and "at-ACC" not in page
    assert client.post(f"{board}/part", data={"part": "ALU"}).status_code == 204
    assert "Arithmetic and logic unit" in client.get(board).text
    assert client.post(f"{board}/part", data={"part": "engine"}).status_code == 400


def test_the_teachers_screen_tells_what_is_on_show_and_what_comes(client: FlaskClient) -> None:
    board = client.post("/lessons/lift/teach").location
    desk = client.get(f"{board}/teacher").text
    assert "In 5 steps" in desk and "Here is the control unit." in desk
    pressed = dict(re.findall(r'id="part-([\w-]+)" aria-pressed="(\w+)"', desk))
    assert pressed["memory"] == "true" and pressed["ALU"] == "false"
    page = client.get(f"{board}/teacher").text
    for name in TITLES.values():
        assert name in page
