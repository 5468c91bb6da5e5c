"""The list of lessons, and what is wrong with those that cannot be taught yet."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from flask import Blueprint, current_app, redirect, render_template, url_for
from werkzeug.wrappers import Response

from app.board.shelf_picture import ShelfPicture, shelf_picture
from app.classroom.store import Kept, StoreError
from app.lesson.file.reader import slug_of
from app.lesson.model import Lesson
from app.lesson.writing.drafts import Drafts
from app.machine.source.problems import lines_of, printable
from app.web.rooms import rooms
from app.web.shelf import lesson_or_404, shelf, where_it_stands

blueprint = Blueprint("lessons", __name__)


class Pictures:
    """The small pictures of lessons, each drawn once for a version of its file."""

    def __init__(self) -> None:
        self._drawn: dict[str, tuple[Lesson, ShelfPicture]] = {}

    def of(self, lesson: Lesson) -> ShelfPicture | None:
        """The picture of a lesson; None where it cannot be taught."""
        if not lesson.can_be_taught:
            return None
        known = self._drawn.get(lesson.slug)
        if known is None or known[0] is not lesson:
            known = self._drawn[lesson.slug] = (lesson, shelf_picture(lesson))
        return known[1]


@dataclass(frozen=True, slots=True)
class Taught:
    """When a lesson was taught last, and whether it is the one that was taught last of all;
    ``name`` is the store's for the last time that anybody answered."""

    day: str
    name: str
    last: bool


def _taught(slugs: Collection[str]) -> tuple[dict[str, Taught], str]:
    """When each lesson of the list was taught last, by its name, and what keeps that from being
    known. A warm-up stands in no list. A lesson that was only opened counts as taught where it was
    never more than that."""
    try:
        kept, answered = rooms().store.lessons(), rooms().store.answered()
    except StoreError as error:
        return {}, str(error)
    times: dict[str, list[Kept]] = {}
    for each in sorted(kept, key=lambda each: each.started):
        if each.slug in slugs:
            times.setdefault(each.slug, []).append(each)
    latest = {
        slug: max(each, key=lambda one: (one.name in answered, one.started))
        for slug, each in times.items()
    }
    last = max(latest.values(), key=lambda one: (one.name in answered, one.started), default=None)
    return {
        slug: Taught(
            time.strftime("%Y-%m-%d", time.localtime(each.started)), each.name, each is last
        )
        for slug, each in latest.items()
    }, ""


def _own() -> dict[str, object]:
    """The folder for own lessons, which of the lessons are of it, which of those have the place of
    one that came with Chalkcycle, of which there is a draft with changes that are not saved, and
    which was written last; no folder where none can be written."""
    drafts: Drafts | None = current_app.extensions["drafts"]
    if drafts is None:
        return {"own": None, "yours": (), "unsaved": (), "hiding": (), "written": None}
    files = {slug_of(each): each for each in shelf().files()}
    written = drafts.last_written([each.name for each in files.values()])
    return {
        "hiding": {slug for slug, path in files.items() if shelf().hides(path)},
        "written": shelf().lesson(written.removesuffix(".md")) if written else None,
        "own": printable(str(drafts.folder.root)),
        "yours": {slug for slug, path in files.items() if drafts.folder.holds(path)},
        "unsaved": {slug for slug, path in files.items() if drafts.is_unsaved(path.name)},
    }


def _alike(lessons: Sequence[Lesson]) -> dict[str, str]:
    """Of lessons that have the same title, the names of their files, as they can be told."""
    titles = Counter(each.header.title.casefold() for each in lessons)
    files = {slug_of(each): printable(each.name) for each in shelf().files()}
    return {
        each.slug: files.get(each.slug, each.slug)
        for each in lessons
        if titles[each.header.title.casefold()] > 1
    }


@blueprint.get("/")
def index() -> str:
    lessons = shelf().lessons()
    taught, trouble = _taught({each.slug for each in lessons})
    pictures: Pictures = current_app.extensions["pictures"]
    at = next(
        (n for n, each in enumerate(lessons) if (it := taught.get(each.slug)) and it.last), -1
    )
    return render_template(
        "teach/lessons/list.html",
        lessons=lessons,
        alike=_alike(lessons),
        pictures={each.slug: pictures.of(each) for each in lessons},
        taught=taught,
        trouble=trouble,
        last=lessons[at] if at >= 0 else None,
        next=lessons[at + 1] if 0 <= at < len(lessons) - 1 else None,
        path=printable(str(shelf().path)),
        closed=shelf().closed(),
        one_file=shelf().is_one_file,
        **_own(),
    )


@blueprint.get("/lessons/<slug>/problems")
def problems(slug: str) -> str:
    lesson = lesson_or_404(slug)
    return render_template(
        "teach/lessons/problems.html",
        lesson=lesson,
        name=where_it_stands(lesson),
        lines=lines_of(lesson.source),
    )


@blueprint.post("/lessons/<slug>/teach")
def teach(slug: str) -> Response:
    lesson = lesson_or_404(slug)
    if not lesson.can_be_taught:
        return redirect(url_for("lessons.problems", slug=slug), 303)
    room = rooms().open(lesson)
    return redirect(url_for("board.board", name=room.session.name), 303)
