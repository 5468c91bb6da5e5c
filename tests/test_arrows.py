"""Which part of the project may import which: the arrows of the architecture.

``app.machine`` imports nothing else of ours, ``app.lesson`` only the machine, ``app.classroom``
both; ``app.web`` may import all, and nothing imports the web but the factory (``app/__init__.py``)
and the command line (``app/__main__.py``). The web's packages stay with those three. Read from
the source text, so that an import inside a function or under TYPE_CHECKING counts too.
"""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

APP = Path(__file__).parent.parent / "app"
FILES = {
    ".".join(("app", *path.relative_to(APP).with_suffix("").parts)): path
    for path in sorted(APP.rglob("*.py"))
}

# Parts with a rule, and what each may import of ours besides itself. None: everything.
MAY_IMPORT: dict[str, tuple[str, ...] | None] = {
    "app.machine": (),
    "app.lesson": ("app.machine",),
    "app.classroom": ("app.machine", "app.lesson"),
    "app.authoring": ("app.machine", "app.lesson"),  # commands that need no server
    "app.web": None,
    "app.__init__": None,
    "app.printing": None,  # commands that print what the web shows
    "app.__main__": None,
}
# Any other module of app itself, such as app.paths, knows nothing of ours.
OTHERS_MAY_IMPORT: tuple[str, ...] = ()

WEB_PACKAGES = ("flask", "werkzeug", "gevent")
MAY_USE_WEB_PACKAGES = ("app.web", "app.__init__", "app.__main__")


def imports(module: str, source: str) -> list[str]:
    """The absolute names of all that a module imports; of ``from a import b``, ``a.b``."""
    package = module.split(".")[:-1]
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [each.name for each in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            name = ".".join([*base, *([node.module] if node.module else [])])
            found += [f"{name}.{each.name}" for each in node.names]
    return found


def lies_in(name: str, part: str) -> bool:
    return name == part or name.startswith(f"{part}.")


def offences(module: str, source: str) -> list[str]:
    """The imports of a module that point the wrong way."""
    part = next((each for each in MAY_IMPORT if lies_in(module, each)), module)
    allowed = MAY_IMPORT.get(part, OTHERS_MAY_IMPORT)
    wrong = []
    for name in imports(module, source):
        if lies_in(name, "app"):
            if allowed is not None and not any(lies_in(name, each) for each in (part, *allowed)):
                wrong.append(name)
        elif name.split(".")[0] in WEB_PACKAGES and part not in MAY_USE_WEB_PACKAGES:
            wrong.append(name)
    return wrong


@pytest.mark.parametrize("module", FILES)
def test_imports_follow_the_arrows(module: str) -> None:
    assert offences(module, FILES[module].read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("module", [each for each in FILES if lies_in(each, "app.machine")])
def test_the_machine_needs_nothing_but_python(module: str) -> None:
    found = imports(module, FILES[module].read_text(encoding="utf-8"))
    roots = {name.split(".")[0] for name in found}
    assert roots <= {"app", *sys.stdlib_module_names}


def test_every_part_was_looked_at() -> None:
    """The check would pass over an empty folder as well."""
    for part in MAY_IMPORT:
        assert any(lies_in(module, part) for module in FILES), part


@pytest.mark.parametrize(
    ("module", "source", "offence"),
    [
        ("app.machine.run", "import app.lesson.cues", "app.lesson.cues"),
        ("app.machine.run", "from app.lesson import cues", "app.lesson.cues"),
        ("app.machine.run", "from ..lesson.cues import Cue", "app.lesson.cues.Cue"),
        ("app.machine.run", "from .. import lesson", "app.lesson"),
        ("app.machine.run", "from app import create_app", "app.create_app"),
        ("app.machine.__init__", "from ..lesson import cues", "app.lesson.cues"),
        ("app.machine.run", "def f():\n    import flask", "flask"),
        ("app.lesson.reader", "from app.classroom.hub import Hub", "app.classroom.hub.Hub"),
        ("app.lesson.reader", "from app.web import board", "app.web.board"),
        ("app.lesson.reader", "from werkzeug.utils import x", "werkzeug.utils.x"),
        ("app.classroom.hub", "from ..web.rooms import Rooms", "app.web.rooms.Rooms"),
        ("app.classroom.hub", "if TYPE_CHECKING:\n    from flask import Flask", "flask.Flask"),
        ("app.classroom.hub", "try:\n    import gevent.lock\nexcept E: pass", "gevent.lock"),
        ("app.paths", "from .web import assets", "app.web.assets"),
        ("app.authoring", "from app.web.rooms import Rooms", "app.web.rooms.Rooms"),
        ("app.machinery", "import app.web", "app.web"),  # only begins like app.machine
        ("app.machine.run", "import app.machinery", "app.machinery"),
    ],
)
def test_the_check_finds(module: str, source: str, offence: str) -> None:
    assert offences(module, f"import re\n{source}\n") == [offence]


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("app.machine.run", "from .engine import walk\nfrom app.machine import words"),
        ("app.machine.run", "import re, flaskless"),
        (
            "app.lesson.reader",
            "from app.machine.run import Run\nfrom .cues import Cue\nimport yaml",
        ),
        ("app.classroom.hub", "from ..lesson.model import Lesson\nimport app.machine.run"),
        (
            "app.web.board",
            "import flask, gevent\nfrom app.classroom import hub\nfrom .rooms import R",
        ),
        ("app.__init__", "from flask import Flask\nfrom .web import board"),
        ("app.__main__", "from gevent import monkey\nfrom app import create_app"),
    ],
)
def test_the_check_lets_pass(module: str, source: str) -> None:
    assert offences(module, source) == []
