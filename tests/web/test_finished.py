"""How many pupils have finished the task: proved, counted once each, without names, and kept."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.classroom.finished import task_key
from app.classroom.store import Store
from app.lesson.file.reader import read_lesson
from app.web.rooms import Room
from tests.web.explore.test_pages import LARGER, TASK_LESSON

WRONG = "INPUT\nOUTPUT\nHALT\n"


def make(folder: Path) -> Flask:
    store = Store(folder / "store.sqlite3")
    return create_app(folder, store=store, address="http://board.example:8730/", class_size=3)


@pytest.fixture
def web(tmp_path: Path) -> Flask:
    (tmp_path / "larger.md").write_text(TASK_LESSON, encoding="utf-8")
    return make(tmp_path)


@pytest.fixture
def board(web: Flask) -> str:
    return web.test_client().post("/lessons/larger/teach").location


@pytest.fixture
def room(web: Flask, board: str) -> Room:
    found = web.extensions["rooms"].get(board.split("/")[-1])
    assert found
    return found


def join(web: Flask, room: Room) -> FlaskClient:
    client = web.test_client()
    assert client.get(f"/class/{room.code}").status_code == 200
    return client


def check(pupil: FlaskClient, program: str = LARGER) -> str:
    """Have a program checked as the page does; what the answer says in the header."""
    form = {"machine": "8-bit", "program": program, "inputs": "", "step": "0", "limit": "10000"}
    answer = pupil.post("/explore/larger/1/task", data=form)
    assert answer.status_code == 200
    return answer.headers.get("Task-Done", "")


def finish(pupil: FlaskClient, said: str) -> int:
    address, proof = said.split(" ")
    return pupil.post(address, data={"proof": proof}).status_code


def test_each_pupil_counts_once_on_the_board_and_on_the_teachers_screen(
    web: Flask, room: Room, board: str
) -> None:
    teacher = web.test_client()
    assert "0</strong> have finished" in teacher.get(f"{board}/teacher").text
    assert "finished</span>" not in teacher.get(board).text
    for pupil in (join(web, room), join(web, room)):
        assert finish(pupil, check(pupil)) == 204
        assert finish(pupil, check(pupil)) == 204
    assert "2</strong> have finished" in teacher.get(f"{board}/teacher").text
    assert re.search(r'id="finished" class="finished">2 finished<', teacher.get(board).text)
    # Live, by the message that counts answers too.
    assert "2 finished" in room.tally(room.session.view())
    room.session.go_to_scene(1)
    assert "finished" not in room.tally(room.session.view())


def test_a_program_that_does_not_do_it_proves_nothing(web: Flask, room: Room) -> None:
    pupil = join(web, room)
    assert check(pupil, WRONG) == ""
    for proof in ("", "0", "0.x", "é"):
        answer = pupil.post(f"/class/{room.code}/done", data={"proof": proof})
        assert answer.status_code == 400
    assert room.session.view().finished == 0


def test_who_follows_no_lesson_is_told_of_none(web: Flask, room: Room) -> None:
    assert check(web.test_client()) == "yes"
    stranger = web.test_client()
    proof = web.extensions["rooms"].names.proof(room.name, task_key(0, room.session.view().scene))
    assert stranger.post(f"/class/{room.code}/done", data={"proof": proof}).status_code == 403
    assert room.session.view().finished == 0


def test_a_proof_of_another_lesson_counts_nothing(web: Flask, room: Room) -> None:
    pupil = join(web, room)
    elsewhere = web.extensions["rooms"].names.proof(
        "another", task_key(0, room.session.view().scene)
    )
    assert pupil.post(f"/class/{room.code}/done", data={"proof": elsewhere}).status_code == 400


def test_one_address_counts_no_more_names_than_its_part(web: Flask, room: Room) -> None:
    """As with answers: the class size is three, and of twice that one address has a part."""
    codes = [finish(pupil, check(pupil)) for pupil in (join(web, room) for _ in range(8))]
    assert codes.count(204) == room.session.view().finished < 8
    assert set(codes) == {204, 409}


def test_it_outlasts_a_restart_and_goes_with_the_lesson(
    web: Flask, room: Room, tmp_path: Path
) -> None:
    pupil = join(web, room)
    assert finish(pupil, check(pupil)) == 204
    web.extensions["rooms"].close()
    web.extensions["rooms"].store.close()
    later = make(tmp_path)
    again = later.extensions["rooms"].get(room.name)
    assert again.session.view().finished == 1
    store: Store = later.extensions["rooms"].store
    assert later.extensions["rooms"].delete(room.name)
    assert store.finished(room.name) == {}


# The same lesson later: another task, and another program in the scene.
LATER = (
    TASK_LESSON.replace("gives 8", "gives 3")
    .replace("gives -5", "gives -7")
    .replace("        STORE first\n", "        STORE other\n")
    .replace("first:  0", "other:  0")
)
SMALLER = LARGER.replace("IF MORE", "IF LESS")


def test_a_pupil_has_the_program_and_the_task_that_are_on_the_board(
    web: Flask, room: Room, board: str, tmp_path: Path
) -> None:
    """A file that has been saved is the class's once the teacher takes it, and not before."""
    pupil = join(web, room)
    (tmp_path / "larger.md").write_text(LATER, encoding="utf-8")
    page = pupil.get(f"/class/{room.code}/try", follow_redirects=True).text
    assert "STORE first" in page
    assert check(pupil, SMALLER) == ""
    assert check(pupil, LARGER)
    # Who follows no class has the file.
    assert "STORE other" in web.test_client().get("/explore/larger/1").text
    web.test_client().post(f"{board}/new-version")
    page = pupil.get(f"/class/{room.code}/try", follow_redirects=True).text
    assert "STORE other" in page
    assert check(pupil, LARGER) == ""
    assert check(pupil, SMALLER)


