"""Files that are in no folder, for every page: htmx, and the style sheets of the drawing.

htmx is served from the package that carries it, so that every byte comes from this server.
"""

from __future__ import annotations

from functools import cache
from importlib.metadata import files
from pathlib import Path

from flask import Blueprint, Response, abort, request, send_file

from app.board.drawing import Form
from app.board.stylesheet import positions_css
from app.machine.growing import machine_of

from .access import open_to_class

blueprint = Blueprint("assets", __name__)

_NAMES = ("htmx-4.min.js", "ext/hx-sse-4.min.js")


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
@open_to_class
def htmx(name: str) -> Response:
    if name not in _NAMES:
        abort(404)
    response = send_file(htmx_file(name), mimetype="text/javascript", conditional=True)
    response.cache_control.max_age = 3600
    return response


@blueprint.get("/positions/<machine>.css")
@open_to_class
def positions(machine: str) -> Response:
    """The style sheet of positions, made from the drawing; ``?form=`` asks for one form."""
    form = request.args.get("form")
    drawn = machine_of(machine)
    if drawn is None or (form and form not in [each.value for each in Form]):
        abort(404)
    css = positions_css(drawn, Form(form) if form else None)
    response = Response(css, mimetype="text/css")
    response.cache_control.no_cache = True
    response.add_etag()
    response.make_conditional(request)
    return response
