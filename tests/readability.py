"""How easy a text is to read: the grade of Flesch and Kincaid.

    grade = 0.39 words/sentences + 11.8 syllables/words - 15.59

J. P. Kincaid, R. P. Fishburne, R. L. Rogers and B. S. Chissom, *Derivation of new readability
formulas for Navy enlisted personnel*, Research Branch Report 8-75, Naval Technical Training
Command, 1975. The grade is a school year of the United States; pupils of grade 6 are 11 to 12.

A sentence ends at a full stop, a question mark or an exclamation mark, and not at a colon or a
semicolon, which makes the figure the stricter one. Syllables are counted by a rule of thumb: groups
of vowels, less the silent endings. Numbers, names of instructions and what stands in code are words
of one syllable each: nobody spells them out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

FORMULA = "0.39 words/sentences + 11.8 syllables/words - 15.59"
SOURCE = "Kincaid et al. 1975, Research Branch Report 8-75"

_WORD = re.compile(r"#?[^\W_]+(?:['\N{RIGHT SINGLE QUOTATION MARK}-][^\W_]+)*")
_END = re.compile(r"[.?!]+(?=[\s'\")]|$)")
# Vowels that stand beside each other and are spoken apart.
_APART = re.compile(r"(?<![tscg])i[aou]|(?<=[dr])ea$|(?<![qg])ua(?!r)|eing|oing|cre[ao]")


@dataclass(frozen=True)
class Readability:
    """Of some sentences: how many there are, and what there is in them."""

    sentences: int
    words: int
    syllables: int

    @property
    def grade(self) -> float:
        return 0.39 * self.words / self.sentences + 11.8 * self.syllables / self.words - 15.59


def syllables(word: str) -> int:
    """How many syllables a word has, by rule of thumb; 1 for what is no English word."""
    if not word.isalpha() or word.isupper():
        return sum(syllables(part) for part in word.split("-")) if "-" in word.strip("-") else 1
    word = word.lower()
    stem = re.sub(
        r"(?:(?<![aeiouytd])ed|(?<=[^aeiouyl])e|(?<=[aeiouy]l)e|(?<=[^cgsxzaeiouyh])es)$", "", word
    )
    groups = re.findall("[aeiouy]+", stem)
    return max(len(groups) + len(_APART.findall(stem)), 1)


def readability(texts: Iterable[str]) -> Readability:
    """Of texts that each hold whole sentences. Raises ValueError where there is no word."""
    sentences = words = beats = 0
    for text in texts:
        for sentence in _END.split(text):
            found = _WORD.findall(sentence)
            if found:
                sentences += 1
                words += len(found)
                beats += sum(syllables(each) for each in found)
    if not words:
        raise ValueError("there is nothing to read")
    return Readability(sentences, words, beats)
