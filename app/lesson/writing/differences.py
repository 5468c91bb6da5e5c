"""Two versions of a text side by side, and one made of both, line by line where they differ."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from .text import alike

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
    start = alike(one, other)
    stop = min(alike(one[::-1], other[::-1]), min(len(one), len(other)) - start)
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


def only_theirs(base: str, found: Sequence[Piece]) -> list[bool]:
    """For each piece of two texts that differs, whether only theirs has changed there what stood
    in ``base``, which both were made from. Where both may have, it is not only theirs."""
    mine = "".join("".join(each.mine) for each in found)
    theirs = "".join("".join(each.theirs) for each in found)
    changes, theirs_changes = _changed(base, mine), _changed(base, theirs)
    answers = []
    at = there = 0
    for each in found:
        stop, there_stop = at + len(each.mine), there + len(each.theirs)
        if each.differs:
            untouched = not _touched(changes, at, stop)
            answers.append(untouched and _touched(theirs_changes, there, there_stop))
        at, there = stop, there_stop
    return answers


def _changed(base: str, text: str) -> list[tuple[int, int]]:
    """The lines of a text that are other ones than in ``base``, in order: the first (from 0), and
    the one after the last; none between them where lines are gone."""
    found = []
    at = 0
    for each in pieces(base, text):
        stop = at + len(each.theirs)
        if each.differs:
            found.append((at, stop))
        at = stop
    return found


def _touched(changes: Sequence[tuple[int, int]], first: int, stop: int) -> bool:
    """Whether one of the changes lies in lines or, where there are none, at their place."""
    number = bisect_left(changes, first, key=lambda each: each[1])
    for start, end in changes[number : number + 2]:
        if start == end or first == stop:
            if start <= stop and end >= first:
                return True
        elif start < stop and end > first:
            return True
    return False


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
