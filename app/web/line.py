"""A line in which one after the other has their turn, and those of each client take turns too."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from contextlib import contextmanager

from gevent.event import AsyncResult


class Line:
    """Who waits of one client waits behind those of the same client that came before, and behind
    one of each other client: a client of which hundreds wait keeps nobody else waiting for them.

    For greenlets of one thread alone.
    """

    def __init__(self) -> None:
        self._taken = False
        # Those of each client in the order they came; the client that had a turn longest ago first.
        # Of each that is here somebody waits.
        self._waiting: dict[Hashable, dict[Hashable, AsyncResult]] = {}

    @property
    def waiting(self) -> int:
        """How many wait."""
        return sum(map(len, self._waiting.values()))

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
        of_client = self._waiting.get(client, {})
        called = of_client.pop(who, None)
        if called:
            if not of_client:
                del self._waiting[client]
            called.set(False)

    def _wait(self, client: Hashable, who: Hashable) -> bool:
        called: AsyncResult = AsyncResult()
        self._waiting.setdefault(client, {})[who] = called
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
        client = next(iter(self._waiting), None)
        if client is None:
            self._taken = False
            return
        of_client = self._waiting.pop(client)
        of_client.pop(next(iter(of_client))).set(True)
        if of_client:
            # Behind the others.
            self._waiting[client] = of_client
