"""Chalkcycle: a lesson visualiser for the fetch-decode-execute cycle."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from string import ascii_uppercase
from typing import TYPE_CHECKING

from app.paths import resource

if TYPE_CHECKING:
    from flask import Flask

    from app.classroom.keyring import Keyring
    from app.classroom.store import Store
    from app.web.workers import Workers


def create_app(
    lessons: Path | None = None,
    hosts: Iterable[str] = (),
    *,
    teacher_key: str | Keyring | None = None,
    address: str | None = None,
    store: Store | None = None,
    class_size: int | None = None,
    workers: Workers | None = None,
    own: Path | None = None,
) -> Flask:
    """The web application over a folder of lessons (or one lesson file).

    ``hosts`` are names, besides those of the own machine, that it may be asked for by;
    ``address`` is where a class finds it. With a ``teacher_key`` only who has it can teach;
    without one, everybody can: then only the own machine must be able to connect. Lessons and
    answers are kept in ``store``, or in memory where there is none. What takes long is done by
    ``workers``, or here where there are none. Lessons are written into the teacher's
    ``own`` folder; without one none can be.
    """
    # Imported here so that the machine and the lesson can be used without the web's packages.
    from flask import Flask

    from app.board.controls import KEY_NAMES
    from app.board.overview import overview_cells
    from app.board.rendered import Lines, Shapes, Words
    from app.classroom.guests import Guests
    from app.classroom.keyring import Keyring
    from app.classroom.limits import USUAL_CLASS_SIZE, Seats
    from app.lesson.file.shelf import Shelf
    from app.lesson.parts import TITLES
    from app.lesson.writing.drafts import Drafts
    from app.lesson.writing.folder import Folder
    from app.machine.growing import key_of
    from app.web import access, assets, compression, stream
    from app.web.explore import pages as explore
    from app.web.follow import pages as follow
    from app.web.follow.invitation import invitation_to
    from app.web.paper import sheets
    from app.web.rooms import Rooms
    from app.web.sharing import Sharing
    from app.web.teach import again, board, desk, preview, questions, results, share, warm_up
    from app.web.teach import lessons as list_of_lessons
    from app.web.write import pages as write
    from app.web.write.desk import Good

    class_size = class_size or USUAL_CLASS_SIZE
    # (Asked for its folders, Flask looks at the one that this was started in, which may be gone.)
    here = str(Path(__file__).parent)
    app = Flask(
        "chalkcycle",
        root_path=here,
        instance_path=here,
        template_folder=str(resource("templates")),
        static_folder=str(resource("static")),
    )
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.extensions["shelf"] = Shelf(lessons or resource("lessons"), own)
    app.extensions["drafts"] = Drafts(Folder(own)) if own else None
    app.extensions["rooms"] = Rooms(app.jinja_env, app.extensions["shelf"], store, class_size)
    app.extensions["good"] = Good()
    app.extensions["pictures"] = list_of_lessons.Pictures()
    app.extensions["streams"] = Guests(Seats(2 * class_size, class_size))
    app.extensions["workers"] = workers
    app.extensions["sharing"] = app.jinja_env.globals["sharing"] = Sharing(address)
    app.extensions["sharing"].on_change = app.extensions["rooms"].tell
    app.jinja_env.globals["invitation_to"] = invitation_to
    app.jinja_env.globals["titles"] = TITLES
    app.jinja_env.globals["letters"] = ascii_uppercase
    app.jinja_env.globals["machine_key"] = key_of
    app.jinja_env.globals["key_names"] = KEY_NAMES
    app.jinja_env.globals["drawn_lines"] = Lines(app.jinja_env)
    app.jinja_env.globals["drawn_shape"] = Shapes(app.jinja_env)
    app.jinja_env.globals["drawn_words"] = Words(app.jinja_env)
    app.jinja_env.globals["overview_cells"] = overview_cells
    keyring = Keyring.of(teacher_key) if isinstance(teacher_key, str) else teacher_key
    app.extensions["rooms"].keyring = keyring
    access.guard(app, hosts, keyring, class_size)
    compression.compress(app)
    teach = (list_of_lessons, preview, board, desk, questions, results, again, warm_up, share)
    parts = (*teach, write, follow, explore, sheets, stream, assets)
    for part in parts:
        app.register_blueprint(part.blueprint)
    return app
