"""What is wrong in a text that a person wrote: where, what, and how to mend it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from difflib import SequenceMatcher, get_close_matches


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One fault (or, with ``warning``, something that is allowed but surely not meant).

    ``line`` and ``column`` count from 1; ``length`` is how many characters the mark covers.
    ``what`` and ``mend`` are whole sentences.
    """

    line: int
    column: int
    length: int
    what: str
    mend: str
    warning: bool = False

    def moved(self, lines: int, columns: int = 0) -> Problem:
        """The same problem in a larger text in which this one starts later."""
        return replace(self, line=self.line + lines, column=self.column + columns)

    def __str__(self) -> str:
        kind = "warning: " if self.warning else ""
        return f"{self.line}:{self.column}: {kind}{self.what} {self.mend}".rstrip()


def lines_of(text: str) -> list[str]:
    """The lines of a text as an editor counts them.

    ``str.splitlines`` would also split at form feeds and other characters that stand within a
    line, and every problem after one would name the wrong line.
    """
    return re.split(r"\r\n|\r|\n", text)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that was probably meant, in its own spelling; None where none is near.

    It may also be the only one that starts so.
    """
    spelling = {each.casefold(): each for each in known}
    typed = word.casefold()
    near = get_close_matches(typed, spelling, n=1, cutoff=0.6)
    if not near and len(typed) > 1:
        near = [each for each in spelling if each.startswith(typed)]
    if len(near) != 1 or _turned_round(typed, near[0]):
        return None
    return spelling[near[0]]


_TURNS_ROUND = ("not", "non", "no", "un", "in", "dis", "de")


def _turned_round(typed: str, known: str) -> bool:
    """Whether a word is more like the opposite of a known one: 'unhide' is no slip for 'hide'."""

    def like(word: str) -> float:
        return SequenceMatcher(None, word, known).ratio()

    return any(
        typed.startswith(each) and like(typed.removeprefix(each).strip()) > like(typed)
        for each in _TURNS_ROUND
    )


def listed(words: Iterable[str]) -> str:
    """``a, b or c``."""
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last
