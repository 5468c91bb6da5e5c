"""A folder of lesson files."""

from __future__ import annotations

from pathlib import Path

from app.lesson.header import Header
from app.lesson.model import Lesson
from app.machine.source.problems import Problem

from .habits import syllabus_stamp
from .head import header_of, read_syllabus
from .reader import read_file


class Shelf:
    """The lessons of a folder, or one lesson file, read again when a file has changed."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._read: dict[Path, tuple[tuple[int, ...], Lesson]] = {}
        self._good: dict[str, Lesson] = {}

    def files(self) -> list[Path]:
        """The lesson files, in the order of their names."""
        if self.path.is_file():
            return [self.path]
        return sorted(each for each in self.path.glob("*.md") if each.is_file())

    def lessons(self) -> list[Lesson]:
        """Every lesson of the shelf, those with faults too."""
        return [self._lesson(each) for each in self.files()]

    def lesson(self, slug: str) -> Lesson | None:
        for each in self.files():
            if each.stem == slug:
                return self._lesson(each)
        return None

    def habits(self) -> Header:
        """The header of a lesson that says nothing of its own."""
        fields, _ = read_syllabus(self.path if self.path.is_file() else self.path / "any.md")
        return header_of("", fields)

    def good_lesson(self, slug: str) -> Lesson | None:
        """The newest version of a lesson that had no fault, seen since the shelf was made."""
        self.lesson(slug)
        return self._good.get(slug)

    def _lesson(self, path: Path) -> Lesson:
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
            mend = "See that it is still there and that you are allowed to read it."
            return Lesson(path.stem, Header(path.stem), (), (Problem(1, 1, 1, what, mend),))
        self._read[path] = (stamp, lesson)
        if not lesson.faults and lesson.scenes:
            self._good[path.stem] = lesson
        return lesson
