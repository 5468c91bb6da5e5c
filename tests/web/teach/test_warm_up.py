"""Monday's lesson, Tuesday's warm-up."""

from __future__ import annotations

import csv
import io
import re
import time
from html import unescape
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.classroom.store import Store
from app.lesson.file.reader import read_lesson
from app.lesson.file.warm_up import QUESTIONS
from tests.asking import ASKING, same_origin, write_lesson
from tests.taught import asked_in, teach_class


@pytest.fixture
def web(tmp_path: Path) -> Flask:
    return create_app(write_lesson(tmp_path))


@pytest.fixture
def client(web: Flask) -> FlaskClient:
    return web.test_client()


def monday(web: Flask, pupils: int = 20) -> None:
    store: Store = web.extensions["rooms"].store
    lesson = web.extensions["shelf"].lesson("asking")
    teach_class(store, lesson, "monday", asked_in(lesson), pupils=pupils)


def links(page: str) -> dict[str, str]:
    """The addresses that a page leads to, by the words of the links."""
    found = re.findall(r'<a[^>]*href="([^"]+)"[^>]*>([^<]+)<', page)
    return {unescape(words): unescape(address) for address, words in found}


@pytest.mark.parametrize("page", ["/warm-up/{}", "/lessons/{}/preview", "/paper/{}/quiz"])
def test_others_are_served_between_the_scenes_that_it_is_made_from(
    web: Flask, client: FlaskClient, monkeypatch: pytest.MonkeyPatch, page: str
) -> None:
    """A stranger's lesson of loops held the board up for as long as all of them took."""
    scenes = [
        each for each in web.extensions["shelf"].lesson("asking").scenes if each.program.words
    ]
    for each in scenes:
        # As where so many questions were not worked out yet.
        each.__dict__.pop("_asking", None)
    known: list[int] = []

    def others(_: float) -> None:
        known.append(sum("_asking" in each.__dict__ for each in scenes))

    monkeypatch.setattr(time, "sleep", others)
    assert client.get(page.format("asking~warm-up~7")).status_code == 200
    assert known == [*range(1, len(scenes) + 1)]


def test_two_clicks_from_the_list_of_lessons(web: Flask, client: FlaskClient) -> None:
    monday(web)
    listed = client.get("/").text
    first = client.get(links(listed)["a warm-up for next time"], follow_redirects=True)
    assert first.status_code == 200 and first.text.count("<h2>") == QUESTIONS
    (action,) = re.findall(r'<form method="post" action="([^"]+/teach)"', first.text)
    second = client.post(unescape(action), headers=same_origin())
    name = second.location.split("/")[-1]
    room = web.extensions["rooms"].get(name)
    assert len(room.session.lesson.scenes) == QUESTIONS
    room.session.forward()
    # The first press asks; or it goes to where that is, and the second asks.
    room.session.forward()
    assert room.session.ballot.poll
    # A warm-up stands in no list: what was taught last is the lesson still.
    assert "a warm-up for next time" in client.get("/").text


def test_no_more_lessons_are_read_for_it_than_are_needed(tmp_path: Path) -> None:
    web = create_app(write_lesson(tmp_path))
    store: Store = web.extensions["rooms"].store
    for number in range(5):
        (tmp_path / f"taught-{number}.md").write_text(ASKING, encoding="utf-8")
        store.add(f"day-{number}", f"taught-{number}", "Taught")
    assert web.test_client().get("/warm-up").status_code == 303
    assert len(web.extensions["shelf"]._read) == 1


def test_every_way_to_take_it(web: Flask, client: FlaskClient) -> None:
    monday(web)
    page = client.get("/warm-up?taught=monday", follow_redirects=True)
    ways = links(page.text)
    prompts = [unescape(each) for each in re.findall(r"<h2>([^<]+)</h2>", page.text)]
    for way in ("Sheet", "Answers"):
        sheet = unescape(client.get(ways[way]).text)
        assert all(each in sheet for each in prompts), way
    rows = list(csv.DictReader(io.StringIO(client.get(ways["Table (CSV)"]).text.lstrip("\ufeff"))))
    assert [each["question"] for each in rows] == prompts
    file = client.get(ways["Lesson file"])
    lesson = read_lesson("file", file.text)
    assert lesson.problems == () and file.headers["Content-Disposition"].endswith(".md")
    asked = [each for scene in lesson.scenes for each in scene.questions]
    for row, each in zip(rows, asked, strict=True):
        assert row[row["right"]].replace("-", "\N{MINUS SIGN}") == each.choices[
            each.answer
        ].replace("-", "\N{MINUS SIGN}")
        assert row["why"] == each.because
    other = client.get(ways["Other numbers"])
    assert other.status_code == 200 and other.text != page.text


def test_it_says_which_instruction_is_meant(web: Flask, client: FlaskClient) -> None:
    monday(web)
    page = client.get("/warm-up?taught=monday", follow_redirects=True)
    sheet = client.get(links(page.text)["Sheet"]).text
    places = re.findall(r'<p class="where">([^<]+)\.</p>', page.text)
    assert places == re.findall(r'<p class="where">([^<]+):</p>', sheet)
    programs = re.findall(r"<pre>(.+?)</pre>", page.text, re.DOTALL)
    for each in programs:
        lines = re.sub(r"</?mark>", "", each).splitlines()
        assert len(lines) > 3 and all(line.strip() for line in lines), each
        assert sum("HALT" in line for line in lines) == 1 and "HALT" in [x.strip() for x in lines]
    marked = re.findall(r"<mark>([^<]+)</mark>", page.text)
    said = [each for each in places if not each.startswith("Before")]
    assert len(places) == QUESTIONS and len(marked) == len(said) > 0
    for place, line in zip(said, marked, strict=True):
        instruction = re.split(", |:", place.split("instruction ")[1])[1].strip()
        assert line.split(":")[-1].split() == unescape(instruction).split()


