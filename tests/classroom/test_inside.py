"""Looking inside a part of the machine: what the keys open, and what closes it."""

from __future__ import annotations

import pytest

from app.classroom.inside import (
    NO_MACHINE,
    NO_STEP_YET,
    NOT_ON_STAGE,
    NOTHING_OPEN,
    NOTHING_TO_OPEN,
    Inside,
    read_inside,
)
from app.classroom.session import Session
from app.classroom.view import View, Went
from app.lesson.file.reader import read_lesson

LESSON = """---
title: Sums
machine: 8-bit
---

# Two numbers

```program
        LOAD  a
        ADD   b
        HALT
a:      45
b:      27
```

# From large to small

```scale
a hair: 80 µm
a transistor: 100 nm
```
"""


def taught(text: str = LESSON) -> tuple[Session, list[View]]:
    seen: list[View] = []
    session = Session("sums", read_lesson("sums", text), seen.append)
    return session, seen


def at_the_sum() -> tuple[Session, list[View]]:
    session, seen = taught()
    session.forward_instruction()
    session.forward_instruction()
    return session, seen


def test_two_keys_lead_to_the_gates_and_two_back() -> None:
    session, seen = at_the_sum()
    for key, expected in (
        ("alu", Inside("alu")),
        ("alu", Inside("alu", 0)),
        ("out", Inside("alu")),
        ("out", None),
    ):
        session.look(key)
        assert seen[-1].inside == expected


def test_keys_go_along_the_columns_and_stop_at_the_ends() -> None:
    session, seen = at_the_sum()
    session.look("alu")
    for key, column in (
        ("column-left", 0),
        ("column-left", 1),
        ("column-right", 0),
        ("column-right", 0),
        *(("column-left", at) for at in range(1, 8)),
        ("column-left", 7),
    ):
        session.look(key)
        assert seen[-1].inside == Inside("alu", column)


def test_only_what_is_opened_works_its_way_through() -> None:
    session, seen = at_the_sum()
    session.look("alu")
    assert seen[-1].went is Went.ON
    session.look("alu")
    assert seen[-1].went is Went.THERE
    session.look("out")
    assert seen[-1].went is Went.THERE


@pytest.mark.parametrize("move", ["forward", "back", "restart", "forward_phase"])
def test_whoever_moves_closes_it(move: str) -> None:
    session, seen = at_the_sum()
    session.look("alu")
    getattr(session, move)()
    assert seen[-1].opened is None
    session.go_to_step(16)
    assert seen[-1].inside is None


def test_a_setting_leaves_it_open() -> None:
    session, seen = at_the_sum()
    session.look("alu")
    session.change("base")
    assert seen[-1].inside == Inside("alu")


def test_a_whole_phase_can_be_opened_too() -> None:
    session, seen = taught(LESSON.replace("machine: 8-bit", "machine: 8-bit\ndepth: phases"))
    session.forward_instruction()
    session.forward_instruction()
    session.look("alu")
    assert seen[-1].inside == Inside("alu")


def test_the_next_press_is_foretold_without_it() -> None:
    session, _ = at_the_sum()
    session.look("alu")
    ahead = session.ahead()
    assert ahead is not None and ahead.inside is None


def test_who_looks_back_sees_the_machine() -> None:
    session, _ = at_the_sum()
    session.look("alu")
    assert session.earlier(12).inside is None


@pytest.mark.parametrize(
    ("step", "key", "words"),
    [
        (0, "alu", NOTHING_TO_OPEN),
        (3, "alu", NOTHING_TO_OPEN),
        (0, "signals", NO_STEP_YET),
        (3, "out", NOTHING_OPEN),
        (3, "column-left", NOTHING_OPEN),
    ],
)
def test_the_teacher_is_told_where_nothing_opens(step: int, key: str, words: str) -> None:
    session, seen = taught()
    session.go_to_step(step)
    session.look(key)
    assert seen[-1].notice == words
    assert seen[-1].inside is None


@pytest.mark.parametrize(
    "block",
    ["```pipeline\n3 stages, one memory\n```", "```compare\na: clock 1 GHz\nb: clock 2 GHz\n```"],
)
def test_a_picture_in_the_place_of_the_machine_opens_nothing(block: str) -> None:
    """Its steps are no steps of the machine, of which the caption would tell."""
    text = LESSON.replace("machine: 8-bit", "machine: 16-bit")
    session, seen = taught(text.replace("# From large", f"{block}\n\n# From large"))
    for step in range(seen[-1].scene.paced.last_step + 1):
        session.go_to_step(step)
        for key in ("signals", "alu"):
            session.look(key)
            assert (seen[-1].notice, seen[-1].inside) == (NO_MACHINE, None)


def test_what_is_not_on_stage_is_not_opened() -> None:
    session, seen = at_the_sum()
    session.show_part("ALU", False)
    session.look("alu")
    assert seen[-1].notice == NOT_ON_STAGE
    session.change_scene(1)
    session.look("signals")
    assert seen[-1].notice == NO_MACHINE


def test_the_control_unit_opens_and_closes_by_one_key() -> None:
    session, seen = at_the_sum()
    session.look("signals")
    assert seen[-1].inside == Inside("signals")
    session.look("alu")
    assert seen[-1].inside == Inside("alu")
    session.look("signals")
    session.look("signals")
    assert seen[-1].inside is None


@pytest.mark.parametrize("text", ["", "alu", "alu-0", "alu-15", "signals"])
def test_what_is_open_is_read_as_it_is_written(text: str) -> None:
    found = read_inside(text)
    assert (found.written if found else "") == text


@pytest.mark.parametrize("text", ["clock", "alu-", "alu-123", "signals-1", "alu 3"])
def test_what_no_page_sends_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="nothing is called"):
        read_inside(text)
