"""The folder in which a teacher's own lessons are kept: read, saved whole, never written over.

A file is only ever put in the place of the one that its writer has seen. What it held before stays
in the hidden folder ``.chalkcycle`` beside it, where drafts are kept as well.
"""

from __future__ import annotations

import os
import re
import stat
import tempfile
import time
from codecs import BOM_UTF8
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from app.lesson.entries import Wrong
from app.lesson.file.reader import LARGEST_FILE
from app.machine.source.problems import printable

HIDDEN = ".chalkcycle"
LONGEST_NAME = 60
# In bytes: what the usual file systems give a name (NAME_MAX of POSIX; from memory).
_LONGEST_OF_A_FILE = 255
_LEFT_BEHIND_SECONDS = 3600
_SAVING = "saving-"
# Names that Windows keeps for itself, whatever ending they have (Microsoft's "Naming Files, Paths,
# and Namespaces").
_RESERVED = re.compile(r"(con|prn|aux|nul|(com|lpt)[0-9¹²³]) *(\..*)?", re.IGNORECASE | re.DOTALL)


def is_reserved(name: str) -> bool:
    """Whether some system keeps a file's name, with its ending or without, for itself."""
    return _RESERVED.fullmatch(name) is not None


def kept_by_nobody(name: str) -> str:
    """A file's name, or one like it where some system keeps that for itself."""
    return f"lesson-{name}" if is_reserved(name) else name


class Changed(Exception):
    """The file is not any more what its writer has seen: ``there`` is what it is now."""

    def __init__(self, there: Kept) -> None:
        super().__init__("the file was changed")
        self.there = there


@dataclass(frozen=True, slots=True)
class Kept:
    """What a file holds: its text without the mark at its start (``bom``), and a ``digest`` of all
    its bytes; an empty one where there is no file."""

    text: str
    bom: bool = False
    digest: str = ""

    @property
    def data(self) -> bytes:
        return (BOM_UTF8 if self.bom else b"") + self.text.encode()


def read_kept(path: Path) -> Kept:
    """What a lesson file holds.

    Raises Wrong for what cannot be changed as a text, and OSError where it cannot be opened.
    """
    status = path.stat()
    if not stat.S_ISREG(status.st_mode) or status.st_size > LARGEST_FILE:
        raise Wrong("This is no lesson file, or too large for one.", "Look at it where it lies.")
    data = path.read_bytes()
    bom = data.startswith(BOM_UTF8)
    try:
        text = data.removeprefix(BOM_UTF8).decode()
    except UnicodeDecodeError as error:
        what = "The file has bytes that are not UTF-8 text, so it cannot be changed here."
        raise Wrong(what, "Save it as UTF-8 in another editor first.") from error
    return Kept(text, bom, sha256(data).hexdigest())


