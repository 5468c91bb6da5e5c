"""Files that are in no folder: htmx, and for each page that shows the board one script and one
style sheet, put together from those that stand in folders. Each file more is a request more, and a
slow machine takes longer over a request than over what it brings.

htmx is served from the package that carries it, so that every byte comes from this server.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.metadata import files
from pathlib import Path

from flask import Blueprint, Response, abort, request, send_file

from app.board.drawing import Form
from app.board.stylesheet import positions_css, watching_css
from app.machine.growing import machine_of
from app.paths import resource

from .access import open_to_class
from .bundle import bundle

blueprint = Blueprint("assets", __name__)

# What a page has of htmx that follows a stream.
_LIVE = ("htmx-4.min.js", "ext/hx-sse-4.min.js")


@cache
def htmx_file(name: str) -> Path:
    """One of htmx's files. The package is not imported: it is made for another framework.

    Raises LookupError where the package has no such file.
    """
    for each in files("django-htmx") or ():
        if str(each).replace("\\", "/") == f"django_htmx/static/django_htmx/{name}":
            return Path(str(each.locate()))
    raise LookupError(f"django-htmx has no file {name}; install it again with pip")


@blueprint.get("/htmx/<path:name>")
def htmx(name: str) -> Response:
    if name not in _LIVE:
        abort(404)
    response = send_file(htmx_file(name), mimetype="text/javascript", conditional=True)
    response.cache_control.max_age = 3600
    return response


@dataclass(frozen=True, slots=True)
class Page:
    """What a page that shows the board is made of: the files of htmx and the module ``script`` of
    static/js, and sheets in the order in which they count: a file of static/css, or a form of the
    drawing. A form may have a media query; without one, the drawing says which."""

    htmx: tuple[str, ...]
    script: str
    sheets: tuple[str | tuple[Form, str], ...]


_EVERY_FORM = "every form"
# In explore.css stands the same limit: beside the editor the square form, on a phone the tall one.
_BESIDE_EDITOR = ((Form.SQUARE, "(min-width: 62rem)"), (Form.TALL, "(max-width: 61.99rem)"))
# Of write.css the same: wide under a wide window's half, tall on a phone.
_BESIDE_TEXT = ((Form.WIDE, "(min-width: 62rem)"), (Form.TALL, "(max-width: 61.99rem)"))
PAGES = {
    "board": Page(_LIVE, "teach/board.js", ("board.css", _EVERY_FORM, "classroom.css")),
    "follow": Page(_LIVE, "follow/follow.js", ("board.css", _EVERY_FORM, "classroom.css")),
    "desk": Page(
        _LIVE,
        "teach/desk.js",
        ("board.css", (Form.WIDE, ""), "teach/desk.css", "classroom.css"),
    ),
    "preview": Page(
        _LIVE[:1], "teach/preview.js", ("board.css", (Form.WIDE, ""), "teach/desk.css")
    ),
    "write": Page(
        (),
        "write/write.js",
        ("board.css", *_BESIDE_TEXT, "editor.css", "write/write.css"),
    ),
    "explore": Page(
        _LIVE[:1],
        "explore/explore.js",
        ("board.css", *_BESIDE_EDITOR, "editor.css", "explore/explore.css"),
    ),
}


@cache
def script_of(page: str) -> str:
    """The one script of a page. htmx starts when the page has been read: whatever is in the same
    script is there by then, its extension too."""
    files = [htmx_file(each).read_text(encoding="utf-8") for each in PAGES[page].htmx]
    ours = bundle(resource("static") / "js", PAGES[page].script)
    return "\n;\n".join([*files, f"(() => {{\n{ours}\n}})();\n"])


@cache
def sheet_of(page: str, machine: str) -> str:
    """The one style sheet of a page for a machine, by its key."""
    drawn = machine_of(machine)
    assert drawn

    def read(sheet: str | tuple[Form, str]) -> str:
        if sheet == _EVERY_FORM:
            return positions_css(drawn)
        if isinstance(sheet, str):
            return (resource("static") / "css" / sheet).read_text(encoding="utf-8")
        form, media = sheet
        css = positions_css(drawn, form)
        return f"@media {media} {{\n{css}\n}}" if media else css

    return "\n".join(map(read, ("base.css", *PAGES[page].sheets, "forced-colours.css")))


@blueprint.get("/pages/<page>.js")
@open_to_class
def script(page: str) -> Response:
    if page not in PAGES:
        abort(404)
    return _kept(script_of(page), "text/javascript")


@blueprint.get("/pages/<page>/<machine>.css")
@open_to_class
def sheet(page: str, machine: str) -> Response:
    if page not in PAGES or machine_of(machine) is None:
        abort(404)
    return _kept(sheet_of(page, machine), "text/css")


@blueprint.get("/pages/<page>/watching.css")
@open_to_class
def watching(page: str) -> Response:
    """What a page needs beside for a lesson with a cache or a pipeline."""
    if page not in PAGES:
        abort(404)
    wide = (Form.WIDE, "") in PAGES[page].sheets
    return _kept(watching_css(Form.WIDE if wide else None), "text/css")


@blueprint.get("/positions/<machine>.css")
def positions(machine: str) -> Response:
    """The drawing's part of a sheet alone, in all forms or in that of ``?form=``."""
    form = request.args.get("form")
    drawn = machine_of(machine)
    if drawn is None or (form and form not in [each.value for each in Form]):
        abort(404)
    return _kept(positions_css(drawn, Form(form) if form else None), "text/css")


def _kept(text: str, mimetype: str) -> Response:
    """A browser may keep it, and asks whether it is still the same."""
    response = Response(text, mimetype=mimetype)
    response.cache_control.no_cache = True
    response.add_etag()
    response.make_conditional(request)
    return response
