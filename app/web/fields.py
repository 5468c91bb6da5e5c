"""Fields of a request, read strictly."""

from __future__ import annotations

import re

from flask import abort, request


def whole(name: str) -> int:
    text = request.values.get(name, "")
    if not re.fullmatch(r"[0-9]{1,9}", text):
        abort(400, f"'{name}' must be a whole number.")
    return int(text)
