"""The sessions under way, each with the hubs that its pages listen to."""

from __future__ import annotations

import secrets
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any
from weakref import ReferenceType, ref

from flask import abort, current_app
from jinja2 import Environment
from werkzeug.exceptions import Gone, HTTPException, ServiceUnavailable

from app.board.frames import Frame, make_frame
from app.board.question_card import question_card
from app.classroom.bookmark import read_bookmark, write_bookmark
from app.classroom.finished import TaskKey
from app.classroom.guests import Guest, Pages
from app.classroom.hub import Hub
from app.classroom.keeper import Keeper
from app.classroom.keyring import Keyring, steady
from app.classroom.limits import USUAL_CLASS_SIZE, Register
from app.classroom.session import Session
from app.classroom.store import DAY_SECONDS, KEEP_DAYS, Kept, Store, StoreError
from app.classroom.tokens import Names, new_code, new_key
from app.classroom.view import View
from app.lesson.file.shelf import Shelf
from app.lesson.model import Lesson

from .events import event

MOST_ROOMS = 50
SIGN_OF_LIFE_SECONDS = 10.0
# The cookie with the code of the lesson that a pupil followed last.
CLASS_COOKIE = "class"
TIDY_SECONDS = 3600.0
# When a page asks again for a lesson whose file cannot be read just now.
AWAY_SECONDS = 5
# Under how many names answers are taken in a lesson, for each place in the class: far more than the
# register has at once, for the answers of names that gave way to others stay.
MOST_NAMES = 32
# Where answers come from so many addresses, pupils have a computer each; so many answers of one of
# them are then told to the teacher.
APART = 4
MANY_OF_ONE = 4
# While answers pour in, the teacher's pages count them this often.
TALLY_SECONDS = 0.25


class Page:
    """The same frame for everybody: as a movement, and standing still for who comes now.

    Each is rendered once, when it is first asked for, and shared by all the streams; so are the
    bytes of its event.
    """

    def __init__(self, render: Callable[[bool], str], moves: bool) -> None:
        """``render`` is told whether to stand still."""
        self._render = render
        self._moves = moves
        self._texts: dict[bool, str] = {}
        self._events: dict[tuple[int, bool], bytes] = {}

    def text(self, still: bool) -> str:
        still = still or not self._moves
        if still not in self._texts:
            self._texts[still] = self._render(still)
        return self._texts[still]

    def event(self, number: int, still: bool) -> bytes:
        """The frame as an event with this number."""
        key = (number, still or not self._moves)
        if key not in self._events:
            self._events[key] = event(number, self.text(still)).encode()
        return self._events[key]


@dataclass(frozen=True, slots=True)
class Desk:
    """What the teacher's pages are told: the frame (by its number among frames), and what
    changes with every answer, which takes its own place in the page."""

    frame_number: int
    page: Page
    tally: str


