"""Chalkcycle: a lesson visualiser for the fetch-decode-execute cycle."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from .paths import resource

if TYPE_CHECKING:
    from flask import Flask


def create_app(lessons: Path | None = None, hosts: Iterable[str] = ()) -> Flask:
    """The web application over a folder of lessons (or one lesson file).

    ``hosts`` are names, besides those of the own machine, that it may be asked for by.
    """
    # Imported here so that the machine and the lesson can be used without the web's packages.
    from flask import Flask

    from app.lesson.shelf import Shelf

    from .web import assets, board, desk, lessons_list, safety, stream
    from .web.rooms import Rooms

    app = Flask(
        "chalkcycle",
        template_folder=str(resource("templates")),
        static_folder=str(resource("static")),
    )
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.extensions["shelf"] = Shelf(lessons or resource("lessons"))
    app.extensions["rooms"] = Rooms(app.jinja_env)
    safety.guard(app, hosts)
    for part in (lessons_list, board, desk, stream, assets):
        app.register_blueprint(part.blueprint)
    return app
