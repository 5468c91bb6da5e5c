"""A folder of lesson files."""

from __future__ import annotations

import os
import time
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from app.lesson.at_once import worked_out_at_once
from app.lesson.header import Header
from app.lesson.model import Lesson
from app.machine.source.problems import printable

from .habits import syllabus_stamp
from .head import header_of, read_syllabus
from .reader import read_file, slug_of, unread
from .warm_up import WarmUpName, read_name, warm_up

# So many warm-ups are kept in memory: more than are taught at once.
MOST_MADE = 60
# Where others wait to be served, as in a server of greenlets, they are served in such a pause.
PAUSE_SECONDS = 0.0005
_MEND = "See that it is still there and that you are allowed to read it."


def lesson_files(folder: Path) -> list[Path]:
    """The lesson files of a folder, in the order of their names; those of a hidden name, such as
    editors and other systems leave, are left out. No files where the folder cannot be read."""
    try:
        found = [each for each in folder.iterdir() if each.suffix == ".md" and each.name[0] != "."]
    except OSError:
        return []
    return sorted(each for each in found if not _is_folder(each))


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError:
        return False  # what is wrong with it is told where it is read


def not_opened(folder: Path, need_not_be: bool = False) -> str:
    """Why a folder of lessons cannot be opened, and how to mend it; nothing where it can be, or
    where it is not there and ``need_not_be``."""
    try:
        os.scandir(folder).close()
    except OSError as error:
        if need_not_be and isinstance(error, FileNotFoundError):
            return ""
        shown = printable(str(folder))
        return f"The folder '{shown}' cannot be opened: {error.strerror}. {_MEND}"
    return ""


class Shelf:
    """The lessons of a folder, or one lesson file, read again when a file has changed.

    Lessons of the teacher's ``own`` folder come after those; one with the name of another has its
    place."""

    def __init__(self, path: Path, own: Path | None = None) -> None:
        self.path = path
        # One lesson file stays one, also while it is away: an editor may take it away for a moment,
        # and a worker may be started just then.
        is_named_so = path.suffix == ".md" and not os.path.isdir(path)
        self.is_one_file = is_named_so or os.path.isfile(path)
        # A folder has many names (a part of a path, a link): where it is the teacher's own that is
        # served, there is no other.
        apart = own and os.path.realpath(own) != os.path.realpath(path)
        self.own = own if apart else None
        self._read: dict[Path, tuple[tuple[int, ...], Lesson]] = {}
        self._good: dict[str, Lesson] = {}
        # Warm-ups by their names, each with the lesson that it was made after; used last, last.
        self._made: dict[str, tuple[Lesson, Lesson]] = {}

    def files(self) -> list[Path]:
        """The lesson files, in the order of their names."""
        if self.is_one_file:
            return [self.path]
        found = {each.name: each for each in lesson_files(self.path)}
        if self.own:
            found |= {each.name: each for each in lesson_files(self.own)}
        return list(found.values())

    def closed(self) -> str:
        """Why lessons of a folder are missing, in a sentence; nothing where none need be."""
        if self.is_one_file:
            return ""
        # (The own folder is made with its first lesson.)
        return not_opened(self.path) or (not_opened(self.own, True) if self.own else "")

    def hides(self, path: Path) -> bool:
        """Whether a file of the teacher's has the place of one that came with Chalkcycle."""
        # (False as well where it cannot be asked whether that one is there.)
        return path.parent == self.own and os.path.isfile(self.path / path.name)

    def file(self, slug: str) -> Path | None:
        """The file of a lesson."""
        return next((each for each in self.files() if slug_of(each) == slug), None)

    def lessons(self) -> list[Lesson]:
        """Every lesson of the shelf, those with faults too."""
        return [*self.each(self.files())]

    def each(self, paths: Iterable[Path]) -> Iterator[Lesson]:
        """The lessons of some of the files. Whoever waits need not wait for all of them."""
        for path in paths:
            known = self._read.get(path)
            yield self.read(path)
            if self._read.get(path) is not known:
                time.sleep(PAUSE_SECONDS)

    def lesson(self, slug: str) -> Lesson | None:
        """The lesson of a name; a warm-up is made as its name says."""
        path = self.file(slug)
        if path:
            return self.read(path)
        name = read_name(slug)
        source = self.good_lesson(name.slug) if name and self.file(name.slug) else None
        return self._warm_up(name, source) if name and source else None

    def _warm_up(self, name: WarmUpName, source: Lesson) -> Lesson:
        known = self._made.pop(str(name), None)
        if known is None or known[0] is not source:
            scenes = []
            for scene in worked_out_at_once(source.scenes):
                scenes.append(scene)
                # Where that takes long, nobody need wait for all of them.
                time.sleep(PAUSE_SECONDS)
            known = (source, warm_up(name, replace(source, scenes=tuple(scenes))))
        self._made[str(name)] = known
        while len(self._made) > MOST_MADE:
            self._made.pop(next(iter(self._made)), None)
        return known[1]

    def habits(self) -> Header:
        """The header of a lesson that says nothing of its own."""
        fields, _ = read_syllabus(self.path if self.is_one_file else self.path / "any.md")
        return header_of("", fields)

    def good_lesson(self, slug: str) -> Lesson | None:
        """The newest version of a lesson that had no fault, seen since the shelf was made."""
        found = self.lesson(slug)
        return self._good.get(slug) or (found if found and found.can_be_taught else None)

    def read(self, path: Path) -> Lesson:
        """The lesson of one of the files, as it is now."""
        try:
            status = path.stat()
            stamp = (status.st_mtime_ns, status.st_size, *syllabus_stamp(path))
            known = self._read.get(path)
            if known and known[0] == stamp:
                return known[1]
            lesson = read_file(path)
        except OSError as error:
            # One file that cannot be opened must not hide the others.
            what = f"The file cannot be opened: {error.strerror}."
            return unread(slug_of(path), what, _MEND)
        self._read[path] = (stamp, lesson)
        if lesson.can_be_taught:
            self._good[lesson.slug] = lesson
        return lesson
