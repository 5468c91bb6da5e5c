"""Every address, asked for as a page would, and as nobody should."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from app import create_app
from app.board.controls import CONTROLS, controls_of, named
from app.classroom.ways import WAYS
from app.machine.machine import EIGHT_BIT
from app.web.teach.board import ACTIONS

NOWHERE = "/board/nowhere"


def teach(client: FlaskClient, slug: str = "short") -> str:
    """Open a lesson; the address of its board."""
    answer = client.post(f"/lessons/{slug}/teach")
    assert answer.status_code == 303
    return answer.location


def shown(client: FlaskClient, board: str) -> dict[str, str]:
    """The data of the frame that the board shows: step, scene, beat, went."""
    tag = re.search(r'<div id="frame"[^>]*>', client.get(board).text)
    assert tag
    return dict(re.findall(r'data-(\w+)="([^"]*)"', tag[0]))


def test_list_names_every_lesson(client: FlaskClient, lessons: Path) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert page.text.count("<h2>") == len(list(lessons.glob("*.md")))
    assert "A short sum" in page.text


def test_teach_opens_a_board_of_its_own(client: FlaskClient) -> None:
    first, second = teach(client), teach(client)
    assert first != second
    client.post(f"{first}/forward")
    assert (shown(client, first)["step"], shown(client, second)["step"]) == ("1", "0")


def test_every_control_answers_with_nothing(client: FlaskClient) -> None:
    board = teach(client)
    for control in controls_of(EIGHT_BIT):
        if control.action:
            assert client.post(f"{board}/{control.action}").status_code == 204, control.name
    # The one that this machine's board does not have says why.
    (others,) = {*CONTROLS} - {*controls_of(EIGHT_BIT)}
    refused = client.post(f"{board}/{others.action}")
    assert refused.status_code == 409 and "Nothing can interrupt this machine." in refused.text


def test_what_the_controls_do(client: FlaskClient) -> None:
    board = teach(client)
    steps = []
    for action in ("forward", "phase", "instruction", "back", "instruction-back", "restart"):
        client.post(f"{board}/{action}")
        steps.append(shown(client, board)["step"])
    # One transfer; to the end of the fetch; to the end of the first instruction; and back.
    assert steps == ["1", "4", "6", "5", "0", "0"]
    client.post(f"{board}/step", data={"step": "13"})
    assert shown(client, board)["step"] == "13"
    client.post(f"{board}/scene-on")
    assert shown(client, board)["scene"] == "1"
    client.post(f"{board}/scene", data={"scene": "1"})
    assert shown(client, board)["scene"] == "0"


def test_settings_are_shown(client: FlaskClient) -> None:
    board = teach(client)
    for action, sign in (("base", "base-binary"), ("depth", "depth-phases"), ("blank", " blank")):
        assert sign not in client.get(board).text
        client.post(f"{board}/{action}")
        if action == "base" and sign not in client.get(board).text:
            client.post(f"{board}/{action}")
        assert sign in client.get(board).text


def test_static_files_and_htmx(client: FlaskClient) -> None:
    pages = [client.get(teach(client)).text, client.get("/").text]
    found = [re.findall(r'(?:src|href)="([^"]+\.(?:js|css|svg))"', page) for page in pages]
    for each in found:
        assert {address.rpartition(".")[2] for address in each} == {"js", "css", "svg"}
    addresses = [address for each in found for address in each]
    assert len(addresses) >= 6
    for address in addresses:
        answer = client.get(address)
        assert answer.status_code == 200 and answer.data, address


@pytest.mark.parametrize(
    ("method", "address", "code"),
    [
        ("GET", "/nothing", 404),
        ("GET", "/lessons/none/problems", 404),
        ("POST", "/lessons/none/teach", 404),
        ("GET", "/lessons/..%2f..%2fpyproject/problems", 404),
        ("GET", NOWHERE, 404),
        ("GET", f"{NOWHERE}/stream", 404),
        ("POST", f"{NOWHERE}/forward", 404),
        ("GET", "/positions/32-bit.css", 404),
        ("GET", "/pages/board/32-bit.css", 404),
        ("GET", "/pages/none/8-bit.css", 404),
        ("GET", "/pages/none.js", 404),
        ("GET", "/htmx/other.js", 404),
        ("GET", "/static/..%2fpyproject.toml", 404),
        ("GET", "/lessons/short/teach", 405),
        ("POST", "/", 405),
    ],
)
def test_what_is_not_there(client: FlaskClient, method: str, address: str, code: int) -> None:
    answer = client.open(address, method=method)
    assert answer.status_code == code
    # A page in plain words, with the way back.
    assert 'href="/"' in answer.text


def test_unknown_control(client: FlaskClient) -> None:
    answer = client.post(f"{teach(client)}/explode")
    assert answer.status_code == 404 and "no such control" in answer.text


@pytest.mark.parametrize("number", ["", "x", "-1", "1e3", "25", "9" * 5000, "1.5"])
def test_bad_step(client: FlaskClient, number: str) -> None:
    board = teach(client)
    answer = client.post(f"{board}/step", data={"step": number})
    assert answer.status_code == 400
    assert shown(client, board)["step"] == "0"


@pytest.mark.parametrize("number", ["0", "3", "-1", "two"])
def test_bad_scene(client: FlaskClient, number: str) -> None:
    assert client.post(f"{teach(client)}/scene", data={"scene": number}).status_code == 400


def test_headers_on_every_answer(client: FlaskClient) -> None:
    board = teach(client)
    answers = [
        client.get("/"),
        client.get(board),
        client.post(f"{board}/forward"),
        client.get("/lessons/broken/problems"),
        client.get("/static/css/base.css"),
        client.get("/htmx/htmx-4.min.js"),
        client.get("/pages/board/8-bit.css"),
        client.get("/nothing"),
        client.get("/", headers={"Host": "elsewhere.example"}),
        client.post("/lessons/short/teach", headers={"Origin": "http://elsewhere.example"}),
    ]
    for answer in answers:
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize("host", ["elsewhere.example", "127.0.0.1.elsewhere.example", "10.0.0.7"])
def test_wrong_host(client: FlaskClient, host: str) -> None:
    """A name that somebody else has pointed at this machine is not answered (DNS rebinding)."""
    assert client.get("/", headers={"Host": host}).status_code == 421
    assert client.get("/", headers={"Host": f"{host}:8730"}).status_code == 421


@pytest.mark.parametrize("host", ["127.0.0.1:8730", "localhost:8730", "localhost", "[::1]:8730"])
def test_own_hosts(client: FlaskClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


def test_a_host_that_was_allowed(lessons: Path) -> None:
    client = create_app(lessons, hosts=["board.school.example"]).test_client()
    assert client.get("/", headers={"Host": "board.school.example:8730"}).status_code == 200


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", "http://localhost:1"])
def test_a_page_of_another_site_changes_nothing(client: FlaskClient, origin: str) -> None:
    board = teach(client)
    answer = client.post(f"{board}/forward", headers={"Origin": origin})
    assert answer.status_code == 403
    assert shown(client, board)["step"] == "0"


def test_a_page_of_this_site_may(client: FlaskClient) -> None:
    headers = {"Host": "127.0.0.1:8730", "Origin": "http://127.0.0.1:8730"}
    assert client.post("/lessons/short/teach", headers=headers).status_code == 303


def test_a_body_that_is_too_large(client: FlaskClient) -> None:
    board = teach(client)
    answer = client.post(f"{board}/step", data={"step": "1" * 300_000})
    assert answer.status_code == 413


def test_no_inline_script_or_style(client: FlaskClient) -> None:
    """The policy would refuse them, and the page would be without."""
    pages = ["/", teach(client), teach(client, "long"), "/lessons/broken/problems", "/nothing"]
    for page in map(client.get, pages):
        assert not re.search(r"<style|\sstyle=|\son\w+=", page.text)
        assert not re.search(r"<script(?![^>]*\ssrc=)", page.text)
        assert not re.search(r'(?:src|href)="(?:https?:)?//', page.text)


def test_every_control_has_its_action() -> None:
    assert {each.action for each in CONTROLS if each.action} <= {*ACTIONS}


def test_no_key_belongs_to_two_controls() -> None:
    keys = [key for each in CONTROLS for key in each.keys]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("part", ["", "nothing", "memory\n"])
def test_bad_part(client: FlaskClient, part: str) -> None:
    assert client.post(f"{teach(client)}/part", data={"part": part}).status_code == 400


def test_a_part_is_hidden_and_shown(client: FlaskClient) -> None:
    board = teach(client)
    shown = [">Main memory</h2>" in client.get(board).text]
    for _ in range(2):
        client.post(f"{board}/part", data={"part": "memory"})
        shown.append(">Main memory</h2>" in client.get(board).text)
    assert shown == [True, False, True]


def problems(client: FlaskClient) -> TestResponse:
    return client.get("/lessons/broken/problems")


def test_problems_page_marks_the_place(client: FlaskClient) -> None:
    page = problems(client)
    assert page.status_code == 200
    assert "Line 9, column 9" in page.text
    assert "<mark>LAOD</mark>" in page.text
    assert "Did you mean LOAD?" in page.text


def test_a_broken_lesson_is_not_taught_and_hides_no_other(client: FlaskClient) -> None:
    assert "A short sum" in client.get("/").text
    assert "1 fault in the file" in client.get("/").text
    answer = client.post("/lessons/broken/teach")
    assert answer.location == "/lessons/broken/problems"


def test_a_lesson_is_read_again_when_its_file_changes(tmp_path: Path) -> None:
    client = create_app(tmp_path).test_client()
    assert "There is no lesson" in client.get("/").text
    (tmp_path / "one.md").write_text("---\ntitle: First name\n---\n# Scene\n", encoding="utf-8")
    assert "First name" in client.get("/").text
    (tmp_path / "one.md").write_text("---\ntitle: Other name\n---\n# Scene 1\n", encoding="utf-8")
    assert "Other name" in client.get("/").text


def test_what_a_lesson_says_is_never_markup(tmp_path: Path) -> None:
    sly = '<img src=x onerror="alert(1)">'
    source = f"""---
