"""How much one client, and all of them together, may ask of the server."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

# Clients whose count is kept at once; the ones that asked least lately are forgotten.
MOST_CLIENTS = 4096


class Seats:
    """A number of seats, of which one client may take a part.

    A client is an address. Behind some school networks a whole class has one address, so a
    client's part is large; but it is a part: one that takes all it can leaves the rest free.
    """

    def __init__(self, most: int, most_of_one: int) -> None:
        self.most = most
        self.most_of_one = most_of_one
        self._taken: dict[str, int] = {}
        self._all = 0
        self._lock = threading.Lock()

    @property
    def taken(self) -> int:
        return self._all

    def take(self, client: str) -> bool:
        """Take a seat; False where there is none for this client."""
        with self._lock:
            taken = self._taken.get(client, 0)
            if self._all >= self.most or taken >= self.most_of_one:
                return False
            self._taken[client] = taken + 1
            self._all += 1
            return True

    def give_back(self, client: str) -> None:
        with self._lock:
            self._all -= 1
            self._taken[client] -= 1
            if not self._taken[client]:
                del self._taken[client]


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

    def allows(self, client: str) -> bool:
        """Count a request; False where it is one too many."""
        now = self._clock()
        with self._lock:
            left, then = self._left.pop(client, (float(self.at_once), now))
            left = min(left + (now - then) * self.per_second, float(self.at_once))
            allowed = left >= 1
            # Put at the end: the first is the one that asked least lately.
            self._left[client] = (left - 1 if allowed else left, now)
            if len(self._left) > MOST_CLIENTS:
                del self._left[next(iter(self._left))]
            return allowed
