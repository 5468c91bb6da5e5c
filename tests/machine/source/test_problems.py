"""What is told of a text: on a line of a terminal, beside the text, and what was meant instead."""

from __future__ import annotations

import time
from difflib import get_close_matches
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.lesson.entries import Wrong
from app.machine.source.problems import (
    LONGEST_NEAR,
    LONGEST_SENTENCE,
    MOST_KNOWN,
    SHOWN_AROUND,
    Problem,
    nearest,
    printable,
    shortened,
)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("caf\N{LATIN SMALL LETTER E WITH ACUTE} \N{GRINNING FACE}", None),
        ("\x1b[31m", r"\x1b[31m"),
        ("a\nb\tc\r", r"a\nb\tc\r"),
        ("\x9b2J", r"\x9b2J"),
        ("\udcff", r"\udcff"),
        ("\N{RIGHT-TO-LEFT OVERRIDE}\N{LINE SEPARATOR}", r"\u202e\u2028"),
    ],
)
def test_printable(text: str, shown: str | None) -> None:
    assert printable(text) == (text if shown is None else shown)


@given(st.text(st.characters()))
def test_whatever_is_printable_is_one_line_that_can_be_written(text: str) -> None:
    shown = printable(text)
    assert len(shown.splitlines()) <= 1
    assert shown.encode().decode() == shown and "\x1b" not in shown


def test_a_problem_is_one_line_of_some_length() -> None:
    said = str(Problem(3, 4, 1, f"There is no '{'x' * 5000}\x07' here.", "Write\nanother.", True))
    assert said.startswith("3:4: warning: There is no 'xxx") and said.endswith(
        r"here. Write\nanother."
    )
    assert len(said) < LONGEST_SENTENCE + 100


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("a\u202eb\u2066c", r"a\u202eb\u2066c"),
        ("\u200bprogram", r"\u200bprogram"),
        ("\x9b2J\ufeff\uffff", r"\x9b2J\ufeff\uffff"),
        # Ordinary words of any language, and the signs within them, stay as they are.
        ("\u05e9\u05dc\u05d5\u05dd\u200f!", None),
        ("\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645", None),
        ("\N{WOMAN}\u200d\N{ROCKET}\ufe0f", None),
    ],
)
def test_words_in_a_sentence_turn_nothing_round_and_hide_nothing(
    words: str, shown: str | None
) -> None:
    said = f"There is no '{words}' here."
    expected = said if shown is None else f"There is no '{shown}' here."
    assert (Problem(1, 1, 1, said, said).what, Problem(1, 1, 1, said, said).mend) == (
        expected,
        expected,
    )
    assert (Wrong(said, said).what, Wrong(said, said).mend) == (expected, expected)


@given(st.text(), st.integers(3, 50))
def test_shortened_keeps_both_ends(words: str, most: int) -> None:
    short = shortened(words, most)
    assert len(short) <= most
    half = (most - 1) // 2
    assert short == words or (short.startswith(words[:half]) and short.endswith(words[-half:]))


def test_the_line_of_a_problem_is_shown_around_its_mark() -> None:
    lines = ["first", "a" * 500 + "WRONG" + "b" * 500, ""]
    before, inside, after = Problem(2, 501, 5, "", "").marked(lines) or ("", "", "")
    assert inside == "WRONG"
    assert before == "\N{HORIZONTAL ELLIPSIS}" + "a" * SHOWN_AROUND
    assert after == "b" * SHOWN_AROUND + "\N{HORIZONTAL ELLIPSIS}"
    assert Problem(1, 1, 5, "", "").marked(lines) == ("", "first", "")
    assert Problem(3, 1, 1, "", "").marked(lines) == ("", "", "")
    assert Problem(4, 1, 1, "", "").marked(lines) is None
    whole = Problem(2, 1, 1005, "", "").marked(lines)
    assert whole is not None and len(whole[1]) <= 2 * SHOWN_AROUND


# Of these letters no word is made that turns another round, as 'de' and 'un' do.
WORDS = st.text("abcdfABC", min_size=1, max_size=12)


@given(WORDS, st.lists(WORDS, max_size=20, unique_by=str.casefold))
def test_the_nearest_is_that_of_comparing_with_all(word: str, known: list[str]) -> None:
    """The search that is told which to compare finds what one through all of them finds."""
    plain = {each.casefold(): each for each in known}
    found = get_close_matches(word.casefold(), plain, n=1, cutoff=0.6)
    if found:
        assert nearest(word, known) == plain[found[0]]


def test_the_nearest_of_many_shuffled_words_takes_a_bounded_time() -> None:
    draw = Random(1)
    letters = [*"abcdefghijklmnopqrstuvwxyzabcdefghijklmn"]

    def word() -> str:
        draw.shuffle(letters)
        return "".join(letters)

    known = [word() for _ in range(20 * MOST_KNOWN)]
    start = time.process_time()
    for _ in range(20):
        nearest(word(), known)
    assert time.process_time() - start < 2.0
    assert nearest("a" * (LONGEST_NEAR + 1), ["a" * LONGEST_NEAR]) is None
    assert nearest("a" * LONGEST_NEAR, ["a" * (LONGEST_NEAR + 1)]) is None