def test_it_comes_back_after_a_restart(tmp_path: Path) -> None:
    """Nothing of a warm-up is kept but its name, and that is enough."""
    folder = write_lesson(tmp_path)
    store = Store(tmp_path / "kept")
    web = create_app(folder, store=store)
    monday(web)
    address = web.test_client().get("/warm-up").location
    slug = address.split("/")[-1]
    name = web.test_client().post(f"/lessons/{slug}/teach", headers=same_origin()).location
    name = name.split("/")[-1]
    before = web.extensions["rooms"].get(name).session
    before.go_to_scene(3)
    web.extensions["rooms"].close()
    store.close()
    store = Store(tmp_path / "kept")
    after = create_app(folder, store=store).extensions["rooms"].get(name).session
    assert after.view().scene_number == 3 and after.lesson.source == before.lesson.source
    store.close()


def test_with_too_few_answers_it_asks_what_the_lesson_asks(web: Flask, client: FlaskClient) -> None:
    monday(web, pupils=2)
    page = client.get("/warm-up?taught=monday", follow_redirects=True)
    assert page.request.path.count("~") == 2, "no mix-up of so few is told"
    assert "too few answers" in page.text and page.text.count("<h2>") == QUESTIONS


def test_a_lesson_that_was_only_opened_since_hides_nothing(web: Flask, client: FlaskClient) -> None:
    monday(web)
    client.post("/lessons/asking/teach", headers=same_origin())
    assert "taught=monday" in links(client.get("/").text)["a warm-up for next time"]


def test_what_was_mixed_up_in_it_counts_for_its_lesson(web: Flask, client: FlaskClient) -> None:
    monday(web)
    slug = client.get("/warm-up").location.split("/")[-1]
    warm = web.extensions["shelf"].lesson(slug)
    teach_class(web.extensions["rooms"].store, warm, "tuesday", asked_in(warm), pupils=10)
    page = client.get("/again?lesson=asking").text
    assert "with its warm-ups" in page and page.count("<option") == 2
    assert "Show on the board" in client.get("/again?taught=tuesday").text
    # The next one comes after the lesson, and not after the warm-up.
    assert client.get("/warm-up?taught=tuesday").location.startswith("/warm-up/asking~")


def test_what_is_not_there(web: Flask, client: FlaskClient, tmp_path: Path) -> None:
    assert client.get("/warm-up").status_code == 404
    assert client.get("/warm-up/asking").status_code == 404
    assert client.get("/warm-up/gone~warm-up~5").status_code == 404
    monday(web)
    (tmp_path / "asking.md").unlink()
    gone = client.get("/warm-up?taught=monday")
    assert gone.status_code == 404 and "any more" in gone.text
    assert 'href="/warm-up' not in client.get("/again").text


def test_a_fault_written_since_takes_no_warm_up_away(
    web: Flask, client: FlaskClient, tmp_path: Path
) -> None:
    monday(web)
    first = client.get("/warm-up?taught=monday").location
    file = tmp_path / "asking.md"
    file.write_text(ASKING.replace("HALT", "HOLT"), encoding="utf-8")
    assert client.get(first).text.count("<h2>") == QUESTIONS
    page = client.get("/warm-up?taught=monday", follow_redirects=True)
    assert page.status_code == 200 and page.text.count("<h2>") == QUESTIONS
    # A server that has never seen it without the fault says what there is to do.
    after = create_app(tmp_path)
    monday_too = after.extensions["rooms"].store
    lesson = web.extensions["shelf"].good_lesson("asking")
    teach_class(monday_too, lesson, "monday", asked_in(lesson), pupils=20)
    told = after.test_client().get("/warm-up?taught=monday")
    assert told.status_code == 409 and "has a fault" in told.text and "Mend it" in told.text
    told = after.test_client().get("/warm-up/asking~warm-up~5")
    assert told.status_code == 409 and "has a fault" in told.text and "Mend it" in told.text


def test_pupils_get_one_only_while_it_is_taught(tmp_path: Path) -> None:
    """Nothing is made for a name that somebody thought out, nor shown before its time."""
    web = create_app(write_lesson(tmp_path), teacher_key="the key")
    teacher, pupil = web.test_client(), web.test_client()
    teacher.get("/?key=the+key")
    made = web.extensions["shelf"]._made

    def asks(slug: str) -> int:
        return pupil.get(f"/explore/{slug}/1").status_code

    assert asks("asking") == 200
    assert asks("asking~warm-up~5") == 404 and made == {}
    assert teacher.get("/explore/asking~warm-up~5/1").status_code == 200
    assert asks("asking~warm-up~5") == 404
    teacher.post("/lessons/asking~warm-up~5/teach", headers=same_origin())
    assert asks("asking~warm-up~5") == 200 and asks("asking~warm-up~6") == 404
    (tmp_path / "asking~warm-up~6.md").write_text(ASKING, "utf-8")
    assert asks("asking~warm-up~6") == 200, "a file is a lesson, whatever it is called"
