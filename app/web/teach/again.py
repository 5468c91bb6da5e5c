"""What to go over again: the mix-ups of a lesson, or of all that are kept, by how many fell for
them. As a page, which prints as well, and as a table."""

from __future__ import annotations

import time
from dataclasses import dataclass

from flask import Blueprint, Response, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from app.classroom.again import LEAST, Again, Count, Standing, again
from app.classroom.ballot import Asked
from app.classroom.store import KEEP_DAYS, Kept
from app.lesson.at_once import FOLLOWED_IN_ALL
from app.lesson.file.shelf import PAUSE_SECONDS
from app.lesson.file.warm_up import read_name
from app.web.downloads import table
from app.web.fields import whole
from app.web.rooms import Room, rooms
from app.web.shelf import lesson_or_404, shelf

blueprint = Blueprint("again", __name__)

# So much is worked out of all lessons together to know which of them still ask what was asked. All
# that come with Chalkcycle take less than half of it.
_MOST_LOOKED_AT = 2 * FOLLOWED_IN_ALL


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was asked for: the lessons that were ``taught``, the newest first, in ``words``.
    ``query`` asks for the same."""

    taught: tuple[Kept, ...]
    words: str
    query: dict[str, str]

    @property
    def about(self) -> str:
        """What a file of it is named after."""
        return lesson_of(self.taught[0].slug) if self.query and self.taught else "all-lessons"

    @property
    def found(self) -> Again:
        names = {each.name for each in self.taught}
        name = self.taught[0].name if len(names) == 1 else None
        spreads = rooms().store.spreads(name)
        warm_ups = {each.name for each in self.taught if read_name(each.slug)}
        found = ((at, each) for at in sorted(names & spreads.keys()) for each in spreads[at])
        return again(found, warm_ups)


def wanted() -> Wanted:
    """One lesson that was ``taught``, every time a ``lesson`` was, or all that is kept."""
    kept = rooms().store.lessons()
    name, slug = request.args.get("taught", ""), request.args.get("lesson", "")
    if name:
        one = tuple(each for each in kept if each.name == name)
        if not one:
            abort(404, "The results of this lesson are not kept (any more).")
        return Wanted(one, f"{one[0].title}, {_day(one[0].started)}", {"taught": name})
    if slug:
        times = tuple(each for each in kept if lesson_of(each.slug) == slug)
        if not times:
            abort(404, "No results of this lesson are kept (any more).")
        own = [each for each in times if each.slug == slug]
        words = f"{(own or times)[0].title}, with its warm-ups" if own != [*times] else own[0].title
        return Wanted(times, words, {"lesson": slug})
    return Wanted(tuple(kept), "All lessons that are kept", {})


def lesson_of(slug: str) -> str:
    """The name of a lesson; of a warm-up, that of the lesson that it comes after."""
    name = read_name(slug)
    return name.slug if name else slug


def _day(seconds: float) -> str:
    return time.strftime("%Y-%m-%d", time.localtime(seconds))


@blueprint.get("/again")
def page() -> str:
    """The mix-ups, drawn as bars."""
    asked = wanted()
    found = asked.found
    slugs = {each.name: each.slug for each in asked.taught}
    titles: dict[str, str] = {}
    for each in rooms().store.lessons():
        if lesson_of(each.slug) == each.slug:
            titles.setdefault(each.slug, each.title)
    return render_template(
        "teach/again.html",
        wanted=asked,
        found=found,
        stands=_stands(found, slugs),
        titles=titles,
        lesson_of={each.name: each.title for each in asked.taught},
        share=_percent,
        least=LEAST,
        days=KEEP_DAYS,
        today=_day(time.time()),
        chosen=lesson_of(asked.taught[0].slug) if asked.query else "",
        warm_up=any(shelf().lesson(each) for each in {lesson_of(one.slug) for one in asked.taught}),
    )


def _percent(count: Count) -> float:
    """How long a bar is; one that is not told in numbers has the length of the first that is."""
    fell = count.fell if count.fell >= LEAST or not count.fell else LEAST
    return round(100 * fell / max(count.answers, LEAST), 2)


def _stands(found: Again, slugs: dict[str, str]) -> dict[tuple[str, object], bool]:
    """Whether a lesson still asks what was asked, by its name in the store and the place there. Of
    those after _MOST_LOOKED_AT that is not known: who wants to see one is told then."""
    shown = [(each.lesson, each.asked) for each in found.shown]
    shown += [(each.lesson, each.asked) for each in found.often]
    of: dict[str, list[tuple[str, Asked]]] = {}
    for name, asked in shown:
        of.setdefault(slugs[name], []).append((name, asked))
    stands: dict[tuple[str, object], bool] = {}
    looked = 0
    for slug, every in of.items():
        if looked >= _MOST_LOOKED_AT:
            stands.update({(name, asked.key): True for name, asked in every})
            continue
        lesson = shelf().lesson(slug)
        usable = lesson if lesson and lesson.can_be_taught else None
        standing = usable and Standing(usable, {asked.prompt for _, asked in every})
        for name, asked in every:
            stands[name, asked.key] = bool(standing and standing.of(asked))
        looked += standing.taken if standing else 0
        # Whoever waits need not wait for all of them.
        time.sleep(PAUSE_SECONDS)
    return stands


@blueprint.get("/again.csv")
def export() -> Response:
    """The same as a table for a spreadsheet, one mix-up a row."""
    asked = wanted()
    titles = {each.name: each.title for each in asked.taught}
    head = ("mix-up", "fell before talking", "answers", "fell after talking", "answers")
    more = ("fell, asked once", "answers", "fell in the warm-up", "answers")
    rows: list[tuple[str | int, ...]] = [(*head, "what clears it up", "lesson", "question", *more)]
    found = asked.found
    for each in found.shown:
        counts = (*_cells(each.before), *_cells(each.after))
        said = (each.reason, titles[each.lesson], each.asked.prompt)
        rows.append((each.mixup, *counts, *said, *_cells(each.once), *_cells(each.warm_up)))
    for one in found.often:
        said = (one.reason, titles[one.lesson], one.asked.prompt)
        rows.append((f"no known mix-up: {one.choice}", *_cells(one.count), "", "", *said))
    return table(rows, asked.about, "-again.csv")


def _cells(count: Count | None) -> tuple[str | int, str | int]:
    if count is None or not count.answers:
        return "", ""
    if not count.can_be_told:
        return "", f"fewer than {LEAST}"
    fell = count.fell if count.fell >= LEAST or not count.fell else f"fewer than {LEAST}"
    return fell, count.answers


def _unasked(slug: str) -> Room | None:
    """A board of the lesson that is open and has asked nothing: another would be one more empty
    lesson among the results."""
    lesson = shelf().lesson(slug)
    for room in rooms().under_way():
        if room.session.lesson is lesson and not rooms().store.questions(room.name):
            return room
    return None


@blueprint.post("/again/open")
def open_board() -> AnyResponse:
    """Open the board at the very step where a question was asked: by the name of the lesson as it
    was taught, and the place of the question in it."""
    store = rooms().store
    name = request.form.get("taught", "")
    kept = store.lesson(name)
    key = whole("scene"), whole("number"), whole("version")
    spreads = store.spreads(name).get(name, []) if kept else []
    asked = next((each.asked for each in spreads if each.asked.key == key), None)
    if kept is None or asked is None:
        abort(404, "This question is not kept (any more).")
    lesson = lesson_or_404(kept.slug)
    place = Standing(lesson, {asked.prompt}).of(asked) if lesson.can_be_taught else None
    if place is None:
        abort(409, "The lesson has been changed since: it does not ask this any more.")
    room = _unasked(kept.slug) or rooms().open(lesson)
    scene, step = place
    room.session.go_to_scene(scene)
    room.session.go_to_step(step)
    return redirect(url_for("board.board", name=room.name), 303)
