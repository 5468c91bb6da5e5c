"""Joining, following, answering, results: as pages ask for them."""

from __future__ import annotations

import csv
import gc
import io
import re
import sqlite3
from pathlib import Path
from xml.etree import ElementTree

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.classroom.store import Store
from app.web.rooms import Room
from app.web.sharing import NoWay, Way
from tests.asking import PROMPT, REVEAL_STEP, RIGHT, STEP, teach, write_lesson
from tests.showing import show_with


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "store.sqlite3")


@pytest.fixture
def web(tmp_path: Path, store: Store) -> Flask:
    return create_app(write_lesson(tmp_path), store=store, address="http://board.example:8730/")


@pytest.fixture
def teacher(web: Flask) -> FlaskClient:
    return web.test_client()


@pytest.fixture
def room(web: Flask, teacher: FlaskClient) -> Room:
    room = teach(web, teacher)
    room.session.go_to_step(STEP)
    return room


class Pupil:
    """A pupil with a browser of their own."""

    def __init__(self, web: Flask, room: Room) -> None:
        self.client = web.test_client()
        self.path = f"/class/{room.code}"
        self.page = self.client.get(self.path).text

    def answer(self, choice: int | str, round: int = 1, question: str = "0-1") -> tuple[int, str]:
        form = {"question": question, "round": round, "choice": choice}
        answer = self.client.post(f"{self.path}/answer", data=form, headers={"HX-Request": "true"})
        return answer.status_code, answer.text

    def look(self, step: int | str, by: str = "", **more: str) -> tuple[int, str]:
        answer = self.client.get(f"{self.path}/at", query_string={"step": step, "by": by} | more)
        return answer.status_code, answer.text


def step_of(text: str) -> int:
    found = re.search(r'data-step="(\d+)"', text)
    assert found, text[:300]
    return int(found[1])


# Joining.


def test_joining_with_the_code(web: Flask, room: Room) -> None:
    client = web.test_client()
    assert "The code on the board" in client.get("/join").text
    for typed in (room.code, room.code.lower(), f" {room.code[:2]} {room.code[2:]} "):
        answer = client.post("/join", data={"code": typed})
        assert answer.status_code == 303 and answer.location == f"/class/{room.code}"
    page = client.get(answer.location)
    assert page.status_code == 200 and step_of(page.text) == STEP


@pytest.mark.parametrize("typed", ["", "QQQQQ", "<b>no</b>", "x" * 3000, "\u0000"])
def test_a_code_of_no_lesson(web: Flask, room: Room, typed: str) -> None:
    answer = web.test_client().post("/join", data={"code": typed})
    assert answer.status_code == 404 and "Look at the board again" in answer.text
    assert "<b>no" not in answer.text


def test_a_pupil_has_a_name_for_one_lesson_alone(web: Flask, room: Room) -> None:
    client = web.test_client()
    cookie = client.get(f"/class/{room.code}").headers["Set-Cookie"]
    assert f"Path=/class/{room.code}" in cookie and "HttpOnly" in cookie
    # Coming again changes nothing.
    assert "Set-Cookie" not in client.get(f"/class/{room.code}").headers
    other = teach(web, web.test_client())
    assert client.get(f"/class/{other.code}").headers["Set-Cookie"] != cookie


def test_one_pupil_has_one_name_however_the_code_is_written(web: Flask, room: Room) -> None:
    client = web.test_client()
    typed = client.get(f"/class/{room.code.lower()}")
    assert typed.status_code == 303 and typed.location == f"/class/{room.code}"
    assert "Set-Cookie" not in typed.headers
    assert "Set-Cookie" in client.get(typed.location).headers
    assert client.get(f"/class/{room.code.lower()}").location == f"/class/{room.code}"


def test_the_board_tells_how_to_join(teacher: FlaskClient, room: Room) -> None:
    for page in (f"/board/{room.name}", f"/board/{room.name}/teacher"):
        text = teacher.get(page).text
        assert "board.example:8730/" in text and room.code in text
        drawn = re.search(r"<svg[^>]*>(?:(?!</svg>).)*qrline.*?</svg>", text, re.DOTALL)
        assert drawn and ElementTree.fromstring(drawn[0]).tag.endswith("svg")


