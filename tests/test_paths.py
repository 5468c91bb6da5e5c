"""Where a person's own lessons are kept."""

from __future__ import annotations

import errno
import os
import tracemalloc
from pathlib import Path

import pytest

from app.paths import Forgotten, folder_to_write, own_folder, resource


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    home = tmp_path / "home"
    home.mkdir()
    for name in ("HOME", "USERPROFILE"):
        monkeypatch.setenv(name, str(home))
    for name in ("XDG_STATE_HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "state"))
    return home


def test_the_folder_is_a_sensible_one_until_one_is_chosen(home: Path, tmp_path: Path) -> None:
    assert own_folder() == home / "Chalkcycle lessons"
    (home / "Documents").mkdir()
    assert own_folder() == home / "Documents" / "Chalkcycle lessons"
    assert own_folder(tmp_path / "mine") == tmp_path / "mine"
    assert own_folder() == tmp_path / "mine", "it is remembered"
    assert not (tmp_path / "mine").exists(), "it is made with its first lesson"


@pytest.mark.parametrize(
    "left",
    [b"", b"\n", b"\0" * 40, b"\xff\xfe/mine", b"mine", b"/mi\0ne", b"/a" * 2_049, b"/a" * 99_999],
)
def test_a_memory_that_lost_its_words_is_none(home: Path, tmp_path: Path, left: bytes) -> None:
    """As a computer leaves it that lost its power: the list of lessons was gone, or the lessons
    were looked for where the server was started."""
    own_folder(tmp_path / "mine")
    (memory,) = (tmp_path / "state" / "chalkcycle").iterdir()
    memory.write_bytes(left)
    assert own_folder() == home / "Chalkcycle lessons"
    assert folder_to_write(None, None) == home / "Chalkcycle lessons"


def test_a_memory_without_end_is_not_read_to_its_end(tmp_path: Path) -> None:
    """A few kilobytes of folders in folders were looked for at every list of lessons."""
    own_folder(tmp_path / "mine")
    (memory,) = (tmp_path / "state" / "chalkcycle").iterdir()
    longest = "/" + "a" * 4_095
    memory.write_text(longest)
    assert own_folder() == Path(longest)
    with memory.open("r+b") as opened:
        opened.truncate(2**24)
    tracemalloc.start()
    try:
        assert own_folder() != Path(longest)
        assert tracemalloc.get_traced_memory()[1] < 2**20
    finally:
        tracemalloc.stop()


def test_a_choice_that_cannot_be_written_leaves_the_one_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own_folder(tmp_path / "before")

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "the disk is full")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="full"):
        own_folder(tmp_path / "after")
    assert own_folder() == tmp_path / "before"


def test_lessons_of_a_folder_are_kept_there(tmp_path: Path, home: Path) -> None:
    folder = tmp_path / "served"
    folder.mkdir()
    (folder / "a.md").write_text("")
    assert folder_to_write(folder, None) == folder
    assert folder_to_write(folder / "a.md", None) == folder
    assert folder_to_write(None, None) == home / "Chalkcycle lessons"
    # Those that came with it stay as they are, however they are served.
    shipped = resource("lessons")
    assert folder_to_write(shipped, None) == home / "Chalkcycle lessons"


def test_a_folder_that_cannot_be_own_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="without a folder of lessons"):
        folder_to_write(tmp_path, tmp_path / "x")
    with pytest.raises(ValueError, match="a folder of their own"):
        folder_to_write(None, resource("lessons"))
    with pytest.raises(ValueError, match=r"is no text\."):
        folder_to_write(None, tmp_path / os.fsdecode(b"\xff"))
    with pytest.raises(ValueError, match="too long"):
        folder_to_write(None, tmp_path.joinpath(*["a" * 200] * 21))


@pytest.mark.parametrize("place", ["loop", "loop/mine", "a.md/mine", "x" * 300])
def test_a_folder_that_cannot_be_looked_at_is_refused_and_not_remembered(
    home: Path, tmp_path: Path, place: str
) -> None:
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    (tmp_path / "a.md").write_text("")
    with pytest.raises(ValueError, match=r"cannot be looked at: .+\. Choose another one\."):
        folder_to_write(None, tmp_path / place)
    assert folder_to_write(None) == home / "Chalkcycle lessons"


def test_lessons_behind_a_loop_of_links_are_kept_where_they_are(tmp_path: Path) -> None:
    """As where a folder became one after it was looked at: nothing is raised."""
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    assert folder_to_write(tmp_path / "loop" / "a.md") == tmp_path / "loop"


@pytest.mark.parametrize("state", ["loop", "x" * 300])
def test_a_memory_that_cannot_be_read_is_told(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, state: str
) -> None:
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    for name in ("XDG_STATE_HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / state))
    with pytest.raises(Forgotten) as lost:
        folder_to_write(None)
    assert lost.value.usual == home / "Chalkcycle lessons" and lost.value.why
    assert lost.value.memory == tmp_path / state / "chalkcycle" / "own-folder"
    # Where lessons are served from a folder, nobody has to remember one.
    assert folder_to_write(tmp_path) == tmp_path
