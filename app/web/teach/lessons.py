"""The list of lessons, and what is wrong with those that cannot be taught yet."""

from __future__ import annotations

from flask import Blueprint, current_app, redirect, render_template, url_for
from werkzeug.wrappers import Response

from app.machine.source.problems import lines_of
from app.web.rooms import Rooms
from app.web.shelf import lesson_or_404, shelf

blueprint = Blueprint("lessons", __name__)


@blueprint.get("/")
def index() -> str:
    return render_template("teach/lessons/list.html", lessons=shelf().lessons(), path=shelf().path)


@blueprint.get("/lessons/<slug>/problems")
def problems(slug: str) -> str:
    lesson = lesson_or_404(slug)
    return render_template(
        "teach/lessons/problems.html", lesson=lesson, lines=lines_of(lesson.source)
    )


@blueprint.post("/lessons/<slug>/teach")
def teach(slug: str) -> Response:
    lesson = lesson_or_404(slug)
    if not lesson.can_be_taught:
        return redirect(url_for("lessons.problems", slug=slug), 303)
    rooms: Rooms = current_app.extensions["rooms"]
    room = rooms.open(lesson)
    return redirect(url_for("board.board", name=room.session.name), 303)
