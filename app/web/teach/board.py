"""The board: the page that is projected, and what its controls do."""

from __future__ import annotations

from collections.abc import Callable

from flask import Blueprint, Response, abort, current_app, render_template, request

from app.board.controls import CONTROLS, KEY_NAMES, PARTS
from app.board.drawing import Form, drawing
from app.board.stylesheet import positions_css
from app.classroom.ballot import Refused
from app.classroom.session import Session
from app.classroom.store import StoreError
from app.classroom.what_if import places
from app.lesson.blocks.actions import SPEEDS
from app.lesson.file.shelf import Shelf
from app.lesson.header import Depth
from app.machine.machine import MACHINES
from app.machine.words import BASES
from app.web.access import open_to_class
from app.web.rooms import room_or_404

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
        controls=CONTROLS,
        key_names=KEY_NAMES,
    )


@blueprint.get("/positions/<machine>.css")
@open_to_class
def positions(machine: str) -> Response:
    """The style sheet of positions, made from the drawing; ``?form=`` asks for one form."""
    form = request.args.get("form")
    if machine not in MACHINES or (form and form not in [each.value for each in Form]):
        abort(404)
    css = positions_css(MACHINES[machine], Form(form) if form else None)
    response = Response(css, mimetype="text/css")
    response.cache_control.no_cache = True
    response.add_etag()
    response.make_conditional(request)
    return response


@blueprint.get("/board/<name>/what-if")
def what_if_form(name: str) -> str:
    """What the board asks for before something is changed on it."""
    scene = room_or_404(name).session.view().scene
    found = places(scene.program) if scene.program.words else ()
    return render_template("board/what_if.html", places=found)


def _next_of(choices: tuple, now: object, by: int = 1, around: bool = True) -> object:  # type: ignore[type-arg]
    at = choices.index(now) + by
    return choices[at % len(choices) if around else max(0, min(at, len(choices) - 1))]


def _play(session: Session) -> None:
    (session.pause if session.view().settings.playing else session.play)()


def _number(name: str) -> int:
    try:
        return int(request.form.get(name, ""))
    except ValueError:
        abort(400, f"'{name}' must be a whole number.")


def _text(name: str) -> str:
    text = request.form.get(name, "")
    if len(text) > LONGEST_TEXT:
        abort(400, f"'{name}' is too long.")
    return text


def _speed(session: Session, by: int) -> None:
    session.set_speed(_next_of(SPEEDS, session.view().settings.speed, by, around=False))  # type: ignore[arg-type]


def _part(session: Session) -> None:
    part = request.form.get("part", "")
    if part not in PARTS:
        abort(400, "'part' must name a part of the machine.")
    session.show_part(part, part in session.view().hidden)


def _new_version(session: Session) -> None:
    shelf: Shelf = current_app.extensions["shelf"]
    lesson = shelf.lesson(session.lesson.slug)
    if lesson is None or lesson.faults:
        abort(409, "The lesson file has faults now. The class keeps the version before.")
    session.take(lesson)


ACTIONS: dict[str, Callable[[Session], None]] = {
    "forward": Session.forward,
    "onward": Session.onward,
    "back": Session.back,
    "phase": Session.forward_phase,
    "instruction": Session.forward_instruction,
    "instruction-back": Session.back_instruction,
    "restart": Session.restart,
    "play": _play,
    "step": lambda session: session.go_to_step(_number("step")),
    "scene": lambda session: session.go_to_scene(_number("scene") - 1),
    "scene-on": lambda session: session.change_scene(1),
    "scene-back": lambda session: session.change_scene(-1),
    "faster": lambda session: _speed(session, 1),
    "slower": lambda session: _speed(session, -1),
    "movement": lambda session: session.set_movement(not session.view().settings.movement),
    "base": lambda session: session.set_base(_next_of(BASES, session.view().settings.base)),  # type: ignore[arg-type]
    "depth": lambda session: session.set_depth(
        _next_of(tuple(Depth), session.view().settings.depth)  # type: ignore[arg-type]
    ),
    "part": _part,
    "new-version": _new_version,
    "question": Session.next_in_question,
    "change": lambda session: session.change(_text("place"), _text("value")),
    "put-back": Session.put_back,
    "blank": lambda session: session.set_blank(not session.view().settings.blank),
}


@blueprint.post("/board/<name>/<action>")
def act(name: str, action: str) -> tuple[str, int]:
    """Do what a control says. What comes of it reaches every page by the stream."""
    room = room_or_404(name)
    if action not in ACTIONS:
        abort(404, "The board has no such control.")
    try:
        ACTIONS[action](room.session)
    except IndexError as error:
        abort(400, f"{str(error)[0].upper()}{str(error)[1:]}.")
    except Refused as error:
        abort(409, str(error))
    except StoreError as error:
        abort(503, f"The question could not be kept, so it was not opened. {error}")
    return "", 204
