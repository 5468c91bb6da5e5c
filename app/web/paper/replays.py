"""The replays of all lessons as a folder with a start page, to be put on any web server or drive.

Every page is whole by itself and links to the others by their names alone, so that it works from a
disk as well.
"""

from __future__ import annotations

import base64
import hashlib
import io
import re
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from jinja2 import Environment

from app.board.shelf_picture import shelf_picture
from app.lesson.file.failures import tell
from app.lesson.model import Lesson
from app.lesson.writing.folder import kept_by_nobody
from app.machine.source.problems import printable
from app.paths import resource

from .package import LONG_AGO
from .replay import Replay, replay_page

START_PAGE = "index.html"
_LONGEST_NAME = 60


FAULT_OF_OURS = "Chalkcycle failed to make this replay, by a fault of its own."


class NotMade(Exception):
    """A replay was not made elsewhere, and why, in a sentence. A fault has been printed there."""


@dataclass(frozen=True, slots=True)
class Page:
    """A file of the folder; ``replay`` is what it plays, None for the start page and where it was
    not made: then ``failed`` says so, in a sentence."""

    name: str
    html: str
    replay: Replay | None = None
    failed: str = ""


def pages(
    lessons: Sequence[Lesson],
    environment: Environment,
    make: Callable[[Lesson, Environment], Replay] = replay_page,
) -> Iterator[Page]:
    """The start page and then the replays, each made when it is asked for. Lessons with faults are
    left out. Where making one fails by a fault of ours, its page says so, and where the error came
    from is printed to stderr; OSError (the disk, the line, the worker) is raised."""
    names = _names([each for each in lessons if each.can_be_taught])
    style = (resource("static") / "css" / "base.css").read_text(encoding="utf-8")
    # No script is there to choose the dark colours: what the system prefers does.
    dark = re.search(r':root\[data-theme="dark"\] (\{[^}]*\})', style)
    assert dark, "base.css has the dark colours"
    style += f"@media screen and (prefers-color-scheme: dark) {{\n:root {dark[1]}\n}}\n"
    hashed = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    yield Page(
        START_PAGE,
        environment.get_template("paper/replay/start.html").render(
            lessons=[(name, each, shelf_picture(each)) for name, each in names],
            style=style,
            style_hash=f"sha256-{hashed}",
        ),
    )
    for name, lesson in names:
        try:
            made = make(lesson, environment)
        except OSError:
            raise
        except Exception as error:
            failed = FAULT_OF_OURS
            if isinstance(error, NotMade):
                failed = str(error)
            else:
                said = f"Making the replay of '{printable(lesson.slug)}' failed."
                tell(error, said, lesson.source)
            html = environment.get_template("paper/replay/failed.html").render(
                lesson=lesson,
                failed=failed,
                start_page=START_PAGE,
                style=style,
                style_hash=f"sha256-{hashed}",
            )
            yield Page(name, html, failed=failed)
            continue
        yield Page(name, made.html, made)


def _names(lessons: Sequence[Lesson]) -> list[tuple[str, Lesson]]:
    """A file name for each lesson that every system takes, and no two alike in any case."""
    found: list[tuple[str, Lesson]] = []
    taken = {START_PAGE}
    # Where the search for a number goes on, so that names that are all alike stay quick.
    free: dict[str, int] = {}
    for number, lesson in enumerate(lessons, start=1):
        plain = re.sub(r"[^\w.-]+", "-", lesson.slug)[:_LONGEST_NAME].strip(".-") or "lesson"
        plain = kept_by_nobody(plain)
        name = f"{plain}.html"
        if name.casefold() in taken:
            added = max(number, free.get(plain.casefold(), 0))
            while (name := f"{plain}-{added}.html").casefold() in taken:
                added += 1
            free[plain.casefold()] = added + 1
        taken.add(name.casefold())
        found.append((name, lesson))
    return found


def archive(made: Iterator[Page]) -> Iterator[bytes]:
    """The pages as one zip, piece by piece as they are made."""
    stream = _Stream()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for page in made:
            about = zipfile.ZipInfo(f"replays/{page.name}", LONG_AGO)
            about.compress_type = zipfile.ZIP_DEFLATED
            about.external_attr = 0o644 << 16
            packed.writestr(about, page.html)
            yield stream.take()
    yield stream.take()


class _Stream(io.RawIOBase):
    """What is written to it can be taken, and is gone then."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []

    def writable(self) -> bool:
        return True

    def write(self, data: object) -> int:
        part = bytes(data)  # type: ignore[call-overload]
        self._parts.append(part)
        return len(part)

    def take(self) -> bytes:
        taken = b"".join(self._parts)
        self._parts.clear()
        return taken
