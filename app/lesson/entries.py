"""The lines of a block: entries one a line, each knowing where in the file it was written."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice, pairwise

from app.machine.machine import Machine
from app.machine.source.numbers import seem_thousands
from app.machine.source.problems import (
    MOST_FAULTS,
    OTHER_COLONS,
    Problem,
    legible,
    lines_of,
    listed,
    nearest,
    not_read,
)

_BULLET = re.compile(r"\A[-*+•\N{EN DASH}]\s+")
_COLONS = re.compile(f"[{OTHER_COLONS}]")


class Wrong(ValueError):
    """Words that cannot be used: ``what`` is wrong, and how to ``mend`` it, in whole sentences."""

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(what, mend)
        self.what = legible(what)
        self.mend = legible(mend)


@dataclass(frozen=True, slots=True)
class Piece:
    """Some words of an entry. ``line`` and ``column`` (from 1) say where they stand."""

    text: str
    line: int
    column: int

    def problem(self, what: str, mend: str, warning: bool = False) -> Problem:
        length = max(len(self.text), 1)
        return Problem(self.line, self.column, length, what, mend, warning)


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a block, with the indented lines that carry it on joined to it by a space."""

    text: str
    # For each line of the entry: where in ``text`` it starts, and its line and column.
    starts: tuple[tuple[int, int, int], ...]

    @property
    def whole(self) -> Piece:
        return Piece(self.text, *self.starts[0][1:])

    @property
    def further(self) -> Iterator[Piece]:
        """The lines after its first."""
        behind = (len(self.text) + 1, 0, 0)
        for (start, line, column), (end, _, _) in pairwise((*self.starts[1:], behind)):
            yield Piece(self.text[start : end - 1], line, column)

    def piece(self, start: int, end: int) -> Piece:
        """The words from ``start`` to ``end`` of the text, without the blanks around them."""
        text = self.text[start:end]
        start += len(text) - len(text.lstrip())
        at = bisect_right(self.starts, start, key=lambda each: each[0]) - 1
        offset, line, column = self.starts[max(at, 0)]
        return Piece(text.strip(), line, column + start - offset)

    def at_colon(self) -> tuple[Piece, Piece] | None:
        """What stands before and after the first colon; None where there is no colon."""
        at = self.text.find(":")
        if at < 0:
            return None
        return self.piece(0, at), self.piece(at + 1, len(self.text))


def too_many(piece: Piece) -> Problem:
    """Says that a block was not read from here on."""
    return not_read(piece.line, piece.column, max(len(piece.text), 1))


def seem_one_number(piece: Piece, machine: Machine) -> list[Problem]:
    """Warnings for what looks like one number in a list, and is several (of very many the
    first)."""
    return [
        Piece(written, piece.line, piece.column + start).problem(what, mend, warning=True)
        for start, written, what, mend in islice(seem_thousands(machine, piece.text), MOST_FAULTS)
    ]


def read_entries(text: str, first_line: int, carry_on: bool = True) -> list[Entry]:
    """The entries of a block. ``first_line`` is the line of the file that ``text`` starts on.

    A line that is indented more than the first one carries on the one above it, unless
    ``carry_on`` is False: then each line is an entry.
    """
    found: list[list[tuple[str, int, int]]] = []
    for number, line in enumerate(lines_of(text), start=first_line):
        words = line.strip()
        if not words:
            continue
        part = (words, number, len(line) - len(line.lstrip()) + 1)
        if carry_on and found and part[2] > found[0][0][2]:
            found[-1].append(part)
        else:
            found.append([part])
    return [_join(parts) for parts in found]


def carried_on(entry: Entry, is_one: Callable[[str], bool]) -> Iterator[Problem]:
    """Warnings of lines that carry an entry on, and read like entries of their own."""
    for piece in entry.further:
        # With a dash or a dot before it, and another sign for its colon, it reads like one as well.
        if is_one(_COLONS.sub(":", _BULLET.sub("", piece.text, count=1))):
            what = (
                "This line starts further right than the first, so it goes on with the one above."
            )
            mend = "If it is one of its own, start it right below the first."
            yield piece.problem(what, mend, warning=True)


def read_pieces(text: str, first_line: int) -> list[Piece]:
    """What is set apart by commas or lines in a block."""
    found = []
    for entry in read_entries(text, first_line, carry_on=False):
        start = 0
        for part in entry.text.split(","):
            if part.strip():
                found.append(entry.piece(start, start + len(part)))
            start += len(part) + 1
    return found


def _join(parts: list[tuple[str, int, int]]) -> Entry:
    starts = []
    length = 0
    for words, line, column in parts:
        starts.append((length, line, column))
        length += len(words) + 1
    return Entry(" ".join(words for words, _, _ in parts), tuple(starts))


def choose(word: str, known: Iterable[str], kind: str) -> str:
    """The one of ``known`` that a word is, whatever its case.

    Raises Wrong, with a suggestion, where it is none of them; ``kind`` says what they are.
    """
    spellings = list(known)
    for each in spellings:
        if word.casefold() == each.casefold():
            return each
    near = nearest(word, spellings)
    mend = f"Did you mean '{near}'?" if near else f"Write {listed(spellings)}."
    raise Wrong(f"'{word}' is not {kind}.", mend)
