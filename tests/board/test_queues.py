"""Input and output: what is not in sight is counted."""

from __future__ import annotations

import pytest

from app.board.queues import MOST_IN_SIGHT, Queue, Value, queue


def made(*texts: str, count: int | None = None) -> Queue:
    return queue([Value(each, each) for each in texts], len(texts) if count is None else count)


@pytest.mark.parametrize("text", ["7", "-100", "1001 1100", "0111 0101 0011 0000"])  # data
@pytest.mark.parametrize("count", [*range(12), 1000])
def test_what_is_in_sight_and_what_is_more_are_all(text: str, count: int) -> None:
    found = made(*[text] * min(count, MOST_IN_SIGHT), count=count)
    assert found.in_column + found.more_than_column == count
    assert found.in_row + found.more_than_row == count
    assert (found.in_column > 0) == (found.in_row > 0) == (count > 0)
    assert len(found.values) == max(found.in_column, found.in_row)


def test_short_values_are_all_there() -> None:
    # The numbers of a column of five lines, and of a row of seventeen characters.
    found = made("4", "-100", "127", "12", "-7")
    assert (found.more_than_column, found.in_row) == (0, 5)


def test_a_row_ends_before_what_does_not_fit() -> None:
    found = made("30000", "-32768", "12345", "1")
    assert found.in_row == 2


def test_a_word_that_fills_the_row_is_there_all_the_same() -> None:
    assert made("0111 0101 0011 0000", "1").in_row == 1
