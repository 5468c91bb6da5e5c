"""A question that is asked at one place and answered at another."""

from __future__ import annotations

import pytest

from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Lesson
from app.lesson.pressing import Pressing

PROGRAM = """
```program
again:  OUTPUT
        ADD  #3
        COMPARE #6
        JUMP again IF LESS
        OUTPUT
        HALT
```
"""


def read(question: str, cues: str = "") -> Lesson:
    head = "---\ntitle: T\nmachine: 8-bit\n---\n# One\n"
    shown = f"\n```cues\n{cues}\n```\n" if cues else ""
    return read_lesson("t", f"{head}{PROGRAM}{shown}\n```question\n{question}\n```\n")


def test_asked_at_the_start_and_answered_at_the_end() -> None:
    lesson = read(
        "ask at start: What will the display show in the end?\n"
        "answer at end\n"
        "ask: the output so far"
    )
    assert lesson.problems == ()
    (asked,) = lesson.scenes[0].questions
    assert (asked.step, asked.reveal_step) == (0, lesson.scenes[0].run.last_step)
    assert asked.prompt == "What will the display show in the end?"
    assert asked.choices[asked.answer] == "0, 3, 6"
    assert asked.late


def test_asked_after_its_place_and_answered_after_the_next_one() -> None:
    lesson = read("ask at first ADD: And the next time?\nanswer at: each ADD\nask: the accumulator")
    scene = lesson.scenes[0]
    (asked,) = scene.questions
    assert scene.run.moment(asked.step).after.acc == 3
    assert scene.run.moment(asked.reveal_step).after.acc == 6
    assert asked.choices[asked.answer] == "6"


def test_a_question_may_be_asked_before_a_place_and_answered_later() -> None:
    lesson = read("before first ADD: And in the end?\nanswer at end\nask: the accumulator")
    (asked,) = lesson.scenes[0].questions
    assert lesson.scenes[0].run.moment(asked.step).after.acc == 0
    assert asked.choices[asked.answer] == "6"


def test_the_question_of_before_is_as_it_was() -> None:
    (asked,) = read("before first ADD: What then?\nask: the accumulator").scenes[0].questions
    assert not asked.late and asked.choices[asked.answer] == "3"


@pytest.mark.parametrize(
    ("question", "what", "mend"),
    [
        ("ask at start: Q?\nask: the output so far", "not where the answer is", "'answer at end'"),
        (
            "before HALT: Q?\nask at start: Q?\nanswer at end\nask: the accumulator",
            "both 'before' and 'ask at'",
            "Leave one",
        ),
        ("ask at start: Q?\nanswer at ned\nask: the accumulator", "'ned' is not a place", "end"),
        ("ask at start: Q?\nanswer at end", "no line that starts with 'ask'", "'ask: the"),
        ("ask at: Q?\nanswer at end\nask: the accumulator", "'' is not a place", "start"),
        ("ask at end: Q?\nanswer at start\nask: the accumulator", "does not come to", "earlier"),
    ],
)
def test_slips(question: str, what: str, mend: str) -> None:
    problem, *_ = read(question).problems
    assert what in problem.what
    assert mend in problem.mend


# In sight.


@pytest.mark.parametrize(
    ("question", "cues", "shown"),
    [
        # The number waits in the accumulator to be sent.
        (
            "before second OUTPUT: Q?\nask: the output so far",
            "",
            "The accumulator holds the number",
        ),
        # Nothing is sent any more.
        ("before HALT: Q?\nask: the output so far", "", "The output shows it already"),
        # A cue says it.
        (
            "before first ADD: Q?\nask: the accumulator",
            "decode of ADD: Soon there are 3.",
            "The cue 'decode of ADD' says 3",
        ),
        # It is there, and is still there at the end.
        (
            "ask at last ADD: Q?\nanswer at end\nask: the accumulator",
            "",
            "What is asked about shows 6 already",
        ),
        ("ask at start: Q?\nanswer at end\nask: the output so far", "", ""),
        ("ask at first OUTPUT: Q?\nanswer at second OUTPUT\nask: the output so far", "", ""),
        ("before first ADD: Q?\nask: the accumulator", "decode of ADD: There may be 30 or -3.", ""),
        # That nothing changes is the point of such a question.
        ("before first COMPARE: Q?\nask: the accumulator", "", ""),
        ("before first JUMP: Q?\nask: which way the jump goes", "", ""),
    ],
)
def test_an_answer_in_sight(question: str, cues: str, shown: str) -> None:
    problems = [each.what for each in read(question, cues).problems]
    if shown:
        (what,) = problems
        assert what.startswith(shown)
        assert what.endswith("so the answer is in sight when this is asked.")
    else:
        assert problems == []


NOUGHTS = "0\n" * 29


@pytest.mark.parametrize("target", ["32", "0x20", "0b10_0000", "kept"])  # data
def test_an_address_is_read_alike_however_it_is_written(target: str) -> None:
    """Nothing is stored there when it is asked, and 5 at the end: no answer is in sight."""
    text = f"""---
title: Shelf
machine: 16-bit
---
# One
```program
LOAD #5
STORE kept
HALT
{NOUGHTS}kept: 0
```
```question
ask at start: Q?
answer at end
ask: what is stored in {target}
```
"""
    lesson = read_lesson("shelf", text)
    assert lesson.scenes[0].program.address_of("kept") == 32
    (asked,) = lesson.scenes[0].questions
    assert asked.choices[asked.answer] == "5"
    assert [each.what for each in lesson.problems] == []


def test_an_answer_that_can_be_seen_already_is_asked_for_all_the_same() -> None:
    """In the middle of the instruction that it is about: there is a warning, and a press asks."""
    lesson = read(
        "ask at step 10: Which?\nanswer at instruction 2\nask: the memory address register"
    )
    assert any("shows" in each.what and each.warning for each in lesson.problems)
    scene = lesson.scenes[0]
    (asked,) = scene.questions
    assert asked.step == 10 < asked.reveal_step
    assert Pressing(scene, Depth.TRANSFERS).here(10) is asked
