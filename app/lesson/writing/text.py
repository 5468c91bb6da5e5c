"""A text as its lines, each with the line end that it has in the file.

Nothing is written afresh: lines that no change names keep their bytes, whatever ends they have.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

_END = re.compile(r"(\r\n|\r|\n)")


@dataclass(frozen=True)
class Text:
    """``lines`` as an editor counts them (from 0 here), and what ends each; the last has no end."""

    lines: tuple[str, ...]
    ends: tuple[str, ...]

    @classmethod
    def of(cls, source: str) -> Text:
        parts = _END.split(source)
        return cls(tuple(parts[::2]), (*parts[1::2], ""))

    def __str__(self) -> str:
        return "".join(map("".join, zip(self.lines, self.ends, strict=True)))

    @cached_property
    def usual_end(self) -> str:
        """What most lines of the text end with."""
        counted = Counter(self.ends[:-1]).most_common(1)
        return counted[0][0] if counted else "\n"

    def replaced(self, first: int, last: int, lines: Sequence[str]) -> Text:
        """The text with these lines in the place of those from ``first`` up to ``last``, which is
        not one of them. New lines end as the one before them does."""
        end = (self.ends[first - 1] if first else "") or self.usual_end
        ends = [*self.ends[:first], *[end] * len(lines), *self.ends[last:]]
        kept = [*self.lines[:first], *lines, *self.lines[last:]]
        if not kept:
            return Text(("",), ("",))
        if last == len(self.lines):
            if first == last and first:
                ends[first - 1] = end  # it was the last one, and is no more
            ends[-1] = ""
        return Text(tuple(kept), tuple(ends))


def typed(before: str, now: str) -> str:
    """A text as a browser sends it, with line ends of one kind, as it belongs into the file:
    lines that were there keep their ends, new ones get that of the line above."""
    old = Text.of(before)
    # Whatever else the browser has made of line ends, a line is a line.
    lines = Text.of(now).lines
    if lines == old.lines:
        return before
    start = alike(old.lines, lines)
    most = min(len(old.lines), len(lines)) - start
    stop = min(alike(old.lines[::-1], lines[::-1]), most)
    middle = lines[start : len(lines) - stop]
    there = old.lines[start : len(old.lines) - stop]
    ends_there = old.ends[start : len(old.ends) - stop]
    changed = old.replaced(start, len(old.lines) - stop, middle)
    ends = list(changed.ends)
    known: dict[str, list[str]] = {}
    for line, end in zip(reversed(there), reversed(ends_there), strict=True):
        known.setdefault(line, []).append(end)
    for at, line in enumerate(middle, start):
        if known.get(line) and at < len(ends) - 1:
            ends[at] = known[line].pop() or ends[at]
    return str(Text(changed.lines, tuple(ends)))


def alike(one: Sequence[str], other: Sequence[str]) -> int:
    """With how many equal lines two texts start."""
    pairs = enumerate(zip(one, other, strict=False))
    return next((at for at, (a, b) in pairs if a != b), min(len(one), len(other)))
