"""What was answered in the lessons that are kept: to look at, to take away, to delete."""

from __future__ import annotations

import time
from collections import Counter
from string import ascii_uppercase

from flask import Blueprint, Response, abort, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from app.classroom.ballot import Answers, Asked, Key
from app.classroom.store import KEEP_DAYS
from app.web.downloads import table
from app.web.rooms import rooms

blueprint = Blueprint("results", __name__)


@blueprint.get("/results")
def results() -> str:
    """The lessons that are kept, with what was answered."""
    store = rooms().store
    kept = [(each, _counted(store.questions(each.name))) for each in store.lessons()]
    return render_template(
        "teach/results.html",
        kept=kept,
        unreadable=store.unreadable,
        left_out=store.unreadable_lessons,
        trouble=store.trouble,
        days=KEEP_DAYS,
        day=_day,
    )


def _counted(
    questions: dict[Key, tuple[Asked, list[Answers]]],
) -> list[tuple[Asked, list[Counter[int]]]]:
    """What was asked, in its order, with how many chose each choice in each round: of a year these
    are a hundred thousand answers, each looked at once."""
    return [
        (asked, [Counter(each.values()) for each in given])
        for _key, (asked, given) in sorted(questions.items())
    ]


def _day(seconds: float) -> str:
    return time.strftime("%Y-%m-%d %H:%M", time.localtime(seconds))


@blueprint.get("/results/<name>.csv")
def export(name: str) -> Response:
    """The answers of a lesson as a table for a spreadsheet, one answer a row."""
    store = rooms().store
    lesson = store.lesson(name)
    if lesson is None:
        abort(404, "The results of this lesson are not kept (any more).")
    questions = store.questions(name)
    names = {each for _asked, given in questions.values() for answers in given for each in answers}
    # The names are random, so their order says nothing about who is who.
    numbers = {each: number for number, each in enumerate(sorted(names), start=1)}
    rows: list[tuple[str | int, ...]] = [
        ("scene", "question", "prompt", "round", "pupil", "letter", "choice", "right")
    ]
    for _key, (asked, rounds_given) in sorted(questions.items()):
        for round, answers in enumerate(rounds_given, start=1):
            for pupil, choice in sorted(answers.items()):
                rows.append(
                    (
                        asked.scene + 1,
                        asked.number,
                        asked.prompt,
                        round,
                        f"pupil {numbers[pupil]}",
                        ascii_uppercase[choice],
                        asked.choices[choice],
                        "yes" if choice == asked.answer else "no",
                    )
                )
    day = time.strftime("%Y-%m-%d", time.localtime(lesson.started))
    return table(rows, lesson.slug, f"-{day}.csv")


@blueprint.post("/results/delete-unreadable")
def delete_unreadable() -> AnyResponse:
    """Delete the lessons that are left out of the list, because they cannot be read."""
    rooms().store.delete_unreadable()
    return redirect(url_for("results.results"), 303)


@blueprint.post("/results/<name>/delete")
def delete(name: str) -> AnyResponse:
    """Delete a lesson with all of its answers, for good."""
    if not rooms().delete(name):
        abort(404, "The results of this lesson are not kept (any more).")
    return redirect(url_for("results.results"), 303)