def test_where_only_this_machine_connects_the_board_says_so(tmp_path: Path) -> None:
    def none() -> Way:
        raise NoWay("This computer is in no network.")

    web = create_app(write_lesson(tmp_path))
    # As it is started without --share.
    web.extensions["sharing"].opens = none
    room = teach(web, web.test_client())
    page = web.test_client().get(f"/board/{room.name}").text
    assert "Nobody but this computer can connect." in page and f"/class/{room.code}" in page


# Looking back.


def test_looking_back_is_for_one_pupil_alone(web: Flask, room: Room) -> None:
    pupil = Pupil(web, room)
    before = (room.session.view(), room.followers.number, room.hub.number)
    code, text = pupil.look(STEP, "back")
    assert code == 200 and step_of(text) == STEP - 1
    code, text = pupil.look(STEP - 1, "on")
    assert step_of(text) == STEP and "data-routes" in text
    assert step_of(pupil.look(0, "back")[1]) == 0
    assert step_of(pupil.look(3)[1]) == 3
    assert (room.session.view(), room.followers.number, room.hub.number) == before
    assert step_of(pupil.client.get(f"{pupil.path}/now").text) == STEP


def test_nobody_looks_ahead(web: Flask, room: Room) -> None:
    pupil = Pupil(web, room)
    assert step_of(pupil.look(STEP, "on")[1]) == STEP
    for step in (STEP + 1, 10_000):
        code, text = pupil.look(step)
        assert code == 409 and "not come to that step yet" in text
    for nonsense in ("", "-1", "x", "9" * 50):
        assert pupil.look(nonsense)[0] == 400
    assert pupil.look(1, scene="1")[0] == 409


def test_one_can_look_back_by_phases_too(web: Flask, room: Room) -> None:
    from app.lesson.header import Depth

    show_with(room.session, depth=Depth.PHASES)
    pupil = Pupil(web, room)
    steps = [STEP]
    while steps[-1]:
        steps.append(step_of(pupil.look(steps[-1], "back")[1]))
    # The ends of phases, backwards: decode 2, fetch 2, execute 1, decode 1, fetch 1, start.
    assert steps == [13, 12, 8, 5, 4, 0]


# Answering.


def test_asked_answered_discussed_answered_shown(
    web: Flask, teacher: FlaskClient, room: Room
) -> None:
    board = f"/board/{room.name}"
    question = f"{board}/question"
    pupils = [Pupil(web, room) for _ in range(5)]
    assert "choose" not in pupils[0].page
    assert teacher.post(f"{question}/open", data={"question": "1"}).status_code == 204
    page = pupils[0].client.get(pupils[0].path).text
    choices = re.findall(r'class="choose"[^>]*value="(\d)".*?class="said">([^<]*)<', page)
    right = next(int(place) for place, text in choices if text == RIGHT)
    wrong = (right + 1) % 3
    # The board itself has no buttons to answer with, and nobody is told what is right.
    assert 'class="choose"' not in teacher.get(board).text
    assert PROMPT in page and "is-right" not in page + teacher.get(board).text

    for pupil in pupils:
        code, text = pupil.answer(wrong)
        assert code == 200 and "Your answer: <b>" in text
    assert pupils[0].answer(right)[0] == 200
    assert teacher.post(f"{question}/close").status_code == 204
    assert pupils[0].answer(wrong) == (409, pupils[0].answer(wrong)[1])
    assert "closed" in pupils[0].answer(wrong)[1]
    assert teacher.post(f"{question}/again").status_code == 204
    assert "asked again" in pupils[1].answer(right, round=1)[1]
    for pupil in pupils[1:]:
        assert pupil.answer(right, round=2)[0] == 200

    assert teacher.post(f"{question}/show").status_code == 204
    text = teacher.get(board).text
    counts = re.findall(r"Round (\d): </span>(\d+)<", text)
    assert sorted(counts) == sorted(
        [("1", "4"), ("1", "1"), ("1", "0"), ("2", "4"), ("2", "0"), ("2", "0")]
    )
    assert "is-right" not in text
    room.session.go_to_step(REVEAL_STEP)
    text = teacher.get(board).text
    (marked,) = re.findall(r'is-right">.*?class="said">([^<]*)<', text, re.DOTALL)
    assert marked == RIGHT
    for action in ("again", "reopen"):
        refused = teacher.post(f"{question}/{action}")
        assert refused.status_code == 409 and "The answer is on the board" in refused.text
    assert teacher.post(f"{question}/away").status_code == 204
    assert PROMPT not in re.sub(r"<section.*?</section>", "", teacher.get(board).text)