def test_a_page_that_shows_the_task_before_is_not_tried_on_the_new_one(
    web: Flask, room: Room, board: str, tmp_path: Path
) -> None:
    """The pupil of an open page has read another goal than the one that the program would be
    tried on."""
    teacher, pupil = web.test_client(), join(web, room)

    def button() -> str:
        found = re.search(r'id="check-task" hx-post="([^"]+)"', pupil.get("/explore/larger/1").text)
        assert found
        return found[1]

    form = {"machine": "8-bit", "program": LARGER, "inputs": "", "step": "0", "limit": "10000"}
    before = button()
    assert "Done." in pupil.post(before, data=form).text
    reworded = TASK_LESSON.replace("Output the larger", "Show the larger")
    (tmp_path / "larger.md").write_text(reworded, encoding="utf-8")
    teacher.post(f"{board}/new-version")
    assert "Done." in pupil.post(before, data=form).text
    (tmp_path / "larger.md").write_text(LATER, encoding="utf-8")
    teacher.post(f"{board}/new-version")
    answer = pupil.post(before, data=form)
    assert "Your teacher has changed this task." in answer.text
    assert answer.status_code == 200 and "Task-Done" not in answer.headers
    assert "the program should give" in pupil.post(button(), data=form).text


def test_who_has_done_a_task_has_not_done_another_in_its_place(
    web: Flask, room: Room, board: str, tmp_path: Path
) -> None:
    teacher, pupil = web.test_client(), join(web, room)
    said = check(pupil)
    assert finish(pupil, said) == 204
    before = room.session.lesson
    (tmp_path / "larger.md").write_text(LATER, encoding="utf-8")
    teacher.post(f"{board}/new-version")
    assert room.session.view().finished == 0
    # Nor does what was proved of that one, sent once more.
    assert finish(pupil, said) == 204
    assert finish(join(web, room), said) == 204
    assert room.session.view().finished == 0
    assert finish(pupil, check(pupil, SMALLER)) == 204
    assert room.session.view().finished == 1
    # With the task before, those who have done that are back, after a restart, too.
    room.session.take(before)
    assert room.session.view().finished == 2
    (tmp_path / "larger.md").write_text(TASK_LESSON, encoding="utf-8")
    web.extensions["rooms"].close()
    web.extensions["rooms"].store.close()
    assert make(tmp_path).extensions["rooms"].get(room.name).session.view().finished == 2


def test_a_goal_in_better_words_is_the_same_task(web: Flask, room: Room, tmp_path: Path) -> None:
    pupil = join(web, room)
    assert finish(pupil, check(pupil)) == 204
    reworded = TASK_LESSON.replace("Output the larger", "Show the larger")
    room.session.take(read_lesson("larger", reworded))
    assert room.session.view().finished == 1


def test_a_pupil_is_told_what_of_it_the_class_sees(web: Flask, room: Room) -> None:
    pupil = join(web, room)
    counted = "sees only how many have finished the task"
    assert counted in pupil.get("/explore/larger/1").text
    # Where nothing is counted: no task, or no class.
    for page in (
        pupil.get("/explore/larger/2").text,
        web.test_client().get("/explore/larger/1").text,
    ):
        assert counted not in page and "Nothing that you do here reaches the class." in page
