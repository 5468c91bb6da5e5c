"""A lesson as it is being written: kept after every change, with the way back over all of them."""

from __future__ import annotations

import json
import os
import re
import stat
import time
from collections.abc import Collection
from contextlib import suppress
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

from app.lesson.entries import Wrong
from app.lesson.file.reader import LARGEST_FILE, slug_of
from app.lesson.file.shelf import PAUSE_SECONDS

from .folder import Changed, Folder, Kept, read_kept

# So many changes can be taken back, as long as they have no more letters than this together.
MOST_CHANGES = 400
MOST_LETTERS = 600_000
# A draft and its changes as they are kept, where a letter may take six.
LARGEST_KEPT = 6 * (2 * LARGEST_FILE + 2 * MOST_LETTERS) + 400_000
# What stands round its texts: of each change two numbers and some signs.
LARGEST_ROUND = 100_000
# (One without an end goes on to the end of the file, so that no sign is looked at twice.)
_TEXT = re.compile(rb'"[^"\\]*+(?:\\.[^"\\]*+)*+"?', re.DOTALL)


@dataclass(frozen=True, slots=True)
class Change:
    """From ``at`` on these letters were taken out of the text, and those put there; ``line`` (from
    1) is where it happened."""

    at: int
    out: str
    put: str
    line: int

    @classmethod
    def between(cls, before: str, after: str) -> Change:
        most = min(len(before), len(after))
        at = _alike(before, after, most)
        stop = _alike(before[::-1], after[::-1], most - at)
        out, put = before[at : len(before) - stop], after[at : len(after) - stop]
        return cls(at, out, put, before.count("\n", 0, at) + 1)


def _alike(one: str, other: str, most: int) -> int:
    """With how many equal letters two texts start, at most so many."""
    low, high = 0, most
    while low < high:  # comparing slices is quick, comparing letters is not
        middle = (low + high + 1) // 2
        if one[low:middle] == other[low:middle]:
            low = middle
        else:
            high = middle - 1
    return low


@dataclass(slots=True)
class Draft:
    """The text of a lesson that is being written. ``name`` is that of its file; ``base`` is what
    the file held when it was read or saved last, and ``own`` whether that is a file of the
    teacher's. ``version`` counts its changes: who changes it says which one they have seen. It
    starts at a number that this text alone has: the draft may be made anew, of another text, while
    a page lies open on the one before."""

    name: str
    text: str
    base: Kept
    own: bool
    version: int = 0
    done: list[Change] = field(default_factory=list)
    undone: list[Change] = field(default_factory=list)

    def __post_init__(self) -> None:
        # (A page counts up to 2 ** 53 without a fault.)
        digest = sha256(self.text.encode(errors="replace")).digest()
        self.version = self.version or 1 + int.from_bytes(digest[:6])

    @property
    def unsaved(self) -> bool:
        return self.text != self.base.text

    def change(self, text: str) -> None:
        """Another text, which can be taken back."""
        if text == self.text:
            return
        self.done.append(Change.between(self.text, text))
        self.undone.clear()
        self._put(text)
        letters = 0
        for count, each in enumerate(reversed(self.done)):
            letters += len(each.out) + len(each.put)
            if count >= MOST_CHANGES or letters > MOST_LETTERS:
                del self.done[: len(self.done) - count]
                break

    def undo(self) -> int | None:
        """Take the last change back; the line where it was, None where there is none."""
        if not self.done:
            return None
        change = self.done.pop()
        self.undone.append(change)
        end = change.at + len(change.put)
        self._put(self.text[: change.at] + change.out + self.text[end:])
        return change.line

    def redo(self) -> int | None:
        """Make the change again that was taken back last."""
        if not self.undone:
            return None
        change = self.undone.pop()
        self.done.append(change)
        end = change.at + len(change.out)
        self._put(self.text[: change.at] + change.put + self.text[end:])
        return change.line

    def _put(self, text: str) -> None:
        self.text = text
        self.version += 1


