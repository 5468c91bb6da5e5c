"""What the teacher does with questions to the class, and the end of a lesson."""

from __future__ import annotations

from collections.abc import Callable

from flask import Blueprint, abort, redirect, url_for
from werkzeug.wrappers import Response as AnyResponse

from app.classroom.session import Session
from app.web.fields import whole
from app.web.rooms import room_or_404, rooms

from .refusals import refusals

blueprint = Blueprint("questions", __name__)

ACTIONS: dict[str, Callable[[Session], None]] = {
    "open": lambda session: session.open_question(whole("question")),
    "close": lambda session: session.ballot.close(),
    "reopen": lambda session: session.ballot.reopen(),
    "again": lambda session: session.ballot.ask_again(),
    "show": lambda session: session.ballot.show(),
    "run": Session.run_to_answer,
    "away": lambda session: session.ballot.put_away(),
}


@blueprint.post("/board/<name>/question/<action>")
def ask(name: str, action: str) -> tuple[str, int]:
    """What the teacher does with a question. What comes of it reaches every page by the stream."""
    room = room_or_404(name)
    if action not in ACTIONS:
        abort(404, "There is no such thing to do with a question.")
    with refusals():
        ACTIONS[action](room.session)
    return "", 204


@blueprint.post("/board/<name>/end")
def end(name: str) -> AnyResponse:
    """End the lesson; its results stay until they are deleted."""
    # Also one that cannot be taken up, because its file is away.
    if not rooms().end(name):
        abort(404, "There is no such lesson to end. Go back to Results.")
    return redirect(url_for("results.results"), 303)
