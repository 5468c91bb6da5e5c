"""The page on which a lesson is written, and what it asks for.

The page sends what it has (its text where that has changed, the version it has seen, where its
board stands) and is answered with what it shows then, as JSON. What cannot be done is told in the
words of the check.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from flask import Blueprint, abort, jsonify, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from app.board.controls import named
from app.board.drawing import Form, drawing
from app.classroom.ways import WAYS
from app.lesson.entries import Wrong
from app.lesson.unseen import as_shown
from app.lesson.writing.differences import only_theirs, pieces, put_together
from app.lesson.writing.drafts import Changed, Kept
from app.lesson.writing.heading import set_title
from app.lesson.writing.manuscript import Manuscript
from app.lesson.writing.text import typed
from app.lesson.writing.whereabouts import Whereabouts, nearest, place_of, says_where
from app.lesson.writing.whole_parts import first_lesson
from app.machine.machine import EIGHT_BIT, MACHINES
from app.machine.source.problems import lines_of as text_lines
from app.machine.source.problems import printable
from app.web.access import LARGEST_WRITTEN
from app.web.shelf import lesson_or_404, shelf

from .changes import CHANGES, told
from .desk import Desk, desk_of, drafts, opened
from .panels import PANELS
from .shown import Way, shown

blueprint = Blueprint("write", __name__)

LONGEST_TITLE = 120


@blueprint.post("/lessons/new")
def new() -> Response:
    """Start a lesson in the teacher's folder, and open it."""
    title = as_shown(as_shown(request.form.get("title", ""))[:LONGEST_TITLE]) or "My lesson"
    machine = MACHINES.get(request.form.get("machine", ""), EIGHT_BIT)
    return _made(title, first_lesson(title, machine))


@blueprint.post("/lessons/<slug>/copy")
def copy(slug: str) -> Response:
    """Copy a lesson into the teacher's folder under another title, and open it."""
    lesson = lesson_or_404(slug)
    desk = desk_of(slug)
    title = f"{lesson.header.title[: LONGEST_TITLE - 7]} (copy)"
    return _made(title, set_title(desk.draft.text, title), desk.draft.base.bom)


@blueprint.post("/lessons/<slug>/as-it-came")
def as_it_came(slug: str) -> Response:
    """Go back to the lesson that came with Chalkcycle; the teacher's stays in the hidden folder."""
    kept = drafts()
    path = shelf().file(slug)
    if path is None or not shelf().hides(path):
        abort(404, "This lesson is not a changed one of those that came with Chalkcycle.")
    try:
        kept.put_away(path.name)
    except Wrong as wrong:
        abort(409, f"{wrong.what} {wrong.mend}")
    except OSError as error:
        abort(409, f"The lesson could not be put away: {error.strerror}.")
    return redirect(url_for("lessons.index", _anchor=f"lesson-{slug}"), 303)


def _made(title: str, text: str, bom: bool = False) -> Response:
    kept = drafts()
    if shelf().is_one_file:
        abort(
            409,
            "Chalkcycle was started with one lesson file, and would show no other. Start it with"
            " a folder of lessons to write more of them.",
        )
    try:
        name = kept.folder.free_name(title, {each.stem for each in shelf().files()})
        kept.new(name, text, bom)
    except Wrong as wrong:
        abort(409, f"{wrong.what} {wrong.mend}")
    except Changed:
        abort(409, "A lesson of this name came at the same moment. Try again.")
    except OSError as error:
        abort(409, f"Nothing can be written into {_root()}: {error.strerror}.")
    return redirect(url_for("write.write", slug=name.removesuffix(".md")), 303)


@blueprint.get("/lessons/<slug>/write")
def write(slug: str) -> str:
    desk = desk_of(slug)
    machine = (desk.good or desk.now).lesson.header.machine
    return render_template(
        "write/write.html",
        **shown(desk, Whereabouts()),
        slug=slug,
        text="\n".join(text_lines(desk.draft.text)),
        drawings=[drawing(each, machine) for each in (Form.WIDE, Form.TALL)],
        ways={each.name: each for each in named(" ".join(WAYS))},
        **_kept(desk),
    )


def _kept(desk: Desk) -> dict[str, object]:
    """Where a lesson is kept."""
    return {
        "shipped": not desk.draft.own,
        "gone": drafts().is_gone(desk.draft),
        "folder": _root(),
        "name": printable(desk.draft.name),
    }


def _root() -> str:
    """The folder, as it can be told: its name need be no text."""
    return printable(str(drafts().folder.root))


