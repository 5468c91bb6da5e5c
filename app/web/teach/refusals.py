"""What the teacher is told where a question cannot be asked."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from flask import abort

from app.classroom.ballot import Refused


@contextmanager
def refusals() -> Iterator[None]:
    """Answer 409 for what a session refuses."""
    try:
        yield
    except Refused as error:
        abort(409, str(error))