class Room:
    """A session with its pages: ``hub`` is for the teacher's (the board is one of them),
    ``followers`` for the pupils'."""

    def __init__(
        self, keeper: Keeper, environment: Environment, class_size: int = USUAL_CLASS_SIZE
    ) -> None:
        self.name = keeper.kept.name
        self.code = keeper.kept.code
        self.keeper = keeper
        # When it was taught last, by a clock that nobody sets.
        self.taught = steady() - max(time.time() - keeper.kept.seen, 0.0)
        self.session: Session
        self.hub: Hub[Desk] = Hub()
        self.followers: Hub[Page] = Hub()
        # Whether the lesson is over; a server that stops closes its rooms, and ends no lesson.
        self.ended = False
        # Twice the class: whoever makes names up at one address leaves room for everybody else.
        self.register = Register(
            *(2 * class_size, class_size, self.windows, self.has_answered, self.send_away)
        )
        self._environment = environment
        self._pages = Pages()
        # What the next press is to show: the number of the frame before it, its view and page.
        self._ahead: tuple[int, View | None, Page | None] = (0, None, None)
        self._telling = threading.Lock()
        self._told = 0.0
        self._will_tell = False

    @property
    def trouble(self) -> str:
        """What keeps the lesson from being kept, in words for the teacher; empty where all is
        well."""
        return self.keeper.trouble

    def frame(self) -> Frame:
        return make_frame(self.session.view())

    @property
    def here(self) -> int:
        """How many pupils follow now."""
        return len(self._pages)

    def windows(self, pupil: str) -> int:
        """How many pages of a pupil follow now."""
        return self._pages.windows(pupil)

    def has_answered(self, pupil: str) -> bool:
        """Whether a pupil has answered a question of this lesson, or finished a task."""
        session = self.session
        return session.ballot.has_answered(pupil) or session.finished.has(pupil)

    def admit(self, pupil: str, client: str) -> bool:
        """Whether a pupil belongs to the class, or can from now on; who is turned away is told to
        the teacher, who alone sees whether there are so many pupils."""
        admitted = self.register.admit(pupil, client)
        if not admitted:
            self.tell()
        return admitted

    @property
    def from_one(self) -> int:
        """How many of the answers on the board come from one computer, where that is told; else 0.
        A class that is behind one address is none that is told of."""
        most, addresses = self.register.most_of_one(self.session.ballot.answered_now())
        return most if most >= MANY_OF_ONE and addresses >= APART else 0

    def arrive(self, pupil: str, page: Guest) -> None:
        """A page of a pupil follows from now on; several pages of one pupil count once."""
        self._pages.add(pupil, page)
        self.tell()

    def leave(self, pupil: str, page: Guest) -> None:
        if self._pages.remove(pupil, page):
            self.register.leave(pupil)
        self.tell()

    def send_away(self, pupil: str) -> None:
        """Close the pages of a pupil whose name gave way to another."""
        self._pages.send_away(pupil)

    def publish(self, view: View) -> None:
        """Show a view on every page: rendered once for the board and, where they can answer or
        read why their own answer is wrong, once for the pupils."""
        _, foretold, page = self._ahead
        theirs = page
        if page is None or foretold != replace(view, notice=""):
            frame = make_frame(view)
            theirs = page = self._page(frame)
            question = frame.question
            if question is not None and (question.state == "open" or question.known):
                theirs = self._page(frame, self.code)
        assert theirs
        number = self.followers.publish(theirs)
        self.hub.publish(Desk(number, page, self.tally(view)))

    def ahead(self, number: int) -> str:
        """The frame that the next press is going to show, rendered before it is pressed: once for
        all the teacher's pages, and for the press itself. Empty where a press does something else,
        or where the board does not show the frame of this number any more."""
        with self.session.lock:
            newest = self.hub.message
            if newest is None or newest.frame_number != number:
                return ""
            if self._ahead[0] != number:
                view = self.session.ahead()
                page = self._page(make_frame(view)) if view else None
                self._ahead = (number, view, page)
            page = self._ahead[2]
            return page.text(still=False) if page else ""

    def _page(self, frame: Frame, code: str = "") -> Page:
        return Page(lambda still: self.render(frame, still, code), frame.moves)

    def render(self, frame: Frame, still: bool, code: str = "") -> str:
        """The fragment of the board; with a ``code``, a pupil's, who can answer."""
        template = self._environment.get_template("board/frame.html")
        return template.render(frame=frame, still=still, code=code)

    # The teacher's count.

    def tell(self) -> None:
        """Tell the teacher's pages the new count, soon: many answers at once are told together."""
        with self._telling:
            if self._will_tell or self.hub.closed:
                return
            self._will_tell = True
            wait = max(self._told + TALLY_SECONDS - time.monotonic(), 0)
        timer = threading.Timer(wait, self._tell)
        timer.daemon = True
        timer.start()

    def _tell(self) -> None:
        # Under the session's lock, so that no frame comes in between.
        with self.session.lock:
            with self._telling:
                self._will_tell = False
                self._told = time.monotonic()
            newest = self.hub.message
            if newest is not None and not self.hub.closed:
                self.hub.publish(replace(newest, tally=self.tally(self.session.view())))

    def tally(self, view: View) -> str:
        """The parts of the teacher's pages that change with every answer."""
        return self._environment.get_template("teach/questions/tally.html").render(
            **self.panel(view)
        )

    def panel(self, view: View) -> dict[str, object]:
        """What templates/teach/questions/panel.html shows."""
        return {"room": self, "view": view, "question": question_card(view)}

    def pulse(self) -> None:
        """Have every stream send a sign of life, so that those of clients that are gone end."""
        self.hub.pulse()
        self.followers.pulse()

    def close(self, ended: bool = False) -> None:
        self.ended = ended
        self.session.close()
        self.hub.close()
        self.followers.close()


