"""How much one client, and all of them together, may ask of the server."""

from __future__ import annotations

import threading
import time
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from math import inf

# How many pupils can follow and answer where nobody says how many there are.
USUAL_CLASS_SIZE = 60
# Clients whose count is kept at once; the ones that asked least lately are forgotten.
MOST_CLIENTS = 4096
# A name that has been away for so long gives way to any newcomer, if there is no other room.
AWAY_SECONDS = 1200.0
# One that no page follows any more, to another one of its own address: a page that is loaded again,
# or a lid that is closed for a while, keeps its place. And what a page takes to begin to follow.
BREAK_SECONDS, BEGIN_SECONDS = 300.0, 2.0
# So many addresses that were turned away are counted for the teacher.
MOST_TOLD = 100
# The teacher as a client, whatever the address.
TEACHER = ""


class Seats:
    """A number of seats, of which one client may take a part.

    A client is an address. Behind some school networks a whole class has one address, so a
    client's part is large; but it is a part, and never more than half of what the others have
    left: a handful of clients that take all they can leave seats for the next one.

    The last ``kept`` seats are only for clients that are ``known``. Those sit there first, and
    under the same rule: so who is known does not take the seats of who comes new.
    """

    def __init__(self, most: int, most_of_one: int, kept: int = 0) -> None:
        self.most = most
        self.most_of_one = most_of_one
        self._open = Row(most - kept)
        self._kept = Row(kept)
        self._lock = threading.Lock()

    @property
    def taken(self) -> int:
        return self._open.all + self._kept.all

    @property
    def short(self) -> bool:
        """Whether more than half of what is open to everybody is taken."""
        return 2 * self._open.all > self._open.most

    def take(self, client: str, known: bool = False) -> bool:
        """Take a seat; False where there is none for this client."""
        with self._lock:
            return self.may_have_more(client) and any(row.take(client) for row in self.rows(known))

    def held(self, client: str) -> int:
        """How many seats a client has."""
        return self._open.by[client] + self._kept.by[client]

    def may_have_more(self, client: str) -> bool:
        """Whether a client has not yet all that it may have, whatever others leave."""
        return self.held(client) < self.most_of_one

    def rows(self, known: bool) -> tuple[Row, ...]:
        """The rows in which a client may sit that is known, or not; the better one first."""
        return (self._kept, self._open) if known else (self._open,)

    def give_back(self, client: str) -> None:
        """Give a seat back, one that is open to everybody first."""
        with self._lock:
            row = self._open if self._open.by[client] else self._kept
            row.give_back(client)


class Row:
    """Seats that are alike, and how many each client has of them."""

    def __init__(self, most: int) -> None:
        self.most = most
        self.all = 0
        self.by: Counter[str] = Counter()

    def take(self, client: str) -> bool:
        left = self.most - self.all
        if left <= 0 or self.by[client] >= max(left, 1):
            return False
        self.put(client)
        return True

    def put(self, client: str) -> None:
        self.by[client] += 1
        self.all += 1

    def with_more_than(self, client: str) -> list[str]:
        """The clients that have at least two more than this one, those with most first."""
        return [each for each, count in self.by.most_common() if count >= self.by[client] + 2]

    def give_back(self, client: str) -> None:
        self.all -= 1
        self.by[client] -= 1
        if not self.by[client]:
            del self.by[client]


@dataclass(slots=True)
class _Name:
    client: str
    joined: int  # counted
    at: float  # when it was seen last
    followed: float = -inf  # until when a page did


