"""What a pupil does with the lesson on the board: join it, follow it, answer, try it.

None of these routes changes anything but the pupil's own answer.
"""

from __future__ import annotations

import re

from flask import (
    Blueprint,
    Response,
    abort,
    current_app,
    redirect,
    render_template,
    request,
    url_for,
)
from werkzeug.wrappers import Response as AnyResponse

from app.board.drawing import Form, drawing
from app.board.frames import make_frame
from app.board.question_card import question_card
from app.classroom.ballot import Refused
from app.classroom.guests import Busy, Guest, Guests
from app.classroom.store import DAY_SECONDS, KEEP_DAYS
from app.classroom.tokens import read_code
from app.machine.source.problems import capital
from app.web.access import (
    cookie,
    count_wrong,
    i_know_you,
    is_teacher,
    open_to_class,
    refuse_guesses,
)
from app.web.fields import at_most, whole
from app.web.rooms import CLASS_COOKIE, LessonAway, Room, rooms
from app.web.sharing import sharing_now
from app.web.stream import connection_now, known_number, stream_response
from app.web.stream import follow as follow_events

blueprint = Blueprint("follow", __name__)

LARGEST_ANSWER = 4096
_QUESTION = re.compile(r"(?P<scene>[0-9]{1,6})-(?P<number>[0-9]{1,6})(v(?P<version>[0-9]{1,6}))?")
# In how many windows a pupil may have the lesson open.
MOST_WINDOWS = 4
# A cookie is kept as long as what it belongs to.
_KEPT_SECONDS = int(KEEP_DAYS * DAY_SECONDS)


@blueprint.get("/join")
@open_to_class
def join() -> str:
    return render_template("follow/join.html", code="", wrong="")


@blueprint.post("/join")
@open_to_class
def join_with_code() -> AnyResponse | tuple[str, int]:
    at_most(LARGEST_ANSWER)
    typed = request.form.get("code", "")[:20]
    refuse_guesses()
    room = rooms().of_code(read_code(typed))
    if room is None:
        why = rooms().why_none(code=read_code(typed))
        if isinstance(why, LessonAway):
            raise why
        count_wrong()
        wrong = f"No lesson with the code '{typed}' is running. Look at the board again."
        return render_template("follow/join.html", code=typed, wrong=wrong), 404
    return redirect(url_for("follow.follow", code=room.code), 303)


def _room_of_code(code: str) -> Room:
    room = rooms().of_code(read_code(code))
    if room is None or not _pupil(room):
        # Who has a name in the lesson knows its code.
        refuse_guesses()
    if room is None:
        why = rooms().why_none(code=read_code(code))
        if why:
            raise why
        count_wrong()
        abort(404, "No lesson with this code is running. Ask your teacher for the code.")
    return room


def _pupil(room: Room) -> str:
    """Who this pupil is in this lesson; empty where the browser has not been told yet."""
    name = rooms().names.read(cookie("pupil"), room.name)
    if name:
        i_know_you()
    return name


@blueprint.get("/class/<code>")
@open_to_class
def follow(code: str) -> AnyResponse:
    """The page that follows the board."""
    room = _room_of_code(code)
    if code != room.code:
        # The cookie with the pupil's name is kept for one way of writing the code alone.
        return redirect(url_for("follow.follow", code=room.code), 303)
    i_know_you()
    pupil = _pupil(room)
    number = room.followers.number
    frame = room.frame()
    page = render_template(
        "follow/follow.html",
        room=room,
        frame=frame,
        still=True,
        code=room.code,
        stream=url_for("follow.stream", code=room.code, after=number),
        drawings=[drawing(form, frame.machine) for form in Form],
        question=frame.question,
        mine=room.session.ballot.answer_of(pupil) if pupil else None,
    )
    response = Response(page)
    response.headers["Cache-Control"] = "no-store"
    if not pupil:
        # A random name for this lesson alone. Lax, so that a link to the lesson finds it again.
        response.set_cookie(
            "pupil",
            rooms().names.new(room.name),
            path=f"/class/{room.code}",
            max_age=_KEPT_SECONDS,
            httponly=True,
            samesite="Lax",
        )
        _remember(response, room)
    return response


def _remember(response: AnyResponse, room: Room) -> None:
    """The way back from a machine of the pupil's own. The code is signed: one that somebody only
    says, as the page that they came from, would be a guess."""
    response.set_cookie(
        CLASS_COOKIE,
        rooms().names.shown(room.code),
        path="/explore",
        max_age=_KEPT_SECONDS,
        httponly=True,
        samesite="Lax",
    )


def _streams() -> Guests:
    streams: Guests = current_app.extensions["streams"]
    return streams


