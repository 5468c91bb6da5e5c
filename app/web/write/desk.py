"""The lessons that are being written: their drafts, and what each of them makes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from flask import abort, current_app

from app.lesson.entries import Wrong
from app.lesson.file.head import read_syllabus
from app.lesson.writing.drafts import Draft, Drafts
from app.lesson.writing.manuscript import Manuscript
from app.web.shelf import shelf

# Of so many lessons the last version without a fault is remembered.
MOST_REMEMBERED = 20


@dataclass(slots=True)
class Desk:
    """One lesson that is being written: its draft, what it says now, and the last version of it
    without a fault, which the board shows until the faults are mended; None where there was none.
    """

    slug: str
    path: Path
    draft: Draft
    now: Manuscript
    good: Manuscript | None


class Good:
    """The last version without a fault of each lesson that is being written."""

    def __init__(self) -> None:
        self._read: dict[str, tuple[Manuscript, Manuscript | None]] = {}

    def of(self, slug: str, manuscript: Manuscript) -> tuple[Manuscript, Manuscript | None]:
        """A manuscript as it was read before, if it is still the same; and the good one."""
        known, good = self._read.pop(slug, (None, None))
        if known and known.source == manuscript.source and known.folder == manuscript.folder:
            manuscript = replace_line(known, manuscript.line)
        if manuscript.lesson.can_be_taught:
            good = manuscript
        self._read[slug] = (manuscript, good)
        while len(self._read) > MOST_REMEMBERED:
            del self._read[next(iter(self._read))]
        return manuscript, good


def replace_line(manuscript: Manuscript, line: int) -> Manuscript:
    """The same, looked at in another line; what was read of it stays read."""
    if manuscript.line == line:
        return manuscript
    moved = replace(manuscript, line=line)
    moved.__dict__.update(
        {
            name: manuscript.__dict__[name]
            for name in ("lesson", "text", "outline")
            if name in manuscript.__dict__
        }
    )
    return moved


def drafts() -> Drafts:
    """The drafts of this server. Answers 404 where no lesson can be written."""
    found: Drafts | None = current_app.extensions["drafts"]
    if found is None:
        abort(404, "This Chalkcycle has no folder for lessons that are written here.")
    return found


def desk_of(slug: str, page: bool = False) -> Desk:
    """The lesson of a name, to be written; also one whose file was taken away, where there is
    something to save or a ``page`` lies open on it. Answers 404 for none, 409 for one that cannot
    be written."""
    kept = drafts()
    path = shelf().file(slug) or kept.left_behind(slug, page)
    if path is None:
        abort(404, "There is no such lesson. Go back to the list of lessons.")
    try:
        draft = kept.of(path)
    except Wrong as wrong:
        abort(409, f"{wrong.what} {wrong.mend}")
    except OSError as error:
        abort(409, f"The file of this lesson cannot be opened: {error.strerror}.")
    return opened(slug, path, draft)


def opened(
    slug: str, path: Path, draft: Draft, line: int = 1, made: Manuscript | None = None
) -> Desk:
    """What a draft says now. Of a text that was ``made`` just now it has been read already."""
    beside = kept_beside(path, draft)
    manuscript = Manuscript(slug, draft.text, read_syllabus(beside)[0], line)
    if made and (made.source, made.folder) == (manuscript.source, manuscript.folder):
        manuscript = replace_line(made, line)
    good: Good = current_app.extensions["good"]
    now, last_good = good.of(slug, manuscript)
    return Desk(slug, path, draft, now, last_good)


def kept_beside(path: Path, draft: Draft) -> Path:
    """Where the file of a draft lies, or will lie."""
    return drafts().folder.root / draft.name if draft.own else path