title: '{sly}'
age: '{sly}'
objectives: ['{sly}']
---

# {sly}

```program
HALT
```

```cues
start: {sly}
```
"""
    (tmp_path / "sly.md").write_text(source, encoding="utf-8")
    client = create_app(tmp_path).test_client()
    for page in (client.get("/"), client.get(teach(client, "sly"))):
        assert "<img" not in page.text and "&lt;img" in page.text


def test_a_scene_without_a_program_is_shown(tmp_path: Path) -> None:
    (tmp_path / "talk.md").write_text("---\ntitle: Talk\n---\n# Just talk\n", encoding="utf-8")
    client = create_app(tmp_path).test_client()
    board = teach(client, "talk")
    for action in ("forward", "back", "phase", "instruction", "play", "restart"):
        assert client.post(f"{board}/{action}").status_code == 204
    assert "Just talk" in client.get(board).text


def test_the_oldest_lesson_gives_way(web: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.web.rooms.MOST_ROOMS", 2)
    client = web.test_client()
    first, second, third = (teach(client) for _ in range(3))
    assert client.get(first).status_code == 410
    assert client.get(second).status_code == client.get(third).status_code == 200


@pytest.mark.parametrize("page", ["preview", "write"])
def test_who_writes_a_lesson_has_the_keys_of_the_board(tmp_path: Path, page: str) -> None:
    client = create_app(own=tmp_path / "own").test_client()
    text = client.get(f"/lessons/01-library-lift/{page}").text
    for name in WAYS:
        (control,) = named(name)
        keys = " ".join(control.keys)
        shown = rf'id="way-{name}"[^>]* data-keys="{re.escape(keys)}"'
        shown += rf' aria-keyshortcuts="{re.escape(keys)}"[^>]*>{control.label}<'
        assert re.search(shown, text), name


def test_who_works_alone_is_not_told_of_questions_to_the_class(client: FlaskClient) -> None:
    title = re.compile(r'id="control-forward" title="([^"]*)"')
    for page in ("/explore/short/1", "/paper/short/replay.html"):
        assert title.findall(client.get(page).text) == ["One press on"], page
