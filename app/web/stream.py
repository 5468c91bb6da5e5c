"""Server-Sent Events: every page of a session receives the same frame.

The format is that of the HTML Standard (WHATWG), section 'Server-sent events': ``id:`` and
``data:`` lines, an empty line after each event, lines that start with a colon as a sign of life.
"""

from __future__ import annotations

from collections.abc import Iterator

from flask import Blueprint, Response, request

from app.classroom.hub import Hub

from .rooms import Page, room_or_404

blueprint = Blueprint("stream", __name__)

SIGN_OF_LIFE_SECONDS = 10.0


@blueprint.get("/board/<name>/stream")
def frames(name: str) -> Response:
    """The stream of a session: the present frame at once (unless the page says, in ``after`` or
    Last-Event-ID, that it has it), then every newer one."""
    room = room_or_404(name)
    known = request.headers.get("Last-Event-ID") or request.args.get("after", "")
    after = int(known) if known.isascii() and known.isdigit() and len(known) < 20 else 0
    response = Response(_events(room.hub, after), mimetype="text/event-stream")
    response.headers["Cache-Control"] = "no-store"
    response.headers["X-Accel-Buffering"] = "no"
    return response


def _events(hub: Hub[Page], after: int) -> Iterator[str]:
    yield ": open\n\n"
    first = True
    while not hub.closed:
        newest = hub.wait(after, 0 if first else SIGN_OF_LIFE_SECONDS)
        if newest:
            after, page = newest
            yield event(after, page.still if first else page.moving)
        elif not first:
            yield ": alive\n\n"
        first = False


def event(number: int, data: str) -> str:
    """One event as text."""
    lines = "".join(f"data: {line}\n" for line in data.splitlines())
    return f"id: {number}\n{lines}\n"
