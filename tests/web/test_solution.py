"""The solution of a task is for the teacher: it comes on no page, no paper and no stream of a
class. Every address is asked, and each that shows it is named here."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask import Flask

from app import create_app
from app.classroom.store import Store
from app.web.paper.sheets import DOCUMENTS
from tests.asking import same_origin

# A label of the solution alone, and a number that stands nowhere else.
# A number that no name made at random has by chance.
SECRET, NUMBER = "zebra", "28411"
LESSON = f"""---
title: Twice
machine: 16-bit
---

# Your turn

Write it.

```program
        INPUT
        OUTPUT
        HALT
```

```inputs
4
```

```question
before execute of OUTPUT: What will the display show?
ask: the output so far
```

```task
goal: Output twice the number.
inputs 4 gives 8
```

```solution
        INPUT
        STORE {SECRET}
        ADD   {SECRET}
        OUTPUT
        HALT
{SECRET}:  {NUMBER}
```
"""


@pytest.fixture
def web(tmp_path: Path) -> Flask:
    (tmp_path / "twice.md").write_text(LESSON, "utf-8")
    return create_app(tmp_path, store=Store(None), address="http://board.example:8730/")


def has_it(text: str) -> bool:
    return SECRET in text or NUMBER in text


def test_only_the_plan_has_it_on_paper(web: Flask) -> None:
    client = web.test_client()
    shown = {each for each in DOCUMENTS if has_it(client.get(f"/paper/twice/{each}").text)}
    assert shown == {"plan"}
    assert not has_it(client.get("/paper/twice/trace.csv").text)
    assert not has_it(client.get("/paper/twice").text)


def test_the_replay_has_it_nowhere(web: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor in its tape, which is packed in the file."""
    tapes = []
    monkeypatch.setattr("app.web.paper.replay._packed", lambda tape: tapes.append(tape) or "")
    assert not has_it(web.test_client().get("/paper/twice/replay.html").text)
    assert tapes and SECRET not in repr(tapes)


def test_no_page_of_the_class_has_it(web: Flask) -> None:
    teacher, pupil = web.test_client(), web.test_client()
    answer = teacher.post("/lessons/twice/teach", headers=same_origin())
    name = answer.location.split("/")[-1]
    room = web.extensions["rooms"].get(name)
    work = {"machine": "16-bit", "program": "INPUT\nOUTPUT\nHALT", "inputs": "4"}
    code = room.code
    pages = [
        pupil.get("/explore/").text,
        pupil.get("/explore/twice/1").text,
        pupil.post("/explore/press", data=work).text,
        pupil.post("/explore/check", data=work).text,
        pupil.post("/explore/memory", data=work).text,
        pupil.post("/explore/twice/1/task", data=work).text,
        pupil.get(f"/class/{code}").text,
        pupil.get(f"/class/{code}/try").text,
    ]
    pages += [teacher.get(f"/board/{name}").text, teacher.get(f"/board/{name}/teacher").text]
    for _ in range(30):
        teacher.post(f"/board/{name}/forward", headers=same_origin())
        pages += [pupil.get(f"/class/{code}/now").text, teacher.get(f"/board/{name}").text]
    assert "should give 8; it gave 4" in pages[5]  # the task was tried, and is told
    assert all(each and not has_it(each) for each in pages)
