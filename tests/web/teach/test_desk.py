"""The teacher's own screen: all of it comes with its page and then by its stream alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from tests.lesson.test_agenda import LESSON
from tests.web.test_stream import Reader


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "tins.md"
    path.write_text(LESSON, encoding="utf-8")
    return path


@pytest.fixture
def web(file: Path) -> Flask:
    return create_app(file.parent)


@pytest.fixture
def client(web: Flask) -> FlaskClient:
    return web.test_client()


def desk_stream(client: FlaskClient, page: str) -> Reader:
    address = re.search(r'hx-sse:connect="([^"]+)"', page)
    assert address
    return Reader(client.get(address[1].replace("&amp;", "&")).iter_encoded())


def click(client: FlaskClient, board: str, page: str, words: str) -> None:
    """What a click on a line of the list sends."""
    found = re.search(
        r"""hx-post="([^"]+/place)" hx-vals='\{"step": (\d+), "said": (\d+)\}'[^>]*>"""
        rf'<span class="where">[^\n]*</span> <span class="words">{re.escape(words)}<',
        page,
    )
    assert found, words
    form = {"step": found[2], "said": found[3]}
    assert client.post(found[1], data=form).status_code == 204


def test_everything_that_changes_comes_by_the_stream(client: FlaskClient) -> None:
    board = client.post("/lessons/tins/teach").location
    page = client.get(f"{board}/teacher").text
    # Nothing on the page asks by itself but its stream.
    assert "hx-trigger" not in page
    stream = desk_stream(client, page)
    click(client, board, page, "Round again.")
    _, text = stream.next_event()
    assert 'id="frame"' in text and "class-panel" in text
    assert re.search(r'<li class="cue here">.*Round again[.]', text.replace("\n", ""))
    assert 'aria-current="step"' in text
    client.post(f"{board}/scene", data={"scene": "2"})
    _, text = stream.next_event()
    assert "a transistor" in text and 'id="notes-1"' in text


def test_the_boards_stream_does_not_carry_it(client: FlaskClient) -> None:
    board = client.post("/lessons/tins/teach").location
    answer = client.get(f"{board}/stream")
    _, text = Reader(answer.iter_encoded()).next_event()
    assert 'id="frame"' in text and "agenda" not in text and "notes-" not in text


def test_a_click_puts_back_what_was_changed(client: FlaskClient) -> None:
    board = client.post("/lessons/tins/teach").location
    page = client.get(f"{board}/teacher").text
    client.post(f"{board}/instruction")
    assert client.post(f"{board}/suppose", data={"place": "ACC", "value": "9"}).status_code == 204
    click(client, board, page, "None is left.")
    shown = client.get(board).text
    assert "None is left." in shown and "data-what-if" not in shown


def test_a_place_that_the_scene_has_not(client: FlaskClient) -> None:
    board = client.post("/lessons/tins/teach").location
    for form in ({}, {"step": "7"}, {"step": "x", "said": "0"}, {"step": "9999", "said": "0"}):
        assert client.post(f"{board}/place", data=form).status_code == 400


