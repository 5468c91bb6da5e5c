"""What is worked out of long runs is not kept for all scenes at once."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest

from app.classroom.session import Session
from app.lesson import model
from app.lesson.at_once import FOLLOWED_IN_ALL
from app.lesson.file.reader import read_lesson
from app.lesson.file.shelf import Shelf
from app.lesson.places import read_when
from app.lesson.timeline import FOLLOWED
from app.lesson.worked_out import MOST_WORK, Kept, WorkedOut

SCENES = 14
SCENE = """
# S{}
```program
again: OUTPUT
ADD #1
JUMP again
```
```cues
when accumulator changes: a
```
```question
before first ADD: q
ask: the accumulator
```
"""
LONG = "---\ntitle: Long\nmachine: 16-bit\nlimit: 1000000\n---\n" + "".join(
    SCENE.format(each) for each in range(SCENES)
)


class One(Kept):
    def __init__(self, work: int) -> None:
        self.has = work

    @property
    def work(self) -> int:
        return self.has

    def let_go(self) -> None:
        self.has = 0


def test_the_oldest_goes_and_the_one_that_is_looked_at_stays() -> None:
    kept = WorkedOut(100)
    ones = [One(40) for _ in range(20)]
    for each in ones:
        kept.add(each)
        assert each.has, "whoever comes last is being looked at"
    assert [each.has for each in ones] == [0] * 18 + [40] * 2
    kept.add(ones[0])
    ones[0].has = 1000
    for _ in range(3):
        kept.add(ones[0])
    assert [each.has for each in ones] == [1000] + [0] * 19


def test_what_is_short_stays_and_nothing_is_kept_alive() -> None:
    kept = WorkedOut(100)
    ones = [One(1) for _ in range(90)]
    for each in ones:
        kept.add(each)
    assert all(each.has for each in ones)
    del ones, each
    gc.collect()
    last = [One(50) for _ in range(8)]
    for each in last:
        kept.add(each)
    # Two that were left, and two that came after.
    assert [each.has for each in last] == [0] * 4 + [50] * 4
    assert len(kept._kept) == 4


def test_many_scenes_are_looked_through_seldom() -> None:
    looks = 0

    class Counted(One):
        @property
        def work(self) -> int:
            nonlocal looks
            looks += 1
            return 0

    kept = WorkedOut(100)
    ones = [Counted(0) for _ in range(5000)]
    for each in ones:
        kept.add(each)
    assert looks < 100 * len(ones)


def test_a_lesson_of_long_runs_fills_no_memory() -> None:
    """Nine kilobytes of lesson took more than a gigabyte, once a class had been through it."""
    lesson = read_lesson("long", LONG)
    assert lesson.can_be_taught
    session = Session("name", lesson)
    questions, parts = lesson.scenes[2].questions, lesson.scenes[2].cue_sheet.parts(9)
    for _ in range(SCENES):
        session.onward()
        session.change_scene(1)
    assert sum(each.work for each in lesson.scenes) <= MOST_WORK + 4 * FOLLOWED
    assert "run" not in vars(lesson.scenes[2]), "its outputs and states are gone, too"
    # Whoever comes back finds all as it was.
    assert lesson.scenes[2].questions == questions and questions
    assert lesson.scenes[2].cue_sheet.parts(9) == parts


def test_a_warm_up_works_out_no_more_than_the_check(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All of the lesson's runs were followed to make five questions."""
    (tmp_path / "long.md").write_text(LONG, "utf-8")
    shelf = Shelf(tmp_path)
    source = shelf.lesson("long")
    assert source
    followed: list[object] = []
    plain = model.Timeline

    def counted(run: object, program: object) -> object:
        followed.append(program)
        return plain(run, program)  # type: ignore[arg-type]

    monkeypatch.setattr(model, "Timeline", counted)
    made = shelf.lesson("long~warm-up~7")
    assert made is not None
    theirs = {id(each.program) for each in source.scenes}
    found = {id(each) for each in followed if id(each) in theirs}
    assert len(found) <= FOLLOWED_IN_ALL // FOLLOWED + 1


def test_places_are_put_together_once_for_all_their_names() -> None:
    """Two hundred labels of one instruction each had a list of all the times that it comes."""
    labels = "".join(f"l{at}: " for at in range(200))
    cues = "".join(f"execute at l{at}: W\n" for at in range(200))
    program = f"```program\n{labels}JUMP l0\n```\n"
    text = f"---\ntitle: T\n---\n# One\n{program}```cues\n{cues}```\n"
    (scene,) = read_lesson("t", text).scenes
    spans = {id(scene.timeline.spans(each.when)) for each in scene.cues}
    assert len(scene.cues) == 200 and len(spans) == 1
    times = len(scene.timeline.spans(scene.cues[0].when))
    assert times > 1000 and scene.timeline.work == times
    # One of very many is not found by putting all of them together anew.
    for at in range(1, 100):
        assert len(scene.timeline.spans(read_when(f"{at}th execute at l{at}"))) == 1
    assert scene.timeline.work < 2 * times + 100
    # What that takes is counted with the run.
    assert scene.work >= scene.run.known_steps + times - 1
