"""The homework of a scene: for the teacher with the answer, for pupils without."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app
from app.lesson.file.reader import read_lesson
from app.lesson.paper.plan import homework

LESSON = """---
title: T
machine: 8-bit
---
# One
```program
LOAD #5
HALT
```

```homework
Write down *five* sums. What is the largest? (It is 127.)

And the smallest?
```

# Two

**Homework.** Ask somebody. (Nobody knows.)
"""


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    (tmp_path / "t.md").write_text(LESSON, encoding="utf-8")
    return create_app(tmp_path).test_client()


def test_it_is_read_beside_what_the_notes_say() -> None:
    lesson = read_lesson("t", LESSON)
    assert lesson.problems == ()
    first, second = lesson.scenes
    assert "It is 127" in first.homework and "<em>five</em>" in first.homework
    (block,) = homework(first)
    assert "What is the largest?" in block and "127" not in block and "the smallest" in block
    (said,) = homework(second)
    assert "Ask somebody." in said and "Nobody" not in said


@pytest.mark.parametrize(
    "words",
    [
        "**Find them.** (SECRET.)",
        "Find 93 (SECRET.)",
        "Find 94. (1, 2 (and 47). SECRET)",
        "Find 95: (SECRET)",
        "Find g. (It is g(3). SECRET)",
        'Say "what?" (SECRET.)',
        "Find 96.\n\n(SECRET.)",
        "Find 97. (Never closed, SECRET",
        "Find 98. (It is *this* SECRET.)",
        "Find 99. (First this.\n\nThen SECRET.)",
        "Find 100. (The answers are:\n\n- 1\n- 100 and SECRET)",
        "Find 101. \N{FULLWIDTH LEFT PARENTHESIS}SECRET\N{FULLWIDTH RIGHT PARENTHESIS}",
    ],
)
def test_what_is_in_brackets_is_for_the_teacher(words: str) -> None:
    scene = f"# One\n```homework\n{words}\n\nThen f(3).\n```\n"
    lesson = read_lesson("t", "---\ntitle: T\n---\n" + scene)
    (given,) = homework(lesson.scenes[0])
    assert "SECRET" in lesson.scenes[0].homework
    assert "SECRET" not in given and "Then f(3)." in given


@pytest.mark.parametrize(
    ("words", "column"),
    [
        ("Find both. (a) 7, b) 8)", 12),
        ("(a) Trace it. b) Write it. 2) Say why.", 1),
        ("1) Which comes first? (n) Explain how. 2) Which is added? (s) 3) Why? (7)", 0),
        ("Do (a), then (b), then exercise 3) of the book.", 0),
        ("Find it (see part a) if you can.", 0),
    ],
)
def test_answers_by_letters_that_pupils_would_see_are_told(words: str, column: int) -> None:
    text = f"---\ntitle: T\n---\n# One\nNotes.\n\n```homework\n{words}\n```\n"
    told = [(each.line, each.column) for each in read_lesson("t", text).problems]
    assert told == ([(8, column)] if column else [])


def test_one_that_is_empty() -> None:
    (problem,) = read_lesson("t", LESSON.split("Write")[0] + "```\n").problems
    assert problem.what == "The homework is empty."


def test_it_may_stand_beside_a_zoom() -> None:
    scene = "# One\n```scale\na door: 2 m\na key: 5 cm\n```\n\n```homework\nMeasure a key.\n```\n"
    assert read_lesson("t", "---\ntitle: T\n---\n" + scene).problems == ()


@pytest.mark.parametrize(
    ("address", "answered"),
    [
        ("/paper/t/plan", True),
        ("/paper/t/worksheets", False),
        ("/paper/t/replay.html", False),
        ("/explore/t/1", False),
    ],
)
def test_where_it_is(client: FlaskClient, address: str, answered: bool) -> None:
    found = client.get(address)
    assert found.status_code == 200
    assert "What is the largest?" in found.text
    assert ("It is 127" in found.text) == answered
