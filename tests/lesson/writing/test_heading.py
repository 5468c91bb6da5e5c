"""The header changed by its form: one line for each field, every other byte as it was, and read as
it was typed."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path
from random import Random

import pytest

from app.lesson.entries import Wrong
from app.lesson.header import Depth, Header, Press
from app.lesson.writing.heading import FIELDS, said, set_header
from app.lesson.writing.manuscript import Manuscript
from app.lesson.writing.text import Text

from .generated import headed

SHIPPED = sorted((Path(__file__).parents[3] / "lessons").glob("*.md"))
VALUES = {
    "title": (
        "A till",
        "What is inside?",
        'It says "stop": now # at once',
        "yes",
        "12",
        "Ä – ö",
        "'x",
    ),
    "depth": ("phases", "transfers"),
    "press": ("", "phase", "instruction", "cue", "transfer"),
    "age": ("", "11 to 14", "from 11 on: all", "10:30", "- 14", "true"),
    "minutes": ("", "1", "45", "300"),
}


def lines(source: str) -> list[tuple[str, str]]:
    text = Text.of(source)
    return list(zip(text.lines, text.ends, strict=True))


def check(before: Manuscript, wanted: dict[str, str]) -> Manuscript:
    after = set_header(before, wanted)
    now = said(after.lesson.header)
    assert now == {**said(before.lesson.header), **wanted}
    # What else the header says is said still, and nothing behind it has changed.
    for each in fields(Header):
        if each.name not in FIELDS:
            assert getattr(after.lesson.header, each.name) == getattr(
                before.lesson.header, each.name
            )
    assert not after.lesson.faults
    changed = {name for name in wanted if wanted[name] != said(before.lesson.header)[name]}
    old, new = lines(before.source), lines(after.source)
    assert old[before.outline.head.stop :] == new[after.outline.head.stop :]
    # Without the lines of those fields both headers are the same, byte by byte.
    assert without(before, changed) == without(after, changed)
    assert not changed or abs(len(new) - len(old)) <= len(changed)
    return after


def without(text: Manuscript, names: set[str]) -> list[tuple[str, str]]:
    head = lines(text.source)[: text.outline.head.stop]
    return [each for each in head if each[0].split(":")[0].strip() not in names]


def test_a_thousand_changes_of_headers_of_all_shapes() -> None:
    draw = Random(1949)
    made = 0
    ends = set()
    while made < 1000:
        now = Manuscript("generated", headed(draw))
        assert not now.lesson.faults, now.lesson.faults
        for _ in range(5):
            names = draw.sample(FIELDS, draw.randint(1, 3))
            wanted = {name: draw.choice(VALUES[name]) for name in names}
            now, made = check(now, wanted), made + 1
            ends |= set(Text.of(now.source).ends)
    assert ends == {"\n", "\r\n", "\r", ""}


@pytest.mark.parametrize("path", SHIPPED, ids=lambda each: each.stem)
def test_changes_of_the_headers_that_ship(path: Path) -> None:
    draw = Random(path.stem)
    text = Manuscript(path.stem, path.read_text(encoding="utf-8"))
    there = said(text.lesson.header)
    assert set_header(text, there).source == text.source
    check(text, {"title": "Another title", "age": draw.choice(VALUES["age"])})
    changed = check(text, {name: draw.choice(VALUES[name]) for name in ("minutes", "press")})
    # What is put back as it was reads as it was.
    assert set_header(changed, there).lesson.header == text.lesson.header


HEAD = """---
title: Cans   # a remark
minutes: 40
{more}---

# One

```program
        HALT
```
"""


def manuscript(more: str = "") -> Manuscript:
    return Manuscript("x", HEAD.format(more=more))


def test_a_remark_stays_and_a_new_field_stands_where_one_looks_for_it() -> None:
    after = set_header(manuscript(), {"title": "Tins", "depth": "phases", "minutes": "50"})
    assert after.source == HEAD.format(more="").replace(
        "title: Cans   # a remark\nminutes: 40",
        "title: Tins   # a remark\ndepth: phases\nminutes: 50",
    )
    assert after.line == 4
    gone = set_header(after, {"minutes": "", "depth": "transfers"})
    assert gone.source == HEAD.format(more="").replace("Cans", "Tins").replace(
        "minutes: 40\n", "depth: transfers\n"
    )


@pytest.mark.parametrize(
    ("wanted", "what"),
    [
        ({"title": " "}, "no title"),
        ({"title": "t" * 121}, "121 letters"),
        ({"title": "\u200b\u0301"}, "no title"),
        ({"minutes": "0"}, "'0' is not a number"),
        ({"minutes": "301"}, "'301' is not a number"),
        ({"minutes": "4" * 5000}, "not a number"),
        ({"minutes": "0x10"}, "no number of minutes"),  # data
        ({"minutes": "\N{ARABIC-INDIC DIGIT THREE}"}, "number"),
        ({"depth": "deep"}, "'deep' is not one of the choices"),
        ({"depth": ""}, "something else"),
        ({"press": "far"}, "'far' is not one of the choices"),
        ({"age": "a" * 61}, "61 letters"),
    ],
)
def test_what_the_reader_would_refuse_is_refused(wanted: dict[str, str], what: str) -> None:
    with pytest.raises(Wrong, match=what):
        set_header(manuscript("depth: phases\n"), wanted)


def test_signs_that_no_screen_shows_are_left_out() -> None:
    after = set_header(manuscript(), {"title": "a\0b\uffff", "age": "\x9b11\u202e to 14"})
    assert (after.lesson.header.title, after.lesson.header.age) == ("a b", "11 to 14")
    gone = set_header(after, {"age": "\u200b"})
    assert gone.lesson.header.age == "" and "age" not in gone.source


@pytest.mark.parametrize(
    "more",
    [
        "age: >\n  from 11\n  to 14\n",
        "age: 'from 11\n  to 14'\n",
        "age: 'from 11\n\n  to 14'\n",
        "age: 'from 11\nto 14'\n",
        "age: from 11\n  to 14\n",
    ],
)
def test_a_value_of_several_lines_is_left_to_its_author(more: str) -> None:
    text = manuscript(more)
    assert text.lesson.header.age == "from 11 to 14" and not text.lesson.faults
    with pytest.raises(Wrong, match="several lines"):
        set_header(text, {"age": "12"})
    # The others can be changed beside it.
    assert set_header(text, {"minutes": "5"}).lesson.header.minutes == 5


def test_nothing_is_changed_in_a_text_with_faults() -> None:
    with pytest.raises(Wrong, match="Line 4 has a fault"):
        set_header(manuscript("deph: phases\n"), {"title": "x"})


def test_said_and_read_are_the_same_fields() -> None:
    header = Header("T", depth=Depth.PHASES, press=Press.CUE, age="7", minutes=3)
    assert tuple(said(header)) == FIELDS
    assert said(replace(header, press=None, minutes=None))["press"] == ""
