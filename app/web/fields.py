"""Fields of a request, read strictly."""

from __future__ import annotations

import re

from flask import abort, request


def whole(name: str) -> int:
    text = request.values.get(name, "")
    if not re.fullmatch(r"[0-9]{1,9}", text):
        abort(400, f"'{name}' must be a whole number.")
    return int(text)


def at_most(size: int) -> None:
    """Refuse a request that carries more than so many bytes."""
    request.max_content_length = size
    # It may have been read already, when larger ones were still allowed.
    if len(request.get_data()) > size:
        abort(413)
