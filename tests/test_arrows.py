"""Which part of the project may import which: the arrows of the architecture.

A part is a folder or a module; the longest name that fits says which part a module belongs to. What
a part may import stands beside it, and nothing else. Read from the source text, so that an import
inside a function or under TYPE_CHECKING counts too.
"""

from __future__ import annotations

import ast
import re
import sys
from pathlib import Path

import pytest

APP = Path(__file__).parent.parent / "app"
FILES = {
    ".".join(("app", *path.relative_to(APP).with_suffix("").parts)): path
    for path in sorted(APP.rglob("*.py"))
}

MACHINE = ("app.machine", "app.machine.source", "app.machine.telling", "app.machine.watching")
# What scenes are made of, from the bottom up: each may import those before it.
_LESSON_UPWARDS = (
    "app.lesson.unseen",
    "app.lesson.entries",
    "app.lesson.parts",
    "app.lesson.header",
    "app.lesson.places",
    "app.lesson.timeline",
    "app.lesson.ticks",
    "app.lesson.asking",
    "app.lesson.blocks",
    "app.lesson.worked_out",
    "app.lesson.model",
    "app.lesson.at_once",
    "app.lesson.minutes",
    "app.lesson.pressing",
    "app.lesson.in_sight",
    "app.lesson.agenda",
)
LESSON = (*_LESSON_UPWARDS, "app.lesson.file", "app.lesson.paper", "app.lesson.writing")
BOARD = (*MACHINE, *LESSON, "app.classroom", "app.board", "app.paths")
WEB = (*BOARD, "app.web")
EVERYTHING = (
    *WEB,
    "app.web.teach",
    "app.web.write",
    "app.web.follow",
    "app.web.explore",
    "app.web.paper",
)

# What each part may import of ours besides itself.
MAY_IMPORT: dict[str, tuple[str, ...]] = {
    "app.machine": (),
    "app.machine.source": ("app.machine",),
    "app.machine.telling": ("app.machine", "app.machine.source", "app.machine.watching"),
    "app.machine.watching": ("app.machine",),
    **{part: (*MACHINE, *_LESSON_UPWARDS[:place]) for place, part in enumerate(_LESSON_UPWARDS)},
    "app.lesson": (),
    "app.lesson.file": (*MACHINE, *_LESSON_UPWARDS),
    "app.lesson.paper": (*MACHINE, *_LESSON_UPWARDS),
    "app.lesson.writing": (*MACHINE, *_LESSON_UPWARDS, "app.lesson.file"),
    "app.classroom": (*MACHINE, *LESSON),
    "app.board": (*MACHINE, *LESSON, "app.classroom", "app.paths"),
    "app.web": BOARD,
    # The rooms of the web know nothing of one another.
    "app.web.teach": WEB,
    "app.web.follow": WEB,
    "app.web.explore": WEB,
    "app.web.paper": WEB,
    "app.web.write": WEB,
    "app.authoring": (*MACHINE, *LESSON),  # commands that need no server
    "app.printing": (*EVERYTHING, "app", "app.browsers"),  # commands that print what the web shows
    "app.__init__": EVERYTHING,
    "app.__main__": (*EVERYTHING, "app", "app.authoring", "app.printing"),
    "app.worker": (*EVERYTHING, "app"),  # the pages again, in a process of its own
    "app.paths": (),
    # Any other module of app itself knows nothing of ours.
    "app": (),
}

WEB_PACKAGES = ("flask", "werkzeug", "gevent")
MAY_USE_WEB_PACKAGES = (*EVERYTHING[len(BOARD) :], "app.__init__", "app.__main__", "app.worker")


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


def part_of(name: str) -> str:
    return max((each for each in MAY_IMPORT if lies_in(name, each)), key=len)


def offences(module: str, source: str) -> list[str]:
    """The imports of a module that point the wrong way."""
    part = part_of(module)
    wrong = []
    for name in imports(module, source):
        if lies_in(name, "app"):
            if part_of(name) not in (part, *MAY_IMPORT[part]):
                wrong.append(name)
        elif name.split(".")[0] in WEB_PACKAGES and part not in MAY_USE_WEB_PACKAGES:
            wrong.append(name)
    return wrong


@pytest.mark.parametrize("module", FILES)
def test_imports_follow_the_arrows(module: str) -> None:
    assert offences(module, FILES[module].read_text(encoding="utf-8")) == []


# The rooms that pupils may enter, and what is open to them elsewhere, with the reason.
OPEN_ROOMS = ("app.web.follow", "app.web.explore")
OPEN_ELSEWHERE = {
    "app.web.assets.script": "every page that shows the board needs it; it is the same for all",
    "app.web.assets.watching": "pages that show a cache or a pipeline need it; the same for all",
    "app.web.assets.sheet": "every page that shows the board needs it; it is the same for all",
}


