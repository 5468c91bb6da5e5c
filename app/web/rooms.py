"""The sessions under way, each with the hub that its pages listen to."""

from __future__ import annotations

import secrets
import threading
from dataclasses import dataclass

from flask import abort, current_app
from jinja2 import Environment

from app.classroom.hub import Hub
from app.classroom.session import Session, View
from app.lesson.model import Lesson

from .frames import Frame, make_frame

MOST_ROOMS = 50


@dataclass(frozen=True, slots=True)
class Page:
    """The same frame for everybody: as a movement, and standing still for who comes now."""

    moving: str
    still: str


@dataclass(slots=True)
class Room:
    session: Session
    hub: Hub[Page]

    def frame(self) -> Frame:
        return make_frame(self.session.view())


class Rooms:
    """Every room by its name. The oldest is closed where a new one would be too many."""

    def __init__(self, environment: Environment) -> None:
        self._environment = environment
        self._rooms: dict[str, Room] = {}
        self._lock = threading.Lock()

    def open(self, lesson: Lesson) -> Room:
        """A new session of a lesson. ValueError where the lesson has faults."""
        hub: Hub[Page] = Hub()
        name = secrets.token_urlsafe(6)
        session = Session(name, lesson, lambda view: self._publish(hub, view))
        room = Room(session, hub)
        with self._lock:
            self._rooms[name] = room
            oldest = [*self._rooms][: max(len(self._rooms) - MOST_ROOMS, 0)]
            closing = [self._rooms.pop(each) for each in oldest]
        for each in closing:
            each.session.close()
            each.hub.close()
        return room

    def get(self, name: str) -> Room | None:
        return self._rooms.get(name)

    def close(self) -> None:
        """Close every room: nobody's stream keeps the server from stopping."""
        for room in [*self._rooms.values()]:
            room.session.close()
            room.hub.close()

    def render(self, frame: Frame, still: bool) -> str:
        return self._environment.get_template("board/frame.html").render(frame=frame, still=still)

    def _publish(self, hub: Hub[Page], view: View) -> None:
        frame = make_frame(view)
        still = self.render(frame, still=True)
        hub.publish(Page(self.render(frame, still=False) if frame.moving else still, still))


def room_or_404(name: str) -> Room:
    """The room of a request."""
    room: Room | None = current_app.extensions["rooms"].get(name)
    if room is None:
        abort(404, "This lesson is not running. Open it again from the list of lessons.")
    return room