def test_the_pages_tell_what_was_answered(web: Flask, room: Room) -> None:
    room.session.open_question(1)
    pupil = Pupil(web, room)
    pupil.answer(2)
    assert 'data-choice="2"' in pupil.client.get(pupil.path).text
    assert "data-choice" not in Pupil(web, room).page


def test_who_comes_late_can_answer(web: Flask, room: Room) -> None:
    room.session.open_question(1)
    Pupil(web, room).answer(0)
    late = Pupil(web, room)
    assert 'class="choose"' in late.page
    assert late.answer(1)[0] == 200
    assert room.session.ballot.poll and room.session.ballot.poll.answered == 2


def test_the_teachers_pages_count_as_answers_come(
    web: Flask, teacher: FlaskClient, room: Room
) -> None:
    room.session.open_question(1)
    number, frames = room.hub.number, room.followers.number
    pupils = [Pupil(web, room) for _ in range(4)]
    for pupil in pupils:
        pupil.answer(0)
    tally = ""
    while "<strong>4</strong> answered" not in tally:
        found = room.hub.wait(number, 20)
        assert found, "the count never came"
        number, desk = found
        tally = desk.tally
    # The class is not woken for it, and many answers are told together.
    assert room.followers.number == frames


@pytest.mark.parametrize(
    ("form", "code"),
    [
        ({}, 400),
        ({"question": "0-1"}, 400),
        ({"question": "0-1", "round": "1", "choice": "x"}, 400),
        ({"question": "x-1", "round": "1", "choice": "0"}, 400),
        ({"question": "0-1-1", "round": "1", "choice": "0"}, 400),
        ({"question": "9" * 3000, "round": "1", "choice": "0"}, 400),
        ({"question": "0-2", "round": "1", "choice": "0"}, 409),
        ({"question": "7-7", "round": "1", "choice": "0"}, 409),
        ({"question": "0-1", "round": "2", "choice": "0"}, 409),
        ({"question": "0-1", "round": "1", "choice": "3"}, 409),
        ({"question": "0-1", "round": "1", "choice": "-1"}, 400),
    ],
)
def test_answers_that_make_no_sense(
    web: Flask, room: Room, form: dict[str, str], code: int
) -> None:
    room.session.open_question(1)
    pupil = Pupil(web, room)
    answer = pupil.client.post(f"{pupil.path}/answer", data=form)
    assert answer.status_code == code
    assert room.session.ballot.poll and room.session.ballot.poll.answered == 0


def test_the_lesson_goes_on_where_nothing_can_be_kept(
    web: Flask, teacher: FlaskClient, room: Room, store: Store
) -> None:
    pupil = Pupil(web, room)
    broken, store._database = store._database, sqlite3.connect(":memory:")
    assert teacher.post(f"/board/{room.name}/onward").status_code == 204
    assert room.session.view().step > STEP
    assert "This lesson is not being kept" in teacher.get(f"/board/{room.name}/teacher").text
    opened = teacher.post(f"/board/{room.name}/question/open", data={"question": "1"})
    assert opened.status_code == 204 and pupil.answer(1)[0] == 200
    # Another lesson can be begun, and followed.
    other = teach(web, teacher)
    assert Pupil(web, other).page.count('id="frame"') == 1
    # What only the store could tell is a sentence.
    for address in ("/results", f"/results/{room.name}.csv", "/board/elsewhere"):
        answer = teacher.get(address)
        assert answer.status_code == 503 and "cannot be read" in answer.text
    # Once it can be written again it has all of it.
    store._database = broken
    web.extensions["rooms"].pulse()
    assert room.trouble == "" and other.trouble == ""
    assert [len(given[0]) for _, given in store.questions(room.name).values()] == [1]
    assert {each.name for each in store.lessons()} == {room.name, other.name}


