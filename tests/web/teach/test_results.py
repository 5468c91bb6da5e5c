"""Results of a store in which something was damaged: one row costs nothing but itself.

What SQLite lets stand in a column is any number, text or bytes, whatever its type says (SQLite's
documentation, "Datatypes In SQLite"); what JSON lets stand in a text is any data of any depth
(RFC 8259, section 9).
"""

from __future__ import annotations

import json
import os
import re
from dataclasses import replace
from pathlib import Path

import pytest
from flask import Flask
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from app import create_app
from app.classroom.ballot import Asked
from app.classroom.store import Store
from app.web.rooms import Rooms
from tests.asking import PROMPT, REVEAL_STEP, STEP, same_origin, teach, write_lesson

GOOD, BAD, CODE = "good-one", "bad-one", "CDFHJ"
ASKED = Asked(0, 1, STEP, REVEAL_STEP, PROMPT, ("13", "9", "6"), 0, ("", "no", "no"))
PLACE = {
    "scene": 0,
    "step": STEP,
    "said": 0,
    "settings": {"depth": "phases", "base": "denary", "speed": 1.0, "movement": True},
    "chosen": [["speed", 1.0, 0.5]],
    "by_hand": {"ALU": False},
    "poll": {"scene": 0, "number": 1, "version": 1, "state": "open", "round": 1},
}
COLUMNS = {
    "lesson": ("name", "code", "slug", "title", "started", "seen", "ended", "place"),
    "asked": (
        *("scene", "number", "version", "step", "reveal_step", "prompt", "choices", "answer"),
        *("reasons", "because", "mixups"),
    ),
    "answer": ("scene", "number", "version", "round", "pupil", "choice"),
}
DEEP = "[" * 200_000
MANY = json.dumps([str(each) for each in range(40)])

numbers = st.one_of(
    st.integers(-(2**63), 2**63 - 1), st.integers(-2, 6), st.floats(), st.sampled_from([1e300])
)
anything = st.recursive(
    st.one_of(
        st.none(), st.booleans(), numbers, st.text(), st.sampled_from(["\ud800", *map(str, PLACE)])
    ),
    lambda each: st.lists(each, max_size=6) | st.dictionaries(st.text(), each, max_size=4),
    max_leaves=12,
)
places = st.fixed_dictionaries({}, optional=dict.fromkeys(PLACE, anything)).map(
    lambda each: {**PLACE, **each}
)
polls = st.fixed_dictionaries({}, optional=dict.fromkeys(PLACE["poll"], anything)).map(
    lambda each: {**PLACE, "poll": {**PLACE["poll"], **each}}
)
values = st.one_of(
    numbers,
    st.text(),
    st.binary(),
    st.one_of(anything, places, polls).map(json.dumps),
    st.sampled_from([DEEP, MANY, '{"step":1e999}', '{"step":NaN}', '["\\ud800", "b", "c"]']),
)
cells = st.sampled_from([(table, each) for table in COLUMNS for each in COLUMNS[table]])


@pytest.fixture(scope="module")
def web(tmp_path_factory: pytest.TempPathFactory) -> Flask:
    web = create_app(write_lesson(tmp_path_factory.mktemp("lessons")))
    web.testing = False
    web.config["PROPAGATE_EXCEPTIONS"] = False
    return web


def damaged(web: Flask, table: str, column: str, value: object) -> Store:
    """A store of two lessons, one of them with another value in the rows of a table."""
    store = Store(None)
    for name in (BAD, GOOD):
        store.add(name, "asking", f"The {name}")
        store.save_asked(name, ASKED)
        store.save_answer(name, ASKED, 1, "a pupil", 1)
        store.save_bookmark(name, PLACE)
    database = store._database
    database.execute("UPDATE lesson SET code = ? WHERE name = ?", (CODE, BAD))
    database.execute("PRAGMA foreign_keys = OFF")
    where = "name" if table == "lesson" else "lesson"
    database.execute(f"UPDATE OR IGNORE {table} SET {column} = ? WHERE {where} = ?", (value, BAD))
    database.execute("PRAGMA foreign_keys = ON")
    shelf = web.extensions["shelf"]
    web.extensions["rooms"] = Rooms(web.jinja_env, shelf, store)
    return store


