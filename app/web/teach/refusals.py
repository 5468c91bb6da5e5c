"""What the teacher is told where a question cannot be asked, or cannot be kept."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from flask import abort, current_app

from app.classroom.ballot import Refused
from app.classroom.store import StoreError


@contextmanager
def refusals() -> Iterator[None]:
    """Answer 409 for what a session refuses, and 503 for what the store does."""
    try:
        yield
    except Refused as error:
        abort(409, str(error))
    except StoreError as error:
        current_app.logger.error("%s", error)
        abort(503, f"The question could not be kept, so it was not opened. {error}")
