"""What is wrong in a text that a person wrote: where, what, and how to mend it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher, get_close_matches
from heapq import nlargest
from itertools import islice

# So many faults of one block are told; whoever mends those sees the rest then.
MOST_FAULTS = 20
# A longer sentence, which has somebody's words in it, is shown without its middle.
LONGEST_SENTENCE = 300
# How much of a line is shown around what is wrong with it.
SHOWN_AROUND = 60
# Nobody means one of many, or so long a word, by a slip of the hand.
LONGEST_NEAR = 40
MOST_KNOWN = 600
MOST_COMPARED = 24
# Somebody's words in a sentence of ours; the apostrophe in "the header's" opens nothing.
_QUOTED = re.compile(r"((?<!\w)'[^']*')")
# Halves of characters, which can be written nowhere; what turns round the words after it; and what
# nobody sees, but for the signs that join the letters of some languages or the parts of a picture.
_ODD = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\xad\u180e\u200b\u202a-\u202e\u2060-\u2069\ud800-\udfff"
    "\ufeff\ufffe\uffff]"
)
# What some keyboards write for a colon.
OTHER_COLONS = "\N{FULLWIDTH COLON}\N{SMALL COLON}\N{RATIO}\N{MODIFIER LETTER COLON}"
_ALIKE = 0.6  # of two words that share all their letters 1, of two that share none 0


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One fault (or, with ``warning``, something that is allowed but surely not meant).

    ``line`` and ``column`` count from 1; ``length`` is how many characters the mark covers.
    ``what`` and ``mend`` are whole sentences; of a very long one the middle is left out.
    """

    line: int
    column: int
    length: int
    what: str
    mend: str
    warning: bool = False

    def __post_init__(self) -> None:
        for name in ("what", "mend"):
            words = legible(getattr(self, name))
            object.__setattr__(self, name, shortened(words, LONGEST_SENTENCE))

    def moved(self, lines: int, columns: int = 0) -> Problem:
        """The same problem in a larger text in which this one starts later."""
        return replace(self, line=self.line + lines, column=self.column + columns)

    def told(self, say: Callable[[str], str]) -> Problem:
        """The same problem in other words: ``say`` puts our own into them. What stands in quotes
        in ``what`` is the author's."""
        parts = _QUOTED.split(self.what)
        parts[::2] = map(say, parts[::2])
        return replace(self, what="".join(parts), mend=say(self.mend))

    def __str__(self) -> str:
        kind = "warning: " if self.warning else ""
        said = f"{self.line}:{self.column}: {kind}{self.what} {self.mend}".rstrip()
        return printable(said)

    def marked(self, lines: Sequence[str]) -> tuple[str, str, str] | None:
        """The line of the text that it stands in, before, in and after the mark; not all of a
        long one. None where the text has no such line."""
        if self.line > len(lines):
            return None
        line = lines[self.line - 1]
        start = self.column - 1
        end = start + self.length
        before, inside, after = line[:start], line[start:end], line[end:]
        if len(before) > SHOWN_AROUND:
            before = _LEFT_OUT + before[-SHOWN_AROUND:]
        if len(after) > SHOWN_AROUND:
            after = after[:SHOWN_AROUND] + _LEFT_OUT
        return before, shortened(inside, 2 * SHOWN_AROUND), after


_LEFT_OUT = "\N{HORIZONTAL ELLIPSIS}"


def shortened(words: str, most: int) -> str:
    """Words without their middle where they are longer than ``most``."""
    if len(words) <= most:
        return words
    half = (most - 1) // 2
    return f"{words[:half]}{_LEFT_OUT}{words[-half:]}"


# Control characters, line ends that only some programs know, signs that turn the direction of
# writing, and halves of characters, as a file name has them that is no UTF-8.
_HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"
)


def printable(text: str) -> str:
    """A text as one line that does nothing to a terminal: what is no visible sign is spelled out,
    as ``\\x1b`` or ``\\n``."""
    return _HIDDEN.sub(_spelled_out, text)


def legible(sentence: str) -> str:
    """A sentence that quotes what somebody wrote: what nobody could read in it is spelled out."""
    return _ODD.sub(_spelled_out, sentence)


def place_at(text: str, index: int) -> tuple[int, int]:
    """The line and column, from 1, of a character."""
    before = text[:index]
    return before.count("\n") + 1, len(before) - before.rfind("\n")


def code_of(sign: str) -> str:
    """The code of a sign, as tables of characters have it: ``U+200B``."""
    return f"U+{ord(sign):04X}"


def like_a_colon(sign: str) -> str:
    """What is wrong with one of OTHER_COLONS."""
    return f"'{sign}' ({code_of(sign)}) only looks like a colon."


def _spelled_out(sign: re.Match[str]) -> str:
    return sign[0].encode("unicode_escape").decode("ascii")


def not_read(line: int, column: int, length: int) -> Problem:
    """Says that a block was not read from here on."""
    what = f"The block has {MOST_FAULTS} faults before this, so the rest was not read."
    return Problem(line, column, length, what, "Mend those first.")


def lines_of(text: str) -> list[str]:
    """The lines of a text as an editor counts them.

    ``str.splitlines`` would also split at form feeds and other characters that stand within a
    line, and every problem after one would name the wrong line.
    """
    return re.split(r"\r\n|\r|\n", text)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that was probably meant, in its own spelling; None where none is near.

    It may also be the only one that starts so. However many are known, and however long they are,
    this takes a bounded time: the first MOST_KNOWN are looked at, and those compared letter by
    letter that share the most letters with the word.
    """
    if len(word) > LONGEST_NEAR:
        return None
    spelling = {
        each.casefold(): each for each in islice(known, MOST_KNOWN) if len(each) <= LONGEST_NEAR
    }
    typed = word.casefold()
    letters = Counter(typed)
    shares = {each: _share(letters, len(typed), each) for each in spelling}
    alike = nlargest(
        MOST_COMPARED,
        (each for each in shares if shares[each] >= _ALIKE),
        lambda each: shares[each],
    )
    near = get_close_matches(typed, alike, n=1, cutoff=_ALIKE)
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


def _share(letters: Counter[str], count: int, other: str) -> float:
    """The most that two words can be alike, going by their letters in any order."""
    total = count + len(other)
    if 2 * min(count, len(other)) < _ALIKE * total:
        return 0.0
    return 2 * (letters & Counter(other)).total() / total if total else 1.0


def listed(words: Iterable[str], joint: str = "or") -> str:
    """``a, b or c``; with another ``joint`` before the last, ``a, b and c``."""
    *first, last = words
    return f"{', '.join(first)} {joint} {last}" if first else last


def capital(words: str) -> str:
    """The same words, starting with a capital letter."""
    return words[:1].upper() + words[1:]
