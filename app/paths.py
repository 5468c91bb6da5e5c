"""Where the files that are not Python lie: beside the package in a clone, inside it in a wheel."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

_PACKAGE = Path(__file__).parent
# In bytes of UTF-8: no system that has POSIX's limit opens a longer one, nor is there one by hand.
_LONGEST_PATH = 4_096


def resource(name: str) -> Path:
    """The folder ``templates``, ``static`` or ``lessons``."""
    inside = _PACKAGE / name
    return inside if inside.is_dir() else _PACKAGE.parent / name


def _kept() -> Path:
    """The folder for what is kept from one start to the next."""
    if sys.platform == "win32":
        root = os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local"
    else:
        root = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
    return Path(root) / "chalkcycle"


def usual_store() -> Path:
    """The file in which this person's lessons and their answers are kept."""
    return _kept() / "lessons.sqlite3"


class Forgotten(Exception):
    """Which folder was chosen before is not known, for its file ``memory`` cannot be read, and
    ``why``; ``usual`` is the folder of those who have chosen none."""

    def __init__(self, memory: Path, usual: Path, why: str | None) -> None:
        super().__init__("what was chosen is not known")
        self.memory, self.usual, self.why = memory, usual, why


def own_folder(chosen: Path | None = None) -> Path:
    """The folder in which this person's own lessons are kept: the one that is ``chosen``, which is
    remembered; else the one that was chosen before; else one among their documents.

    Raises OSError where a choice cannot be remembered, ValueError, with a sentence, for one that
    is no text, too long or cannot be looked at, and Forgotten.
    """
    memory = _kept() / "own-folder"
    if chosen:
        if not _is_text(str(chosen.absolute())):
            raise ValueError("The name of that folder is no text. Give it another name.")
        if len(str(chosen.absolute()).encode()) > _LONGEST_PATH:
            raise ValueError("The name of that folder is too long. Choose one with a shorter name.")
        _look_at(chosen)
        memory.parent.mkdir(parents=True, exist_ok=True)
        _put(memory, str(chosen.absolute()))
        return chosen.absolute()
    try:
        remembered = _path_in(memory)
    except OSError as error:
        raise Forgotten(memory, _usual_folder(), error.strerror) from error
    return remembered or _usual_folder()


def _usual_folder() -> Path:
    documents = Path.home() / "Documents"
    return (documents if os.path.isdir(documents) else Path.home()) / "Chalkcycle lessons"


def _look_at(chosen: Path) -> None:
    """Raises ValueError for a folder that could never be written into, whether or not it is there
    already: a link that leads back to itself, say."""
    try:
        chosen.stat()
    except FileNotFoundError:
        return  # it is made with its first lesson
    except OSError as error:
        what = f"That folder cannot be looked at: {error.strerror}. Choose another one."
        raise ValueError(what) from error


def _is_text(path: str) -> bool:
    """Whether the bytes of a path are UTF-8, as those of a name need not be."""
    return not any("\ud800" <= sign <= "\udfff" for sign in path)


def _put(file: Path, text: str) -> None:
    """Write a small file whole, and onto the disk: whoever reads it has the old text or the new
    one, whatever stops the computer."""
    made = file.with_suffix(".new")
    with made.open("w", encoding="utf-8") as opened:
        opened.write(text)
        opened.flush()
        os.fsync(opened.fileno())
    made.replace(file)


def _path_in(file: Path) -> Path | None:
    """The path that was written into a file; None where there is none, or where the file holds
    anything but a whole path, as a failure of the power may leave it. What is longer than any path
    is none: looking for its folders one in another would take very long. Raises OSError where it
    cannot be read."""
    try:
        if not stat.S_ISREG(file.stat().st_mode):
            return None
        with file.open("rb") as opened:
            written = opened.read(_LONGEST_PATH + 1)
    except (FileNotFoundError, NotADirectoryError):
        return None
    if len(written) > _LONGEST_PATH:
        return None
    try:
        text = written.decode().strip()
    except UnicodeDecodeError:
        return None
    found = Path(text)
    return found if found.is_absolute() and "\0" not in text else None


def folder_to_write(lessons: Path | None, chosen: Path | None = None) -> Path:
    """The folder that lessons are written into, where those of ``lessons`` are served (a folder or
    a file, None for those that come with it): never the one of the lessons that come with it.

    Raises ValueError, with a sentence, for a choice that cannot be, Forgotten, and OSError.
    """
    # (Path.resolve raises where a link leads back to itself.)
    shipped = os.path.realpath(resource("lessons"))
    if lessons is not None:
        served = os.path.realpath(lessons if os.path.isdir(lessons) else lessons.parent)
        if served != shipped:
            if chosen:
                raise ValueError("--own is for a start without a folder of lessons.")
            return Path(served)
    if chosen and os.path.realpath(chosen) == shipped:
        raise ValueError("Your own lessons need a folder of their own.")
    return own_folder(chosen)
