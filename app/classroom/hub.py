"""From one session to everybody who watches it: only the newest message matters."""

from __future__ import annotations

import threading
import time
from typing import Generic, TypeVar

Message = TypeVar("Message")


class Hub(Generic[Message]):
    """Holds the newest message and wakes whoever waits for it.

    There is no queue: a slow watcher that comes back finds the newest message and has skipped
    the rest. Works with threads, and with gevent once ``threading`` is patched.

    Everybody waits for one event, which each message replaces by a new one. (A condition
    variable would make a lock for each watcher and each message: at a thousand watchers that
    was the greater part of the time.)
    """

    def __init__(self) -> None:
        self._publishing = threading.Lock()
        # Numbers go on rising over a restart of the server: they start at its clock.
        self._newest: tuple[int, Message | None] = (time.time_ns() // 1_000_000, None)
        self._changed = threading.Event()
        self._closed = False

    @property
    def number(self) -> int:
        """The number of the newest message."""
        return self._newest[0]

    @property
    def message(self) -> Message | None:
        """The newest message; None before the first."""
        return self._newest[1]

    def publish(self, message: Message) -> int:
        """Make this the newest message; answers its number, one more than the last."""
        with self._publishing:
            number = self._newest[0] + 1
            self._newest = (number, message)
            changed, self._changed = self._changed, threading.Event()
        changed.set()
        return number

    def pulse(self) -> None:
        """Wake everybody without a message: whoever waits gets None."""
        with self._publishing:
            changed, self._changed = self._changed, threading.Event()
        changed.set()

    def wait(self, after: int, timeout: float | None = None) -> tuple[int, Message] | None:
        """The newest message once its number differs from ``after``.

        None where ``timeout`` seconds pass without one, at a pulse, or when the hub is closed.
        Without a timeout it costs less: no clock is set for each watcher and each message.
        """
        # The event is taken before the message is looked at: one that is published in between
        # has set this very event.
        changed = self._changed
        if self._newest[0] == after and not self._closed:
            changed.wait(timeout)
        number, message = self._newest
        if self._closed or number == after or message is None:
            return None
        return number, message

    @property
    def closed(self) -> bool:
        return self._closed

    def close(self) -> None:
        """Send everybody away."""
        with self._publishing:
            self._closed = True
            changed = self._changed
        changed.set()
