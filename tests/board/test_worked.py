"""What the ALU and the adder of addresses work out is shown once their values have come, and not
before. That the number is in the memory data register before it is added is common practice: every
table of register transfers has MAR <- operand, MDR <- memory[MAR], ACC <- ACC + MDR in this order.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from app.board.frames import Frame, make_frame
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson

LESSON = """---
title: The apple press
machine: 16-bit
with: index register
depth: {depth}
show: {shown}
---

# Two crates

```program
        LOAD  left
        ADD   right
        LOAD  table INDEXED
        HALT
left:   20
right:  14
table:  6
```
"""


def frames(depth: str, shown: str = "everything") -> Iterator[Frame]:
    session = Session("press", read_lesson("press", LESSON.format(depth=depth, shown=shown)))
    step = -1
    while session.view().step != step:
        step = session.view().step
        yield make_frame(session.view())
        session.step_on()


@pytest.mark.parametrize("shown", ["everything", "everything but the MDR and the MAR"])
@pytest.mark.parametrize("depth", ["transfers", "phases"])
def test_a_sum_is_seen_when_its_numbers_are_there(depth: str, shown: str) -> None:
    (adds,) = (each for each in frames(depth, shown) if each.working)
    out = {each.beat for each in adds.moving if each.source == "ALU"}
    assert out == {adds.worked_from("ALU")}
    # In a whole phase the address, the signal and the number travel first.
    from_memory = [each.beat for each in adds.moving if each.source == "memory"]
    assert adds.worked_from("ALU") > max(from_memory, default=0)
    assert bool(from_memory) == (depth == "phases")


@pytest.mark.parametrize("depth", ["transfers", "phases"])
def test_an_address_is_seen_when_both_its_parts_are_there(depth: str) -> None:
    (indexed,) = (each for each in frames(depth) if each.adding)
    out = {each.beat for each in indexed.moving if each.source == "adder"}
    assert out == {indexed.worked_from("adder")}
