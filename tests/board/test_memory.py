"""The panes of memory: what is looked at is in sight, once, and the watch list keeps its place."""

from __future__ import annotations

import random

import pytest

from app.board.drawing import slots_in_sight
from app.board.frames import make_frame
from app.board.memory import panes
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT

LESSON = """---
title: The orchard's crates
machine: 16-bit
---

# All crates

```program
again:  INPUT
        STORE last
        ADD   total
        STORE total
        LOAD  last
        COMPARE #0
        JUMP  again IF MORE
        HALT
last:   0
total:  0
limit:  30000
spare:  7
```

```inputs
4, 0
```
"""
WATCHED = "\n```watch\ntotal, again\n```\n"


def session_of(text: str) -> Session:
    lesson = read_lesson("crates", text)
    assert not lesson.problems
    return Session("crates", lesson)


def test_a_small_memory_is_in_sight_whole() -> None:
    assert panes(EIGHT_BIT, (3,), 9, 0).addresses == tuple(range(16))


@pytest.mark.parametrize("seed", range(20))
def test_what_is_looked_at_is_in_sight_and_no_word_twice(seed: int) -> None:
    chance = random.Random(seed)
    watch = tuple(chance.sample(range(256), chance.randrange(5)))
    for at in (*range(256), *watch):
        counter = chance.randrange(256)
        made = panes(SIXTEEN_BIT, watch, at, counter)
        assert len(made.addresses) == len(set(made.addresses)) == slots_in_sight(SIXTEEN_BIT)
        assert made.addresses[made.slot(at)] == at
        # The watch list keeps its place, and the window is in order, with no gap but for it.
        assert made.addresses[len(made.addresses) - len(watch) :] == watch
        window = made.addresses[: len(made.addresses) - len(watch)]
        assert [each for each in range(window[0], window[-1] + 1) if each not in watch] == [*window]


def test_while_a_watched_word_is_read_the_program_stays() -> None:
    made = panes(SIXTEEN_BIT, (200,), 200, 12)
    assert 12 in made.addresses and 200 in made.addresses


def test_data_with_labels_are_watched_where_the_lesson_names_none() -> None:
    session = session_of(LESSON)
    rows = make_frame(session.view()).rows
    assert [row.text for row in rows if row.watched] == ["last", "total", "limit"]


def test_the_lesson_names_what_is_watched() -> None:
    session = session_of(LESSON + WATCHED)
    for _ in range(40):
        frame = make_frame(session.view())
        watched = [row for row in frame.rows if row.watched]
        assert [(row.text if row.kind == "data" else row.label) for row in watched] == [
            "total",
            "again",
        ]
        session.forward()


def test_every_step_of_a_large_memory_moves_to_a_word_in_sight() -> None:
    session = session_of(LESSON)
    for _ in range(60):
        session.forward()
        frame = make_frame(session.view())
        for each in frame.moving:
            for name in each.routes:
                for end in name.split("-"):
                    slot = end.removeprefix("memory")
                    if end != slot and slot:
                        assert frame.rows[int(slot)].lit
