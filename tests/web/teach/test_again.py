"""What to go over again, as a teacher gets it."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.classroom.again import LEAST, Standing
from app.classroom.store import Store
from app.lesson.asking.mixups import MixUp
from app.lesson.model import Lesson
from app.web.teach import again as module
from tests.asking import ASKING, PROMPT, STEP, same_origin, write_lesson
from tests.taught import asked_in

PUPILS = 12


@pytest.fixture
def web(tmp_path: Path) -> Flask:
    return create_app(write_lesson(tmp_path))


@pytest.fixture
def client(web: Flask) -> FlaskClient:
    return web.test_client()


def answer(web: Flask, name: str, choices: list[int], rounds: int = 1) -> Store:
    """A lesson in which pupils chose these wrong answers (from 0) of its first question."""
    store: Store = web.extensions["rooms"].store
    lesson = web.extensions["shelf"].lesson("asking")
    asked = asked_in(lesson)[0]
    store.add(name, "asking", lesson.header.title)
    store.save_asked(name, asked)
    wrong = [at for at, mixup in enumerate(asked.mixups) if mixup]
    for pupil, choice in enumerate(choices):
        for round in range(1, rounds + 1):
            store.save_answer(name, asked, round, f"pupil {pupil}", wrong[choice])
    return store


def table(client: FlaskClient, query: str = "") -> list[list[str]]:
    answer = client.get(f"/again.csv{query}")
    assert answer.status_code == 200 and answer.mimetype == "text/csv"
    return list(csv.reader(io.StringIO(answer.text.lstrip("\ufeff"))))


def test_bars_words_and_table_say_the_same(web: Flask, client: FlaskClient) -> None:
    store = answer(web, "monday", [0] * 9, rounds=2)
    asked = next(iter(store.questions("monday").values()))[0]
    mixup = next(each for each in asked.mixups if each)
    page = client.get("/again?taught=monday").text
    assert re.findall(r'class="count">([^<]+)<', page) == ["9 of 9", "9 of 9"]
    bars = page[: page.index('class="key"')]
    assert re.findall(r'rect width="([\d.]+)%"', bars) == ["100.0", "100.0"]
    assert f"<h2>{mixup[0].upper()}{mixup[1:]}</h2>" in page and mixup in [*MixUp]
    (row,) = table(client, "?taught=monday")[1:]
    assert row[:5] == [mixup, "9", "9", "9", "9"] and row[5] in asked.reasons
    assert "pupil" not in page


@pytest.mark.parametrize("pupils", [1, LEAST - 1])
def test_a_group_of_fewer_than_five_is_not_shown(
    web: Flask, client: FlaskClient, pupils: int
) -> None:
    answer(web, "monday", [0] * pupils)
    for query in ("", "?taught=monday", "?lesson=asking"):
        page = client.get(f"/again{query}").text
        assert "Nothing can be said yet" in page and "rect width" not in page
        assert table(client, query)[1:] == []
        assert not re.search(rf"\b{pupils} (of|answer|first)", page)
    # Together with those of another day they are enough.
    answer(web, "tuesday", [0] * LEAST)
    assert f"{pupils + LEAST} of {pupils + LEAST}" in client.get("/again?lesson=asking").text


def test_the_board_opens_at_the_very_step(web: Flask, client: FlaskClient) -> None:
    answer(web, "monday", [0] * 9)
    page = client.get("/again").text
    form = dict(re.findall(r'name="(\w+)" value="([^"]*)"', page))
    assert form.keys() == {"taught", "scene", "number", "version"}
    opened = client.post("/again/open", data=form, headers=same_origin())
    assert opened.status_code == 303
    room = web.extensions["rooms"].get(opened.location.split("/")[-1])
    view = room.session.view()
    assert (view.scene_number, view.step) == (0, STEP)
    # What is gone is said, whatever is gone.
    for wrong, status in (({"taught": "x"}, 404), ({"number": "7"}, 404), ({"scene": "-"}, 400)):
        told = client.post("/again/open", data=form | wrong, headers=same_origin())
        assert told.status_code == status, wrong


def test_showing_it_twice_keeps_one_empty_lesson(web: Flask, client: FlaskClient) -> None:
    answer(web, "monday", [0] * 9)
    form = dict(re.findall(r'name="(\w+)" value="([^"]*)"', client.get("/again").text))
    opened = {
        client.post("/again/open", data=form, headers=same_origin()).location for _ in range(3)
    }
    assert len(opened) == 1
    store: Store = web.extensions["rooms"].store
    assert len(store.lessons()) == 2
    # Nothing was asked in it: the lesson that was taught last is Monday's still.
    page = client.get("/").text
    assert {*re.findall(r"\?taught=([\w-]+)", page)} == {"monday"}


def test_a_lesson_that_has_changed_is_told(web: Flask, client: FlaskClient, tmp_path: Path) -> None:
    answer(web, "monday", [0] * 9)
    form = dict(re.findall(r'name="(\w+)" value="([^"]*)"', client.get("/again").text))
    file = tmp_path / "asking.md"
    file.write_text(file.read_text("utf-8").replace("bag:    4", "bag:    41"), "utf-8")
    page = client.get("/again").text
    assert "has been changed since" in page and "Show on the board" not in page
    told = client.post("/again/open", data=form, headers=same_origin())
    assert told.status_code == 409 and "changed since" in told.text


def test_what_no_mixup_leads_to_is_listed(web: Flask, client: FlaskClient) -> None:
    store: Store = web.extensions["rooms"].store
    lesson = web.extensions["shelf"].lesson("asking")
    asked = replace(asked_in(lesson)[0], mixups=("", "", ""), reasons=("a", "b", "c"))
    wrong = next(at for at in range(3) if at != asked.answer)
    store.add("monday", "asking", lesson.header.title)
    store.save_asked("monday", asked)
    for pupil in range(9):
        store.save_answer("monday", asked, 1, f"pupil {pupil}", wrong)
    page = client.get("/again?taught=monday").text
    assert "no known mix-up" in page and f"<h3>{asked.prompt}</h3>" in page
    assert ">9 of 9<" in page and ">100%<" in page and "Show on the board" in page
    assert "abc"[wrong] in re.findall(r'class="clears">(\w)<', page)
    (row,) = table(client)[1:]
    assert row[0] == f"no known mix-up: {asked.choices[wrong]}" and row[1:3] == ["9", "9"]


def test_of_many_long_lessons_no_more_is_worked_out_than_of_three(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop = ASKING.replace("HALT", "JUMP 0").replace(
        "machine: 8-bit", "machine: 8-bit\nlimit: 90000"
    )
    for number in range(9):
        text = loop.replace(PROMPT, f"What is it in {number}?").replace("6\n", "600\n")
        (tmp_path / f"long-{number}.md").write_text(text, "utf-8")
    web = create_app(tmp_path)
    store: Store = web.extensions["rooms"].store
    for lesson in web.extensions["shelf"].lessons():
        asked = asked_in(lesson)[0]
        store.add(lesson.slug, lesson.slug, lesson.header.title)
        store.save_asked(lesson.slug, asked)
        for pupil in range(9):
            store.save_answer(lesson.slug, asked, 1, f"pupil {pupil}", asked.choices.index("600"))
    looked_at: list[str] = []

    def standing(lesson: Lesson, prompts: set[str]) -> Standing:
        looked_at.append(lesson.slug)
        return Standing(lesson, prompts)

    monkeypatch.setattr(module, "Standing", standing)
    page = web.test_client().get("/again").text
    # Each of them takes a hundred thousand steps.
    assert len(looked_at) == 3
    # Of the others it is found out where somebody wants to see it.
    assert page.count("Show on the board") == 9 and "has been changed since" not in page


def test_the_way_there_and_back(web: Flask, client: FlaskClient) -> None:
    assert "/again" not in client.get("/results").text
    answer(web, "monday", [0] * 9)
    results = client.get("/results").text
    assert 'href="/again"' in results and 'href="/again?taught=monday"' in results
    assert 'href="/again?taught=monday"' in client.get("/").text
    for query in ("?taught=gone", "?lesson=gone"):
        assert client.get(f"/again{query}").status_code == 404
    client.post("/results/monday/delete", headers=same_origin())
    assert "Nothing can be said yet" in client.get("/again").text


def test_a_file_of_any_name(tmp_path: Path) -> None:
    """Beyond Latin-1 the name stands in full in the form of RFC 6266."""
    folder = write_lesson(tmp_path)
    (folder / "asking.md").rename(folder / "Übung-λ.md")
    web = create_app(folder)
    client = web.test_client()
    store: Store = web.extensions["rooms"].store
    store.add("monday", "Übung-λ", "Übung λ")
    answer = client.get("/again.csv?taught=monday")
    header = answer.headers["Content-Disposition"]
    assert "filename*=UTF-8''%C3%9Cbung-%CE%BB-again.csv" in header
    header.encode("latin-1")
