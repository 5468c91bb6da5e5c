"""Server-Sent Events as text: HTML Standard (WHATWG), section 'Server-sent events'.

``id:``, ``event:`` and ``data:`` lines, an empty line after each event; a line that starts with a
colon is a comment.
"""

from __future__ import annotations

OPEN = b": open\n\n"
# Named, so that a page can hear it, too: a network may go without a word.
ALIVE = b"event: alive\ndata: alive\n\n"
# The lesson is over: the page says so, and does not come again.
ENDED = b"event: ended\ndata: The lesson has ended.\n\n"


def named(name: str, data: str) -> str:
    """One event that is no frame to be shown, and has no number."""
    return f"event: {name}\n{_data(data)}\n"


def event(number: int, data: str) -> str:
    """One event."""
    return f"id: {number}\n{_data(data)}\n"


def _data(data: str) -> str:
    return "".join(f"data: {line}\n" for line in data.splitlines())
