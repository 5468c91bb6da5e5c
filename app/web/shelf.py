"""The lessons that this server has, for a request."""

from __future__ import annotations

from flask import abort, current_app

from app.lesson.file.shelf import Shelf
from app.lesson.file.warm_up import read_name
from app.lesson.model import Lesson
from app.machine.source.problems import printable


def shelf() -> Shelf:
    found: Shelf = current_app.extensions["shelf"]
    return found


def lesson_or_404(slug: str) -> Lesson:
    lesson = shelf().lesson(slug)
    if lesson is None:
        name = read_name(slug)
        source = shelf().lesson(name.slug) if name else None
        if source:
            mend = "Mend it: this warm-up is made after it."
            abort(409, f"The file of the lesson '{source.header.title}' has a fault. {mend}")
        abort(404, "There is no such lesson. Go back to the list of lessons.")
    return lesson


def where_it_stands(lesson: Lesson) -> str:
    """The name of a lesson's file, as it can be told; of a warm-up, which has none, its title."""
    path = shelf().file(lesson.slug)
    return printable(path.name) if path else lesson.header.title
