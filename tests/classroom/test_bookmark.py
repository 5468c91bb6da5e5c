"""A session that is taken up after a restart, by way of JSON as the store keeps it."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from app.classroom.ballot import State
from app.classroom.bookmark import read_bookmark, write_bookmark
from app.classroom.session import Session
from app.classroom.store import LONGEST_BOOKMARK, Store
from app.lesson.blocks.actions import SPEEDS
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Lesson
from app.lesson.parts import EVERY_PART
from app.machine.words import EVERY_BASE
from tests.asking import ASKING, STEP
from tests.showing import show_with


def lesson(source: str = ASKING) -> Lesson:
    return read_lesson("asking", source)


def again(session: Session, later: Lesson | None = None) -> Session:
    """The session after a restart, of the same lesson or of what has become of it."""
    later = later or lesson()
    kept = json.loads(json.dumps(write_bookmark(session.view())))
    asked = {
        each.asked.key: (each.asked, [{"pupil": 2}, {}][: each.round])
        for each in session.ballot.everything
    }
    bookmark = read_bookmark(kept, later.header.depth, asked)
    return Session(session.name, later, bookmark=bookmark)


def test_everything_on_the_board_comes_back() -> None:
    session = Session("name", lesson())
    session.go_to_step(STEP)
    show_with(session, base="binary")
    show_with(session, speed=0.5)
    show_with(session, movement=False)
    show_with(session, blank=True)
    session.show_part("ALU", False)
    session.open_question(1)
    session.ballot.answer("pupil", (0, 1, 1), 1, 2)
    session.ballot.ask_again()
    taken_up = again(session)
    before, after = session.view(), taken_up.view()
    assert (after.scene_number, after.step) == (0, STEP)
    assert after.settings == before.settings and after.hidden == before.hidden
    assert after.poll == before.poll and after.poll and after.poll.state is State.OPEN
    assert after.notice == ""
    # And goes on: the answer to the round that is open.
    taken_up.ballot.answer("pupil", (0, 1, 1), 2, 0)


def test_the_longest_bookmark_that_can_be_is_believed() -> None:
    """All parts shown or hidden, every setting set against all that a lesson can say, a question
    open, something changed on the board, and the largest numbers."""
    most = 2**31 - 1
    known = {"depth": [*Depth], "speed": SPEEDS, "base": EVERY_BASE}
    session = Session("name", lesson())
    session.go_to_step(STEP)
    session.open_question(1)
    view = session.view()
    assert view.poll
    asked = replace(view.poll.asked, scene=most, number=most, version=most)
    written = write_bookmark(
        replace(
            view,
            scene_number=most,
            step=most,
            said=most,
            poll=replace(view.poll, asked=asked),
            settings=replace(view.settings, base=max(EVERY_BASE, key=len), movement=False),
            usual=None,
            chosen=tuple(
                (name, there, max(values, key=lambda each: len(str(each))))
                for name, values in known.items()
                for there in values
            ),
            by_hand=tuple((part, False) for part in EVERY_PART),
        )
    ) | {"was_changed": True}
    store = Store(None)
    store.add("name", "slug", "Title")
    store.save_bookmark("name", written)
    assert store.bookmark("name") == json.loads(json.dumps(written))
    assert read_bookmark(written, Depth.PHASES, {}).by_hand
    # What another version adds is believed, too.
    assert len(json.dumps(written)) < LONGEST_BOOKMARK / 4


def test_a_lesson_that_was_playing_comes_back_and_waits() -> None:
    session = Session("name", lesson())
    session.play()
    view = again(session).view()
    session.close()
    assert not view.settings.playing and view.step == session.view().step


def test_the_second_scene_comes_back() -> None:
    session = Session("name", lesson())
    session.go_to_scene(1)
    session.forward()
    assert (again(session).view().scene_number, again(session).view().step) == (1, 1)


def test_a_step_that_is_no_more_gives_the_nearest_and_says_so() -> None:
    session = Session("name", lesson())
    session.go_to_step(20)
    shorter = lesson("---\ntitle: T\nmachine: 8-bit\n---\n# One\n```program\nHALT\n```\n")
    taken_up = again(session, shorter)
    view = taken_up.view()
    assert view.step == shorter.scenes[0].run.last_step
    assert "step 20 of scene 1 is no more" in view.notice
    taken_up.back()
    assert taken_up.view().notice == ""


def test_a_scene_that_is_no_more() -> None:
    session = Session("name", lesson())
    session.go_to_scene(1)
    shorter = lesson("---\ntitle: T\nmachine: 8-bit\n---\n# One\n```program\nHALT\n```\n")
    view = again(session, shorter).view()
    assert view.scene_number == 0 and "scene 2 is no more" in view.notice


def test_a_question_keeps_the_words_it_was_asked_with() -> None:
    session = Session("name", lesson())
    session.go_to_step(STEP)
    session.open_question(1)
    changed = lesson(ASKING.replace("What will the accumulator hold?", "Something else?"))
    poll = again(session, changed).view().poll
    assert poll and poll.asked.prompt == "What will the accumulator hold?"


def test_what_another_version_wrote() -> None:
    kept = {"scene": 0, "step": 2, "settings": {"depth": "atoms", "base": 7, "speed": "fast"}}
    bookmark = read_bookmark(kept, Depth.PHASES, {})
    assert bookmark.settings.depth is Depth.PHASES
    assert (bookmark.settings.base, bookmark.settings.speed) == ("denary", 1.0)
    assert read_bookmark({}, Depth.TRANSFERS, {}).step == 0


def test_a_question_with_another_answer_is_put_away_after_a_restart() -> None:
    session = Session("name", lesson())
    session.go_to_step(STEP)
    session.open_question(1)
    more = ASKING.replace("bag:    4", "bag:    5").replace("13 or 9", "14 or 9")
    taken_up = again(session, lesson(more))
    assert taken_up.view().poll is None and "another one" in taken_up.view().notice
    assert again(session).view().poll


@pytest.mark.parametrize(
    "odd", [None, True, -1, 1.5, float("inf"), 2**70, "\ud800", [[1]], {"a": 1}]
)
@pytest.mark.parametrize("name", ["scene", "said", "settings", "chosen", "by_hand", "poll"])
def test_what_cannot_be_read_costs_only_itself(name: str, odd: object) -> None:
    session = Session("name", lesson())
    session.go_to_step(STEP)
    show_with(session, base="binary")
    session.show_part("ALU", False)
    session.open_question(1)
    asked = {each.asked.key: (each.asked, [{}]) for each in session.ballot.everything}
    kept = write_bookmark(session.view())
    right = read_bookmark(kept, Depth.TRANSFERS, asked)
    found = read_bookmark({**kept, name: odd}, Depth.TRANSFERS, asked)
    assert found.step == STEP and found.asked == asked
    assert (found.poll == (0, 1, 1)) is (name != "poll")
    assert (found.settings == right.settings) is (name != "settings")
    assert (found.by_hand == (("ALU", False),)) is (name != "by_hand")
    view = Session("name", lesson(), bookmark=found).view()
    assert view.step == STEP and view.scene_number == 0


@pytest.mark.parametrize("part", ["scene", "number", "version", "state", "round"])
def test_a_question_on_the_board_that_cannot_be_read_is_put_away(part: str) -> None:
    session = Session("name", lesson())
    session.go_to_step(STEP)
    session.open_question(1)
    asked = {each.asked.key: (each.asked, [{}]) for each in session.ballot.everything}
    kept = write_bookmark(session.view())
    for odd in (None, [1], {}, -4, 1e300, "7"):
        found = read_bookmark({**kept, "poll": {**kept["poll"], part: odd}}, Depth.TRANSFERS, asked)
        # What is counted from 1 is 1 where nothing was kept of it.
        assert found.poll is None or part in ("version", "round"), odd
        Session("name", lesson(), bookmark=found)