@blueprint.post("/lessons/<slug>/write/<what>")
def act(slug: str, what: str) -> tuple[Response, int] | Response:
    """Do one thing with the lesson, and answer with all that the page shows then."""
    request.max_content_length = LARGEST_WRITTEN
    said = _json()
    if not isinstance(said, dict) or what not in _ACTIONS:
        abort(404, "There is no such thing to do with a lesson.")
    desk = desk_of(slug, page=True)
    newer = _number(said, "version") != desk.draft.version
    doing = False
    try:
        if "text" in said and what != "settle":
            text = typed(desk.draft.text, _words(said, "text"))
            if newer and text != desk.draft.text:
                there = Kept(desk.draft.text)
                return _choose(desk, text, there, "window", _words(said, "base")), 409
            typed_more = text != desk.draft.text
            desk = _changed(desk, text)
            if typed_more and what in _OF_WHAT_IS_SEEN:
                # To read the text takes its time, and so does what comes of the change: whoever
                # presses a button of the board is let in between.
                return jsonify(version=desk.draft.version, again=True)
        elif newer and what in _OF_WHAT_IS_SEEN:
            raise Wrong(*_UNSEEN)
        doing = what == "do"
        return _ACTIONS[what](desk, said)
    except Wrong as wrong:
        return jsonify(wrong=wrong.what, mend=wrong.mend, **_state(desk, said)), 422
    except Changed as changed:
        base = desk.draft.base.text
        return _choose(desk, desk.draft.text, changed.there, "file", base), 409
    except OSError as error:
        what_then = f"It could not be written: {error.strerror}. What you wrote is still here."
        made = desk.draft.text != desk.now.source
        desk = opened(desk.slug, desk.path, desk.draft)
        # What was asked for is done, and only not on the disk: it must not be done once more.
        done = {"done": True} if doing and made else {}
        return jsonify(wrong=what_then, mend="", **done, **_state(desk, said)), 422


# What is done to what the page shows: to another text it would be something else.
_OF_WHAT_IS_SEEN = ("do", "undo", "redo")
_UNSEEN = (
    "The text was changed elsewhere meanwhile: this is how it is now.",
    "If you still want it, do it once more.",
)


def _changed(desk: Desk, text: str, line: int = 1, made: Manuscript | None = None) -> Desk:
    """The lesson with another text, kept as a draft; ``made`` is what has been read of it."""
    if text == desk.draft.text:
        return desk
    desk.draft.change(text)
    drafts().keep(desk.draft)
    return opened(desk.slug, desk.path, desk.draft, line, made)


def _state(desk: Desk, said: dict[str, Any], way: Way | None = None, **more: Any) -> dict[str, Any]:
    """What the page shows at the place that it says, or a way on from there, as it is sent."""
    state = shown(desk, _place(said), way, _number(said, "around"))
    kept = _kept(desk)
    seen = "\n".join(text_lines(desk.draft.text))
    given = "\n".join(text_lines(_words(said, "text"))) if "text" in said else None
    return {
        "version": desk.draft.version,
        **({"text": seen} if given != seen else {}),
        **state["sent"],
        "screen": render_template("board/frame.html", **state) if state["frame"] else "",
        "here": render_template("write/here.html", **state),
        "run": render_template("write/run.html", **state),
        "problems": render_template("write/problems.html", **state),
        "words": render_template("write/kept.html", **state, **kept),
        "outside": drafts().outside(desk.draft) is not None,
        "gone": kept["gone"],
        **more,
    }


def _json() -> object:
    """What was sent. Answers 400 for what is no JSON, or nested beyond all reason."""
    try:
        return request.get_json()
    except RecursionError:
        abort(400, "This page and Chalkcycle do not understand each other. Load the page again.")


def _place(said: dict[str, Any]) -> Whereabouts:
    return Whereabouts(*(_number(said, name) for name in ("scene", "step", "said")))


def _number(said: dict[str, Any], name: str) -> int:
    value = said.get(name, 0)
    return max(value, 0) if isinstance(value, int) else 0


def _words(said: dict[str, Any], name: str) -> str:
    value = said.get(name, "")
    if not isinstance(value, str):
        abort(400, "This page and Chalkcycle do not understand each other. Load the page again.")
    # Halves of characters can be written nowhere.
    return re.sub("[\ud800-\udfff]", "\N{REPLACEMENT CHARACTER}", value)


# What can be done.