class Drafts:
    """The drafts of a folder, each on the disk after every change."""

    def __init__(self, folder: Folder) -> None:
        self.folder = folder
        self._open: dict[str, Draft] = {}
        # What the files of drafts were when they were read or written here last.
        self._stamps: dict[str, tuple[int, int] | None] = {}

    def of(self, path: Path) -> Draft:
        """The draft of a lesson file, which may lie in another folder: then what is saved is a
        copy in this one. A file that has changed while nothing was unsaved is taken as it is.

        Raises Wrong for a file that cannot be changed as a text, and OSError.
        """
        name = path.name
        draft = self._open.get(name) or self._kept(name)
        own = self.folder.holds(path)
        if draft is None or (draft.own != own and not draft.unsaved):
            there = read_kept(path)
            draft = Draft(name, there.text, there, own)
        elif not draft.unsaved and path.exists():
            there = read_kept(path)
            if there.digest != draft.base.digest:
                draft.change(there.text)
                draft.base = there
        self._open[name] = draft
        return draft

    def is_unsaved(self, name: str) -> bool:
        """Whether there is a draft of a file that has something which is not saved."""
        try:
            draft = self._open.get(name) or self._kept(name)
        except OSError:
            return False  # whoever opens the lesson to write is told what is wrong with it
        if name in self._stamps and name not in self._open:
            time.sleep(PAUSE_SECONDS)  # it was read
        if draft:
            self._open[name] = draft
        return bool(draft and draft.unsaved)

    def left_behind(self, slug: str, page: bool = False) -> Path | None:
        """Where the file of an own lesson was that was taken away, or given another name, while its
        draft had something that is not saved, or while a ``page`` lay open on it. None for any
        other name."""
        path = self.folder.root / f"{slug}.md"
        if slug_of(path) != slug or path.name != f"{slug}.md":
            return None  # no file has this name in addresses
        opened = self._open.get(path.name)
        if self.is_unsaved(path.name) or (page and opened is not None):
            return path if self._open[path.name].own else None
        return None

    def new(self, name: str, text: str, bom: bool = False) -> Draft:
        """A lesson that was not there, saved at once.

        Raises Changed where a file of that name is there after all, and OSError.
        """
        there = self.folder.save(name, text, bom, "")
        draft = self._open[name] = Draft(name, text, there, True)
        self._keep_saved(draft)
        return draft

    def keep(self, draft: Draft) -> None:
        """Keep a draft as it is now. Raises OSError where it cannot be written."""
        self._put_aside_another(draft)
        said = {
            "text": draft.text,
            "base": [draft.base.text, draft.base.bom, draft.base.digest],
            "own": draft.own,
            "version": draft.version,
            "done": [[each.at, each.out, each.put, each.line] for each in draft.done],
            "undone": [[each.at, each.out, each.put, each.line] for each in draft.undone],
        }
        data = json.dumps(said, ensure_ascii=True).encode()
        self.folder.keep_hidden("drafts", f"{draft.name}.json", data)
        self._stamps[draft.name] = _stamp(_status(self._file(draft.name)))

    def _put_aside_another(self, draft: Draft) -> None:
        """What another Chalkcycle has written into the file of a draft is kept with the versions
        before: nobody has seen it here."""
        before = self._stamps.get(draft.name)
        now = _stamp(_status(self._file(draft.name)))
        other = self._kept(draft.name) if now not in (None, before) else None
        if other and other.text != draft.text:
            data = Kept(other.text, other.base.bom).data
            self.folder.keep_hidden("before", f"another-{draft.name}", data)

    def save(self, draft: Draft) -> None:
        """Save a draft into its file.

        Raises Changed where the file is another than the draft was made from, Wrong, and OSError.
        """
        seen = draft.base.digest if draft.own else ""
        if draft.own and not self.folder.now(draft.name).digest:
            seen = ""  # it was taken away: nothing is written over
        draft.base = self.folder.save(draft.name, draft.text, draft.base.bom, seen)
        draft.own = True
        self._keep_saved(draft)

    def _keep_saved(self, draft: Draft) -> None:
        """Keep a draft whose text is in its file already: nothing is lost where it cannot be."""
        try:
            self.keep(draft)
        except (OSError, Wrong):
            # A draft of before would only say that the lesson is not saved.
            with suppress(OSError):
                self._file(draft.name).unlink(missing_ok=True)

    def put_away(self, name: str) -> None:
        """Take a lesson of the teacher's away, so that the one with its name that came with
        Chalkcycle is there again. What was saved and what was not are kept with the versions
        before.

        Raises Wrong where there is no such lesson, and OSError.
        """
        if self.is_unsaved(name):
            unsaved = self._open[name]
            data = Kept(unsaved.text, unsaved.base.bom).data
            self.folder.keep_hidden("before", f"not-saved-{name}", data)
        self.folder.put_away(name)
        self._open.pop(name, None)
        self._file(name).unlink(missing_ok=True)

    def last_written(self, names: Collection[str]) -> str | None:
        """The name of these files that was saved, or has a draft that was changed, last of all;
        None where none was."""
        times = {
            name: time
            for name in names
            for each in (self.folder.root / name, self._file(name))
            if (time := _time_of(each)) is not None
        }
        return max(times, key=lambda name: times[name], default=None)

    def outside(self, draft: Draft) -> Kept | None:
        """What the file holds, where that is not what the draft was made from; else None."""
        try:
            there = self.folder.now(draft.name)
        except (Wrong, OSError):
            return None  # saving says what is wrong with it
        seen = draft.base.digest if draft.own else ""
        return there if there.digest not in ("", seen) else None

    def is_gone(self, draft: Draft) -> bool:
        """Whether the own file of a draft was taken away, or given another name."""
        try:
            return draft.own and not self.folder.now(draft.name).digest
        except (Wrong, OSError):
            return False  # something is there; saving says what is wrong with it

    def settle(self, draft: Draft, there: Kept, text: str) -> None:
        """Go on with a text that was made of both, on top of what the file holds."""
        draft.change(text)
        draft.base, draft.own = there, True
        self.keep(draft)

    def _file(self, name: str) -> Path:
        return self.folder.hidden_path("drafts", f"{name}.json")

    def _kept(self, name: str) -> Draft | None:
        path = self._file(name)
        status = _status(path)
        if status is None or not stat.S_ISREG(status.st_mode):
            return None
        self._stamps[name] = _stamp(status)
        try:
            if status.st_size > LARGEST_KEPT:
                raise ValueError("this was not kept here")
            return _read(name, _data(path.read_bytes()))
        except (ValueError, TypeError, KeyError, OverflowError, RecursionError):
            # That of another version, say: it is put aside, and the lesson's own file counts. Where
            # it cannot be, nothing else can be written there either, and that is told.
            with suppress(OSError):
                path.replace(path.with_suffix(".unreadable"))
            return None