class Folder:
    """A folder of own lessons. It need not be there before something is kept in it."""

    def __init__(self, root: Path) -> None:
        self.root = root

    @property
    def hidden(self) -> Path:
        return self.root / HIDDEN

    def holds(self, path: Path) -> bool:
        """Whether a lesson file is one of this folder."""
        # (Path.resolve raises where a link leads back to itself.)
        return os.path.realpath(path.parent) == os.path.realpath(self.root)

    def now(self, name: str) -> Kept:
        """What the file of a name holds now; nothing where there is none."""
        path = self._path(name)
        return read_kept(path) if path.exists() else Kept("")

    def save(self, name: str, text: str, bom: bool, seen: str) -> Kept:
        """Put a text into a file, whole: whoever looks sees the old one or the new one. ``seen``
        is the digest of what its writer believes to be there, empty for no file.

        Raises Changed where something else is there, Wrong for a file that is none of ours, and
        OSError where it cannot be written.
        """
        path = self._path(name)
        size = len(Kept(text, bom).data)
        if size > LARGEST_FILE:
            what = f"The lesson has {size} bytes."
            raise Wrong(what, f"A lesson file may have {LARGEST_FILE}; make two lessons of it.")
        if path.is_symlink():
            what = f"'{printable(name)}' only points to a file elsewhere."
            raise Wrong(what, "Change it where it lies, or save a copy.")
        there = self.now(name)
        new = Kept(text, bom)
        if there.digest != seen and there.data != new.data:
            raise Changed(there)
        if there.digest and there.data == new.data:
            return there  # it is there already, and the version before stays what it is
        if there.digest:
            self._write(self.hidden / "before" / name, there.data, None)
        mode = stat.S_IMODE(path.stat().st_mode) if there.digest else None
        self._write(path, new.data, mode)
        return Kept(text, bom, sha256(new.data).hexdigest())

    def put_away(self, name: str) -> None:
        """Take a file out of the list of lessons. What it held is kept with the versions before.

        Raises Wrong where there is no such file, and OSError.
        """
        path = self._path(name)
        there = self.now(name)
        if not there.digest:
            raise Wrong("There is no own lesson of this name any more.", "Look at the list again.")
        self._write(self.hidden / "before" / name, there.data, None)
        path.unlink()

    def free_name(self, title: str, taken: set[str]) -> str:
        """A file name for a lesson of a title, which no file of the folder and none of ``taken``
        (names without their ending) has. Raises OSError where the folder cannot be read."""
        plain = re.sub(r"[^\w]+", "-", title.casefold(), flags=re.ASCII).strip("-_")
        plain = plain[:LONGEST_NAME].strip("-_") or "lesson"
        plain = kept_by_nobody(plain)
        names = {each.casefold() for each in taken}
        if self.root.exists():  # it is made with its first lesson
            names |= {each.stem.casefold() for each in self.root.iterdir()}
        number, name = 1, plain
        while name in names:
            number += 1
            name = f"{plain}-{number}"
        return f"{name}.md"

    def keep_hidden(self, place: str, name: str, data: bytes) -> None:
        """Keep something beside the lessons that is none: whole, but not forced onto the disk."""
        self._write(self.hidden_path(place, name), data, None, sync=False)

    def hidden_path(self, place: str, name: str) -> Path:
        """Where something beside the lessons is kept. What is called after a file whose own name
        is as long as a name can be has the start of it, and what no other one has."""
        said = os.fsencode(name)
        if len(said) > _LONGEST_OF_A_FILE:
            ending = Path(name).suffix
            name = f"{name[:LONGEST_NAME]}-{sha256(said).hexdigest()[:16]}{ending}"
        return self.hidden / place / name

    def _path(self, name: str) -> Path:
        """The path of a file name. Raises Wrong for a name that leads anywhere else."""
        odd = name != Path(name).name or "\\" in name or "\0" in name
        if odd or name.startswith(".") or not name.endswith(".md"):
            raise Wrong("This is no name of a lesson file.", "Choose the lesson in the list.")
        return self.root / name

    def _write(self, path: Path, data: bytes, mode: int | None, sync: bool = True) -> None:
        for each in (self.hidden, path.parent):
            if each != self.root and each.is_symlink():
                # It may have come with the lessons of somebody else, and lead anywhere.
                what = f"The hidden folder '{each.relative_to(self.root)}' only points elsewhere."
                root = printable(str(self.root))
                raise Wrong(what, f"Take it out of '{root}': nothing is written through it.")
        path.parent.mkdir(parents=True, exist_ok=True)
        self.hidden.mkdir(exist_ok=True)
        self._clear()
        handle, made = tempfile.mkstemp(prefix=_SAVING, dir=self.hidden)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                if sync:
                    os.fsync(file.fileno())
            if mode is None:
                mode = 0o666 & ~_umask()
            os.chmod(made, mode)
            os.replace(made, path)
        except BaseException:
            Path(made).unlink(missing_ok=True)
            raise
        if sync and os.name == "posix":
            folder = os.open(path.parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)

    def _clear(self) -> None:
        """Take away what was being written when a computer stopped."""
        for each in self.hidden.glob(f"{_SAVING}*"):
            try:
                if time.time() - each.stat().st_mtime > _LEFT_BEHIND_SECONDS:
                    each.unlink()
            except OSError:
                # Another Chalkcycle was quicker, or it is none of ours: it is in nobody's way.
                continue


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
