"""What instructions and runs cost, told on the board where a lesson asks for it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.board.frames import Frame, make_frame
from app.classroom.view import Settings, View, Went
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Lesson

LESSON = """---
title: Ways to a number
machine: 16-bit
with: index register
count: trips, ticks
---
# Three ways
```program
        LOAD  #5
        LOAD  place
        LOAD  place INDIRECT
        HALT
place:  5
number: 9
```
"""
# The steps at which the three are decoded: 6, 8 and 10 ticks, one after another.
DECODED = {5: "LOAD #n takes 6 ticks", 11: "LOAD a takes 8 ticks", 19: "LOAD a INDIRECT takes 10"}


def frame(lesson: Lesson, step: int, depth: Depth) -> Frame:
    moment = lesson.scenes[0].run.moment(step)
    return make_frame(View(lesson, 0, Settings(depth), step, moment, None, Went.ON))


@pytest.mark.parametrize("depth", Depth)
def test_the_cost_is_told_when_an_instruction_is_decoded(depth: Depth) -> None:
    lesson = read_lesson("ways", LESSON)
    assert lesson.problems == ()
    for step, said in DECODED.items():
        assert said in frame(lesson, step, depth).sentence
    assert frame(lesson, 5, depth).sentence.endswith("it needs nothing from memory.")
    assert frame(lesson, 19, depth).sentence.endswith("it goes to memory twice.")
    assert "ticks" not in frame(lesson, 6, depth).sentence
    # 0, 1 and 2 trips, as the textbooks have it for immediate, direct and indirect.
    counted = [frame(lesson, step, depth).counted for step in (0, 6, 14, 24)]
    assert counted == [
        f"So far: {ticks} ticks, {trips} to memory beside the fetches"
        for ticks, trips in ((0, "0 trips"), (6, "0 trips"), (14, "1 trip"), (24, "3 trips"))
    ]


def test_nobody_is_told_who_has_not_asked() -> None:
    asked = read_lesson("ways", LESSON)
    lesson = replace(asked, header=replace(asked.header, counted=()))
    for step in (0, 5, 14):
        made = frame(lesson, step, Depth.TRANSFERS)
        assert made.counted == "" and "ticks" not in made.sentence


@pytest.mark.parametrize(
    "watcher",
    [
        ("# Three ways", "# Three ways\ncache: 4 lines of 4 words\n"),
        ("# Three ways", "# Three ways\n```pipeline\n3 stages, one memory\n```"),
        ("# Three ways", "# Three ways\n```compare\nplain: clock 1 GHz\nquick: clock 2 GHz\n```"),
    ],
    ids=["cache", "pipeline", "compare"],
)
def test_what_watches_a_run_has_ticks_of_its_own(watcher: tuple[str, str]) -> None:
    """Two numbers of ticks on one board, neither of them wrong, would be one too many."""
    lesson = read_lesson("ways", LESSON.replace(*watcher))
    assert not lesson.faults
    scene = lesson.scenes[0]
    assert scene.cache or scene.pipeline or scene.compare
    for step in range(scene.paced.last_step + 1):
        moment = scene.paced.moment(step)
        settings = Settings(Depth.TRANSFERS)
        made = make_frame(View(lesson, 0, settings, step, moment, None, Went.ON))
        assert made.counted == ""
        assert " takes 8 ticks" not in made.sentence
