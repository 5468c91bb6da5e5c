"""The bell of a pupil's own machine: each press answers with the request in it, and nothing is kept
in the server."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from app import create_app
from app.web.explore.trial import MOST_RUNG
from tests.board.test_interrupted_board import COMES, LESSON, SERVED

PROGRAM = re.findall(r"```program\n(.*?)```", LESSON, re.DOTALL)[0]
MACHINE = "16-bit_stack_interrupts"


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    (tmp_path / "bell.md").write_text(LESSON, encoding="utf-8")
    return create_app(tmp_path).test_client()


def press(client: FlaskClient, go: str, step: int = 20, **work: str) -> TestResponse:
    form = {"machine": MACHINE, "program": PROGRAM, "step": str(step), "go": go, "bell": "65"}
    return client.post("/explore/press", data=form | work)


def rung(answer: TestResponse) -> str:
    (found,) = re.findall(r'data-rung="([^"]*)"', answer.text)
    return str(found)


def phase(answer: TestResponse) -> str:
    return str(re.findall(r"caption phase-(\w+)", answer.text)[0])


def test_a_ring_is_a_request_at_this_step(client: FlaskClient) -> None:
    answer = press(client, "bell")
    # The fourth instruction begins after step 19.
    assert rung(answer) == "4.1:65" and "Request waits: 65" in answer.text
    assert 'data-step="20"' in answer.text
    served = press(client, "instruction", rung="4.1:65")
    assert phase(served) == "interrupt" and "Request waits" not in served.text
    assert rung(served) == "4.1:65"


def test_a_second_ring_waits_behind_and_is_taken_back_first(client: FlaskClient) -> None:
    two = press(client, "bell", 22, rung="4.1:65")
    assert rung(two) == "4.1:65 4.3:65" and "Requests wait: 65, 65" in two.text
    assert rung(press(client, "take-back", 22, rung=rung(two))) == "4.1:65"
    none = press(client, "take-back", 22, rung="4.1:65")
    assert rung(none) == "" and "Request waits" not in none.text
    assert "no request that could be taken back" in press(client, "take-back").text


def test_the_requests_of_the_lesson_come_on_its_page(client: FlaskClient) -> None:
    page = client.get("/explore/bell/1").text
    (requests,) = re.findall(r'name="requests" value="([^"]*)"', page)
    assert requests == "6.4:65"
    assert re.search(r'name="bell" value="65"', page)
    assert "control-bell" in page and "control-take-back" in page
    waits = press(client, "here", COMES, requests=requests)
    assert "Request waits: 65" in waits.text and rung(waits) == ""
    assert phase(press(client, "here", SERVED, requests=requests)) == "interrupt"


def test_a_page_without_interrupts_has_no_bell(client: FlaskClient) -> None:
    page = client.get("/explore/?machine=16-bit").text
    assert not re.search(
        r'control-(bell|take-back)|name="(requests|rung|bell)"|class="interrupt', page
    )
    answer = press(client, "bell", machine="16-bit", program="ADD #1\nHALT", step=1)
    assert "Nothing can interrupt this machine." in answer.text and "data-rung" not in answer.text
    # Requests that are sent all the same do nothing.
    plain = press(client, "here", 5, machine="16-bit", program="ADD #1\nHALT", rung="1.1:5")
    assert plain.status_code == 200 and "Request waits" not in plain.text


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("rung", "4.1"),
        ("rung", "4.1:x"),
        ("rung", "<b>:1"),
        ("requests", "-1.2:3"),
        ("requests", "1.1:99999"),
        ("requests", "1.1:5 " * 3000),
        ("bell", "99999"),
        ("bell", "1e3"),
    ],
)
def test_what_no_page_of_ours_sends_is_refused(client: FlaskClient, field: str, value: str) -> None:
    answer = press(client, "here", **{field: value})
    assert answer.status_code == 400


def test_there_is_an_end_to_ringing(client: FlaskClient) -> None:
    many = " ".join(["4.1:65"] * MOST_RUNG)
    answer = press(client, "bell", rung=many)
    assert "take some requests back first" in answer.text and rung(answer) == many


def test_who_has_rung_is_asked_about_it_first(client: FlaskClient) -> None:
    asked = press(client, "forward", 20, rung="4.1:65", predict="on").text
    for text in ("When will the request be served?", "What will be kept on the stack?"):
        assert text in asked
    said = {
        "served": "When the instruction has ended.",
        "kept": "The status and the program counter.",
        "kept-address": "4",
    }
    form = {"machine": MACHINE, "program": PROGRAM, "step": "20", "rung": "4.1:65"}
    marked = client.post("/explore/mark", data=form | said).text
    assert 'data-asked="3" data-right="3"' in marked and 'data-step="21"' in marked
    wrong = said | {"served": "At once, in the middle of the instruction.", "kept-address": "3"}
    marked = client.post("/explore/mark", data=form | wrong).text
    assert "in the middle of the instruction</strong>. It is: <strong>When" in marked
    assert not re.search(r"\.(</strong>)?\.", marked)
    assert 'data-right="1"' in marked and "COMPARE #6 is carried out to its end first" in marked
    assert "3 is where COMPARE #6 stands" in marked
