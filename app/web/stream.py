"""Server-Sent Events: every page of a session receives the same frame.

A pupil's stream sends frames. A teacher's also sends, between frames, the count of answers, and
the frame that the next press is going to bring, so that it need not be waited for. The rooms' pulse
makes each send a sign of life.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from typing import Protocol

from flask import Blueprint, Response, request

from app.classroom.guests import Busy, Guest

from .events import ALIVE, ENDED, OPEN, event, named
from .rooms import Room, room_or_404

__all__ = ["blueprint", "event", "follow", "known_number", "stream_response"]

blueprint = Blueprint("stream", __name__)

# Where the server tells which connection a request came by.
CONNECTION = "chalkcycle.connection"


class Connection(Protocol):
    """What the server tells of a connection."""

    busy: Busy

    def gone(self) -> bool:
        """Whether the client has closed it."""

    def end_stream(self) -> None:
        """End the stream that it has, if it has one."""


def connection_now() -> Connection | None:
    """The connection of this request; None where the server tells nothing of it."""
    found: Connection | None = request.environ.get(CONNECTION)
    return found


# How long a frame stands before the one that the next press would bring is made: everybody has the
# first by then.
AHEAD_SECONDS = 0.05


@blueprint.get("/board/<name>/stream")
def frames(name: str) -> Response:
    """The stream of a session for the teacher's pages: the present frame at once (unless the
    page says, in ``after`` or Last-Event-ID, that it has it), then every newer one."""
    return stream_response(_events(room_or_404(name), known_number()))


def known_number() -> int:
    """The number of the event that the page of this request has already; 0 for none."""
    known = request.headers.get("Last-Event-ID") or request.args.get("after", "")
    return int(known) if known.isascii() and known.isdigit() and len(known) < 20 else 0


class _Stream:
    """Events for the server to iterate over, which tells it of the end in a call of ``close``.

    It goes to the server as it is: the layers of a usual answer would be passed through for
    every follower and every frame.
    """

    def __init__(self, events: Generator[bytes, None, None], at_end: Callable[[], None]) -> None:
        self._events = events
        self._at_end = at_end

    def __iter__(self) -> Iterator[bytes]:
        return self._events

    def close(self) -> None:
        self._events.close()
        # Once only, whoever calls it again.
        at_end, self._at_end = self._at_end, _nothing
        at_end()


def _nothing() -> None:
    """There is nothing more to do."""


def stream_response(
    events: Generator[bytes, None, None], at_end: Callable[[], None] = _nothing
) -> Response:
    """Events as an answer; ``at_end`` is called when it is over, however it ends."""
    stream = _Stream(_staying(events, connection_now()), at_end)
    response = Response(stream, mimetype="text/event-stream", direct_passthrough=True)
    response.headers["Cache-Control"] = "no-store"
    response.headers["X-Accel-Buffering"] = "no"
    return response


def _staying(
    events: Generator[bytes, None, None], connection: Connection | None
) -> Generator[bytes, None, None]:
    """Events, while they last of a connection that is not closed to make room for another."""
    if connection is None:
        yield from events
        return
    connection.busy = Busy.STAYS
    try:
        yield from events
    finally:
        connection.busy = Busy.WORKS


def _events(room: Room, after: int) -> Generator[bytes, None, None]:
    hub = room.hub
    yield OPEN
    newest = hub.message
    shown = newest.frame_number if newest and hub.number == after else 0
    first = True
    # The number of the frame after which the page has been told the next one.
    told = 0
    while not hub.closed:
        found = hub.wait(after, 0 if first else AHEAD_SECONDS if told != shown else None)
        if found:
            after, desk = found
            if desk.frame_number == shown:
                yield event(after, desk.tally).encode()
            else:
                shown = desk.frame_number
                yield event(after, f"{desk.page.text(still=first)}\n{desk.tally}").encode()
        elif not first:
            ahead = room.ahead(shown) if told != shown else ""
            told = shown
            yield named("ahead", ahead).encode() if ahead else ALIVE
        first = False
    if room.ended:
        yield ENDED


def follow(room: Room, after: int, page: Guest) -> Generator[bytes, None, None]:
    """The stream for a pupil's page, until that is sent away. Everybody gets the same bytes."""
    hub = room.followers
    yield OPEN
    first = True
    while not hub.closed and not page.left:
        found = hub.wait(after, 0 if first else None)
        if found:
            after, shown = found
            yield shown.event(after, still=first)
        elif not first:
            yield ALIVE
        first = False
    if room.ended:
        yield ENDED
