"""Places at a label and at one transfer. The steps are counted by hand: a fetch is 4 steps, a
decode 1, the execution of LOAD #n, SUBTRACT #n, JUMP and OUTPUT 1, of COMPARE #n 1."""

from __future__ import annotations

import pytest

from app.lesson.entries import Wrong
from app.lesson.file.reader import read_lesson
from app.lesson.places import read_when

LESSON = read_lesson(
    "t",
    """---
title: T
machine: 8-bit
---
# One
```program
        LOAD  first
again:  SUBTRACT #1
        JUMP again IF MORE
        HALT
first:  2
```
""",
)
SCENE = LESSON.scenes[0]


@pytest.mark.parametrize(
    ("place", "spans"),
    [
        # LOAD is 8 steps, each of the others 6: twice round.
        ("at again", [(9, 14), (21, 26)]),
        ("at AGAIN", [(9, 14), (21, 26)]),
        ("second at again", [(21, 26)]),
        ("first fetch at again", [(9, 12)]),
        ("decode at again", [(13, 13), (25, 25)]),
        ("execute at again", [(14, 14), (26, 26)]),
        ("at first", []),  # a number: it is never carried out
        ("transfer 2 of execute of LOAD", [(7, 7)]),
        ("transfer 3 of LOAD", [(8, 8)]),
        ("transfer 4 of LOAD", []),
        ("transfer 3 of fetch 2", [(11, 11)]),
        ("transfer 1 of instruction 2", [(9, 9)]),
        ("last transfer of instruction 1", [(8, 8)]),
        ("Transfer 2 of second fetch at again", [(22, 22)]),
    ],
)
def test_where_they_are(place: str, spans: list[tuple[int, int]]) -> None:
    when = read_when(place, machine=LESSON.header.machine)
    found = SCENE.timeline.spans(when)
    assert [(each.first, each.last) for each in found] == spans


@pytest.mark.parametrize("place", ["transfer 2 of end", "transfer 1 of jump taken"])
def test_one_step_has_no_transfers_to_count(place: str) -> None:
    with pytest.raises(Wrong, match="is one step"):
        read_when(place)


@pytest.mark.parametrize("place", ["at", "transfer of ADD", "transfer 0 of ADD", "at two words"])
def test_what_is_no_place(place: str) -> None:
    with pytest.raises(Wrong):
        read_when(place)


def test_a_label_that_the_program_does_not_have() -> None:
    text = LESSON.source + "\n```cues\nat agian: Round again.\n```\n"
    (problem,) = read_lesson("t", text).problems
    assert problem.warning
    assert "no label 'agian', so this cue is never shown" in problem.what
    assert problem.mend == "Did you mean 'again'?"


@pytest.mark.parametrize("place", ["call of summ", "return from summ", "at summ", "fetch at summ"])
def test_a_slip_in_the_name_of_a_subroutine(place: str) -> None:
    text = f"""---
title: Sums
machine: 16-bit
with: stack
---
# One
```program
     CALL sum
     HALT
sum: ADD #1
     RETURN
```
```cues
{place}: Here.
```
"""
    (problem,) = read_lesson("t", text).problems
    assert "no label 'summ', so this cue is never shown" in problem.what
    assert problem.mend == "Did you mean 'sum'?"
    assert read_lesson("t", text.replace("summ", "sum")).problems == ()
