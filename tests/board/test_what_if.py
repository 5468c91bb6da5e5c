"""Whatever is changed, at whatever step: there is a board for it, and for what comes after."""

from __future__ import annotations

import pytest

from app.board.frames import make_frame
from app.classroom.ballot import Refused
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson

LESSON = """---
title: The quay
machine: {machine}
depth: {depth}
{parts}
---

# Boats

```program
again:  LOAD boats
        SUBTRACT #1
        STORE boats
        JUMP again IF MORE
        HALT
boats:  2
```
"""
WITH_PARTS = "with: bit operations, index register, stack"
VALUES = ("-1", "1", "less")
# Into the fetch of the second instruction, and of the third.
STEPS = (0, 1, 2, 4, 5, 8, 9, 10, 11, 12, 16, 17)


@pytest.mark.parametrize("depth", ["transfers", "phases"])
@pytest.mark.parametrize("machine, parts", [("8-bit", ""), ("16-bit", ""), ("16-bit", WITH_PARTS)])
def test_every_register_and_word_can_hold_anything_at_every_step(
    machine: str, parts: str, depth: str
) -> None:
    lesson = read_lesson("quay", LESSON.format(machine=machine, parts=parts, depth=depth))
    assert lesson.can_be_taught
    session = Session("quay", lesson)
    tags = [each.tag for each in lesson.header.machine.registers]
    made = 0
    for step in STEPS:
        for place in (*tags, "boats", "input"):
            for value in VALUES:
                session.go_to_step(step)
                try:
                    session.suppose(place, value)
                except Refused:
                    # With the sentence that the teacher gets: it is no such value.
                    continue
                assert make_frame(session.view()).what_if
                for _ in range(2):
                    session.step_on()
                    make_frame(session.view())
                session.put_back()
                made += 1
    # Each place takes a value at least.
    assert made >= len(STEPS) * (len(tags) + 2)
