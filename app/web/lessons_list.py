"""The list of lessons, and what is wrong with those that cannot be taught yet."""

from __future__ import annotations

from flask import Blueprint, abort, current_app, redirect, render_template, url_for
from werkzeug.wrappers import Response

from app.lesson.model import Lesson
from app.lesson.shelf import Shelf
from app.machine.problems import lines_of

from .rooms import Rooms

blueprint = Blueprint("lessons", __name__)


def _shelf() -> Shelf:
    shelf: Shelf = current_app.extensions["shelf"]
    return shelf


def lesson_or_404(slug: str) -> Lesson:
    lesson = _shelf().lesson(slug)
    if lesson is None:
        abort(404, "There is no such lesson. Go back to the list of lessons.")
    return lesson


@blueprint.get("/")
def index() -> str:
    return render_template("lessons/list.html", lessons=_shelf().lessons(), path=_shelf().path)


@blueprint.get("/lessons/<slug>/problems")
def problems(slug: str) -> str:
    lesson = lesson_or_404(slug)
    return render_template("lessons/problems.html", lesson=lesson, lines=lines_of(lesson.source))


@blueprint.post("/lessons/<slug>/teach")
def teach(slug: str) -> Response:
    lesson = lesson_or_404(slug)
    if lesson.faults:
        return redirect(url_for("lessons.problems", slug=slug), 303)
    rooms: Rooms = current_app.extensions["rooms"]
    room = rooms.open(lesson)
    return redirect(url_for("board.board", name=room.session.name), 303)