class Register:
    """Who belongs to a class, by name, once the name has been seen; so many names, and of one
    address a part of them (see :class:`Seats`).

    Where there is no room for a newcomer, a name gives way whose address has at least two more
    than the newcomer's; so names go from addresses with many to those with few, never back and
    forth, and the only one of an address stays. First one goes that is not in use: no page follows
    under it, nor did in the last AWAY_SECONDS; the one that has not been seen for longest. (At the
    newcomer's own address one goes without an answer that has followed no page for BREAK_SECONDS,
    or never began to, and no other.) Then
    one that was not seen for AWAY_SECONDS, whatever its address. At last, and only for the first
    name of an address, one that is in use, and its pages are closed: of those without an answer,
    or else of all, one of the address with most, and there the one that joined last. So a handful
    of addresses lock nobody out; and a class behind one address, in use, loses at most one place
    to each address that comes when all are taken.

    What was answered under a name that gave way stays counted, and it comes back like a newcomer:
    nobody can take another's answer away, and no address answers under more names than its part
    (from one start of the server to the next: where names came from is not kept).
    """

    def __init__(
        self,
        most: int,
        most_of_one: int,
        follows: Callable[[str], object] = bool,
        answered: Callable[[str], object] = bool,
        send_away: Callable[[str], None] = lambda name: None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """``follows`` and ``answered`` say whether a name has an open page, or an answer;
        ``send_away`` closes the pages of one that gives way."""
        self._most = most
        self._most_of_one = most_of_one
        self._follows = follows
        self._answered = answered
        self._send_away = send_away
        self._clock = clock
        self._clients: dict[str, _Name] = {}  # the one not seen for longest first
        self._joined = 0
        self._held: Counter[str] = Counter()
        self._turned_away: set[str] = set()
        # Whoever is asked whether a name has an open page may find that it was closed.
        self._lock = threading.RLock()

    def __len__(self) -> int:
        return len(self._clients)

    def __contains__(self, name: str) -> bool:
        return name in self._clients

    def admit(self, name: str, client: str) -> bool:
        """Whether this name belongs to the class, or can from now on."""
        with self._lock:
            if name in self._clients:
                self._see(name)
                return True
            leaving = ""
            if not self._has_room(client):
                leaving = self._who_leaves(client)
                if not leaving:
                    if len(self._turned_away) < MOST_TOLD:
                        self._turned_away.add(client)
                    return False
                self._take(leaving)
            self._put(name, client)
        if leaving:
            self._send_away(leaving)
        return True

    @property
    def turned_away(self) -> int:
        """From how many addresses somebody was not let in, and from where nobody is in now; of more
        than MOST_TOLD so many."""
        with self._lock:
            return sum(not self._held[each] for each in self._turned_away)

    def most_of_one(self, names: Iterable[str]) -> tuple[int, int]:
        """Of these names, how many the address has that has most of them, and how many addresses
        have any."""
        with self._lock:
            counts = Counter(self._clients[each].client for each in names if each in self._clients)
        return max(counts.values(), default=0), len(counts)

    def leave(self, name: str) -> None:
        """The last page of a name was closed: it followed until now, and may come back."""
        with self._lock:
            if name in self._clients:
                self._see(name)
                self._clients[name].followed = self._clock()

    def _see(self, name: str) -> None:
        # Put at the end.
        seen = self._clients[name] = self._clients.pop(name)
        seen.at = self._clock()

    def restore(self, names: set[str]) -> None:
        """Names that belonged to it before the server was started again. From where they came is
        not kept: each has an address of its own."""
        with self._lock:
            for name in names - self._clients.keys():
                self._put(name, f"before: {name}")

    def _put(self, name: str, client: str) -> None:
        self._joined += 1
        self._clients[name] = _Name(client, self._joined, self._clock())
        self._held[client] += 1

    def _take(self, name: str) -> None:
        client = self._clients.pop(name).client
        self._held[client] -= 1
        if not self._held[client]:
            del self._held[client]

    def _has_room(self, client: str) -> bool:
        held, left = self._held[client], self._most - len(self._clients)
        return left > 0 and held < min(self._most_of_one, max(left, 1))

    def _who_leaves(self, client: str) -> str:
        """The name that gives way to a new one of this client; empty where none does."""
        now = self._clock()
        closed = [each for each in [*self._clients] if not self._follows(each)]
        for each in closed:
            name = self._clients[each]
            passing = now - name.followed >= AWAY_SECONDS and self._crowds(each, client)
            stays = now - name.followed < BREAK_SECONDS or now - name.at < BEGIN_SECONDS
            own = name.client == client and not stays
            if passing or (own and not self._answered(each)):
                return each
        if self._held[client] >= self._most_of_one:
            return ""
        for each in closed:
            name = self._clients[each]
            if name.client != client and now - name.at >= AWAY_SECONDS:
                return each
        if self._held[client]:
            return ""
        return min(
            (each for each in self._clients if self._crowds(each, client)),
            key=lambda each: (
                bool(self._answered(each)),
                -self._held[self._clients[each].client],
                -self._clients[each].joined,
            ),
            default="",
        )

    def _crowds(self, name: str, client: str) -> bool:
        """Whether the address of a name has so many more than this one that it gives way."""
        return self._held[self._clients[name].client] >= self._held[client] + 2


class Known:
    """Clients that have shown who they are, as many of the latest as can be remembered."""

    def __init__(self) -> None:
        self._clients: dict[str, None] = {}

    def add(self, client: str) -> None:
        self._clients.pop(client, None)
        self._clients[client] = None
        if len(self._clients) > MOST_CLIENTS:
            del self._clients[next(iter(self._clients))]

    def __contains__(self, client: str) -> bool:
        return client in self._clients


class Rate:
    """So many requests a second for each client, and a number at once after a rest."""

    def __init__(
        self, per_second: float, at_once: int, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.per_second = per_second
        self.at_once = at_once
        self._clock = clock
        self._left: dict[str, tuple[float, float]] = {}  # requests left, and when that was
        self._lock = threading.Lock()

    def has_left(self, client: str) -> bool:
        """Whether the next request would be allowed; counts nothing."""
        with self._lock:
            return self._now_left(client, self._clock()) >= 1

    def _now_left(self, client: str, now: float) -> float:
        left, then = self._left.get(client, (float(self.at_once), now))
        return min(left + (now - then) * self.per_second, float(self.at_once))

    def allows(self, client: str) -> bool:
        """Count a request; False where it is one too many."""
        now = self._clock()
        with self._lock:
            left = self._now_left(client, now)
            self._left.pop(client, None)
            allowed = left >= 1
            # Put at the end: the first is the one that asked least lately.
            self._left[client] = (left - 1 if allowed else left, now)
            if len(self._left) > MOST_CLIENTS:
                del self._left[next(iter(self._left))]
            return allowed


@dataclass(slots=True, eq=False)
class _Waiting:
    client: str
    who: str
    # Set when it is this one's turn, or when it is sent away.
    called: threading.Event = field(default_factory=threading.Event)
    sent_away: bool = False


class Turns:
    """Work that is done for so many at once, and for so many of one client; the others wait.

    Whose turn is next goes by the time that work has taken: of those who wait, the one whose has
    taken least. Whoever gives a turn back says how long it was: the server by the clock, for nobody
    else is served meanwhile, a worker by the processor, for others work beside it. Who asks for
    heavy work again and again waits behind everybody who does not, and whoever comes new starts
    with as much as those who are being served have had: nobody saves up.

    Of those that wait of one client, ``who`` was served longest ago is next, and then whoever came
    first: a pupil who is known by name does not wait for all that another one behind the same
    address has asked for.

    Where the line is full, the client that waits most often makes room: the last that it asked
    for is sent away. The teacher comes first, and is not sent away for others.
    """

    def __init__(self, at_once: int, of_one: int, waiting: int, waiting_of_one: int) -> None:
        self._at_once = at_once
        self._of_one = of_one
        self._most_waiting = waiting
        self._most_waiting_of_one = waiting_of_one
        self._running: Counter[str] = Counter()
        self._waiting: list[_Waiting] = []
        self._had: dict[str, float] = {}  # seconds, of those who have had more than the level
        self._level = 0.0
        self._served: dict[tuple[str, str], int] = {}  # counted; the one served longest ago first
        self._calls = 0
        self._lock = threading.Lock()

    @property
    def running(self) -> int:
        """How many have their turn now."""
        return self._running.total()

    def take(self, client: str, patience: float, who: str = "") -> bool:
        """Wait for a turn; False where too many wait, or none came in ``patience`` seconds.
        Whoever got one gives it back. ``who`` is one of those behind the client, where that is
        known."""
        with self._lock:
            if not self._room_in_line(client):
                return False
            mine = _Waiting(client, who)
            self._waiting.append(mine)
            self._call()
        mine.called.wait(patience)
        with self._lock:
            if not mine.called.is_set():
                self._waiting.remove(mine)
                return False
        return not mine.sent_away

    def _room_in_line(self, client: str) -> bool:
        """Whether there is a place in the line for one more of a client, or is made."""
        waits = Counter(each.client for each in self._waiting)
        if waits[client] >= self._most_waiting_of_one:
            return False
        if len(self._waiting) < self._most_waiting:
            return True
        pupils = Counter({each: count for each, count in waits.items() if each != TEACHER})
        if not pupils:
            return False
        most, count = pupils.most_common(1)[0]
        if client != TEACHER and count < waits[client] + 2:
            return False
        last = next(each for each in reversed(self._waiting) if each.client == most)
        self._waiting.remove(last)
        last.sent_away = True
        last.called.set()
        return True

    def give_back(self, client: str, seconds: float) -> None:
        """The turn is over; the work took so many seconds."""
        with self._lock:
            self._running[client] -= 1
            if not self._running[client]:
                del self._running[client]
            self._had[client] = max(self._had.get(client, 0.0), self._level) + seconds
            self._call()

    def had(self, client: str) -> float:
        """The seconds that count for this client; only differences mean anything."""
        return max(self._had.get(client, 0.0), self._level)

    def _call(self) -> None:
        while self._running.total() < self._at_once:
            able = [each for each in self._waiting if self._running[each.client] < self._of_one]
            if not able:
                break
            # The first of those who have had least: they stand in the order in which they came.
            following = min(able, key=self._after_others)
            self._waiting.remove(following)
            self._calls += 1
            self._served.pop((following.client, following.who), None)
            self._served[following.client, following.who] = self._calls
            if len(self._served) > MOST_CLIENTS:
                del self._served[next(iter(self._served))]
            self._level = self.had(following.client)
            self._running[following.client] += 1
            following.called.set()
        if len(self._had) > MOST_CLIENTS:
            most = sorted(self._had, key=self.had)[-MOST_CLIENTS // 2 :]
            self._had = {each: self._had[each] for each in most}

    def _after_others(self, each: _Waiting) -> tuple[bool, float, int]:
        served = self._served.get((each.client, each.who), 0)
        return each.client != TEACHER, self.had(each.client), served
