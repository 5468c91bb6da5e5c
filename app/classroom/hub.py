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
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        # Numbers go on rising over a restart of the server: they start at its clock.
        self._number = time.time_ns() // 1_000_000
        self._message: Message | None = None
        self._closed = False

    @property
    def number(self) -> int:
        """The number of the newest message."""
        return self._number

    def publish(self, message: Message) -> int:
        """Make this the newest message; answers its number, one more than the last."""
        with self._changed:
            self._number += 1
            self._message = message
            self._changed.notify_all()
            return self._number

    def wait(self, after: int, timeout: float) -> tuple[int, Message] | None:
        """The newest message once its number differs from ``after``.

        None where ``timeout`` seconds pass without one, or the hub is closed.
        """
        with self._changed:
            self._changed.wait_for(lambda: self._closed or self._number != after, timeout)
            if self._closed or self._number == after or self._message is None:
                return None
            return self._number, self._message

    @property
    def closed(self) -> bool:
        return self._closed

    def close(self) -> None:
        """Send everybody away."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()
