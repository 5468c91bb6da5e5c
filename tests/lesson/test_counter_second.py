"""A course whose counter moves on second in the fetch: the machine runs so, and everything that is
told, drawn, asked and printed follows.

The order MAR <- PC; PC <- PC + 1; MDR <- memory[MAR]; CIR <- MDR is common practice in textbooks
and syllabuses; `tests/hardware` holds the model to a circuit of it.
"""

from __future__ import annotations

import pytest

from app.board.frames import make_frame
from app.classroom.session import Session
from app.lesson.asking.predictions import Prediction
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Lesson
from app.lesson.paper.quiz import make_quiz
from app.lesson.paper.trace import Rows, column
from app.lesson.paper.versions import Version
from app.lesson.paper.worksheet import Support, make_worksheet
from app.machine.run import Run
from tests.codes import word
from tests.showing import show_with

TEXT = """---
title: The ferry
counter moves: {moves}
---

# Two bags

```program
        LOAD  bag
        ADD   #3
        JUMP on
        HALT
on:     STORE bag
        OUTPUT
        HALT
bag:    9
```

```cues
fetch 2: The second one.
decode of JUMP: Where to?
```

```question
before step 2: What now?
ask: the next address
```

```question
before step 8: And here?
ask: the memory data register
```
"""
STARTS = (0, 8, 14, 20)  # worked by hand: LOAD 4 + 1 + 3, ADD 4 + 1 + 1, JUMP 4 + 1 + 1


def lesson(moves: str = "second") -> Lesson:
    found = read_lesson("ferry", TEXT.format(moves=moves))
    assert found.problems == ()
    return found


def without_questions() -> Lesson:
    """No press goes past a question, and here they go step by step."""
    return read_lesson("ferry", TEXT.partition("```question")[0].format(moves="second"))


@pytest.fixture(scope="module")
def run() -> Run:
    return lesson().scenes[0].run


def test_the_machine_runs_so(run: Run) -> None:
    for start in STARTS:
        at = run.moment(start).after.pc
        first, second, third, fourth = (run.moment(start + each).after for each in (1, 2, 3, 4))
        assert (first.mar, first.pc) == (at, at)
        assert (second.mar, second.pc, second.mdr) == (at, at + 1, first.mdr)
        assert third.mdr == third.memory[at] and third.cir == first.cir
        assert fourth.cir == third.mdr


def test_both_orders_end_alike() -> None:
    """After every instruction there is no difference."""
    one, other = (lesson(each).scenes[0].run for each in ("last", "second"))
    assert one.last_step == other.last_step
    for step in (*STARTS, one.last_step):
        assert one.moment(step).after == other.moment(step).after
    assert one.moment(2).after != other.moment(2).after


def test_the_board(run: Run) -> None:
    session = Session("ferry", without_questions())
    told = []
    for step in range(1, 5):
        session.go_to_step(step - 1)
        session.forward()
        frame = make_frame(session.view())
        values = {each.tag: each.value.now for each in frame.registers}
        told.append((frame.notation, values["PC"], values["MDR"], frame.phase))
        moves = {(each.source, each.target) for each in frame.moving}
        assert (("memory", "MDR") in moves) == (step == 3)
        assert (("PC", "PC") in moves) == (step == 2)
        assert [each.next for each in frame.rows].index(True) == (0 if step == 1 else 1)
    session.close()
    bits = f"{word('LOAD 7'):08b}"
    shown = f"{bits[:4]} {bits[4:]}"
    assert told == [
        ("MAR ← PC", "0", "0", "fetch"),
        ("PC ← PC + 1", "1", "0", "fetch"),
        ("MDR ← memory[MAR]", "1", shown, "fetch"),
        ("CIR ← MDR", "1", shown, "fetch"),
    ]


def test_what_is_said_of_a_phase() -> None:
    session = Session("ferry", without_questions())
    show_with(session, depth=Depth.PHASES)
    session.forward()
    assert make_frame(session.view()).sentence == (
        "Fetch: the instruction at address 0 is copied from memory to the current instruction"
        " register. The program counter moves on to 1."
    )
    session.close()


def test_places_and_questions() -> None:
    scene = lesson().scenes[0]
    assert [(each.first, each.last) for each in scene.timeline.spans(scene.cues[0].when)] == [
        (9, 12)
    ]
    assert [(each.first, each.last) for each in scene.timeline.spans(scene.cues[1].when)] == [
        (19, 19)
    ]
    counter, data = scene.questions
    assert counter.choices[counter.answer] == "1"
    # Before the second instruction MDR still has what the first one brought: a number.
    assert data.choices[data.answer] == "9"
    quiz = make_quiz(scene, Depth.TRANSFERS)
    assert quiz[0].where.endswith("the last transfer was MAR ← PC")


@pytest.mark.parametrize("depth", Depth)
def test_predictions(depth: Depth, run: Run) -> None:
    """Of the words to choose from one is right, and it is the one that the run brings."""
    program = lesson().scenes[0].program
    too_far = 0
    for start in STARTS:
        at = run.moment(start).after.pc
        steps = (start,) if depth is Depth.PHASES else (start + 2, start + 3)
        for step in steps:
            asked = Prediction(program, run, step, depth, "denary")
            words = next(each for each in asked.questions if each.asks == "value")
            right = []
            for choice in words.choices:
                said = {each.asks.value: "1" for each in asked.questions if not each.choices}
                said |= {
                    each.asks.value: each.choices[0].value
                    for each in asked.questions
                    if each.choices
                }
                answers = asked.mark(said | {"value": choice.value})
                answer = next(each for each in answers if each.question.asks == "value")
                if answer.right:
                    right.append(int(choice.value))
                elif (
                    int(choice.value)
                    == run.moment(step).after.memory[at + 1]
                    != (run.moment(step).after.cir)
                ):
                    too_far += 1
                    assert "was copied before the program counter moved on" in answer.explanation
                    assert f"at address {at + 1}, after it" in answer.explanation
            assert right == [run.moment(start + 4).after.cir]
    assert too_far


def test_worksheets() -> None:
    scene = lesson().scenes[0]
    columns = tuple(column(each, scene.program) for each in ("PC", "MAR", "MDR", "CIR"))
    sheet = make_worksheet(Version("A", scene), Support.SOME, columns, Rows.TRANSFERS)
    assert [(each.transfer, each.values[0]) for each in sheet.trace.rows[:5]] == [
        ("MAR <- PC", "0"),
        ("PC <- PC + 1", "1"),
        ("MDR <- memory[MAR]", "1"),
        ("CIR <- MDR", "1"),
        ("opcode, operand <- CIR", "1"),
    ]
