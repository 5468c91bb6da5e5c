"""What comes in a scene, as a list that is clicked: each line leads to where the clicker stops."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.classroom.session import Session
from app.lesson.agenda import agenda
from app.lesson.file.reader import read_file, read_lesson
from app.lesson.header import Depth
from app.lesson.parts import ALL_PARTS, all_parts, part_name

LESSONS = sorted((Path(__file__).parents[2] / "lessons").glob("*.md"))

LESSON = """---
title: Two tins
machine: 8-bit
---

# Round and round

```program
        LOAD  #3
again:  SUBTRACT #1
        JUMP  again IF MORE
        HALT
```

```cues
start: Three tins.
start: One goes at a time.
jump taken: Round again.
third decode of JUMP: [pause, speed 2]
end: None is left.
first OUTPUT: This never comes.
```

```question
before first jump taken: Which way will it go?
ask: which way the jump goes
```

# How small

```scale
a hair: 80 µm
a transistor: 100 nm
```
"""


def test_all_that_comes_stands_there_in_the_order_of_the_run() -> None:
    scene, zoom = read_lesson("tins", LESSON).scenes
    found = agenda(scene, Depth.TRANSFERS)
    assert [(each.kind, each.place, each.words) for each in found] == [
        ("cue", "start", "Three tins."),
        ("cue", "start", "One goes at a time."),
        ("question", "before first jump taken", "Which way will it go?"),
        ("cue", "jump taken", "Round again."),
        ("cue", "third decode of JUMP", "[pause, speed 2]"),
        ("cue", "end", "None is left."),
    ]
    assert [each.said for each in found[:2]] == [0, 1]
    # Three tins: the jump is taken twice.
    assert found[3].times == len(found[3].steps) == 2
    assert [(each.kind, each.words, each.steps) for each in agenda(zoom, Depth.TRANSFERS)] == [
        ("station", "a hair", (0,)),
        ("station", "a transistor", (1,)),
    ]


def test_among_many_cues_fewer_of_their_times_have_a_button(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The list of two hundred cues that come six times each took a second at every press."""
    scene = read_lesson("tins", LESSON).scenes[0]
    monkeypatch.setattr("app.lesson.agenda.MOST_BUTTONS", len(scene.cues))
    jumps = agenda(scene, Depth.TRANSFERS)[3]
    assert (jumps.times, len(jumps.steps)) == (2, 1)


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_click_leads_to_the_words_and_to_the_place_of_a_question(path: Path) -> None:
    """Every line of every scene that ships, at its own depth: what is clicked is what is there."""
    lesson = read_file(path)
    session = Session("tried", lesson)
    for number, scene in enumerate(lesson.scenes):
        for item in agenda(scene, scene.depth):
            session.go_to_scene(number)
            session.go_to_place(item.steps[0], item.said)
            view = session.view()
            assert view.step == item.steps[0]
            if item.cue:
                assert view.cue is item.cue and item.is_here(view.step, view.cue)
            if item.kind == "question":
                session.forward()
                poll = session.view().poll
                assert poll and poll.asked.number == item.number
                assert session.view().step == item.steps[0]
                session.ballot.put_away()


def test_a_cue_that_only_shows_what_the_machine_has_grown_by_says_so_as_it_is_written() -> None:
    """For every part that a lesson may switch on, and several of them at once."""
    text = """---
title: Boats
machine: 16-bit
with: stack, index register, interrupts
---

# One

```program
        LOAD  #1
        OUTPUT
        HALT
```

```cues
LOAD: [{said}]
```
"""
    machine = read_lesson("boats", text.format(said="pause")).scenes[0].program.machine
    more = [part_name(each, machine) for each in all_parts(machine) - ALL_PARTS]
    assert len(more) > 2
    names = [*more, part_name("store")]
    for said in (*(f"show {each}" for each in names), "hide ALU, stack pointer, speed 2"):
        lesson = read_lesson("boats", text.format(said=said))
        assert not lesson.problems, (said, lesson.problems)
        (item,) = agenda(lesson.scenes[0], Depth.TRANSFERS)
        back = read_lesson("boats", text.format(said=item.words[1:-1])).scenes[0].cues[0]
        assert back.actions == lesson.scenes[0].cues[0].actions
