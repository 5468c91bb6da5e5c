"""The teacher's own screen: notes, cues, scenes and every control, beside a small board."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, render_template

from app.board.controls import CONTROLS, GROUPS
from app.board.drawing import Form, drawing
from app.lesson.model import Lesson
from app.machine.words import BASES
from app.web.rooms import Room, room_or_404
from app.web.shelf import shelf

blueprint = Blueprint("desk", __name__)


@dataclass(frozen=True, slots=True)
class NextCue:
    """The cue that comes next, and how many steps away it is."""

    steps: int
    words: str


def _next_cue(room: Room) -> NextCue | None:
    view = room.session.view()
    sheet = view.scene.cue_sheet
    if view.moment and view.step == 0 and view.said < sheet.last_said(None):
        waiting = sheet.at(0, said=view.said + 1)
        return NextCue(0, waiting.words) if waiting else None
    following = view.scene.cue_sheet.after(view.step) if view.moment else None
    if following is None:
        return None
    step, cue = following
    return NextCue(step - view.step, cue.words)


def _newer(room: Room) -> Lesson | None:
    """The lesson as its file is now, where that is not what the class has."""
    lesson = shelf().lesson(room.session.lesson.slug)
    now = room.session.lesson
    changed = lesson is not None and (lesson.source, lesson.header) != (now.source, now.header)
    return lesson if changed else None


def _desk(room: Room) -> dict[str, object]:
    """What templates/teach/desk/desk.html shows."""
    frame = room.frame()
    return {
        **room.panel(frame.view),
        "session": room.session,
        "frame": frame,
        "next_cue": _next_cue(room),
        "newer": _newer(room),
        "bases": BASES,
    }


@blueprint.get("/board/<name>/teacher")
def teacher(name: str) -> str:
    room = room_or_404(name)
    number = room.hub.number
    desk = _desk(room)
    return render_template(
        "teach/desk/teacher.html",
        **desk,
        number=number,
        still=True,
        drawings=[drawing(Form.WIDE, room.session.lesson.header.machine)],
        controls=CONTROLS,
        groups=GROUPS,
    )


@blueprint.get("/board/<name>/desk")
def desk(name: str) -> str:
    """The part of the teacher's screen that changes with the board."""
    return render_template("teach/desk/changes.html", **_desk(room_or_404(name)))