def routes(source: str) -> dict[str, bool]:
    """The functions of a module that answer an address, and whether each is open to the class."""
    found = {}
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef):
            decorators = [ast.unparse(each) for each in node.decorator_list]
            if any(re.match(r"blueprint\.(get|post|route)\b", each) for each in decorators):
                found[node.name] = "open_to_class" in decorators
    return found


def test_what_is_open_to_the_class_stands_in_rooms_of_its_own() -> None:
    """Who may come in can be read off the folder tree."""
    answers = {
        f"{module}.{name}": is_open
        for module, path in FILES.items()
        for name, is_open in routes(path.read_text(encoding="utf-8")).items()
    }
    in_rooms = {each for each in answers if any(lies_in(each, room) for room in OPEN_ROOMS)}
    # All of the two rooms, and of the rest what is listed.
    assert {each for each, is_open in answers.items() if is_open} == in_rooms | set(OPEN_ELSEWHERE)
    assert len(in_rooms) > 10 and len(answers) > 2 * len(in_rooms)


def test_the_routes_of_a_module_are_found() -> None:
    source = """
@blueprint.get("/open")
@open_to_class
def one(): ...
@blueprint.post("/closed")
def two(): ...
def helper(): ...
"""
    assert routes(source) == {"one": True, "two": False}


@pytest.mark.parametrize("module", [each for each in FILES if lies_in(each, "app.machine")])
def test_the_machine_needs_nothing_but_python(module: str) -> None:
    found = imports(module, FILES[module].read_text(encoding="utf-8"))
    roots = {name.split(".")[0] for name in found}
    assert roots <= {"app", *sys.stdlib_module_names}


def test_no_module_imports_itself_by_a_way_round() -> None:
    beside = {
        module: {
            found
            for name in imports(module, path.read_text(encoding="utf-8"))
            if (found := name if name in FILES else name.rpartition(".")[0]) in FILES
        }
        for module, path in FILES.items()
    }
    # What imports nothing that is left is taken away; what is left at the end goes in a circle.
    while free := [module for module, found in beside.items() if not found & beside.keys()]:
        for module in free:
            del beside[module]
    assert beside == {}


def test_every_part_was_looked_at() -> None:
    """The check would pass over an empty folder as well."""
    for part in MAY_IMPORT:
        assert any(lies_in(module, part) for module in FILES), part


@pytest.mark.parametrize(
    ("module", "source", "offence"),
    [
        ("app.machine.run", "import app.lesson.blocks.cues", "app.lesson.blocks.cues"),
        ("app.machine.run", "from app.lesson.blocks import cues", "app.lesson.blocks.cues"),
        ("app.machine.run", "from ..lesson.blocks.cues import Cue", "app.lesson.blocks.cues.Cue"),
        ("app.machine.run", "from .. import lesson", "app.lesson"),
        ("app.machine.run", "from app import create_app", "app.create_app"),
        ("app.machine.__init__", "from ..lesson.blocks import cues", "app.lesson.blocks.cues"),
        ("app.machine.run", "def f():\n    import flask", "flask"),
        ("app.lesson.file.reader", "from app.classroom.hub import Hub", "app.classroom.hub.Hub"),
        ("app.lesson.file.reader", "from app.web.teach import board", "app.web.teach.board"),
        ("app.lesson.file.reader", "from werkzeug.utils import x", "werkzeug.utils.x"),
        ("app.machine.run", "from .source import assembler", "app.machine.source.assembler"),
        ("app.lesson.asking.facts", "from ..blocks import cues", "app.lesson.blocks.cues"),
        ("app.lesson.timeline", "from .model import Scene", "app.lesson.model.Scene"),
        ("app.board.frames", "from app.web.rooms import Room", "app.web.rooms.Room"),
        ("app.board.frames", "from flask import g", "flask.g"),
        ("app.web.follow.pages", "from app.web.teach import board", "app.web.teach.board"),
        ("app.web.rooms", "from .teach import board", "app.web.teach.board"),
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
            "app.lesson.file.reader",
            "from app.machine.run import Run\nfrom ..blocks.cues import Cue\nimport yaml",
        ),
        ("app.classroom.hub", "from ..lesson.model import Lesson\nimport app.machine.run"),
        (
            "app.web.teach.board",
            "import flask, gevent\nfrom app.classroom import hub\nfrom ..rooms import R",
        ),
        ("app.__init__", "from flask import Flask\nfrom .web.teach import board"),
        ("app.__main__", "from gevent import monkey\nfrom app import create_app"),
    ],
)
def test_the_check_lets_pass(module: str, source: str) -> None:
    assert offences(module, source) == []
