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
    "words",
    [
        "Find both. (a) 7, b) 8)",
        "Find both. (Answers: a) 7, b) eight)",
        "Find both. (1) 7, 2) eight)",
        "Find both. (i) 7, ii) 8)",
        "Find both. (a: 7, b) eight)",
        "Find both. (a) 7,\nb) 8)",
        "Find both. \N{FULLWIDTH LEFT PARENTHESIS}a\N{FULLWIDTH RIGHT PARENTHESIS} 7, b) eight)",
    ],
)
def test_a_bracket_that_closes_nothing_is_told(words: str) -> None:
    text = f"---\ntitle: T\n---\n# One\nNotes.\n\n```homework\n{words}\n```\n"
    (told,) = read_lesson("t", text).problems
    line, column = told.line - 8, told.column - 1
    assert words.split("\n")[line:] == [words.split("\n")[-1]] and told.warning
    assert words.split("\n")[line][column:] == ")"


@pytest.mark.parametrize(
    "words",
    [
        "1) Which comes first? (n) Explain how. 2) Which is added? (s) Why? 3) What then? (7)",
        "1) Which? (1) 2) Which then? (3)",
        "1) Which? (7)\n2) Which then? (8)",
        "Do (a), then (b), then exercise 3) of the book.",
        "Compute f(n) by hand. a) n = 3; b) n = 5",
        "M(A) is the memory. Is it A) 3 or B) 4? (B)",
        "Find it (see part a) if you can :)",
    ],
)
def test_brackets_of_a_list_are_not(words: str) -> None:
    text = f"---\ntitle: T\n---\n# One\nNotes.\n\n```homework\n{words}\n```\n"
    assert read_lesson("t", text).problems == ()


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
