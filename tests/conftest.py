"""What tests in several folders share: lessons to teach, and the application over them."""

from __future__ import annotations

import gc
import os
import shutil
from collections.abc import Callable, Iterator
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory
from types import CodeType

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from werkzeug.routing import Rule

from app import create_app
from app.lesson.file import failures
from app.lesson.file.reader import read_lesson
from app.lesson.model import Lesson

# What a test has counted is recorded under this name, and told at the end of the run.
COUNTS = "counts"
ROOT = Path(__file__).resolve().parent.parent

# A whole program of few steps: fetch 4, decode 1, execute 1, four times.
SHORT_STEPS = 24
SHORT = """---
title: A short sum
machine: 8-bit
depth: transfers
---

# Two coins

Count the coins.

```program
        LOAD  #5
        ADD   #3
        OUTPUT
        HALT
```

```cues
start: Two coins lie on the table.
```

# Once more

```program
        INPUT
        HALT
```

```inputs
6
```
"""

# Line 9 has a word that no instruction has.
BROKEN = """---
title: A lesson with a fault
machine: 8-bit
---

# One

```program
        LAOD  #5
        HALT
```
"""

# 256 words of memory, every phase one movement, and a loop that goes on for a while.
LONG = """---
title: A large memory
machine: 16-bit
depth: phases
---

# Round and round

```program
        LOAD  many
again:  SUBTRACT #1
        STORE many
        COMPARE #0
        JUMP again IF MORE
        HALT
many:   200
```
"""


def pytest_configure(config: pytest.Config) -> None:
    """Where Python is told to keep nothing that it has compiled, each of the many servers that are
    started here would compile the whole application again. What a server keeps from one start to
    the next, such as the folder for own lessons, is kept apart from what a person's own keep."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    kept = TemporaryDirectory()
    config.add_cleanup(kept.cleanup)
    for name in ("XDG_STATE_HOME", "LOCALAPPDATA"):
        os.environ[name] = kept.name


# So many other files come after each file of the browser's, until there is none of those left.
OTHERS_BETWEEN = 2
# The longest that need no browser: begun late, one of them would end alone.
LONGEST = (Path("hardware/test_model.py"), Path("lesson/asking/test_reasons.py"))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files of the browser are spread over the first part of a run: they wait more than they work,
    and others work meanwhile, the longest first and those of the server. At the end there are short
    ones for whichever process is done."""
    tests = ROOT / "tests"
    files = {path: [*its] for path, its in groupby(items, key=lambda each: each.path)}
    waiting = [path for path in files if tests / "browser" in path.parents]
    longest = [tests / each for each in LONGEST if tests / each in files]
    others = [path for path in reversed(files) if path not in {*waiting, *longest}]
    working = [*longest, *others]
    order: list[Path] = []
    while waiting or working:
        order += [*waiting[:1], *working[:OTHERS_BETWEEN]]
        waiting, working = waiting[1:], working[OTHERS_BETWEEN:]
    items[:] = [each for path in order for each in files[path]]


def pytest_collection_finish() -> None:
    """What has been collected stays: to look through it for garbage, and often, is a twentieth of a
    run."""
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for report in terminalreporter.getreports("passed"):
        for name, words in report.user_properties:
            if name == COUNTS:
                terminalreporter.write_line(words)


class Compiled(BytecodeCache):
    """Templates as they were compiled, kept as they are."""

    def __init__(self) -> None:
        self.kept: dict[str, tuple[str, CodeType | None]] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        checksum, code = self.kept.get(bucket.key, ("", None))
        if checksum == bucket.checksum:
            bucket.code = code

    def dump_bytecode(self, bucket: Bucket) -> None:
        self.kept[bucket.key] = (bucket.checksum, bucket.code)


@pytest.fixture(autouse=True)
def no_reader_fails() -> Iterator[None]:
    """A reader that fails by a fault of its own answers with a sentence, as if the author had made
    one: in a test it counts as a failure. Who makes one on purpose takes it away."""
    yield
    assert not failures.told


@pytest.fixture(scope="session", autouse=True)
def compiled_templates() -> Iterator[None]:
    """Templates are compiled once for all the applications that the tests make."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(Flask.jinja_options, "bytecode_cache", Compiled())
        yield


@pytest.fixture(scope="session", autouse=True)
def compiled_addresses() -> Iterator[None]:
    """How an address is written is compiled once for all of them too: what comes of it depends on
    nothing but the rule, and takes nine tenths of the time in which an application is made."""
    compiled: dict[tuple[object, ...], Callable[..., tuple[str, str]]] = {}
    compile_builder = Rule._compile_builder

    def once(rule: Rule, append_unknown: bool = True) -> Callable[..., tuple[str, str]]:
        if rule.defaults:
            return compile_builder(rule, append_unknown)
        of = (rule.rule, *rule._trace, append_unknown)
        if of not in compiled:
            compiled[of] = compile_builder(rule, append_unknown)
        return compiled[of]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Rule, "_compile_builder", once)
        yield


@pytest.fixture
def short_lesson() -> Lesson:
    return read_lesson("short", SHORT)


@pytest.fixture
def long_lesson() -> Lesson:
    return read_lesson("long", LONG)


@pytest.fixture(scope="session")
def lessons(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the lessons that ship, a short one, a long one, and a broken one."""
    folder = tmp_path_factory.mktemp("lessons")
    for each in (ROOT / "lessons").glob("*.md"):
        shutil.copy(each, folder)
    for name, text in (("short", SHORT), ("long", LONG), ("broken", BROKEN)):
        (folder / f"{name}.md").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def web(lessons: Path) -> Flask:
    return create_app(lessons)


@pytest.fixture
def client(web: Flask) -> FlaskClient:
    return web.test_client()
