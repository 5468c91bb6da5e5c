"""How many of something, as it is said: ``1 tick``, ``2 ticks``, ``1,000 presses``."""

from __future__ import annotations


def counted(number: int, word: str) -> str:
    """A number with a word of which there may be one, none or several."""
    return f"{number:,} {word if number == 1 else plural(word)}"


def plural(word: str) -> str:
    """Several of what a word names."""
    return f"{word}{'es' if word.endswith(('s', 'x', 'ch', 'sh')) else 's'}"
