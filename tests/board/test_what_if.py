"""Whatever is changed, at whatever step: there is a board for it, and for what comes after."""

from __future__ import annotations

import pytest

from app.board.frames import make_frame
from app.classroom.ballot import Refused
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson
from tests.bell import LESSON as BELL

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


@pytest.mark.parametrize("depth", ["transfers", "phases"])
def test_a_bell_can_be_rung_at_every_step(depth: str) -> None:
    """And the class sees what comes of it: the request waits, and is served."""
    lesson = read_lesson("bell", BELL.replace("machine:", f"depth: {depth}\nmachine:"))
    session = Session("bell", lesson)
    for step in range(30):
        session.go_to_place(step)
        session.ring()
        assert make_frame(session.view()).waiting == "Request waits: 1"
        phases = set()
        for _ in range(14):
            session.step_on()
            phases.add(make_frame(session.view()).phase)
        assert "interrupt" in phases
        for _ in range(14):
            session.back()
            make_frame(session.view())
        assert session.view().step == step


# The sums are worked out by hand.
@pytest.mark.parametrize(
    ("step", "place", "value", "told"),
    [
        (12, "ACC", "99", "3 \N{MINUS SIGN} 1 = 2"),
        (18, "status", "LESS", "2 > 1"),
        (30, "X", "9", "5 + 2 = 7"),
    ],
)
def test_the_alu_shows_what_it_has_worked_out_before_something_was_changed(
    step: int, place: str, value: str, told: str
) -> None:
    source = "LOAD #3\nSUBTRACT #1\nCOMPARE #1\nLOAD #5 TO INDEX\nADD #2 TO INDEX\nHALT"
    head = LESSON.format(machine="16-bit", parts="with: index register", depth="transfers")
    lesson = read_lesson("sums", f"{head.partition('```')[0]}```program\n{source}\n```\n")
    session = Session("sums", lesson)
    session.go_to_step(step)
    assert make_frame(session.view()).working == (told,)
    session.suppose(place, value)
    session.look("alu")
    frame = make_frame(session.view())
    assert frame.working == (told,)
    assert frame.opened and frame.opened.title == told  # type: ignore[union-attr]


@pytest.mark.parametrize("depth", ["transfers", "phases"])
def test_an_instruction_that_is_decoded_is_carried_out_whatever_cir_holds_then(depth: str) -> None:
    """SUBTRACT is carried out, with the operand that CIR has now; and the board says no other."""
    lesson = read_lesson("quay", LESSON.format(machine="8-bit", parts="", depth=depth))
    session = Session("quay", lesson)
    session.go_to_step(13)  # SUBTRACT #1 has been decoded
    session.suppose("CIR", "HALT")
    session.step_on()
    frame = make_frame(session.view())
    assert frame.view.moment and frame.view.moment.after.acc == 2
    assert (frame.opcode, frame.operand) == ("1011", "0000")
    assert frame.meaning == "take the number 0 away from the accumulator"
    assert "stop" not in frame.sentence
    session.look("signals")
    opened = make_frame(session.view()).opened
    assert opened and opened.instruction == "SUBTRACT #n"  # type: ignore[union-attr]