def _now(desk: Desk, said: dict[str, Any]) -> Response:
    """The page as it is; where the cursor has come to another line, at what stands there."""
    line = _number(said, "line")
    if line and desk.good and desk.good.source == desk.draft.text:
        place = place_of(desk.good, line)
        if place.scene == _place(said).scene and not says_where(desk.good, line):
            place = _place(said)  # of a scene's notes the board may stand anywhere in it
        said = said | {"scene": place.scene, "step": place.step, "said": place.said}
    return jsonify(_state(desk, said))


def _seen(desk: Desk, said: dict[str, Any]) -> Response:
    """Which version there is now, and whether the file is another, or gone: what a page asks that
    lies open. Nothing is drawn for it."""
    outside = drafts().outside(desk.draft) is not None
    gone = drafts().is_gone(desk.draft)
    return jsonify(version=desk.draft.version, outside=outside, gone=gone)


def _move(desk: Desk, said: dict[str, Any]) -> Response:
    return jsonify(_state(desk, said, WAYS.get(_words(said, "way"))))


def _panel(desk: Desk, said: dict[str, Any]) -> Response:
    """The form for something that is to be written at this place."""
    make = PANELS.get(_words(said, "panel"))
    if make is None:
        abort(404, "There is no such thing to write.")
    return jsonify(_state(desk, said, panel=make(desk.now, nearest(desk.now, _place(said)), said)))


def _do(desk: Desk, said: dict[str, Any]) -> Response:
    """A change by pointing."""
    name = _words(said, "change")
    if name not in CHANGES:
        abort(404, "There is no such change.")
    made, place = CHANGES[name](desk.now, nearest(desk.now, _place(said)), said)
    words = told(name, made, place, said)
    desk = _changed(desk, made.source, made.line, made)
    where = {"scene": place.scene, "step": place.step, "said": place.said}
    return jsonify(_state(desk, said | where, line=made.line, done=True, told=words))


def _undo(desk: Desk, said: dict[str, Any]) -> Response:
    return _back(desk, said, desk.draft.undo())


def _redo(desk: Desk, said: dict[str, Any]) -> Response:
    return _back(desk, said, desk.draft.redo())


def _back(desk: Desk, said: dict[str, Any], line: int | None) -> Response:
    drafts().keep(desk.draft)
    again = opened(desk.slug, desk.path, desk.draft, line or 1)
    state = _state(again, said)
    return jsonify(state | {"line": line} if line else state)


def _save(desk: Desk, said: dict[str, Any]) -> Response:
    drafts().save(desk.draft)
    return jsonify(_state(desk, said, saved=True))


def _choose(desk: Desk, mine: str, there: Kept, against: str, base: str) -> Response:
    """Both versions side by side, to choose from. Where only one has changed what stood in
    ``base``, from which both started, that one is proposed; an empty one is not known."""
    # An editor has one kind of line ends, whatever the file has.
    base = typed(there.text, base)
    found = pieces(mine, there.text)
    theirs = iter(only_theirs(base, found) if base else ())
    proposed = [(each, each.differs and next(theirs, False)) for each in found]
    panel = render_template("write/choose.html", pieces=proposed, against=against)
    return jsonify(
        choose=panel, against=against, digest=there.digest, version=desk.draft.version, mine=mine
    )


def _settle(desk: Desk, said: dict[str, Any]) -> tuple[Response, int] | Response:
    """One text of two, as the teacher has chosen."""
    choices = said.get("choices")
    if not isinstance(choices, list) or not all(isinstance(each, bool) for each in choices):
        abort(400, "This page and Chalkcycle do not understand each other. Load the page again.")
    against = _words(said, "against")
    mine = typed(desk.draft.text, _words(said, "text"))
    there = drafts().folder.now(desk.draft.name) if against == "file" else Kept(desk.draft.text)
    newer = there.digest != said.get("digest") or _number(said, "version") != desk.draft.version
    try:
        text = put_together(pieces(mine, there.text), choices)
    except ValueError:
        newer = True
    if newer:
        # Meanwhile it was changed once more.
        base = desk.draft.base.text if against == "file" else _words(said, "base")
        return _choose(desk, mine, there, against, base), 409
    if against == "file":
        drafts().settle(desk.draft, there, text)
        desk = opened(desk.slug, desk.path, desk.draft)
    else:
        desk = _changed(desk, text)
    return jsonify(_state(desk, {each: said[each] for each in said if each != "text"}))


_ACTIONS: dict[str, Callable[[Desk, dict[str, Any]], Any]] = {
    "now": _now,
    "seen": _seen,
    "move": _move,
    "panel": _panel,
    "do": _do,
    "undo": _undo,
    "redo": _redo,
    "save": _save,
    "settle": _settle,
}
