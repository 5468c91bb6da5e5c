"""A part of the machine opened: on the board, for the class that follows, and in explore."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.web.rooms import Room
from tests.asking import same_origin, teach

KEY = "k" * 24
ASKED = same_origin() | {"HX-Request": "true"}
PROGRAM = "LOAD #13\nADD #11\nHALT\n"
LESSON = f"""---
title: A sum
machine: 8-bit
gates: shapes
---

# Two numbers

```program
{PROGRAM}```
"""
# Steps: LOAD 1-6, ADD 7-12, HALT 13-18.
ADDED = 12


@pytest.fixture
def web(tmp_path: Path) -> Flask:
    (tmp_path / "asking.md").write_text(LESSON)
    return create_app(tmp_path, ["board.school.example"], teacher_key=KEY)


@pytest.fixture
def teacher(web: Flask) -> FlaskClient:
    client = web.test_client()
    assert client.get(f"/?key={KEY}").status_code == 303
    return client


@pytest.fixture
def room(web: Flask, teacher: FlaskClient) -> Room:
    made = teach(web, teacher)
    made.session.go_to_step(ADDED)
    return made


def opened(text: str) -> str:
    found = re.search(r'data-inside="([^"]*)"', text)
    return found[1] if found else ""


def test_the_class_sees_what_the_teacher_opened(
    web: Flask, teacher: FlaskClient, room: Room
) -> None:
    pupil = web.test_client()
    for key, expected in (
        ("alu", "alu"),
        ("alu", "alu-0"),
        ("column-left", "alu-1"),
        ("out", "alu"),
    ):
        assert teacher.post(f"/board/{room.name}/{key}", headers=ASKED).status_code == 204
        page = pupil.get(f"/class/{room.code}").text
        assert opened(page) == expected
        # No key of the teacher's is on a pupil's page.
        assert "control-alu" not in page
    assert "13 + 11 = 24" in page and 'class="carry"' in page
    assert teacher.post(f"/board/{room.name}/forward", headers=ASKED).status_code == 204
    assert opened(pupil.get(f"/class/{room.code}").text) == ""


def test_a_pupil_cannot_do_it(web: Flask, room: Room) -> None:
    answer = web.test_client().post(f"/board/{room.name}/alu", headers=ASKED)
    assert answer.status_code == 403
    assert room.session.view().inside is None


def press(client: FlaskClient, go: str, **work: str) -> str:
    form = {"machine": "8-bit", "program": PROGRAM, "step": str(ADDED), "go": go} | work
    answer = client.post("/explore/press", data=form, headers=ASKED)
    assert answer.status_code == 200, answer.text
    return answer.text


def test_a_pupil_opens_the_own_machine(web: Flask) -> None:
    client = web.test_client()
    page = press(client, "alu")
    assert opened(page) == "alu" and "13 + 11 = 24" in page
    assert 'data-inside="alu-0"' in press(client, "alu", inside="alu")
    gates = press(client, "column-left", inside="alu-0", gates="shapes")
    assert 'data-inside="alu-1"' in gates and "A20 20 0 0 1" in gates
    # A setting leaves it open, a move closes it.
    assert opened(press(client, "base", inside="alu-3")) == "alu-3"
    assert opened(press(client, "back", inside="alu-3")) == ""
    signals = press(client, "signals")
    assert "ALU add" in signals and opened(signals) == "signals"


def test_where_nothing_opens_it_is_said(web: Flask) -> None:
    page = press(web.test_client(), "alu", step="3")
    assert opened(page) == "" and "There is nothing to open at this step." in page


def test_the_symbols_of_the_lesson_are_the_pupils_too(web: Flask) -> None:
    page = web.test_client().get("/explore/asking/1").text
    assert 'name="gates" value="shapes"' in page
    assert 'name="gates" value="rectangles"' in web.test_client().get("/explore/").text


@pytest.mark.parametrize("wrong", [{"inside": "clock"}, {"gates": "round"}])
def test_what_no_page_sends_is_refused(web: Flask, wrong: dict[str, str]) -> None:
    form = {"machine": "8-bit", "program": PROGRAM, "go": "here"} | wrong
    answer = web.test_client().post("/explore/press", data=form, headers=ASKED)
    assert answer.status_code == 400
