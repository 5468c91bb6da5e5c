"""A press that goes over a whole phase shows the whole phase."""

from __future__ import annotations

from app.board.frames import make_frame
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson

LESSON = """---
title: T
machine: 8-bit
---
# One
press: phase

```program
LOAD #3
HALT
```
"""


def test_all_that_moves_in_a_phase_is_seen_in_one_press() -> None:
    by_phase = Session("t", read_lesson("t", LESSON))
    by_phase.forward()
    frame = make_frame(by_phase.view())
    by_transfer = Session("t", read_lesson("t", LESSON.replace("press: phase\n", "")))
    values = []
    for _ in range(4):
        by_transfer.forward()
        values += [each.value for each in make_frame(by_transfer.view()).moving]
    assert frame.view.step == 4 and len(values) > 4
    assert [each.value for each in frame.moving] == values
    assert frame.sentence.startswith("Fetch:")
    # The registers of the transfers stay in sight: only the press is longer.
    assert {"MAR", "MDR"} <= {each.place for each in frame.registers}


def test_in_the_middle_of_a_phase_it_is_not_told_as_if_it_were_over() -> None:
    """Where the depth is changed there: after two steps of the fetch nothing is in CIR yet."""
    session = Session("t", read_lesson("t", LESSON.replace("press: phase\n", "")))
    told = []
    for step in range(1, 5):
        session.go_to_step(step)
        session.change("depth")
        told.append(make_frame(session.view()).sentence)
        session.change("depth")
    assert [each.startswith("Fetch:") for each in told] == [False, False, False, True]
    assert told[1].startswith("Memory is told to read.")


def test_who_goes_by_single_transfers_sees_each_of_them_once() -> None:
    """Also where a press would go over the whole phase; and so does who looks back and on alone."""
    by_transfer = Session("t", read_lesson("t", LESSON.replace("press: phase\n", "")))
    by_phase = Session("t", read_lesson("t", LESSON))
    for _ in range(12):
        by_transfer.step_on()
        by_phase.step_on()
        one, other = (make_frame(each.view()) for each in (by_transfer, by_phase))
        assert [each.value for each in one.moving] == [each.value for each in other.moving]
    looked = make_frame(by_phase.earlier(3, 1))
    assert looked.view.step == 4 and [each.value for each in looked.moving] == ["1"]
    # A press all the same shows the whole of what it goes over.
    by_phase.restart()
    by_phase.forward()
    assert make_frame(by_phase.view()).sentence.startswith("Fetch:")