class Rooms:
    """Every room by its name. Where a new one would be too many, the oldest lesson ends.

    A room that the store knows but this server does not, since it was started again, is taken up
    where it was as soon as somebody asks for it.
    """

    def __init__(
        self,
        environment: Environment,
        shelf: Shelf,
        store: Store | None = None,
        class_size: int = USUAL_CLASS_SIZE,
    ) -> None:
        self.store = store or Store(None)
        self.class_size = class_size
        self.names = Names(self._secret())
        # Whose age is looked at from time to time.
        self.keyring: Keyring | None = None
        # Lessons that are over and of which the store could not be told yet.
        self._over: dict[str, Keeper] = {}
        # When lessons that are not under way were taught last, by a clock that nobody sets.
        self._rested = self._taught_before()
        self._tidied = steady()
        self._environment = environment
        self._shelf = shelf
        self._rooms: dict[str, Room] = {}
        self._lock = threading.RLock()
        self._closed = threading.Event()
        self._heart: threading.Thread | None = None

    def open(self, lesson: Lesson) -> Room:
        """A new session of a lesson. ValueError where the lesson has faults."""
        if not lesson.can_be_taught:
            raise ValueError(f"the lesson '{lesson.slug}' has faults, so it cannot be taught")
        keeper = self._add(secrets.token_urlsafe(6), lesson)
        with self._lock:
            room = self._start(keeper, lesson, {})
            for name in [*self._rooms][: max(len(self._rooms) - MOST_ROOMS, 0)]:
                self.end(name)
        return room

    def _taught_before(self) -> dict[str, float]:
        now, clock = steady(), self.store.clock()
        try:
            kept = self.store.lessons()
        except StoreError:
            return {}  # whoever asks for one is told why
        return {each.name: now - (clock - each.seen) for each in kept if each.seen <= clock}

    def _secret(self) -> str:
        try:
            return self.store.secret("names")
        except StoreError as error:
            # Pupils who joined before get new names.
            print(error, file=sys.stderr)
            return new_key()

    def _add(self, name: str, lesson: Lesson) -> Keeper:
        title = lesson.header.title
        try:
            return Keeper(self.store, self.store.add(name, lesson.slug, title))
        except StoreError:
            now = self.store.clock()
            kept = Kept(name, new_code(), lesson.slug, title, now, now, False)
            return Keeper(self.store, kept, added=False)

    def get(self, name: str) -> Room | None:
        """The room of a name; None where no such lesson is under way.

        Raises StoreError, as the next one, where only the store could tell and it cannot.
        """
        room = self._rooms.get(name)
        if room or name in self._over:
            return room
        return self._take_up(self.store.lesson(name))

    def of_code(self, code: str) -> Room | None:
        """The room that is joined by a code."""
        room = next((each for each in self.under_way() if each.code == code), None)
        if room or any(code == each.kept.code for each in self._over.values()):
            return room
        return self._take_up(self.store.lesson_of_code(code))

    def member(self, code: str, given: str, new: bool = False) -> str:
        """The name in a pupil's cookie, where it belongs to the lesson of a code that is under
        way, or is a ``new`` one there; else empty."""
        room = next((each for each in self.under_way() if each.code == code), None)
        name = self.names.read(given, room.name) if room else ""
        return name if room and (new or name in room.register) else ""

    def version_of(self, slug: str) -> Lesson | None:
        """The version of a lesson that a class has now, the one that was begun last."""
        lessons = [each.session.lesson for each in self.under_way()]
        return next((each for each in reversed(lessons) if each.slug == slug), None)

    def _take_up(self, kept: Kept | None) -> Room | None:
        if kept is None or kept.ended:
            return None
        lesson = self._shelf.lesson(kept.slug)
        if lesson is None or not lesson.can_be_taught:
            return None
        with self._lock:
            room = self._rooms.get(kept.name)
            if room is None:
                left_at = self.store.bookmark(kept.name)
                room = self._start(Keeper(self.store, kept), lesson, left_at)
            return room

    def _start(self, keeper: Keeper, lesson: Lesson, left_at: dict[str, Any]) -> Room:
        kept = keeper.kept
        room = Room(keeper, self._environment, self.class_size)

        def keep_and_publish(view: View) -> None:
            # A session tells its first view while it is being made: that is shown below.
            if hasattr(room, "session"):
                room.taught = steady()
                keeper.bookmark(write_bookmark(view))
                room.publish(view)

        bookmark = None
        if left_at:
            asked = self.store.questions(kept.name)
            bookmark = read_bookmark(left_at, lesson.header.depth, asked)
        room.session = Session(
            kept.name, lesson, keep_and_publish, bookmark, keeper, MOST_NAMES * self.class_size
        )
        room.session.finished.restore(self._finished(kept.name))
        room.register.restore(room.session.ballot.pupils | room.session.finished.pupils)
        room.session.started = kept.started
        # A page that was left open and comes back has not been taught by that.
        room.publish(room.session.view())
        self._rooms[kept.name] = room
        self.look_after()
        return room

    def _finished(self, name: str) -> dict[TaskKey, set[str]]:
        try:
            return self.store.finished(name)
        except StoreError as error:
            print(error, file=sys.stderr)
            return {}

    def look_after(self) -> None:
        """From now on :meth:`pulse` is called again and again. It is with the first room, if not
        before: a server that goes on for weeks without a lesson deletes what is old, too."""
        if self._heart is None:
            self._heart = threading.Thread(
                target=_beat, args=(ref(self), self._closed), daemon=True
            )
            self._heart.start()

    def end(self, name: str) -> bool:
        """End a lesson: nobody can follow it any more. Its results are kept. It is over whether
        or not the store can be told now. False where there is none."""
        with self._lock:
            room = self._rooms.pop(name, None)
            if room:
                room.close(ended=True)
                self._rested[name] = room.taught
                keeper = room.keeper
            else:
                kept = self.store.lesson(name)
                if kept is None or kept.ended:
                    return kept is not None or name in self._over
                keeper = Keeper(self.store, kept)
            keeper.end()
            if keeper.waits:
                self._over[name] = keeper
            return True

    def delete(self, name: str) -> bool:
        """Delete a lesson with all of its answers; False where there is none. Raises StoreError
        where it is still there, though over."""
        self.end(name)
        deleted = self.store.delete(name)
        self._rested.pop(name, None)
        return self._over.pop(name, None) is not None or deleted

    def why_none(self, name: str = "", code: str = "") -> HTTPException | None:
        """Why no room has this name, or this code, though there is such a lesson; None where there
        is none."""
        if any(name == each or code == over.kept.code for each, over in self._over.items()):
            return LessonEnded()
        if code and self.store.has_ended(code):
            return LessonEnded()
        kept = self.store.lesson_of_code(code) if code else self.store.lesson(name)
        if kept is None:
            return None
        return LessonEnded() if kept.ended else LessonAway(kept.title)

    def close(self) -> None:
        """Close every room: nobody's stream keeps the server from stopping."""
        self._closed.set()
        for room in self.under_way():
            room.close()
            room.keeper.catch_up()

    def under_way(self) -> list[Room]:
        return [*self._rooms.values()]

    def tell(self) -> None:
        """Tell the teacher's pages of every room what has changed beside the board; pupils' streams
        look whether they may go on."""
        for room in self.under_way():
            room.tell()
            room.followers.pulse()

    def pulse(self) -> None:
        """Have every stream of every room send a sign of life, and look after what is kept."""
        changed = self.store.look()
        if changed and self.store.trouble:
            print(self.store.trouble, file=sys.stderr)
        for room in self.under_way():
            room.pulse()
            room.keeper.catch_up()
            if changed:
                room.tell()
        for name, keeper in [*self._over.items()]:
            keeper.catch_up()
            if not keeper.waits:
                self._over.pop(name, None)
        if self.keyring is not None:
            self.keyring.look()
        if steady() - self._tidied > TIDY_SECONDS:
            self.tidy()

    def tidy(self) -> None:
        """End and delete the lessons that were last taught more than KEEP_DAYS ago."""
        self._tidied = now = steady()
        under_way = {room.name: room.taught for room in self.under_way()}
        taught = {name: now - then for name, then in {**self._rested, **under_way}.items()}
        try:
            gone = self.store.tidy(taught)
        except StoreError as error:
            print(error, file=sys.stderr)
            gone = []
        # Also those that the store does not have.
        gone += [name for name, age in taught.items() if age > KEEP_DAYS * DAY_SECONDS]
        for name in gone:
            self._rested.pop(name, None)
            with self._lock:
                room = self._rooms.pop(name, None)
            if room:
                room.close(ended=True)


