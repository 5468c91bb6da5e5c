"""The lessons that this server has, for a request."""

from __future__ import annotations

from flask import abort, current_app

from app.lesson.file.shelf import Shelf
from app.lesson.model import Lesson


def shelf() -> Shelf:
    found: Shelf = current_app.extensions["shelf"]
    return found


def lesson_or_404(slug: str) -> Lesson:
    lesson = shelf().lesson(slug)
    if lesson is None:
        abort(404, "There is no such lesson. Go back to the list of lessons.")
    return lesson
