"""A lesson taught with the clicker alone: how far a press goes, questions on the way, and what the
lesson sets."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest

from app.classroom.ballot import State
from app.classroom.bookmark import read_bookmark, write_bookmark
from app.classroom.session import END_OF_SCENE, QUESTION_HERE, Session
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Lesson
from tests.showing import show_with

LESSON = """---
title: T
machine: 8-bit
---
# One
press: cue

```program
again:  INPUT
        ADD  total
        STORE total
        OUTPUT
        JUMP again
total:  0
```

```inputs
3, 4
```

```cues
start: Two numbers.
start: What comes of them? [speed 4, base binary]
first STORE: The first. [base denary]
second STORE: The second. [speed 0.5]
end: It waits. [hide output]
```

```question
ask at start: What will be shown in the end?
answer at second OUTPUT
ask: the output so far
```

```question
before second ADD: What comes now?
ask: the accumulator
```

# Two
depth: phases

```cues
start: Phases.
```

# Three
"""


def lesson() -> Lesson:
    made = read_lesson("t", LESSON)
    assert made.faults == ()
    return made


@pytest.fixture
def session() -> Iterator[Session]:
    made = Session("t", lesson())
    yield made
    made.close()


def acc(session: Session) -> int:
    moment = session.view().moment
    assert moment
    return moment.after.acc


def test_a_scene_in_a_few_presses_with_every_question_asked(session: Session) -> None:
    view = session.view
    assert view().cue.words == "Two numbers." and view().notice == ""
    session.forward()
    assert view().cue.words == "What comes of them?" and view().notice == QUESTION_HERE
    session.forward()
    assert view().poll.state is State.OPEN and view().step == 0
    # Nobody answers here: on with the lesson. Two cues are left, and a question between them.
    session.forward()
    assert view().poll is None and view().cue.words == "The first."
    session.forward()
    assert view().notice == QUESTION_HERE and view().poll is None
    session.forward()
    assert view().poll.asked.prompt == "What comes now?" and acc(session) == 4
    session.ballot.answer("somebody", view().poll.asked.key, 1, 0)
    session.forward()
    assert view().poll.state is State.CLOSED and acc(session) == 4
    session.forward()
    assert view().poll.state is State.SHOWN and acc(session) == 4
    session.forward()  # the machine runs to the answer, and this press takes it there
    session.forward()
    assert acc(session) == 7 and view().poll.state is State.SHOWN
    session.forward()
    assert view().cue.words == "The second." and view().poll is None
    # The answer to what was asked at the start comes back by itself.
    session.forward()
    assert view().poll.asked.prompt == "What will be shown in the end?"
    assert view().poll.state is State.SHOWN
    assert view().step == view().scene.questions[0].reveal_step
    session.forward()
    assert view().cue.words == "It waits." and view().poll is None
    session.forward()
    assert view().notice == END_OF_SCENE
    session.forward()
    assert view().scene_number == 1


def test_a_long_press_leaves_questions(session: Session) -> None:
    session.onward()
    session.onward()
    view = session.view()
    assert view.cue.words == "The first." and view.poll is None
    session.onward()
    assert session.view().notice == QUESTION_HERE
    session.onward()
    assert session.view().cue.words == "The second."
    session.open_question(2)
    session.onward()
    assert session.view().poll is None


def test_back_by_the_same_presses(session: Session) -> None:
    for _ in range(5):
        session.onward()
    steps = [session.view().step]
    words = []
    while session.view().step or session.view().said:
        session.back()
        steps.append(session.view().step)
        words.append(session.view().cue and session.view().cue.words)
    assert steps == sorted(steps, reverse=True)
    assert words[-2:] == ["What comes of them?", "Two numbers."]


def test_what_a_cue_sets_is_taken_back(session: Session) -> None:
    def shown() -> tuple[float, str]:
        settings = session.view().settings
        return settings.speed, settings.base

    seen = [shown()]
    for _ in range(4):
        session.onward()
        seen.append(shown())
    fast, slow = (4.0, "binary"), (4.0, "denary")
    assert seen == [(1.0, "denary"), fast, slow, slow, (0.5, "denary")]
    for expected in reversed(seen[:-1]):
        session.back()
        assert shown() == expected
    # However one comes there.
    session.go_to_step(session.lesson.scenes[0].run.last_step)
    assert shown() == (0.5, "denary")
    session.go_to_scene(1)
    assert shown() == (1.0, "denary")


def test_what_the_teacher_sets_counts_where_the_lesson_says_the_same(session: Session) -> None:
    session.onward()
    session.change("slower")
    assert session.view().settings.speed == 2.0
    session.onward()
    assert session.view().settings.speed == 2.0  # still under the same cue
    session.restart()
    assert session.view().settings.speed == 1.0  # before it
    show_with(session, speed=0.25)
    session.onward()
    assert session.view().settings.speed == 2.0
    session.go_to_scene(2)
    assert session.view().settings.speed == 0.25  # where no cue says anything


def test_each_scene_has_its_depth(session: Session) -> None:
    depths = []
    for number in range(3):
        session.go_to_scene(number)
        depths.append(session.view().settings.depth)
    assert depths == [Depth.TRANSFERS, Depth.PHASES, Depth.TRANSFERS]
    session.go_to_scene(1)
    session.change("depth")
    assert session.view().settings.depth is Depth.TRANSFERS
    session.go_to_scene(0)
    session.go_to_scene(1)
    assert session.view().settings.depth is Depth.TRANSFERS


def test_who_looks_back_sees_what_was_said_by_then(session: Session) -> None:
    assert session.earlier(0).cue.words == "Two numbers."
    session.onward()
    assert session.earlier(0).cue.words == "What comes of them?"


def test_it_all_comes_back_after_a_restart(session: Session) -> None:
    session.onward()
    session.change("slower")
    kept = json.loads(json.dumps(write_bookmark(session.view())))
    again = Session("t", lesson(), bookmark=read_bookmark(kept, Depth.TRANSFERS, {}))
    assert again.view().cue == session.view().cue
    assert again.view().settings == session.view().settings
    again.onward()
    again.back()
    again.back()
    assert again.view().settings.speed == 1.0


def test_playing_stops_at_a_question(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    """With no time between its steps."""
    monkeypatch.setattr(session, "_set_clock", lambda seconds, playing: session._tick(playing))
    session.play()
    assert session.view().notice == QUESTION_HERE and not session.view().settings.playing
    assert session.view().step == 0
    session.play()
    assert session.view().notice == QUESTION_HERE and session.view().step > 0
    session.open_question(2)
    session.run_to_answer()
    assert acc(session) == 7


def test_a_late_question_stays_one_where_the_file_gets_another_before_it() -> None:
    """Its number is another then; a press leaves it, and nobody waits for its answer."""
    head = "---\ntitle: T\nmachine: 8-bit\n---\n# One\n"
    program = "```program\nLOAD #1\nADD #2\nADD #3\nHALT\n```\n\n"
    late = "```question\nask at step 2: And?\nanswer at end\nask: the accumulator\n```\n\n"
    before = "```question\nbefore step 2: What?\nask: the memory data register\n```\n\n"
    session = Session("t", read_lesson("t", head + program + late))
    session.open_question(1)
    session.take(read_lesson("t", head + program + before + late))
    assert [each.prompt for each in session.questions] == ["What?", "And?"]
    assert session.ballot.poll and session.ballot.poll.asked.prompt == "And?"
    session.forward()
    assert session.ballot.poll is None and not session.view().settings.playing
