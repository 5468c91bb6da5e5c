"""What if? From the teacher's page, to the class, and from nobody else."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.web.rooms import Room
from tests.asking import STEP, same_origin, teach, write_lesson

KEY = "k" * 24
ASKED = same_origin() | {"HX-Request": "true"}
CHANGE = {"place": "ACC", "value": "30"}


@pytest.fixture
def web(tmp_path: Path) -> Flask:
    return create_app(write_lesson(tmp_path), ["board.school.example"], teacher_key=KEY)


@pytest.fixture
def teacher(web: Flask) -> FlaskClient:
    client = web.test_client()
    assert client.get(f"/?key={KEY}").status_code == 303
    return client


@pytest.fixture
def room(web: Flask, teacher: FlaskClient) -> Room:
    made = teach(web, teacher)
    made.session.go_to_step(STEP)
    return made


def test_the_class_sees_what_is_changed_and_that_it_is(
    web: Flask, teacher: FlaskClient, room: Room
) -> None:
    answer = teacher.post(f"/board/{room.name}/suppose", data=CHANGE, headers=ASKED)
    assert answer.status_code == 204
    page = web.test_client().get(f"/class/{room.code}").text
    assert "What if the accumulator holds 30?" in page
    assert teacher.post(f"/board/{room.name}/put-back", headers=ASKED).status_code == 204
    assert "What if" not in web.test_client().get(f"/class/{room.code}").text


def test_a_pupil_cannot_do_it(web: Flask, room: Room) -> None:
    pupil = web.test_client()
    page = pupil.get(f"/class/{room.code}").text
    assert "what-if" not in page and "suppose" not in page
    for action in ("suppose", "put-back"):
        answer = pupil.post(f"/board/{room.name}/{action}", data=CHANGE, headers=ASKED)
        assert answer.status_code == 403
    assert pupil.get(f"/board/{room.name}/what-if").status_code == 403
    assert room.session.view().what_if is None


def test_what_cannot_be_is_told(teacher: FlaskClient, room: Room) -> None:
    wrong = {"place": "ACC", "value": "300"}
    answer = teacher.post(f"/board/{room.name}/suppose", data=wrong, headers=ASKED)
    assert answer.status_code == 409
    assert "300 does not fit a word of 8 bits." in answer.text
    long = {"place": "ACC", "value": "1" * 300}
    assert teacher.post(f"/board/{room.name}/suppose", data=long, headers=ASKED).status_code == 400


def test_what_is_offered(teacher: FlaskClient, room: Room) -> None:
    form = teacher.get(f"/board/{room.name}/what-if").text
    for offered in ("accumulator (ACC)", "bag (address 5)", "address 15", "the next inputs"):
        assert offered in form
