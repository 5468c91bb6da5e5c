"""Two versions of a text side by side, and one made of both, line by line where they differ."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

# Between what is alike at the start and at the end, so many lines are compared one by one; a
# longer piece is shown as one.
MOST_COMPARED = 400
_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")


@dataclass(frozen=True, slots=True)
class Piece:
    """Lines, with their ends, of one version and of the other; the same where they are alike."""

    mine: tuple[str, ...]
    theirs: tuple[str, ...]

    @property
    def differs(self) -> bool:
        return self.mine != self.theirs


def pieces(mine: str, theirs: str) -> list[Piece]:
    """Two texts as the pieces in which they are alike and differ, in turn."""
    return [
        each
        for each in _pieces(_LINE.findall(mine), _LINE.findall(theirs))
        if each.mine or each.theirs
    ]


def _pieces(one: Sequence[str], other: Sequence[str]) -> Iterator[Piece]:
    start = _alike(one, other)
    stop = min(_alike(one[::-1], other[::-1]), min(len(one), len(other)) - start)
    yield Piece(tuple(one[:start]), tuple(other[:start]))
    left, right = one[start : len(one) - stop], other[start : len(other) - stop]
    if max(len(left), len(right)) > MOST_COMPARED:
        yield Piece(tuple(left), tuple(right))
    else:
        for _, a, b, c, d in SequenceMatcher(None, left, right, False).get_opcodes():
            yield Piece(tuple(left[a:b]), tuple(right[c:d]))
    yield Piece(tuple(one[len(one) - stop :]), tuple(other[len(other) - stop :]))


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    pairs = enumerate(zip(one, other, strict=False))
    return next((at for at, (a, b) in pairs if a != b), min(len(one), len(other)))


def put_together(found: Sequence[Piece], takes_theirs: Sequence[bool]) -> str:
    """One text of two: for each piece that differs, theirs or mine.

    Raises ValueError where it is not said of every such piece which.
    """
    choices = iter(takes_theirs)
    if sum(each.differs for each in found) != len(takes_theirs):
        raise ValueError("there are other differences than were chosen from")
    lines: list[str] = []
    for each in found:
        lines += each.theirs if each.differs and next(choices) else each.mine
    end = next((each[len(each.rstrip("\r\n")) :] for each in lines if each[-1] in "\r\n"), "\n")
    # A last line without an end may not be the last one any more.
    made = [each if each[-1] in "\r\n" else each + end for each in lines[:-1]]
    return "".join([*made, *lines[-1:]])