def test_a_lesson_ends_everywhere_also_where_the_store_fails(
    web: Flask, teacher: FlaskClient, room: Room, store: Store
) -> None:
    pupil = Pupil(web, room)
    broken, store._database = store._database, sqlite3.connect(":memory:")
    assert teacher.post(f"/board/{room.name}/end").status_code == 303
    assert room.hub.closed and room.followers.closed
    for client, path in ((pupil.client, pupil.path), (teacher, f"/board/{room.name}")):
        answer = client.get(path)
        assert answer.status_code == 410 and "The lesson has ended" in answer.text
    store._database = broken
    # Not even then does a page that asks again bring it back.
    assert pupil.client.get(pupil.path).status_code == 410
    assert not store.lesson(room.name).ended
    web.extensions["rooms"].pulse()
    assert store.lesson(room.name).ended
    assert pupil.client.get(pupil.path).status_code == 410


def test_a_page_that_is_left_open_keeps_no_lesson(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now, path = 1_000_000_000.0, tmp_path / "kept.sqlite3"
    clock = lambda: now  # noqa: E731
    monkeypatch.setattr("app.web.rooms.steady", clock)
    monkeypatch.setattr("app.web.rooms.time.time", clock)
    web = create_app(write_lesson(tmp_path), store=Store(path, clock))
    room = teach(web, web.test_client())
    room.session.go_to_step(STEP)
    for _ in range(16):
        # Every two days the server is started again, and the pupil's page asks for its board.
        now += 2 * 86400
        web.extensions["rooms"].store.close()
        web = create_app(tmp_path, store=Store(path, clock))
        status = web.test_client().get(f"/class/{room.code}").status_code
    assert status == 404
    # Nor does one that was never closed.
    room = teach(web, web.test_client())
    rooms = web.extensions["rooms"]
    now += 31 * 86400
    assert web.test_client().get(f"/class/{room.code}").status_code == 200
    rooms.pulse()
    assert room.ended and web.test_client().get(f"/class/{room.code}").status_code == 404
    assert rooms.store.lessons() == []


def test_a_clock_that_goes_ahead_and_back_deletes_no_lesson(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was taught since the server began, and before: its age is counted by another clock."""
    now, passed, path = 1_000_000_000.0, 5_000.0, tmp_path / "kept.sqlite3"
    clock = lambda: now  # noqa: E731
    monkeypatch.setattr("app.web.rooms.steady", lambda: passed)
    monkeypatch.setattr("app.web.rooms.time.time", clock)
    web = create_app(write_lesson(tmp_path), store=Store(path, clock))
    names = [teach(web, web.test_client()).name]
    web.extensions["rooms"].close()
    web.extensions["rooms"].store.close()
    now += 3 * 86400
    web = create_app(tmp_path, store=Store(path, clock))
    rooms = web.extensions["rooms"]
    names.append(teach(web, web.test_client()).name)
    rooms.end(names[1])
    for ahead in (365 * 86400, 0):
        now, passed = now + ahead, passed + 3600
        rooms.tidy()
        now -= ahead
        assert {each.name for each in rooms.store.lessons()} == set(names)
    # They go when so many days have passed, each at its time.
    for days, left in ((28, names[1:]), (3, [])):
        now, passed = now + days * 86400, passed + days * 86400
        rooms.tidy()
        assert [each.name for each in rooms.store.lessons()] == left


def test_a_question_of_no_scene(teacher: FlaskClient, room: Room) -> None:
    address = f"/board/{room.name}/question"
    answer = teacher.post(f"{address}/open", data={"question": "9"})
    assert answer.status_code == 409 and "no question 9" in answer.text
    assert teacher.post(f"{address}/close").status_code == 409
    assert teacher.post(f"{address}/explode").status_code == 404
    assert teacher.post(f"{address}/open").status_code == 400


# After a restart.


def test_another_server_takes_the_lesson_up(web: Flask, room: Room, tmp_path: Path) -> None:
    room.session.open_question(1)
    pupil = Pupil(web, room)
    pupil.answer(2)
    web.extensions["rooms"].store.close()
    later = create_app(tmp_path, store=Store(tmp_path / "store.sqlite3"))
    pupil.client.application = later
    page = pupil.client.get(pupil.path).text
    assert step_of(page) == STEP and 'data-choice="2"' in page
    assert pupil.answer(1)[0] == 200
    taken_up = later.extensions["rooms"].get(room.name)
    assert taken_up is not None and taken_up is not room and taken_up.code == room.code
    assert later.test_client().get(f"/board/{room.name}").status_code == 200


def later(tmp_path: Path, web: Flask) -> Flask:
    """The server after a restart."""
    web.extensions["rooms"].store.close()
    return create_app(tmp_path, store=Store(tmp_path / "store.sqlite3"))


def test_a_lesson_whose_file_is_gone_comes_back_with_it(
    web: Flask, room: Room, tmp_path: Path
) -> None:
    """A page that is open asks again until the lesson is there; it has not ended."""
    pupil, file = Pupil(web, room), tmp_path / "asking.md"
    text = file.read_text("utf-8")
    again = later(tmp_path, web)
    pupil.client.application = again
    teacher = again.test_client()
    pages = ((pupil.client, pupil.path), (teacher, f"/board/{room.name}"))
    for bad in (None, "", text.replace("LOAD  fare", "LAOD  fare")):
        file.unlink(missing_ok=True)
        if bad is not None:
            file.write_text(bad, "utf-8")
        for client, path in pages:
            for each in (path, f"{path}/stream"):
                answer = client.get(each)
                assert answer.status_code == 503 and int(answer.headers["Retry-After"]) > 0
                assert "Ferry tickets" in answer.text and "a fault, or is away" in answer.text
                assert "has ended" not in answer.text
        typed = again.test_client().post("/join", data={"code": room.code})
        assert typed.status_code == 503 and "a fault, or is away" in typed.text
        # The machine of a pupil's own waits as well; for who follows no lesson there is none.
        own = pupil.client.get("/explore/asking/1")
        assert own.status_code == 503 and "Ferry tickets" in own.text
        assert again.test_client().get("/explore/asking/1").status_code == 404
    assert "Ferry tickets" in teacher.get("/results").text
    # Nobody has guessed: however often a class asks, it is not taken for wrong codes.
    assert {pupil.client.get(pupil.path).status_code for _ in range(80)} == {503}
    file.write_text(text, "utf-8")
    assert [client.get(path).status_code for client, path in pages] == [200, 200]


def test_a_lesson_whose_file_is_gone_can_be_ended(web: Flask, room: Room, tmp_path: Path) -> None:
    (tmp_path / "asking.md").unlink()
    again = later(tmp_path, web)
    teacher = again.test_client()
    assert teacher.post(f"/board/{room.name}/end").status_code == 303
    assert again.extensions["rooms"].store.lesson(room.name).ended
    gone = teacher.get(f"/board/{room.name}")
    assert gone.status_code == 410 and "The lesson has ended" in gone.text
    assert teacher.post("/board/nothing/end").status_code == 404


# Results.


def test_results_as_a_table(web: Flask, teacher: FlaskClient, room: Room) -> None:
    room.session.open_question(1)
    pupils = [Pupil(web, room) for _ in range(3)]
    asked = room.session.questions[0]
    for place, pupil in enumerate(pupils):
        pupil.answer(place)
    room.session.ballot.ask_again()
    pupils[0].answer(asked.answer, round=2)
    answer = teacher.get(f"/results/{room.name}.csv")
    assert answer.mimetype == "text/csv" and "attachment" in answer.headers["Content-Disposition"]
    rows = [*csv.DictReader(io.StringIO(answer.data.decode("utf-8-sig")))]
    assert len(rows) == 4
    assert {row["prompt"] for row in rows} == {PROMPT}
    assert [row["round"] for row in rows] == ["1", "1", "1", "2"]
    assert sorted(row["choice"] for row in rows[:3]) == sorted(asked.choices)
    assert [row["right"] for row in rows].count("yes") == 2
    # Nobody's random name leaves the store; the same pupil has the same number in both rounds.
    assert {row["pupil"] for row in rows} == {"pupil 1", "pupil 2", "pupil 3"}
    first = next(row for row in rows if row["letter"] == "A")
    assert rows[3]["pupil"] == first["pupil"]
    for each in room.session.ballot._pupils:
        assert each not in answer.text


def test_no_cell_is_a_formula(tmp_path: Path) -> None:
    source = (tmp_path / "sly.md").write_text
    source(
        "---\ntitle: Sly\nmachine: 8-bit\n---\n# One\n```program\nLOAD #1\nHALT\n```\n"
        "```question\nbefore first LOAD: =1+1 in the accumulator?\nask: the accumulator\n```\n",
        encoding="utf-8",
    )
    web = create_app(tmp_path)
    client = web.test_client()
    name = client.post("/lessons/sly/teach").location.split("/")[-1]
    room = web.extensions["rooms"].get(name)
    room.session.open_question(1)
    Pupil(web, room).answer(0)
    rows = [*csv.reader(io.StringIO(client.get(f"/results/{name}.csv").text))]
    assert rows[1][2].startswith("'=")


def test_deleting_a_lesson(web: Flask, teacher: FlaskClient, room: Room, store: Store) -> None:
    room.session.open_question(1)
    pupil = Pupil(web, room)
    pupil.answer(0)
    assert PROMPT in teacher.get("/results").text
    assert teacher.post(f"/results/{room.name}/delete").status_code == 303
    assert "Nothing is kept" in teacher.get("/results").text and not store.lessons()
    assert teacher.get(f"/results/{room.name}.csv").status_code == 404
    assert teacher.post(f"/results/{room.name}/delete").status_code == 404
    assert pupil.client.get(pupil.path).status_code == 404
    assert pupil.answer(0)[0] == 404
    assert room.hub.closed and room.followers.closed


def test_ending_a_lesson_keeps_its_results(web: Flask, teacher: FlaskClient, room: Room) -> None:
    room.session.open_question(1)
    pupil = Pupil(web, room)
    pupil.answer(0)
    assert teacher.post(f"/board/{room.name}/end").status_code == 303
    assert pupil.client.get(pupil.path).status_code == 410
    assert teacher.get(f"/board/{room.name}").status_code == 410
    assert teacher.get(f"/results/{room.name}.csv").text.count("pupil 1") == 1


def test_a_lesson_that_ends_says_so_on_every_page(
    web: Flask, teacher: FlaskClient, room: Room
) -> None:
    pupil = Pupil(web, room)
    streams = [pupil.client.get(f"{pupil.path}/stream"), teacher.get(f"/board/{room.name}/stream")]
    chunks = [each.iter_encoded() for each in streams]
    for each in chunks:
        assert next(each) == b": open\n\n"
        assert b'id="frame"' in next(each)
    assert teacher.post(f"/board/{room.name}/end").status_code == 303
    for each in chunks:
        assert "event: ended" in b"".join(each).decode()
    # And who loads a page again is told the same.
    for client, path in ((pupil.client, pupil.path), (teacher, f"/board/{room.name}")):
        answer = client.get(path)
        assert answer.status_code == 410 and "<h1>The lesson has ended</h1>" in answer.text
        assert "Nobody can follow it any more." in answer.text


def test_a_lesson_that_is_one_too_many_says_so(
    web: Flask, teacher: FlaskClient, room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.web.rooms.MOST_ROOMS", 1)
    chunks = web.test_client().get(f"/class/{room.code}/stream").iter_encoded()
    next(chunks)
    teach(web, teacher)
    assert "event: ended" in b"".join(chunks).decode()


def test_a_server_that_stops_ends_no_lesson(web: Flask, room: Room) -> None:
    chunks = web.test_client().get(f"/class/{room.code}/stream").iter_encoded()
    next(chunks)
    web.extensions["rooms"].close()
    assert "event: ended" not in b"".join(chunks).decode()


def test_nothing_ends_and_nothing_goes_at_one_press(teacher: FlaskClient, room: Room) -> None:
    page = teacher.get("/results").text
    for path in (f"/board/{room.name}/end", f"/results/{room.name}/delete"):
        before, after = page.split(f'action="{path}"')
        # The button is in what opens only once it is asked for.
        assert before.rindex("<details") > before.rfind("</details>")
        assert "open" not in before[before.rindex("<details") :].split(">")[0]
        assert after.index("</form>") < after.index("</details>")


def test_results_name_the_scene_and_how_many_answered(
    web: Flask, teacher: FlaskClient, room: Room
) -> None:
    room.session.open_question(1)
    for choice in (0, 0, 1):
        Pupil(web, room).answer(choice)
    page = teacher.get("/results").text
    assert "Scene 1, question 1" in page
    assert re.search(r"Answers in all</th><td>3</td>", page)


def test_numbers_below_nought_are_numbers_in_a_spreadsheet(tmp_path: Path) -> None:
    (tmp_path / "cold.md").write_text(
        "---\ntitle: Cold\nmachine: 8-bit\n---\n# One\n```program\nSUBTRACT #4\nHALT\n```\n"
        "```question\nbefore first SUBTRACT: How cold?\nask: the accumulator\n```\n",
        encoding="utf-8",
    )
    web = create_app(tmp_path)
    client = web.test_client()
    name = client.post("/lessons/cold/teach").location.split("/")[-1]
    room = web.extensions["rooms"].get(name)
    room.session.open_question(1)
    Pupil(web, room).answer(room.session.questions[0].answer)
    rows = [*csv.DictReader(io.StringIO(client.get(f"/results/{name}.csv").text.lstrip("\ufeff")))]
    assert rows[0]["choice"] == "-4"


def test_a_pupil_can_try_the_program_alone(web: Flask, room: Room, teacher: FlaskClient) -> None:
    pupil = Pupil(web, room)
    # The way there is on the pupil's page, on the board and on the teacher's screen.
    pages = [pupil.client.get(pupil.path)]
    pages += [teacher.get(f"/board/{room.name}{page}") for page in ("", "/teacher")]
    assert all(f'href="{pupil.path}/try"' in page.text for page in pages)
    answer = pupil.client.get(f"{pupil.path}/try")
    assert answer.status_code == 303 and answer.location == "/explore/asking/1"
    assert pupil.client.get(answer.location).status_code == 200


def test_streams_show_signs_of_life(
    web: Flask, room: Room, teacher: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both kinds, when nothing else is sent: that is how clients that are gone are noticed."""
    monkeypatch.setattr("app.web.rooms.SIGN_OF_LIFE_SECONDS", 0.02)
    quick = create_app(web.extensions["shelf"].path)
    room = teach(quick, quick.test_client())
    for path in (f"/class/{room.code}/stream", f"/board/{room.name}/stream"):
        stream = quick.test_client().get(path)
        chunks = stream.iter_encoded()
        texts = [next(chunks).decode() for _ in range(6)]
        stream.close()
        # An event with a name, which a page can hear: a comment it could not.
        assert sum(text == "event: alive\ndata: alive\n\n" for text in texts) >= 2, texts
        assert sum("id: " in text for text in texts) >= 1
    quick.extensions["rooms"].close()


def test_nothing_beats_for_rooms_that_nobody_has(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.web.rooms.SIGN_OF_LIFE_SECONDS", 0.01)
    web = create_app(write_lesson(tmp_path))
    room = teach(web, web.test_client())
    heart = web.extensions["rooms"]._heart
    assert heart.is_alive()
    room.close()
    del web, room
    gc.collect()
    heart.join(20)
    assert not heart.is_alive()
