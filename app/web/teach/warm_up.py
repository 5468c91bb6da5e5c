"""A warm-up for next time: questions on what was mixed up most, to ask, to print, to take away."""

from __future__ import annotations

from itertools import chain
from secrets import randbelow

from flask import Blueprint, Response, abort, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from app.lesson.asking.mixups import MixUp
from app.lesson.file.warm_up import LARGEST_SEED, QUESTIONS, WarmUpName, read_name
from app.lesson.model import Lesson
from app.lesson.paper.quiz import make_quiz
from app.machine.source.numbers import write_numbers
from app.web.downloads import download
from app.web.shelf import lesson_or_404, shelf

from .again import lesson_of, wanted

blueprint = Blueprint("warm_up", __name__)


@blueprint.get("/warm-up")
def make() -> AnyResponse:
    """Choose what the warm-up is about, and other numbers than ever; then show it."""
    asked = wanted()
    slugs = dict.fromkeys(lesson_of(each.slug) for each in asked.taught)
    # (No more of them are read than are needed.)
    there = (each for each in map(shelf().lesson, slugs) if each)
    newest = next(there, None)
    if newest is None:
        abort(404, "No lesson that was taught is in the folder of lessons any more.")
    # A fault that was written since takes the version that was taught away from nobody.
    good = (shelf().good_lesson(each.slug) for each in chain((newest,), there))
    source = next((each for each in good if each), None)
    if source is None:
        title = newest.header.title
        abort(409, f"The file of the lesson '{title}' has a fault. Mend it, then make the warm-up.")
    known = {each.value: each for each in MixUp}
    mixups = [known[each.mixup] for each in asked.found.shown if each.mixup in known]
    name = WarmUpName(source.slug, randbelow(LARGEST_SEED + 1), tuple(mixups[:QUESTIONS]))
    return redirect(url_for("warm_up.page", slug=str(name)), 303)


def _warm_up(slug: str) -> tuple[WarmUpName, Lesson]:
    name = read_name(slug)
    if name is None:
        abort(404, "There is no such warm-up. Make another one from the list of lessons.")
    return name, lesson_or_404(slug)


@blueprint.get("/warm-up/<slug>")
def page(slug: str) -> str:
    """The questions, and what can be done with them."""
    name, lesson = _warm_up(slug)
    other = WarmUpName(name.slug, randbelow(LARGEST_SEED + 1), name.mixups)
    return render_template(
        "teach/warm_up.html",
        lesson=lesson,
        source=lesson_or_404(name.slug),
        mixups=[lesson.header.wording.say(each.value) for each in name.mixups],
        other=str(other),
        items=[make_quiz(each, each.depth, alone=True) for each in lesson.scenes],
        write_numbers=write_numbers,
    )


@blueprint.get("/warm-up/<slug>.md")
def lesson_file(slug: str) -> Response:
    """The warm-up as a lesson file, to be kept and changed."""
    name, lesson = _warm_up(slug)
    return download(lesson.source, "text/markdown", name.slug, f"-warm-up-{name.seed}.md")
