"""The teacher's own screen: notes, cues, questions, scenes and every control, beside a small board.

All of it comes with the page, and then by its stream."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, Response, current_app, render_template, url_for

from app.board.controls import GROUPS, controls_of
from app.board.drawing import Form, drawing
from app.classroom.view import View
from app.lesson.agenda import Item, agenda
from app.lesson.header import Depth
from app.lesson.model import Lesson, Scene
from app.web.rooms import Room, room_or_404
from app.web.shelf import shelf
from app.web.stream import known_number, stream_response, teacher_events

blueprint = Blueprint("desk", __name__)

# A saved file is noticed after so long.
FILE_SECONDS = 2.0


@dataclass(frozen=True, slots=True)
class NextCue:
    """The cue that comes next, and how many of the smallest steps on it is away."""

    steps: int
    words: str


def _next_cue(view: View) -> NextCue | None:
    if view.what_if:
        return None  # the lesson is silent meanwhile
    sheet = view.scene.cue_sheet
    if view.moment and view.step == 0 and view.said < sheet.last_said(None):
        waiting = sheet.at(0, said=view.said + 1)
        return NextCue(0, waiting.words) if waiting else None
    following = sheet.after(view.step) if view.moment else None
    if following is None:
        return None
    step, cue = following
    if view.settings.depth is Depth.PHASES and view.scene.paced is view.scene.run:
        run = view.scene.run
        return NextCue(1 + run.phases_by(step) - run.phases_by(view.step + 1), cue.words)
    return NextCue(step - view.step, cue.words)


class _Desk:
    """What templates/teach/desk shows of a room, made anew whenever something has changed."""

    def __init__(self, room: Room) -> None:
        self._room = room
        self._newer: Lesson | None = None
        self._agenda: tuple[Scene, Depth, tuple[Item, ...]] | None = None
        # In a stream there is no request any more that tells whose these are.
        self._environment = current_app.jinja_env
        self._shelf = shelf()

    def shown(self) -> dict[str, object]:
        """What the templates take."""
        room, frame = self._room, self._room.frame()
        self._newer = self._newer_now()
        return {
            **room.panel(frame.view),
            "session": room.session,
            "frame": frame,
            "agenda": self._agenda_of(frame.view),
            "next_cue": _next_cue(frame.view),
            "newer": self._newer,
            "bases": room.session.lesson.header.bases,
        }

    def changes(self) -> str:
        """The parts of the page that the stream brings anew."""
        template = self._environment.get_template("teach/desk/changes.html")
        return template.render(**self.shown())

    def has_changed(self) -> bool:
        """Whether the file of the lesson is another one than was told last."""
        return self._newer_now() is not self._newer

    def _newer_now(self) -> Lesson | None:
        """The lesson as its file is now, where that is not what the class has."""
        now = self._room.session.lesson
        lesson = self._shelf.lesson(now.slug)
        changed = lesson is not None and (lesson.source, lesson.header) != (now.source, now.header)
        return lesson if changed else None

    def _agenda_of(self, view: View) -> tuple[Item, ...]:
        scene, depth = view.scene, view.settings.depth
        if self._agenda is None or self._agenda[0] is not scene or self._agenda[1] is not depth:
            self._agenda = (scene, depth, agenda(scene, depth))
        return self._agenda[2]


@blueprint.get("/board/<name>/teacher")
def teacher(name: str) -> str:
    room = room_or_404(name)
    return render_template(
        "teach/desk/teacher.html",
        # Its number first: what changes meanwhile comes by the stream.
        stream=url_for("desk.stream", name=name, after=room.hub.number),
        **_Desk(room).shown(),
        still=True,
        drawings=[drawing(Form.WIDE, room.session.lesson.header.machine)],
        controls=controls_of(room.session.lesson.header.machine),
        groups=GROUPS,
    )


@blueprint.get("/board/<name>/desk")
def stream(name: str) -> Response:
    """The stream of the teacher's own screen: every frame and count, with all that stands beside
    the board. So that a page which is open asks for nothing else, it tells of the file, too."""
    room = room_or_404(name)
    desk = _Desk(room)
    events = teacher_events(room, known_number(), desk.changes, desk.has_changed, FILE_SECONDS)
    return stream_response(events)
