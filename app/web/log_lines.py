"""What the terminal says of requests that are none: short lines, and few of them.

The terminal is the teacher's, who looks for an address in it; and whoever is on the network can
send what is no request as often as they like.
"""

from __future__ import annotations

import time

from app.machine.source.problems import printable, shortened

LONGEST_LINE = 300
MOST_IN_A_WHILE = 30
WHILE_SECONDS = 60.0


class LogLines:
    """Makes lines of messages, and of too many in a while only one that says so."""

    def __init__(self) -> None:
        self._since = 0.0
        self._count = 0

    def line(self, message: str, now: float | None = None) -> str:
        """The line for a message (``now`` in seconds of a clock that never goes back); empty where
        there have been too many."""
        now = time.monotonic() if now is None else now
        if now - self._since >= WHILE_SECONDS:
            self._since, self._count = now, 0
        self._count += 1
        if self._count > MOST_IN_A_WHILE + 1:
            return ""
        if self._count == MOST_IN_A_WHILE + 1:
            return f"More requests cannot be read. For {WHILE_SECONDS:.0f} s they are not told."
        return shortened(printable(message[: 2 * LONGEST_LINE]), LONGEST_LINE)
