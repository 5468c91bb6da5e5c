"""A folder of lessons: read when they change, and none hidden by a bad one."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import IO, Any
from unittest.mock import Mock

import pytest

from app.lesson.file.shelf import Shelf
from app.lesson.header import Header

GOOD = "---\ntitle: {}\n---\n\n# A scene\n\n```program\nHALT\n```\n"


def write(path: Path, text: str, at: int = 0) -> None:
    """Write a file as if at another second, for clocks of files may be coarse."""
    path.write_text(text)
    os.utime(path, (1_000_000_000 + at, 1_000_000_000 + at))


def titles(shelf: Shelf) -> list[str]:
    return [each.header.title for each in shelf.lessons()]


def test_lessons_in_the_order_of_their_names(tmp_path: Path) -> None:
    for name in ("02-b", "10-c", "01-a"):
        write(tmp_path / f"{name}.md", GOOD.format(name))
    write(tmp_path / "notes.txt", "not a lesson")
    (tmp_path / "folder.md").mkdir()
    shelf = Shelf(tmp_path)
    assert titles(shelf) == ["01-a", "02-b", "10-c"]
    assert [each.stem for each in shelf.files()] == ["01-a", "02-b", "10-c"]


@pytest.mark.parametrize("name", ["lessons", "./lessons", "link", "whole", "through"])
def test_the_own_folder_by_any_of_its_names_hides_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Served by a part of its path, each of its lessons was taken for one that hides itself, and
    could be put away for the one that 'came with Chalkcycle'."""
    monkeypatch.chdir(tmp_path)
    own = tmp_path / "lessons"
    own.mkdir()
    write(own / "a.md", GOOD.format("A"))
    (tmp_path / "link").symlink_to(own)
    (tmp_path / "again").symlink_to(tmp_path)
    served = {"whole": own, "through": tmp_path / "again" / "lessons"}.get(name, Path(name))
    shelf = Shelf(served, own)
    assert titles(shelf) == ["A"]
    assert not any(map(shelf.hides, shelf.files()))


def test_a_lesson_of_the_own_folder_hides_one_that_came(tmp_path: Path) -> None:
    came, own = tmp_path / "came", tmp_path / "own"
    for folder in (came, own):
        folder.mkdir()
        write(folder / "a.md", GOOD.format(folder.name))
    write(came / "b.md", GOOD.format("B"))
    shelf = Shelf(came, own)
    assert titles(shelf) == ["own", "B"]
    assert [shelf.hides(each) for each in shelf.files()] == [True, False]


def test_one_file_is_a_shelf_too(tmp_path: Path) -> None:
    write(tmp_path / "a.md", GOOD.format("A"))
    write(tmp_path / "b.md", GOOD.format("B"))
    assert titles(Shelf(tmp_path / "b.md")) == ["B"]


def test_one_file_stays_one_while_it_is_away(tmp_path: Path) -> None:
    """The others of its folder were listed for as long, which is the own one as well."""
    write(tmp_path / "a.md", GOOD.format("A"))
    write(tmp_path / "b.md", GOOD.format("B"))
    shelf = Shelf(tmp_path / "b.md", tmp_path)
    (tmp_path / "b.md").rename(tmp_path / "c.md")
    for each in (shelf, Shelf(tmp_path / "b.md", tmp_path)):  # a worker makes its own just then
        (away,) = each.lessons()
        assert away.slug == "b" and "cannot be opened" in away.faults[0].what
        assert each.is_one_file and not each.closed()
    (tmp_path / "c.md").rename(tmp_path / "b.md")
    assert titles(shelf) == ["B"]


def test_a_folder_that_cannot_be_opened_is_told(tmp_path: Path) -> None:
    came, own = tmp_path / "came", tmp_path / "own"
    came.mkdir()
    shelf = Shelf(came, own)
    assert shelf.closed() == "", "the own folder need not be there yet"
    own.symlink_to(own)
    assert f"'{own}' cannot be opened: " in shelf.closed()
    came.rename(tmp_path / "before")
    came.symlink_to(came)
    assert f"'{came}' cannot be opened: " in shelf.closed() and "allowed to read" in shelf.closed()