def _beat(rooms: ReferenceType[Rooms], closed: threading.Event) -> None:
    """The pulse of all the rooms, until they are closed or nobody has them any more."""
    while not closed.wait(SIGN_OF_LIFE_SECONDS):
        found = rooms()
        if found is None:
            return
        found.pulse()
        del found


def rooms() -> Rooms:
    """The rooms of the application that answers this request."""
    found: Rooms = current_app.extensions["rooms"]
    return found


class LessonEnded(Gone):
    """What is asked for belongs to a lesson that is over: no page need ask for it again."""

    name = "The lesson has ended"  # type: ignore[assignment]
    description = "Nobody can follow it any more. The teacher still has what was answered."


class LessonAway(ServiceUnavailable):
    """What is asked for belongs to a lesson that goes on as soon as its file can be read again:
    every page asks until then."""

    name = "The lesson waits"  # type: ignore[assignment]

    def __init__(self, title: str) -> None:
        super().__init__(
            f"The lesson '{title}' cannot go on at this moment: its file has a fault, or is away."
            " Once the teacher has mended that, it goes on where it was.",
            retry_after=AWAY_SECONDS,
        )


def room_or_404(name: str) -> Room:
    """The room of a request."""
    room = rooms().get(name)
    if room is None:
        why = rooms().why_none(name=name)
        if why:
            raise why
        abort(404, "This lesson is not running. Open it again from the list of lessons.")
    return room