@blueprint.get("/class/<code>/stream")
@open_to_class
def stream(code: str) -> Response:
    """The frames of the board. Refused where the class, or this computer, has too many already.

    Who belongs to the class has room of their own for a page; who has no name (a browser that
    keeps none), and every further page, takes one of the places that are left for those.
    """
    room = _room_of_code(code)
    client = request.remote_addr or ""
    pupil = _pupil(room)
    named = bool(pupil) and room.admit(pupil, client)
    if named and room.windows(pupil) >= MOST_WINDOWS:
        abort(429, "This lesson is open in too many windows of this browser. Close some of them.")
    streams = _streams()
    connection = connection_now()

    def at_end() -> None:
        room.leave(who, page)
        streams.give_back(page)

    def leave() -> None:
        at_end()
        page.left = True
        if connection:
            connection.end_stream()

    who = pupil if named else f"nobody at {client}"
    page = Guest(client, leave, busy=Busy.WORKS)
    if connection:
        page.gone = connection.gone
    first = named and not room.windows(pupil)
    if not first and not streams.take(page):
        abort(429, "The class is full: too many pages follow already. Close some of them.")
    room.arrive(who, page)
    sharing = sharing_now()
    # The teacher looks at a pupil's page on the own machine, whoever else is let in.
    stays = is_teacher() or not sharing.can_change

    def may_stay() -> bool:
        return not page.left and (stays or sharing.address is not None)

    return stream_response(follow_events(room, known_number(), may_stay), at_end)


@blueprint.get("/class/<code>/at")
@open_to_class
def look_back(code: str) -> str:
    """The board at an earlier step, for this pupil alone; ``by`` goes on or back from there."""
    session = _room_of_code(code).session
    scene = session.view().scene_number
    if request.args.get("scene", str(scene)) != str(scene):
        abort(409, "The board has gone on to another scene.")
    by = {"back": -1, "on": 1}.get(request.args.get("by", ""), 0)
    try:
        frame = make_frame(session.earlier(whole("step"), by))
    except IndexError as error:
        abort(409, f"{capital(str(error))}.")
    return _room_of_code(code).render(frame, still=by != 1, code=read_code(code))


@blueprint.get("/class/<code>/now")
@open_to_class
def now(code: str) -> str:
    """The board as it is now."""
    room = _room_of_code(code)
    return room.render(room.frame(), still=True, code=room.code)


@blueprint.get("/class/<code>/try")
@open_to_class
def try_it(code: str) -> AnyResponse:
    """A machine of the pupil's own with the program that is on the board now; an empty one, of the
    size that the lesson has, where the scene has none."""
    room = _room_of_code(code)
    view = room.session.view()
    there = url_for("explore.blank", machine=view.lesson.header.machine.name)
    if view.scene.program.words:
        number = view.scene_number + 1
        there = url_for("explore.scene", slug=view.lesson.slug, number=number)
    response = redirect(there, 303)
    # In case that another lesson was followed last.
    _remember(response, room)
    return response


@blueprint.post("/class/<code>/done")
@open_to_class
def done(code: str) -> tuple[str, int]:
    """Count a pupil whose program has done the task of a scene. That it has is proved by what the
    pupil's own machine was given when its program was checked."""
    at_most(LARGEST_ANSWER)
    room = _room_of_code(code)
    pupil = _pupil(room)
    task = rooms().names.proved(request.form.get("proof", ""), room.name)
    if task is None:
        abort(400, "What was sent does not show that the task is done. Check your program again.")
    if not pupil:
        abort(403, "Follow the lesson first: join it with its code.")
    if not room.admit(pupil, request.remote_addr or ""):
        abort(409, "The class is full: too many have joined already.")
    try:
        new = room.session.finished.add(task, pupil)
    except Refused as error:
        abort(409, str(error))
    if new:
        room.tell()
    return "", 204


@blueprint.post("/class/<code>/answer")
@open_to_class
def answer(code: str) -> str:
    """Take a pupil's answer; it is in the store before this says so. Where nothing can be kept the
    lesson goes on with it, and the teacher is told."""
    at_most(LARGEST_ANSWER)
    room = _room_of_code(code)
    pupil = _pupil(room)
    if not pupil:
        abort(
            403,
            "Your browser did not keep what tells your answers apart from others'. Allow cookies,"
            " and load the page again.",
        )
    named = _QUESTION.fullmatch(request.form.get("question", ""))
    if named is None:
        abort(400, "'question' must name a question.")
    key = (int(named["scene"]), int(named["number"]), int(named["version"] or 1))
    choice = whole("choice")
    if not room.admit(pupil, request.remote_addr or ""):
        abort(
            409,
            "The class is full: too many have joined already, or too many from this computer. Tell"
            " your teacher, who can start Chalkcycle with a larger --class-size.",
        )
    try:
        room.session.ballot.answer(pupil, key, whole("round"), choice)
    except Refused as error:
        abort(409, str(error))
    room.tell()
    return render_template(
        "follow/mine.html",
        question=question_card(room.session.view()),
        mine=choice,
    )
