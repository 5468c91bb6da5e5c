"""Words and habits of a syllabus: three lines of a header, or of a file for a whole folder.

``words:`` lists the terms that a course uses where the trade has several (see
:mod:`app.machine.telling.wording`); ``counter moves:`` says when in a fetch the program counter
moves on; ``gates:`` whose symbols gates are drawn with. What stands in ``syllabus.yaml`` counts for
every lesson beside it; a lesson's own header goes before it, term by term.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from app.lesson.entries import Wrong
from app.lesson.header import Counted
from app.machine.growing import PARTS
from app.machine.instructions import FETCHES
from app.machine.source.problems import listed, nearest
from app.machine.telling.wording import THINGS, Term, asked_as, term_of

SYLLABUS = "syllabus.yaml"
LARGEST_SYLLABUS = 16 * 1024

Terms = dict[int, Term]
"""Each term by the place of its thing in THINGS."""


def read_words(value: Any) -> Terms:
    """The terms of a ``words:`` line: set apart by commas, or a list. Raises Wrong."""
    texts = _between_commas(value)
    if not isinstance(texts, list) or not all(isinstance(each, str) for each in texts):
        raise Wrong("It needs a list of terms.", "Write for example 'decimal, IR, MBR'.")
    found: Terms = {}
    for text in texts:
        named = term_of(text)
        if named is None:
            raise Wrong(f"'{text}' is not one of the terms that can be chosen.", _mend(text))
        place, term = named
        if found.get(place, term) != term:
            both = f"'{asked_as(found[place])}' and '{asked_as(term)}'"
            raise Wrong(f"{both} are names of the same thing.", "Leave one of them out.")
        found[place] = term
    return found


def _between_commas(value: Any) -> Any:
    return [each.strip() for each in value.split(",")] if isinstance(value, str) else value


def _mend(text: str) -> str:
    known = [asked_as(term) for thing in THINGS for term in thing]
    near = nearest(text, known)
    return f"Did you mean '{near}'?" if near else f"The terms are {listed(known)}."


def read_counter(value: Any) -> str:
    """When the counter moves on: a key of FETCHES. Raises Wrong."""
    text = value.strip().casefold() if isinstance(value, str) else ""
    if text in FETCHES:
        return text
    raise Wrong(f"'{value}' is not a place in the fetch.", f"Write {listed(FETCHES)}.")


def read_parts(value: Any) -> frozenset[str]:
    """The parts of a ``with:`` line, keys of PARTS, set apart by commas. Raises Wrong."""
    return frozenset(_chosen(value, PARTS, "a part that the machine can grow by"))


def read_counted(value: Any) -> tuple[Counted, ...]:
    """What a ``count:`` line has counted. Raises Wrong."""
    chosen = _chosen(value, [each.value for each in Counted], "something that can be counted")
    return tuple(each for each in Counted if each.value in chosen)


def _chosen(value: Any, known: Collection[str], kind: str) -> list[str]:
    """The words of a list, or of a line with commas, each of them known. Raises Wrong."""
    texts = _between_commas(value)
    if not isinstance(texts, list) or not all(isinstance(each, str) for each in texts):
        raise Wrong("It needs a list.", f"Write some of {listed(known)}, with commas between them.")
    said = [" ".join(each.split()) for each in texts]
    for each in said:
        if each.casefold() not in known:
            near = nearest(each, known)
            mend = f"Did you mean '{near}'?" if near else f"Write {listed(known)}."
            raise Wrong(f"'{each}' is not {kind}.", mend)
    return [each.casefold() for each in said]


def together(folder: Mapping[str, Any], header: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of a header with those of its folder, which count where it says nothing."""
    words = {**folder.get("words", {}), **header.get("words", {})}
    return {**folder, **header, "words": words}


def syllabus_beside(path: Path) -> Path:
    """The file with the habits of the folder that a lesson file stands in."""
    return path.parent / SYLLABUS


def syllabus_stamp(path: Path) -> tuple[int, int]:
    """What changes when the file beside a lesson does; zeros where there is none. One
    that cannot be reached keeps no lesson from being read: that tells of it."""
    try:
        status = syllabus_beside(path).stat()
    except FileNotFoundError:
        return 0, 0
    except OSError as error:
        return -1, error.errno or 0
    return status.st_mtime_ns, status.st_size
