"""The figure of readability: its formula by hand, and its syllables by a dictionary."""

from __future__ import annotations

import pytest

from tests.readability import Readability, readability, syllables

# As an English dictionary divides them, from memory.
COUNTED = {
    "the": 1, "jump": 1, "takes": 1, "moved": 1, "stored": 1, "address": 2, "number": 2,
    "program": 2, "counter": 2, "memory": 3, "register": 3, "instruction": 3, "accumulator": 5,
    "control": 2, "unit": 2, "operand": 3, "opcode": 2, "copied": 2, "added": 2, "halted": 2,
    "value": 2, "table": 2, "label": 2, "same": 1, "machine": 2, "because": 2, "question": 2,
    "output": 2, "being": 2, "idea": 3, "area": 3, "boxes": 2, "places": 2, "changes": 2,
    "whole": 1, "while": 1, "line": 1, "piece": 1, "people": 2, "executed": 4, "decode": 2,
    "arithmetic": 4, "logic": 2, "binary": 3, "ready": 2, "carried": 2, "below": 2, "nought": 1,
    "usual": 3, "equal": 2, "previous": 3, "various": 3, "square": 1, "sentence": 2, "pupils": 2,
}  # fmt: skip


@pytest.mark.parametrize(("word", "count"), COUNTED.items())
def test_syllables(word: str, count: int) -> None:
    assert syllables(word) == count


def test_what_is_no_word_is_one_syllable() -> None:
    assert [syllables(each) for each in ("LOAD", "#5", "13", "0xD")] == [1, 1, 1, 1]
    assert syllables("two-digit") == 3


def test_the_formula() -> None:
    # Six words of one syllable each: 0.39 x 6 + 11.8 - 15.59.
    found = readability(["The cat sat on the mat."])
    assert found == Readability(sentences=1, words=6, syllables=6)
    assert found.grade == pytest.approx(-1.45)
    two = readability(["Memory keeps numbers. Nothing moves.", "It is copied!"])
    assert (two.sentences, two.words) == (3, 8)


def test_longer_words_and_sentences_are_harder() -> None:
    easy = readability(["The number goes to memory."])
    hard = readability(["The arithmetical consideration is communicated to memory afterwards."])
    assert easy.grade < hard.grade
    with pytest.raises(ValueError, match="nothing"):
        readability(["... !"])
