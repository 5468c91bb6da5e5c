"""Input and output as the board shows them: as many values as there is room for, and how many
more there are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

# A device beside the processor has a column for its values, so many units of the drawing high;
# one below it a row, so many characters long. See static/css/board.css.
COLUMN_UNITS = 232
LINE_UNITS, SMALL_LINE_UNITS = 44, 33
MORE_UNITS = 45
ROW_CHARACTERS = 17
# A longer text is set smaller, and one that is longer still stands on two lines.
LARGE_CHARACTERS, LINE_CHARACTERS = 6, 9
# No device has room for more values than this.
MOST_IN_SIGHT = 9


@dataclass(frozen=True, slots=True)
class Value:
    """A text before and after the step; ``changed`` is whether the step put it there."""

    was: str
    now: str
    changed: bool = False


@dataclass(frozen=True, slots=True)
class Queue:
    """The values of a device, the next or the newest first, of ``count`` in all: how many of
    them a column and a row have room for."""

    values: tuple[Value, ...]
    count: int
    in_column: int
    in_row: int

    @property
    def more_than_column(self) -> int:
        return self.count - self.in_column

    @property
    def more_than_row(self) -> int:
        return self.count - self.in_row


def queue(values: Sequence[Value], count: int) -> Queue:
    """The queue of some values, of which there are ``count`` in all; those further back than
    :data:`MOST_IN_SIGHT` need not be given."""
    values = values[:MOST_IN_SIGHT]
    heights = [_height(len(each.now)) for each in values]
    widths = [len(each.now) + (at > 0) for at, each in enumerate(values)]
    column = _fitting(heights, COLUMN_UNITS, MORE_UNITS, count)
    row = _fitting(widths, ROW_CHARACTERS, 0, count)
    return Queue(tuple(values[: max(column, row)]), count, column, row)


def _height(characters: int) -> int:
    if characters <= LARGE_CHARACTERS:
        return LINE_UNITS
    return SMALL_LINE_UNITS * (1 if characters <= LINE_CHARACTERS else 2)


def _fitting(sizes: Sequence[int], room: int, more: int, count: int) -> int:
    """How many fit, where what says how many more there are takes room as well; one always."""
    if count == len(sizes) and sum(sizes) <= room:
        return count
    fitting = 0
    taken = more
    for size in sizes:
        taken += size
        if taken > room:
            break
        fitting += 1
    return max(fitting, min(1, count))
