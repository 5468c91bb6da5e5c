"""The board: the page that is projected, and what its controls do."""

from __future__ import annotations

import time
from collections.abc import Callable
from operator import methodcaller

from flask import Blueprint, abort, render_template, request

from app.board.controls import controls_of
from app.board.drawing import Form, drawing
from app.classroom.inside import LOOKS
from app.classroom.session import Session
from app.classroom.settings import CHANGES
from app.classroom.what_if import places
from app.lesson.parts import parts_of
from app.machine.source.problems import capital
from app.web.fields import whole
from app.web.rooms import room_or_404
from app.web.shelf import shelf

from .refusals import refusals

blueprint = Blueprint("board", __name__)

LONGEST_TEXT = 200


@blueprint.get("/board/<name>")
def board(name: str) -> str:
    room = room_or_404(name)
    number = room.hub.number
    frame = room.frame()
    return render_template(
        "board/board.html",
        room=room,
        session=room.session,
        number=number,
        frame=frame,
        still=True,
        drawings=[drawing(form, frame.machine) for form in Form],
        controls=controls_of(frame.machine),
    )


@blueprint.get("/board/<name>/what-if")
def what_if_form(name: str) -> str:
    """What the board asks for before something is changed on it."""
    scene = room_or_404(name).session.view().scene
    found = (
        places(scene.program, scene.wording) if scene.program.words and not scene.pipeline else ()
    )
    if found and scene.cache:
        found = (("cache", "the cache (such as '8 lines of 2 words')"), *found)
    return render_template("board/what_if.html", places=found)


def _play(session: Session) -> None:
    (session.pause if session.view().settings.playing else session.play)()


def _text(name: str) -> str:
    text = request.form.get(name, "")
    if len(text) > LONGEST_TEXT:
        abort(400, f"'{name}' is too long.")
    return text


def _part(session: Session) -> None:
    part = request.form.get("part", "")
    if part not in parts_of(session.lesson.header.machine):
        abort(400, "'part' must name a part of the machine.")
    session.show_part(part, part in session.view().hidden)


def _new_version(session: Session) -> None:
    lesson = shelf().lesson(session.lesson.slug)
    if lesson is None:
        abort(409, "The lesson file is away. Put it back; the class keeps the version that it has.")
    if not lesson.can_be_taught:
        abort(409, "The lesson file has faults now. The class keeps the version before.")
    session.take(lesson)


ACTIONS: dict[str, Callable[[Session], None]] = {
    **{name: methodcaller("change", name) for name in CHANGES},
    **{name: methodcaller("look", name) for name in LOOKS},
    "forward": Session.forward,
    "onward": Session.onward,
    "step-on": Session.step_on,
    "back": Session.back,
    "phase": Session.forward_phase,
    "instruction": Session.forward_instruction,
    "instruction-back": Session.back_instruction,
    "restart": Session.restart,
    "play": _play,
    "step": lambda session: session.go_to_step(whole("step")),
    "place": lambda session: session.go_to_place(whole("step"), whole("said")),
    "scene": lambda session: session.go_to_scene(whole("scene") - 1),
    "scene-on": lambda session: session.change_scene(1),
    "scene-back": lambda session: session.change_scene(-1),
    "part": _part,
    "new-version": _new_version,
    "question": Session.next_in_question,
    "suppose": lambda session: session.suppose(_text("place"), _text("value")),
    "put-back": Session.put_back,
    "bell": Session.ring,
}


@blueprint.post("/board/<name>/<action>")
def act(name: str, action: str) -> tuple[str, int]:
    """Do what a control says. What comes of it reaches every page by the stream."""
    room = room_or_404(name)
    if action not in ACTIONS:
        abort(404, "The board has no such control.")
    try:
        with refusals():
            ACTIONS[action](room.session)
    except IndexError as error:
        abort(400, f"{capital(str(error))}.")
    # The streams go first: the board has what was pressed before it hears that all went well.
    time.sleep(0)
    return "", 204
