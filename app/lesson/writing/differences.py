"""Two versions of a text side by side, and one made of both, line by line where they differ."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

# More lines than these that all differ are no changes of one another.
MOST_CHOSEN = 20
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
    found: list[Piece] = []
    alike: list[str] = []
    for each in _line_by_line(_pieces(_LINE.findall(mine), _LINE.findall(theirs))):
        if not each.differs:
            alike += each.mine
            continue
        if alike:
            found.append(Piece(tuple(alike), tuple(alike)))
            alike = []
        found.append(each)
    return [*found, Piece(tuple(alike), tuple(alike))] if alike else found


def _line_by_line(found: Iterable[Piece]) -> Iterator[Piece]:
    """Lines that were only changed, each for itself."""
    for each in found:
        if len(each.mine) == len(each.theirs) <= MOST_CHOSEN:
            lines = zip(each.mine, each.theirs, strict=True)
            yield from (Piece((mine,), (theirs,)) for mine, theirs in lines)
        else:
            yield each


def _pieces(one: Sequence[str], other: Sequence[str]) -> Iterator[Piece]:
    """What stands between lines that both texts have once, in the same order: so each line is
    looked at a bounded number of times, however the texts differ."""
    at = there = 0
    for line, same in [*_in_both(one, other), (len(one), len(other))]:
        yield from _between(one[at:line], other[there:same])
        at, there = line, same


def _between(one: Sequence[str], other: Sequence[str]) -> Iterator[Piece]:
    start = _alike(one, other)
    stop = min(_alike(one[::-1], other[::-1]), min(len(one), len(other)) - start)
    yield Piece(tuple(one[:start]), tuple(other[:start]))
    yield Piece(tuple(one[start : len(one) - stop]), tuple(other[start : len(other) - stop]))
    yield Piece(tuple(one[len(one) - stop :]), tuple(other[len(other) - stop :]))


def _in_both(one: Sequence[str], other: Sequence[str]) -> list[tuple[int, int]]:
    """Where lines stand that each text has once: as many as are in the same order in both."""
    mine, theirs = Counter(one), Counter(other)
    places = {line: at for at, line in enumerate(other) if theirs[line] == 1}
    pairs = [
        (at, places[line]) for at, line in enumerate(one) if mine[line] == 1 and line in places
    ]
    # The longest row of them that goes up in both.
    ends: list[int] = []
    rows: list[tuple[int, int | None]] = []
    last: list[int] = []
    for number, (_, there) in enumerate(pairs):
        length = bisect_left(ends, there)
        rows.append((number, last[length - 1] if length else None))
        if length == len(ends):
            ends.append(there)
            last.append(number)
        else:
            ends[length], last[length] = there, number
    found = []
    step = last[-1] if last else None
    while step is not None:
        found.append(pairs[step])
        step = rows[step][1]
    return found[::-1]


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
