"""Turns of those who wait: one after the other has theirs, and clients take turns too."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from contextlib import contextmanager
from typing import Generic, TypeVar

from gevent.event import AsyncResult

Who = TypeVar("Who", bound=Hashable)
What = TypeVar("What")


class InTurn(Generic[Who, What]):
    """What is to be done for clients, for each in the order in which it came; they take turns.

    Something of a client comes after what came before it of the same one, and after one thing of
    each other client: hundreds of one keep nobody else waiting for them.
    """

    def __init__(self) -> None:
        # The client that had a turn longest ago first. Of each there is something.
        self._of: dict[Hashable, dict[Who, What]] = {}

    def __len__(self) -> int:
        return sum(map(len, self._of.values()))

    def put(self, client: Hashable, who: Who, what: What) -> None:
        self._of.setdefault(client, {})[who] = what

    def pop(self) -> tuple[Who, What]:
        """What is next. Raises IndexError where there is nothing."""
        client = next(iter(self._of), None)
        if client is None:
            raise IndexError("nothing waits")
        of_client = self._of.pop(client)
        who = next(iter(of_client))
        what = of_client.pop(who)
        if of_client:
            # Behind the others.
            self._of[client] = of_client
        return who, what

    def pop_surplus(self) -> tuple[Who, What]:
        """The last of the client of which there is most. Raises ValueError where nothing is."""
        client = max(self._of, key=lambda each: len(self._of[each]))
        who = next(reversed(self._of[client]))
        return who, self._take(client, who)

    def remove(self, client: Hashable, who: Who) -> What | None:
        """What was to be done for this one, which is not any more."""
        return self._take(client, who) if who in self._of.get(client, {}) else None

    def _take(self, client: Hashable, who: Who) -> What:
        of_client = self._of[client]
        what = of_client.pop(who)
        if not of_client:
            del self._of[client]
        return what


class Line:
    """A line in which one after the other has their turn, and clients take turns (see InTurn).

    For greenlets of one thread alone.
    """

    def __init__(self) -> None:
        self._taken = False
        self._waiting: InTurn[Hashable, AsyncResult] = InTurn()

    @property
    def waiting(self) -> int:
        """How many wait."""
        return len(self._waiting)

    @contextmanager
    def turn(self, client: Hashable, who: Hashable) -> Iterator[bool]:
        """Wait for a turn, and have it as long as this lasts; False where ``who`` has left the line
        meanwhile."""
        if self._taken and not self._wait(client, who):
            yield False
            return
        self._taken = True
        try:
            yield True
        finally:
            self._pass_on()

    def leave(self, client: Hashable, who: Hashable) -> None:
        """Wait no longer, if ``who`` waits: nothing is kept of those who were sent away."""
        called = self._waiting.remove(client, who)
        if called:
            called.set(False)

    def _wait(self, client: Hashable, who: Hashable) -> bool:
        called: AsyncResult = AsyncResult()
        self._waiting.put(client, who, called)
        try:
            return bool(called.get())
        except BaseException:
            # The server stops, say. A turn that nobody takes would never be given back.
            if called.ready() and called.value:
                self._pass_on()
            else:
                self.leave(client, who)
            raise

    def _pass_on(self) -> None:
        if not self._waiting:
            self._taken = False
            return
        _who, called = self._waiting.pop()
        called.set(True)
