"""Who sits on seats that are counted for each client, and who of them gives way."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from itertools import islice

from .limits import Seats

# So many guests of a client that are at work, those that came first, are looked at to see whether
# they have gone: it is done for each that comes where the client has all that it may have.
LOOKED_AT = 32


class Busy(IntEnum):
    """What a guest is doing. Those who rest are sent away first; those who work only for a client
    that has no seat at all; who stays never."""

    RESTS = 0
    WORKS = 1
    STAYS = 2


def _never() -> bool:
    return False


@dataclass(eq=False, slots=True)
class Guest:
    """Somebody on a seat. ``client`` is an address, ``leave`` is called when they are sent away,
    and ``gone`` says whether they have left without a word. ``answered`` says whether they have got
    something already; ``name`` is that of one who belongs to the class, once that is known.
    ``left`` is for whoever serves them."""

    client: str
    leave: Callable[[], None]
    gone: Callable[[], bool] = _never
    busy: Busy = Busy.RESTS
    left: bool = False
    answered: bool = False
    name: str = ""


class Guests:
    """Guests on :class:`Seats`. Where there is no seat for one who comes, those give theirs back
    who have gone; and then somebody is sent away of the client that has most, if that has at
    least two more: the one that came last (see :class:`Busy`).

    So seats go from clients with many to those with few, and never back and forth. Whatever a
    handful of clients have taken, the next one gets a seat; who has only one keeps it; and many
    behind one address who are at work lose one to each client that comes, and no more.

    Where seats are ``renewed``, a client that can get no other has that of its own guest who is at
    work and has gone; or who came first of those who rest, and of the name that has most of them:
    one of many behind an address keeps nobody out who is at work. Of those who were answered
    already, and those who never were, it is one of the more: who opens guest after guest, or keeps
    many that rest, takes the seats of the own ones. Where none of them rests and they are half of
    all, it is one of them that is at work.
    """

    def __init__(self, seats: Seats, renewed: bool = False) -> None:
        self._seats = seats
        self._renewed = renewed
        self._guests: dict[str, dict[Guest, None]] = {}  # by client, in the order they came
        self._lock = threading.Lock()

    @property
    def taken(self) -> int:
        return self._seats.taken

    def take(self, guest: Guest, known: bool = False) -> bool:
        """Take a seat; False where there is none for this client."""
        with self._lock:
            leaving: list[Guest] = []
            got = self._seats.take(guest.client, known)
            if not got and not self._seats.may_have_more(guest.client):
                # Nobody else's going would help, so it is not looked for.
                first = self._renew(guest.client)
                if first:
                    leaving, got = [first], True
            if not got:
                leaving = self._those_gone()
                got = self._seats.take(guest.client, known)
            if not got:
                last = self._send_away_for(guest.client, known) or self._renew(guest.client)
                if last:
                    leaving.append(last)
                    got = True
            if got:
                self._guests.setdefault(guest.client, {})[guest] = None
        for each in leaving:
            each.leave()
        return got

    def give_back(self, guest: Guest) -> None:
        """The guest's seat is free, if it still had one."""
        with self._lock:
            if self._forget(guest):
                self._seats.give_back(guest.client)

    def _forget(self, guest: Guest) -> bool:
        of_client = self._guests.get(guest.client, {})
        if guest not in of_client:
            return False
        del of_client[guest]
        if not of_client:
            del self._guests[guest.client]
        return True

    def _those_gone(self) -> list[Guest]:
        gone = [each for guests in self._guests.values() for each in guests if each.gone()]
        for each in gone:
            self._forget(each)
            self._seats.give_back(each.client)
        return gone

    def _renew(self, client: str) -> Guest | None:
        """Free the seat of a guest of this client for another one of it."""
        if not self._renewed:
            return None
        of_client = self._guests.get(client, {})
        # Who asks and goes without waiting keeps no seat of those who are there.
        at_work = islice((each for each in of_client if each.busy is Busy.WORKS), LOOKED_AT)
        first = next((each for each in at_work if each.gone()), None)
        if first:
            self._forget(first)
            return first
        # Those who have no name yet are one among those who have.
        named = Counter(each.name for each in of_client)
        most = max(named, key=lambda name: (named[name], not name), default="")
        ours = [each for each in of_client if each.name == most]
        resting = [each for each in ours if each.busy is Busy.RESTS]
        if not resting and 2 * len(ours) >= len(of_client):
            # Who keeps half of them at work keeps nobody out.
            first = next((each for each in ours if each.busy is Busy.WORKS), None)
            if first:
                self._forget(first)
                return first
        resting = resting or [each for each in of_client if each.busy is Busy.RESTS]
        answered = sum(each.answered for each in resting)
        gives_way = 2 * answered >= len(resting)
        first = next((each for each in resting if each.answered is gives_way), None)
        if first:
            self._forget(first)
        return first

    def _send_away_for(self, client: str, known: bool) -> Guest | None:
        """Pass the seat of a guest on to this client; the guest, None where nobody gives way."""
        if not self._seats.may_have_more(client):
            return None
        first = not self._seats.held(client)
        for busy in (Busy.RESTS, Busy.WORKS) if first else (Busy.RESTS,):
            for row in self._seats.rows(known):
                for holder in row.with_more_than(client):
                    last = next(
                        (each for each in reversed(self._guests[holder]) if each.busy <= busy), None
                    )
                    if last:
                        row.give_back(holder)
                        row.put(client)
                        self._forget(last)
                        return last
        return None


class Pages:
    """The pages that follow a lesson, by who follows: a page is a guest."""

    def __init__(self) -> None:
        self._of: dict[str, dict[Guest, None]] = {}
        self._lock = threading.Lock()

    def __len__(self) -> int:
        """How many follow; several pages of one count once."""
        return len(self._of)

    def windows(self, who: str) -> int:
        """How many pages of somebody follow now. Those that have gone are sent away."""
        for each in [*self._of.get(who, ())]:
            if each.gone():
                each.leave()
        return len(self._of.get(who, ()))

    def add(self, who: str, page: Guest) -> None:
        with self._lock:
            self._of.setdefault(who, {})[page] = None

    def remove(self, who: str, page: Guest) -> bool:
        """Whether that was the last page of somebody; False also where it was no page any more."""
        with self._lock:
            pages = self._of.get(who, {})
            if page not in pages:
                return False
            del pages[page]
            if not pages:
                del self._of[who]
            return not pages

    def send_away(self, who: str) -> None:
        """Send all the pages of somebody away."""
        for each in [*self._of.get(who, ())]:
            each.leave()