def test_a_saved_file_is_told_by_the_stream(
    client: FlaskClient, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.web.teach.desk.FILE_SECONDS", 0.02)
    board = client.post("/lessons/tins/teach").location
    stream = desk_stream(client, client.get(f"{board}/teacher").text)
    client.post(f"{board}/forward")
    assert "new version" not in stream.next_event()[1]
    file.write_text(LESSON.replace("Three tins.", "Three cans."), encoding="utf-8")
    _, text = stream.next_event()
    assert "Use it now" in text and 'id="frame"' not in text


def test_the_preview_has_the_same_list(client: FlaskClient) -> None:
    page = client.get("/lessons/tins/preview").text
    found = re.findall(r'<span class="words">([^<]+)</span>', page)
    assert found[:2] == ["Three tins.", "One goes at a time."] and "None is left." in found
    where = {"scene": "0", "step": "0", "said": "0", "machine": "8-bit", "way": "place"}
    shown = client.get("/lessons/tins/preview/now", query_string=where | {"to": "0", "then": "1"})
    assert re.search(r'<p class="sentence">One goes at a time[.]', shown.text)
    # The next press goes on from there.
    where |= {"said": "1", "way": "forward"}
    assert 'data-step="1"' in client.get("/lessons/tins/preview/now", query_string=where).text


def test_a_refusal_stays_until_the_board_goes_on(web: Flask, client: FlaskClient) -> None:
    """Who joins, leaves or answers takes no words away that the teacher is reading."""
    board = client.post("/lessons/tins/teach").location
    page = client.get(f"{board}/teacher").text
    place = '<div id="class-refusal"'
    assert page.count(place) == 1
    room = web.extensions["rooms"].get(board.split("/")[-1])
    stream = desk_stream(client, page)
    wipes = re.compile(r'<hx-partial hx-target="#class-refusal"[^>]*></hx-partial>')
    assert place not in room.tally(room.session.view())
    assert not wipes.search(room.tally(room.session.view()))
    client.post(f"{board}/forward")
    _, text = stream.next_event()
    assert place not in text and wipes.search(text)


def test_nothing_that_can_be_refused_drops_the_words(client: FlaskClient, file: Path) -> None:
    board = client.post("/lessons/tins/teach").location
    file.write_text(LESSON.replace("title: ", "title: More "), encoding="utf-8")
    page = client.get(f"{board}/teacher").text
    sends = re.findall(r'hx-post="[^"]*/([\w-]+)"[^>]* hx-target="#class-refusal"', page)
    assert {"new-version", "scene", "place", "part"} <= set(sends)
    assert len(sends) == page.count("hx-post=")


def say(page: str) -> tuple[str, int, str]:
    """What the board says now, in how many steps the next cue comes, and that cue."""
    now = re.search(r'<p class="now">([^<]*)<', page)
    coming = re.search(r"<h2>(?:In (\d+) steps?|Next)</h2>\s*<p class=\"soon\">([^<]*)<", page)
    assert now
    return now[1], int(coming[1] or 0) if coming else 0, coming[2] if coming else ""


@pytest.mark.parametrize("depth", ["transfers", "phases"])
def test_the_next_cue_comes_in_so_many_steps(client: FlaskClient, file: Path, depth: str) -> None:
    """Counted by the presses of the key for the smallest step, which is a phase in whole phases."""
    file.write_text(LESSON.replace("machine: 8-bit", f"machine: 8-bit\ndepth: {depth}"))
    board = client.post("/lessons/tins/teach").location
    client.post(f"{board}/place", data={"step": 0, "said": 1})
    said = [say(client.get(f"{board}/teacher").text)]
    while said[-1][0] != "None is left.":
        client.post(f"{board}/step-on")
        said.append(say(client.get(f"{board}/teacher").text))
    for at, (_, steps, words) in enumerate(said[:-1]):
        comes = next(later for later in range(at + 1, len(said)) if said[later][0] == words)
        assert steps == comes - at


def test_no_cue_is_told_that_does_not_come(client: FlaskClient) -> None:
    """Under What if the lesson is silent until it is put back."""
    board = client.post("/lessons/tins/teach").location
    client.post(f"{board}/instruction")
    assert say(client.get(f"{board}/teacher").text)[2] == "Round again."
    client.post(f"{board}/suppose", data={"place": "ACC", "value": "9"})
    for _ in range(14):
        page = client.get(f"{board}/teacher").text
        assert say(page)[2] == ""
        # Nor does a line of the list, or a question, stand here.
        assert not re.search(r'<(li|p) class="[^"]* here"', page)
        client.post(f"{board}/step-on")
    client.post(f"{board}/put-back")
    assert say(client.get(f"{board}/teacher").text)[2] == "Round again."


@pytest.mark.parametrize("slug", ["21-violin-bench", "23-laundry", "24-print-shop"])
def test_a_picture_without_the_parts_of_the_machine_has_no_buttons_for_them(slug: str) -> None:
    client = create_app().test_client()
    board = client.post(f"/lessons/{slug}/teach").location
    desk = client.get(f"{board}/teacher").text
    assert "This picture has none" in desk and '"part":' not in desk
    client.post(f"{board}/scene", data={"scene": "4"})
    last = client.get(f"{board}/teacher").text
    assert ("This picture has none" in last) != ('"part":' in last)
