"""What every answer carries and every request must satisfy; who is the teacher and who is not.

Without a teacher's key only the own machine can connect, and whoever sits at it is the teacher.
With one, everything belongs to the teacher but what is marked with :func:`open_to_class`: a route
that nobody thought of is closed to pupils.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, TypeVar

from flask import (
    Flask,
    Response,
    abort,
    current_app,
    g,
    redirect,
    render_template,
    request,
    url_for,
)
from werkzeug.exceptions import HTTPException, SecurityError, ServiceUnavailable, default_exceptions
from werkzeug.http import HTTP_STATUS_CODES
from werkzeug.wrappers import Response as AnyResponse

from app.classroom.keyring import Keyring
from app.classroom.limits import TEACHER, Known, Rate, Turns
from app.classroom.store import DAY_SECONDS, StoreError
from app.classroom.tokens import cookie_name

from .rooms import Rooms
from .sharing import FROM_CLASS, OWN_ADDRESSES, from_class, sharing_now
from .stream import CONNECTION

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIEnvironment

OWN_HOSTS = ("127.0.0.1", "localhost", "[::1]")
LARGEST_BODY = 256 * 1024
# What the teacher sends who writes a lesson: the largest text, of which a sign may take six letters
# as JSON, and a little about it.
LARGEST_WRITTEN = 6 * LARGEST_BODY + 16 * 1024
_WRITES = re.compile(r"/lessons/[^/]+/write/[a-z]+")
# What a client other than the teacher may ask for: on average, and at once, for each place in
# the class. (A whole class may come from one address, and a first visit takes some 25 requests.)
REQUESTS_A_SECOND = 1.0
REQUESTS_AT_ONCE = 30
# Where one of those behind an address has used that up, each pupil who belongs to the class has
# this much of their own: enough to answer, and to come back to the board.
OWN_REQUESTS_A_SECOND = 0.5
OWN_REQUESTS_AT_ONCE = 20
# Wrong codes and wrong keys: a class that is behind one address may mistype, and nobody may guess.
WRONG_A_SECOND = 0.2
# How long a pupil's request waits for its turn. While one after the other is answered, the server
# looks after so many seconds of work whether the teacher has asked for something.
PATIENCE_SECONDS = 20.0
LOOK_UP_SECONDS = 0.002

# Whoever gets one of these has to connect again: requests that follow at once cost no more work.
REFUSED = frozenset({403, 421, 429})

# What an error says to the browser beside its words: when to come again, and how to ask.
KEPT_OF_ERRORS = frozenset({"Retry-After", "Allow"})

# The parts of which each page is worked out anew, from whole runs of programs.
COSTLY = frozenset({"paper", "preview", "explore", "warm_up", "write", "again"})

# Everything comes from this server, and nothing is written into a page as script or style.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:;"
    " connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)

_HOST = re.compile(r"(?P<name>.+?)(?::(?P<port>[0-9]{1,5}))?")

View = TypeVar("View", bound=Callable[..., object])


def open_to_class(view: View) -> View:
    """Mark a route that pupils may use."""
    view.open_to_class = True  # type: ignore[attr-defined]
    return view


def guard(app: Flask, hosts: Iterable[str], keyring: Keyring | None, class_size: int) -> None:
    """Check each request's Host and Origin and whose it is, and send the policy with each answer.

    ``hosts`` are the names that the server is asked for by, besides those of the own machine.
    """
    allowed = {*OWN_HOSTS, *(each.casefold() for each in hosts)}
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY
    app.extensions["keyring"] = keyring
    app.extensions["turns"] = Turns(1, 1, 16 * class_size, 8 * class_size)
    app.extensions["worked"] = 0.0  # by pupils' requests since the last look
    app.extensions["wrong"] = Rate(WRONG_A_SECOND, class_size)
    app.extensions["known"] = Known()
    rate = Rate(REQUESTS_A_SECOND * class_size, REQUESTS_AT_ONCE * class_size)
    own = Rate(OWN_REQUESTS_A_SECOND, OWN_REQUESTS_AT_ONCE)

    def names() -> set[str]:
        return allowed | sharing_now().names if from_class() else allowed

    def count() -> None:
        if rate.allows(request.remote_addr or ""):
            return
        member = _member()
        if not member or not own.allows(member):
            abort(429, "Too many requests came from this computer. Wait a little.")

    @app.before_request
    def check() -> AnyResponse | None:
        try:
            closed = from_class() and sharing_now().address is None
            if not closed and not _is_for_us(names()):
                # A page elsewhere may have made its own name point here (DNS rebinding).
                abort(421, "Chalkcycle is not known by the name in this address.")
            _check_origin(strict=keyring is not None or from_class())
        except HTTPException:
            # A refusal is work like any other answer.
            if not is_teacher():
                count()
            raise
        if keyring is None:
            return check_class() if from_class() else None
        if is_teacher():
            i_know_you()
            if request.method == "POST":
                keyring.pressed()
        if request.path == "/" and request.method == "GET":
            if "key" in request.args:
                return _let_in(keyring, keyring.opens(request.args["key"]), count)
            if "ticket" in request.args:
                mine = request.remote_addr in OWN_ADDRESSES
                return _let_in(keyring, mine and keyring.takes(request.args["ticket"]), count)
        return None if is_teacher() else check_class()

    def check_class() -> AnyResponse | None:
        # A page without its script is none: who got the one has the other. It costs little, and
        # waits for its turn as everything does.
        if request.endpoint != "static" and request.blueprint != "assets":
            count()
        sharing = sharing_now()
        if sharing.address is None and sharing.can_change:
            abort(403, "The class is not let in at this moment. Ask your teacher.")
        sharing.comes(request.remote_addr or "")
        refused = _check_pupil(app)
        if refused is None:
            _take_turn()
        return refused

    @app.teardown_request
    def over(error: BaseException | None) -> None:
        leave_turn()

    @app.after_request
    def protect(response: Response) -> Response:
        response.headers["Content-Security-Policy"] = POLICY
        if request.endpoint != "static":
            # Answers and results stay in no cache. What may be kept says so itself.
            response.headers.setdefault("Cache-Control", "no-store")
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "same-origin"
        if response.status_code in REFUSED:
            response.headers["Connection"] = "close"
        return response

    @app.errorhandler(HTTPException)
    def explain(error: HTTPException) -> tuple[str, int, dict[str, str]]:
        headers = {name: value for name, value in error.get_headers() if name in KEPT_OF_ERRORS}
        code = error.code or 500
        # As with the words below: 'Conflict' says nothing to a pupil.
        has_own = error.name != HTTP_STATUS_CODES.get(code)
        said = {
            "error": error,
            "heading": error.name if has_own else _HEADINGS.get(code, "That did not work"),
        }
        if not _is_for_us(names()):
            # From that name nothing of ours can be reached, nor can links to it be made.
            return render_template("elsewhere.html", **said), code, headers
        if error.description == default_exceptions.get(code, HTTPException).description:
            # The library's own words speak of URLs and methods.
            error.description = f"{_UNEXPLAINED.get(code, _WRONG)} {way_on()}"
        # A part of a page that sent something gets the words alone, to show them in its place.
        part = request.headers.get("HX-Request") == "true"
        template = "refusal.html" if part else "error.html"
        return render_template(template, **said, teacher=is_teacher()), code, headers

    @app.errorhandler(StoreError)
    def explain_store(error: StoreError) -> tuple[str, int, dict[str, str]]:
        # Where the file is does not matter to pupils.
        said = f" {error}" if is_teacher() else " Tell your teacher."
        words = "What Chalkcycle keeps of lessons cannot be read or written at this moment."
        return explain(ServiceUnavailable(words + said))


# What an error means that nobody has put into words where it came from.
_UNEXPLAINED = {
    400: "What was sent cannot be read. Load the page again, and press once more.",
    404: "There is no such page. Mind each letter of the address.",
    405: "This address is not a page to open.",
    413: "What was sent is too long. Make it shorter, and send it again.",
    500: "Something went wrong inside Chalkcycle, by a fault of its own. Load the page again.",
}
_HEADINGS = {
    400: "That cannot be read",
    403: "This is not open to you",
    404: "There is nothing here",
    409: "Not now",
    413: "Too long",
    421: "Another address is needed",
    429: "Too much at once",
    500: "A fault of Chalkcycle",
    503: "Not at this moment",
}
_WRONG = "Chalkcycle cannot do this in the way it was asked for. Load the page again."


def way_on() -> str:
    """Where somebody can go on who has come to nothing."""
    if is_teacher():
        return "Go on from the list of lessons."
    return "If you follow a lesson, go back to it, or join it again with its code."


def is_teacher() -> bool:
    """Whether this request comes from the teacher."""
    return _of_teacher(current_app.extensions["keyring"], request.environ)


def _of_teacher(keyring: Keyring | None, environ: WSGIEnvironment) -> bool:
    if keyring is None:
        return not environ.get(FROM_CLASS)
    return keyring.opens(_cookie(environ, cookie_name(keyring.key)))


def cookie(name: str) -> str:
    """What this request has kept under a name; empty for nothing. It is looked for by its name
    alone: whoever sends thousands of others has none of them read, again and again."""
    return _cookie(request.environ, name)


def _cookie(environ: WSGIEnvironment, name: str) -> str:
    # By plain words and not by a pattern, which takes a millisecond for a long line of others; and
    # this is asked more than once before it is anybody's turn.
    line = ";" + environ.get("HTTP_COOKIE", "").replace("; ", ";")
    kept = line.partition(f";{name}=")[2].partition(";")[0].strip()
    # It stands in quotation marks where there is a space in it.
    return kept[1:-1] if len(kept) > 1 and kept[0] == kept[-1] == '"' else kept


def largest_body(app: Flask, environ: WSGIEnvironment) -> int:
    """How many bytes are taken of the body of a request: more only of what the teacher writes."""
    writes = _WRITES.fullmatch(environ.get("PATH_INFO", ""))
    if writes and "keyring" in app.extensions and _of_teacher(app.extensions["keyring"], environ):
        return LARGEST_WRITTEN
    return LARGEST_BODY


def i_know_you() -> None:
    """Who asks has shown the teacher's key, or a name that this server made: connections are
    kept for the address."""
    known: Known = current_app.extensions["known"]
    known.add(request.remote_addr or "")


def refuse_guesses() -> None:
    """Answer 429 where too many wrong codes or keys came from the address that asks."""
    wrong: Rate = current_app.extensions["wrong"]
    if not is_teacher() and not wrong.has_left(request.remote_addr or ""):
        abort(429, "Too many wrong codes came from this computer. Wait a minute and try again.")


def count_wrong() -> None:
    """Count a wrong code or key."""
    wrong: Rate = current_app.extensions["wrong"]
    wrong.allows(request.remote_addr or "")


def client_now() -> str:
    """Who asks, as far as limits go: the teacher, or an address."""
    return TEACHER if is_teacher() else request.remote_addr or "nowhere"


def _member() -> str:
    """The name of a pupil who belongs to the lesson that is asked for, or follows it with this
    request; empty for anybody else."""
    rooms: Rooms = current_app.extensions["rooms"]
    code = (request.view_args or {}).get("code", "")
    follows = request.endpoint == "follow.stream"
    return rooms.member(code, cookie("pupil"), follows)


def _take_turn() -> None:
    """Pupils' requests are worked on one at a time, the one who has had least first, so that the
    teacher's waits for one at most. Behind one address those who belong to the class have their
    turns beside whatever else comes from there."""
    request.get_data()
    turns: Turns = current_app.extensions["turns"]
    member = _member()
    connection = request.environ.get(CONNECTION)
    if connection and member:
        # Where connections are short it is counted with the others of that name.
        connection.name = member
    if not turns.take(client_now(), PATIENCE_SECONDS, member):
        abort(503, "The whole class is asking for something at this moment. Try again.")
    g.turn = (client_now(), time.perf_counter())
    if connection and connection.left:
        abort(503, "Nobody waits for this any more.")


def leave_turn() -> None:
    """This request needs no turn any more."""
    turn = g.pop("turn", None)
    if turn is None:
        return
    client, began = turn
    # By the clock and not by the processor: nobody is served while the disk is waited for.
    seconds = time.perf_counter() - began
    turns: Turns = current_app.extensions["turns"]
    worked = current_app.extensions["worked"] + seconds
    if worked >= LOOK_UP_SECONDS:
        # Under gevent only this request sleeps, and the loop looks what else has come: without it
        # all that came at once would be answered before the teacher's, which came just after.
        worked = 0.0
        time.sleep(0.0005)
    current_app.extensions["worked"] = worked
    turns.give_back(client, seconds)


def _check_origin(strict: bool) -> None:
    """What changes something must come from a page of this server. Every browser says from where
    it sends; a program that is not one need not say so while only the own machine can connect."""
    if request.method in ("GET", "HEAD", "OPTIONS"):
        _check_asking_page()
        return
    origin = request.headers.get("Origin")
    if origin is None:
        if strict:
            abort(403, "This did not say from which page it was sent.")
        if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
            # A report of a page elsewhere, say, which a browser may send without a word of where.
            abort(403, "This was sent by a page of another site.")
    elif origin != _own_origin():
        abort(403, "This was sent by a page of another site.")


def _own_origin() -> str:
    """Scheme, host and port of this request, as a browser writes the origin of our pages."""
    return f"{request.scheme}://{request.host}"


def _check_asking_page() -> None:
    """A page of another site may lead here, but not ask for things behind somebody's back, nor for
    what takes long to make (see the Fetch Metadata of the W3C: browsers say who asks, and what
    for)."""
    site = request.headers.get("Sec-Fetch-Site", "none")
    origin = request.headers.get("Origin", "")
    foreign = site not in ("none", "same-origin") or (origin and origin != _own_origin())
    leads = request.headers.get("Sec-Fetch-Mode") == "navigate"
    streams = request.path.endswith("/stream")  # which nobody opens as a page
    embeds = request.headers.get("Sec-Fetch-Dest", "document") != "document"
    if foreign and (not leads or embeds or request.blueprint in COSTLY or streams):
        abort(403, f"A page of another site asked for this. {way_on()}")


def _let_in(keyring: Keyring, opens: bool, count: Callable[[], None]) -> AnyResponse:
    """The teacher's address: keep the key in a cookie and take it out of the address. The right
    one is too long to be guessed, so it opens whatever others have tried from this computer; a
    wrong one is a request like any other, which ``count`` counts."""
    if not opens:
        if not is_teacher():
            count()
        refuse_guesses()
        count_wrong()
        abort(
            403,
            "This is not the teacher's address of the Chalkcycle that is running now. It is printed"
            " where Chalkcycle was started.",
        )
    key = keyring.key
    response = redirect(url_for("lessons.index"), 303)
    response.set_cookie(
        cookie_name(key), key, max_age=int(DAY_SECONDS), httponly=True, samesite="Strict"
    )
    response.headers["Cache-Control"] = "no-store"
    return response


def _check_pupil(app: Flask) -> AnyResponse | None:
    endpoint = request.endpoint
    if endpoint is None or endpoint == "static":
        return None
    if getattr(app.view_functions[endpoint], "open_to_class", False):
        return None
    if endpoint == "lessons.index":
        return redirect(url_for("follow.join"), 303)
    abort(
        403,
        "This belongs to the teacher. To teach, open the address that Chalkcycle printed when it"
        " was started; to follow the lesson, join it with its code.",
    )


def _is_for_us(allowed: set[str]) -> bool:
    """Whether the request's Host is one of these names, with or without a port."""
    try:
        found = _HOST.fullmatch(request.host)
    except SecurityError:
        return False
    if not found or int(found["port"] or 0) > 65535:
        return False
    return found["name"].casefold() in allowed