def test_own_lessons_come_after_those_that_came_with_it(tmp_path: Path) -> None:
    came, own = tmp_path / "came", tmp_path / "own"
    for folder, name, title in (
        (came, "a", "A"),
        (came, "b", "B"),
        (own, "c", "C"),
        (own, "a", "My A"),
    ):
        folder.mkdir(exist_ok=True)
        write(folder / f"{name}.md", GOOD.format(title))
    shelf = Shelf(came, own)
    assert titles(shelf) == ["My A", "B", "C"]
    assert shelf.file("a") == own / "a.md" and shelf.file("b") == came / "b.md"
    assert titles(Shelf(came / "b.md", own)) == ["B"]
    assert titles(Shelf(own, own)) == ["My A", "C"]
    assert titles(Shelf(came, tmp_path / "not made yet")) == ["A", "B"]


def test_an_empty_folder_and_none(tmp_path: Path) -> None:
    assert Shelf(tmp_path).lessons() == []
    assert Shelf(tmp_path / "nowhere").lessons() == []


def test_a_lesson_by_its_name(tmp_path: Path) -> None:
    write(tmp_path / "a.md", GOOD.format("A"))
    shelf = Shelf(tmp_path)
    found = shelf.lesson("a")
    assert found is not None and found.header.title == "A"
    assert shelf.lesson("b") is None
    assert shelf.lesson("../a") is None


def test_a_changed_file_is_read_again_and_no_other(tmp_path: Path) -> None:
    write(tmp_path / "a.md", GOOD.format("A"))
    write(tmp_path / "b.md", GOOD.format("B"))
    shelf = Shelf(tmp_path)
    before = shelf.lessons()
    write(tmp_path / "a.md", GOOD.format("Z"), at=1)  # of the same size
    after = shelf.lessons()
    assert [each.header.title for each in after] == ["Z", "B"]
    assert after[1] is before[1]
    write(tmp_path / "c.md", GOOD.format("C"))
    (tmp_path / "a.md").unlink()
    assert titles(shelf) == ["B", "C"]


def test_others_are_served_after_each_file_that_was_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder of many long files held the board up until all of them had been read."""
    for name in ("a", "b", "c"):
        write(tmp_path / f"{name}.md", "---\ntitle: T\n---\n# One\n")
    pauses: list[float] = []
    monkeypatch.setattr(time, "sleep", pauses.append)
    shelf = Shelf(tmp_path)
    shelf.lessons()
    assert len(pauses) == 3
    write(tmp_path / "b.md", "---\ntitle: Other\n---\n# One\n", at=5)
    shelf.lessons()
    assert len(pauses) == 4
    shelf.lessons()
    assert len(pauses) == 4


def test_a_bad_lesson_hides_no_good_one(tmp_path: Path) -> None:
    write(tmp_path / "a.md", "no lesson at all")
    (tmp_path / "b.md").write_bytes(b"\xff\xfe\x00")
    write(tmp_path / "c.md", GOOD.format("C"))
    assert [bool(each.faults) for each in Shelf(tmp_path).lessons()] == [True, True, False]


def test_a_file_that_cannot_be_opened_hides_no_good_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As for a file without the right to read it (which an administrator always has)."""
    write(tmp_path / "a.md", GOOD.format("A"))
    write(tmp_path / "b.md", GOOD.format("B"))
    shelf = Shelf(tmp_path)
    plain = Path.open

    def refuse(path: Path, mode: str) -> IO[Any]:
        if path.name == "a.md":
            raise PermissionError(13, "Permission denied")
        return plain(path, mode)

    monkeypatch.setattr(Path, "open", refuse)
    closed, opened = shelf.lessons()
    (fault,) = closed.faults
    assert "Permission denied" in fault.what and fault.mend
    assert opened.faults == ()
    # Once it can be opened, it is read.
    monkeypatch.undo()
    assert titles(shelf) == ["A", "B"]


def test_a_folder_that_may_not_be_looked_at_has_no_lessons(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A drive of the network that has gone, say: what is under way goes on meanwhile."""
    (tmp_path / "one.md").write_text("---\ntitle: A\n---\n# One\nWords.\n")
    shelf = Shelf(tmp_path)
    assert [each.slug for each in shelf.lessons()] == ["one"]
    monkeypatch.setattr(os, "stat", refused := Mock(side_effect=PermissionError(13, "no")))
    monkeypatch.setattr(os, "listdir", refused)
    assert not shelf.is_one_file and shelf.lessons() == []
    assert shelf.habits() == Header("")
    assert refused.called
