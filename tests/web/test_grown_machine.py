"""A machine that has grown by a clause, through every page: nothing else was told of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app
from app.machine.machine import MACHINES
from tests.machine.grown import GROWN

LESSON = """---
title: Masks
machine: 16-bit
---

# Switches

```program
        LOAD  switches
        WITHOUT mask
        OUTPUT
        LOAD  mask TO SPARE
        ADD   #2 TO SPARE
        HALT
switches: 0x00F5
mask:   15
```

```cues
first WITHOUT: Only the switches that the mask has not are left.
```

```question
before first WITHOUT: What is left?
ask: the accumulator
```
"""


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> FlaskClient:
    monkeypatch.setitem(MACHINES, "16-bit", GROWN)
    (tmp_path / "masks.md").write_text(LESSON, encoding="utf-8")
    return create_app(tmp_path).test_client()


def test_the_card_has_it(client: FlaskClient) -> None:
    page = client.get("/paper/masks/card").text
    assert "WITHOUT a" in page and "ADD #n TO SPARE" in page
    assert "ACC, status \N{LEFTWARDS ARROW} ACC WITHOUT MDR" in page
    assert "spare register" in page


def test_a_worksheet_and_the_quiz_have_it(client: FlaskClient) -> None:
    page = client.get("/paper/masks/answers?column=Y&column=ACC").text
    assert "ADD #2 TO SPARE" in page and "<th" in page
    assert ">17<" in page  # 15 + 2, in Y
    quiz = client.get("/paper/masks/quiz-answers").text
    assert "takes out of 245 the bits that 15 has too; the result, 240," in quiz


def test_the_board_has_it(client: FlaskClient) -> None:
    answer = client.post("/lessons/masks/teach")
    address = answer.headers["Location"]
    for _ in range(2):
        assert client.post(f"{address}/instruction").status_code == 204
    page = client.get(address).text
    assert 'class="at-Y register' in page
    assert "Only the switches that the mask has not are left." in page


def test_pupils_have_it(client: FlaskClient) -> None:
    page = client.get("/explore/masks/1").text
    assert "WITHOUT a" in page
    form = {"machine": "16-bit", "program": "WITHOUT #1\nHALT", "step": "5", "go": "forward"}
    answer = client.post("/explore/press", data=form, headers={"Origin": "http://localhost"})
    assert "The ALU takes out of 0 the bits that 1 has too" in answer.text
