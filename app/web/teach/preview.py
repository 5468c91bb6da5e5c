"""The preview for who writes a lesson: the board at one place, which follows the saved file.

The page asks every second whether the file has changed; the answer is nothing (204) until it
has. A file with faults does not take the board away: the last good version stays, with what is
to be mended beside it.
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import blake2s

from flask import Blueprint, Response, make_response, render_template, request

from app.board.controls import named
from app.board.drawing import Form, drawing
from app.board.frames import make_frame
from app.classroom.session import Session
from app.classroom.ways import WAYS
from app.lesson.agenda import agenda
from app.lesson.model import Lesson
from app.machine.source.problems import lines_of
from app.web.shelf import lesson_or_404, shelf, where_it_stands

blueprint = Blueprint("preview", __name__)

# What the buttons of the page do, by the name that they send; and a line of the list.
_ALL_WAYS = {
    **WAYS,
    "place": lambda session: session.go_to_nearest(
        request.args.get("to", 0, type=int), request.args.get("then", 0, type=int)
    ),
}


def _version(lesson: Lesson) -> str:
    """What tells one version of a lesson from another."""
    # A file that is too large to be read has no text, and yet may be another than before.
    told = "".join(map(str, lesson.problems))
    return blake2s(f"{told}\0{lesson.source}".encode("utf-8", "replace"), digest_size=8).hexdigest()


def _newest(slug: str) -> tuple[Lesson, bool]:
    """The lesson as its file has it, and whether that is away; then the last good version.

    An editor may take a file away for a moment to put a new one in its place.
    """
    good = shelf().good_lesson(slug)
    if good is not None and shelf().lesson(slug) is None:
        return replace(good, problems=(), source=""), True
    return lesson_or_404(slug), False


def _shown(slug: str, newest: Lesson, away: bool) -> dict[str, object] | None:
    """What the page shows at the place that it asks for; None where no version was ever good."""
    lesson = newest if newest.can_be_taught else shelf().good_lesson(slug)
    if lesson is None:
        return None
    session = Session("preview", lesson)
    scene = request.args.get("scene", 0, type=int)
    step = request.args.get("step", 0, type=int)
    session.go_to_scene(min(max(scene, 0), len(lesson.scenes) - 1))
    session.go_to_nearest(max(step, 0), request.args.get("said", 0, type=int))
    way = _ALL_WAYS.get(request.args.get("way", ""))
    if way:
        way(session)
    view = session.view()
    return {
        "frame": make_frame(view),
        "agenda": agenda(view.scene, view.settings.depth),
        "still": False,
        "lesson": newest,
        "name": where_it_stands(newest),
        "away": away,
        "lines": lines_of(newest.source),
        "version": _version(newest),
    }


@blueprint.get("/lessons/<slug>/preview")
def preview(slug: str) -> str:
    newest, away = _newest(slug)
    shown = _shown(slug, newest, away)
    if shown is None:
        lines = lines_of(newest.source)
        return render_template(
            "teach/lessons/problems.html",
            lesson=newest,
            name=where_it_stands(newest),
            lines=lines,
        )
    machine = shown["frame"].machine  # type: ignore[attr-defined]
    return render_template(
        "teach/preview/preview.html",
        **shown,
        drawings=[drawing(Form.WIDE, machine)],
        ways=named(" ".join(WAYS)),
    )


@blueprint.get("/lessons/<slug>/preview/now")
def now(slug: str) -> Response:
    """The place after a button, or the same place in a new version of the file."""
    newest, away = _newest(slug)
    if "way" not in request.args and request.args.get("version") == _version(newest):
        return make_response("", 204)
    shown = _shown(slug, newest, away)
    if shown is None or request.args.get("machine") != shown["frame"].page_key:  # type: ignore[attr-defined]
        # Another machine has another drawing: the page starts again.
        return make_response("", 200, {"HX-Refresh": "true"})
    return make_response(render_template("teach/preview/now.html", **shown))