def ask(web: Flask) -> dict[str, str]:
    """What each page answers that has to do with the damaged lesson; none may fail."""
    client = web.test_client()
    found = {}
    for path in (
        "/results",
        f"/results/{BAD}.csv",
        f"/results/{GOOD}.csv",
        "/again",
        "/again.csv",
        f"/again?taught={BAD}",
        "/again?lesson=asking",
        f"/board/{BAD}",
        f"/board/{BAD}/teacher",
        f"/class/{CODE}",
        f"/board/{GOOD}",
    ):
        answer = client.get(path)
        assert answer.status_code in (200, 404, 410, 503), (path, answer.text)
        found[path] = answer.text
    for path in (f"/board/{BAD}/forward", f"/board/{BAD}/question", f"/results/{BAD}/delete"):
        answer = client.post(path, headers=same_origin())
        assert answer.status_code in (204, 303, 404, 409, 410, 503), (path, answer.text)
    found["after"] = client.get("/results").text
    return found


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(cells, values)
@example(("lesson", "started"), 1e300)
@example(("lesson", "started"), float("inf"))
@example(("lesson", "started"), -1e18)
@example(("lesson", "seen"), float("inf"))
@example(("lesson", "code"), "a/b")
@example(("lesson", "name"), "a/b")
@example(("lesson", "name"), "")
@example(("lesson", "name"), b"\xff")
@example(("lesson", "place"), DEEP)
@example(("lesson", "place"), '{"step":1e999}')
@example(("lesson", "place"), json.dumps({**PLACE, "by_hand": {"\ud800": True}}))
@example(("lesson", "place"), json.dumps({**PLACE, "poll": {**PLACE["poll"], "scene": [1]}}))
@example(("lesson", "place"), json.dumps({**PLACE, "chosen": [["speed", [], {}]]}))
@example(("asked", "choices"), DEEP)
@example(("asked", "choices"), '["\\ud800", "b", "c"]')
@example(("asked", "choices"), MANY)
def test_no_row_takes_the_others_away(web: Flask, cell: tuple[str, str], value: object) -> None:
    if value != value:  # SQLite keeps no NaN: it takes it for nothing, which no column may be
        return
    store = damaged(web, *cell, value)
    found = ask(web)
    for page in ("/results", "after"):
        assert f"The {GOOD}" in found[page]
    assert "pupil 1" in found[f"/results/{GOOD}.csv"]
    assert f"The {BAD}" not in found["after"] or cell == ("lesson", "name")
    web.extensions["rooms"].close()
    store.close()


def test_as_many_choices_as_no_question_has(web: Flask) -> None:
    """Also where its reasons and its answers fit."""
    store = damaged(web, "asked", "choices", MANY)
    store._database.execute("UPDATE asked SET reasons = '[]', answer = 39 WHERE lesson = ?", (BAD,))
    store._database.execute("UPDATE answer SET choice = 35 WHERE lesson = ?", (BAD,))
    page = ask(web)["/results"]
    assert "cannot be read, and is left out" in page


def test_a_lesson_that_is_left_out_is_told(web: Flask) -> None:
    damaged(web, "lesson", "name", "a/b")
    page = web.test_client().get("/results").text
    assert "The bad-one" not in page and "1 lesson cannot be read" in page
    # Nobody could ask for it by its name; it is deleted all the same, and nothing else.
    client = web.test_client()
    assert client.post("/results/delete-unreadable").status_code == 303
    page = client.get("/results").text
    assert "cannot be read" not in page and f"The {GOOD}" in page
    store = web.extensions["rooms"].store
    for table in COLUMNS:
        column = "name" if table == "lesson" else "lesson"
        rows = store._database.execute(f"SELECT DISTINCT {column} FROM {table}").fetchall()
        assert rows == [(GOOD,)], table
    damaged(web, "lesson", "ended", 1)
    assert "cannot be read" not in web.test_client().get("/results").text


def test_a_time_that_is_none_is_not_believed(web: Flask) -> None:
    """A lesson of the end of the world keeps no other lesson for longer."""
    store = damaged(web, "lesson", "seen", float("inf"))
    store.tidy()
    store.save_bookmark(GOOD, PLACE)
    good, bad = store.lesson(GOOD), store.lesson(BAD)
    assert good and good.seen <= store.clock() and bad and bad.seen <= store.clock()


def test_what_is_kept_comes_back(web: Flask) -> None:
    """What the examples above damage is what a lesson has."""
    store = damaged(web, "lesson", "title", "As it was")
    assert store.questions(BAD)[ASKED.key] == (replace(ASKED), [{"a pupil": 1}])
    view = web.extensions["rooms"].get(BAD).session.view()
    assert view.step == STEP and view.poll and view.poll.answered == 1 and "ALU" in view.hidden


def test_answers_are_gone_through_once(web: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    """They were for each choice, by the template: two seconds for many lessons of a large class."""
    times = 0

    class Given(dict[str, int]):
        """The answers of a round."""

        def values(self):  # type: ignore[no-untyped-def]
            nonlocal times
            times += 1
            return super().values()

    given = [Given(a=0, b=0, c=2, d=0), Given(a=1)]
    damaged(web, "lesson", "title", "As it was")
    asked = {GOOD: {ASKED.key: (ASKED, given)}}
    monkeypatch.setattr(Store, "questions", lambda store, name: asked.get(name, {}))
    page = web.test_client().get("/results").text
    assert times == len(given)
    rows = [re.findall(r"<td>(\d+)</td>", each) for each in page.split("<tr")]
    assert [each for each in rows if each] == [["3", "0"], ["0", "1"], ["1", "0"], ["4", "1"]]


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps a file that is in use")
def test_a_store_that_is_taken_away_is_told(
    web: Flask, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "kept"
    rooms = Rooms(web.jinja_env, web.extensions["shelf"], Store(path))
    web.extensions["rooms"] = rooms
    room = teach(web, client := web.test_client())
    board, words = f"/board/{room.name}/teacher", "was deleted or moved while it was in use"
    assert words not in client.get(board).text
    path.unlink()
    rooms.pulse()
    rooms.pulse()
    assert words in client.get(board).text and words in client.get("/results").text
    assert capsys.readouterr().err.count(words) == 1
    rooms.close()
