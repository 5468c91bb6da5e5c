"""Signs that nobody sees: told by their codes where they are in the way, and else left out."""

from __future__ import annotations

import re
from unicodedata import category

from app.machine.source.problems import code_of

# What no screen shows, and what turns round the words after it: a title and a scene's name stand in
# lines with others.
UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufffe\uffff]")
# What no header can have as it is, by the rules of YAML.
REFUSED = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ufffe\uffff]")
# And what is not seen between others; some of it has its place within words of some languages, and
# between the parts of a picture.
_NOT_SEEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\xad\u034f\u061c\u115f\u1160\u180e\u200b-\u200f\u2028-\u202e"
    "\u2060-\u206f\u3164\ufe00-\ufe0f\ufeff\uffa0\ufff9-\ufffb\ufffe\uffff\U000e0000-\U000e01ef]"
)
# What changes what a line of a block says, and nobody sees: controls, ends of a line, what turns
# numbers round; and, behind one of our own letters or signs, what has its place between those of
# other languages, or after a picture. (A digit with U+FE0F and U+20E3 is a picture, too.)
_MISLEADING = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202d\u202e\ufffe\uffff]"
    f"|(?<![^\x00-\x7f])(?!\ufe0f\u20e3){_NOT_SEEN.pattern}"
)
# What says in which direction words go on has its place in a line with letters that are written to
# the left.
_DIRECTIONS = re.compile("[\u061c\u200e\u200f\u202a-\u202c\u2066-\u2069]")
_TO_THE_LEFT = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]")


def misleading(line: str) -> tuple[int, str] | None:
    """The place and the code of the first sign in a line of a block that nobody sees, and that
    changes what it says."""
    if _TO_THE_LEFT.search(line):
        line = _DIRECTIONS.sub("\u05d0", line)  # as a letter of such a word
    found = _MISLEADING.search(line)
    return (found.start(), code_of(found[0])) if found else None


def without_unseen(line: str) -> str:
    """A line without any sign that is not seen in it."""
    return _NOT_SEEN.sub("", line)


def first_unseen(line: str) -> tuple[int, str]:
    """The place of the first such sign in a line that has one, and its code."""
    found = _NOT_SEEN.search(line)
    assert found
    return found.start(), code_of(found[0])


def as_shown(words: str) -> str:
    """Words as they stand in a line with others: without signs that no screen shows, and with one
    space between them; empty where nothing of them would be seen."""
    plain = in_line(words)
    return plain if any(map(_is_seen, without_unseen(plain))) else ""


def _is_seen(sign: str) -> bool:
    """Whether one of the other signs is seen by itself. (One newer than this Python may be.)"""
    kind = category(sign)
    return kind[0] not in "MZ" and kind not in ("Cc", "Cf", "Cs")


def in_line(words: str) -> str:
    """The same of any words, whether they would be seen or not."""
    return " ".join(UNSEEN.sub(" ", words).split())


def stands_here(code: str) -> str:
    """What is wrong where a sign of such a code stands."""
    return f"A sign that nobody sees ({code}) stands here."
