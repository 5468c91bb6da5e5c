"""What the next press is going to show, said before it is pressed: it must be what comes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from app.classroom.ballot import State
from app.classroom.session import Session
from app.classroom.view import View, Went
from app.lesson.file.reader import read_file

PRESSES = 400


def compared(session: Session, views: list[View], presses: int = PRESSES) -> tuple[int, int]:
    """Presses Next again and again; how many presses were foretold, and how many were not."""
    told = untold = 0
    for _ in range(presses):
        before = (views[-1].scene_number, views[-1].step)
        ahead = session.ahead()
        views.clear()
        session.forward()
        if ahead is None:
            untold += 1
        else:
            told += 1
            assert [replace(each, notice="") for each in views] == [ahead]
            assert ahead.went is Went.ON and (ahead.scene_number, ahead.step) > before
    return told, untold


def test_what_is_foretold_is_what_comes_in_every_lesson_that_ships(lessons: Path) -> None:
    foretold = 0
    for path in sorted(lessons.glob("[0-9]*.md")):
        views: list[View] = []
        told, untold = compared(Session("one", read_file(path), views.append), views)
        foretold += told
        # A press that asks, or says the next cue of the start, is not.
        assert untold, path.stem
    assert foretold > 500


def test_nothing_is_foretold_while_a_class_answers_or_the_board_plays(lessons: Path) -> None:
    session = Session("one", read_file(lessons / "02-ferry-ticket-machine.md"))
    assert session.ahead() is not None
    session.play()
    assert session.ahead() is None
    session.pause()
    session.open_question(1)
    assert session.ahead() is None
    session.ballot.close()
    assert session.ballot.poll and session.ballot.poll.state is State.CLOSED
    assert session.ahead() is None


@pytest.mark.parametrize("change", ["base", "movement", "faster", "blank", "depth"])
def test_a_setting_is_in_what_is_foretold(lessons: Path, change: str) -> None:
    views: list[View] = []
    session = Session("one", read_file(lessons / "02-ferry-ticket-machine.md"), views.append)
    before = session.ahead()
    session.change(change)
    assert session.ahead() != before
    assert compared(session, views, 3)[0]


def test_nothing_changes_by_being_foretold(lessons: Path) -> None:
    views: list[View] = []
    session = Session("one", read_file(lessons / "03-bakery-scale.md"), views.append)
    first = session.view()
    session.ahead()
    assert session.view() == first and len(views) == 1
