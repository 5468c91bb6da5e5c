"""A cache as a lesson writes it: ``4 lines of 4 words``, also ``4 lines of 4 words, 2-way``.

It stands in the header, or under the heading of a scene that has another; there ``none`` leaves
it out. ``memory takes: 10 ticks`` in the header says how slow memory is.
"""

from __future__ import annotations

import re

from app.lesson.entries import Wrong
from app.machine.telling.counts import counted
from app.machine.watching.cache import (
    MOST_LINES,
    MOST_MEMORY_TICKS,
    MOST_WAYS,
    MOST_WORDS,
    CacheShape,
)

_SHAPE = re.compile(
    r"(\d{1,4}) lines? of (\d{1,4}) words?"
    r"(?:[ ,]+(?:(\d{1,2})[- ]ways?|(direct[- ]mapped)))?"
)
_EXAMPLE = "Write for example '4 lines of 4 words', or '4 lines of 4 words, 2-way'."
NONE = "none"


def read_cache(text: str) -> CacheShape | None:
    """The cache that a line asks for, memory as slow as usual; None for ``none``. Raises Wrong."""
    plain = " ".join(text.casefold().split())
    if plain == NONE:
        return None
    found = _SHAPE.fullmatch(plain)
    if not found:
        raise Wrong(f"'{text}' is not a cache.", _EXAMPLE)
    lines, words, ways = int(found[1]), int(found[2]), int(found[3] or 1)
    for number, most, kind in (
        (lines, MOST_LINES, "lines"),
        (words, MOST_WORDS, "words in a line"),
        (ways, MOST_WAYS, "ways"),
    ):
        if number not in _powers(most):
            known = ", ".join(map(str, _powers(most)))
            raise Wrong(f"A cache cannot have {number} {kind} here.", f"Choose one of {known}.")
    if ways > lines:
        raise Wrong("A 2-way cache has 2 lines or more.", _EXAMPLE)
    return CacheShape(lines, words, ways)


def _powers(most: int) -> list[int]:
    return [1 << each for each in range(most.bit_length()) if 1 << each <= most]


def read_memory_ticks(text: str) -> int:
    """How many ticks memory takes: ``10 ticks``. Raises Wrong."""
    found = re.fullmatch(r"(\d{1,6})(?: ticks?)?", " ".join(text.casefold().split()))
    ticks = int(found[1]) if found else 0
    if not 1 <= ticks <= MOST_MEMORY_TICKS:
        raise Wrong(
            f"'{text}' is not a time that memory can take.",
            f"Write 1 to {MOST_MEMORY_TICKS}, as in '10 ticks'.",
        )
    return ticks


def in_words(shape: CacheShape) -> str:
    """A shape as it is written: ``4 lines of 4 words, 2-way``."""
    size = f"{counted(shape.lines, 'line')} of {counted(shape.words, 'word')}"
    return size + (f", {shape.ways}-way" if shape.ways > 1 else "")


def in_full(shape: CacheShape) -> str:
    """A shape for those who look at it: ``4 lines of 4 words, direct mapped``."""
    return in_words(shape) + ("" if shape.ways > 1 else ", direct mapped")