def _status(path: Path) -> os.stat_result | None:
    """What the system says of a file; None where there is none. Raises OSError where it cannot be
    looked at: then there may be one."""
    try:
        return path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return None


def _stamp(status: os.stat_result | None) -> tuple[int, int] | None:
    return (status.st_mtime_ns, status.st_size) if status else None


def _time_of(path: Path) -> float | None:
    """When a file was changed last; None where there is none that can be looked at."""
    try:
        status = path.stat()
    except OSError:
        return None  # whoever opens it is told why
    return status.st_mtime if stat.S_ISREG(status.st_mode) else None


def _data(kept: bytes) -> Any:
    """What the file of a draft says. Millions of small things, which take far more room than the
    file, are no draft. Raises ValueError."""
    beside = end = 0
    for found in _TEXT.finditer(kept):
        beside += found.start() - end + 1
        end = found.end()
        if beside > LARGEST_ROUND:
            break
    if beside + len(kept) - end > LARGEST_ROUND:
        raise ValueError("this was not kept here")
    return json.loads(kept)


def _read(name: str, said: dict[str, Any]) -> Draft:
    text, bom, digest = said["base"]
    if len(said["done"]) + len(said["undone"]) > 2 * MOST_CHANGES:
        raise ValueError("this was not kept here")
    done, undone = ([_change(*each) for each in said[key]] for key in ("done", "undone"))
    base = Kept(str(text), bool(bom), str(digest))
    own, version = bool(said["own"]), int(said["version"])
    if version < 0:
        raise ValueError("this was not kept here")  # no page could ever have seen it
    for each in (str(said["text"]), base.text, *(one.put + one.out for one in done + undone)):
        each.encode()  # ValueError for halves of characters, which can be written nowhere
    return Draft(name, str(said["text"]), base, own, version, done, undone)


def _change(at: Any, out: Any, put: Any, line: Any) -> Change:
    return Change(int(at), str(out), str(put), int(line))


__all__ = ["Changed", "Draft", "Drafts", "Kept"]
