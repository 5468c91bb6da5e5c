"""Sums on paper: the boxes hold what school arithmetic says, and nothing is given away."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.lesson.file.reader import read_lesson
from app.web.paper import sums
from app.web.paper.sums import MOST_SUMS, has_sums

LESSON = """---
title: Sums
machine: 8-bit
---

# Three of them

```program
        LOAD  a
        ADD   b
        SUBTRACT b
        COMPARE b
        ADD   b
        OUTPUT
        HALT
a:      45
b:      27
```

# Nothing to work out

```program
        LOAD  #3
        OUTPUT
        HALT
```
"""


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    (tmp_path / "sums.md").write_text(LESSON, "utf-8")
    web: Flask = create_app(tmp_path)
    return web.test_client()


def tables(client: FlaskClient, name: str) -> list[dict[str, str]]:
    """The lines of each sum by their names, the cells one after another."""
    found = []
    text = client.get(f"/paper/sums/{name}").text
    for table in re.findall(r'<table class="in-columns.*?</table>', text, re.DOTALL):
        lines: dict[str, str] = {}
        for row in re.findall(r"<tr class.*?</tr>", table):
            title, *cells = re.findall(r"<t[hd][^>]*>([^<]*)</t[hd]>", row)
            lines[title if title not in lines else f"{title} made"] = "".join(cells)
        found.append(lines)
    return found


def carries(left: int, right: int, first: int) -> str:
    """What is carried into each column and out of the last, by the schoolbook."""
    found = [first]
    for place in range(8):
        found.append(((left >> place & 1) + (right >> place & 1) + found[-1]) // 2)
    return "".join(map(str, reversed(found)))


def test_the_answers_are_those_of_the_schoolbook(client: FlaskClient) -> None:
    added, taken, compared = tables(client, "sums-answers")
    # The last addition is the first one again, and no sheet asks the same twice.
    assert added["ACC"] == f"{45:08b}" and added["MDR"] == f"+{27:08b}"
    assert added["ACC made"] == f"{72:08b}"
    # Into the first column of a sum nothing is carried, so there is no box.
    assert added["carried"] == carries(45, 27, 0)[:-1]
    turned = 255 - 27
    assert taken["turned round"] == f"+{turned:08b}"
    assert taken["carried"] == carries(72, turned, 1) and taken["ACC made"] == f"{45:08b}"
    assert compared["difference"] == f"{45 - 27:08b}"
    assert "The status becomes <b>MORE</b>" in client.get("/paper/sums/sums-answers").text


def test_a_sheet_gives_only_what_is_given(client: FlaskClient) -> None:
    for blank, full in zip(tables(client, "sums"), tables(client, "sums-answers"), strict=True):
        assert set(blank) == set(full)
        for name, cells in blank.items():
            asked = name in ("carried", "turned round", "difference") or name.endswith("made")
            assert cells == (full[name][:1] if name == "turned round" else "") or not asked
            assert asked or cells == full[name]
    page = client.get("/paper/sums/sums").text
    assert "= 72" not in page and "MORE" not in page and "45 compared with 27" in page
    # Nor do the wires of the column, for eye or ear.
    picture = page[page.index("<figure") :]
    assert 'class="wire one"' not in picture and " give " not in picture
    # The half sum, the two carries, the result and the carry: a box for each.
    assert picture.count('<rect class="box"') == 5
    bits = re.findall(r'class="bit(?: one)?">(\d)<', picture)
    assert len(bits) == 3


def test_of_one_column_one_is_shown_that_has_a_carry(client: FlaskClient) -> None:
    answers = client.get("/paper/sums/sums-answers").text
    picture = answers[answers.index("<figure") :]
    assert "The twos column: a full adder" in picture
    # 45 + 27: in the twos column 0 + 1, and 1 carried in.
    assert re.findall(r'class="bit(?: one)?">(\d)<', picture)[:3] == ["0", "1", "1"]


def test_only_scenes_that_work_something_out_have_a_sheet(client: FlaskClient) -> None:
    page = client.get("/paper/sums/sums").text
    assert page.count('<section class="sheet ') == 1 and "Nothing to work out" not in page
    nothing = client.get("/paper/sums/sums?scene=2").text
    assert "there are no sums to print" in nothing
    assert "/paper/sums/sums-answers" in client.get("/paper/sums").text


def test_a_sheet_has_room_for_so_many(tmp_path: Path) -> None:
    text = LESSON.replace("        OUTPUT\n", "        ADD b\n        ADD b\n        ADD b\n", 1)
    (tmp_path / "sums.md").write_text(text, "utf-8")
    assert len(tables(create_app(tmp_path).test_client(), "sums")) == MOST_SUMS == 4


def test_whether_a_lesson_has_sums_is_known() -> None:
    assert has_sums(read_lesson("sums", LESSON))
    without = LESSON[: LESSON.index("# Three")] + LESSON[LESSON.index("# Nothing") :]
    assert not has_sums(read_lesson("sums", without))


def test_a_run_that_adds_the_same_for_ever_is_not_looked_at_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    looked = []
    opened = sums.opened_alu
    monkeypatch.setattr(
        sums, "opened_alu", lambda *each, **more: looked.append(1) or opened(*each, **more)
    )
    program = "```program\nagain: ADD #0\nJUMP again\n```"
    lesson = read_lesson("sums", f"---\ntitle: Sums\n---\n# Nought\n{program}\n")
    (sheet,) = sums.sum_sheets(lesson, tuple(enumerate(lesson.scenes, 1)))
    assert len(sheet.sums) == 1 and len(looked) == sums.MOST_LOOKED_AT
