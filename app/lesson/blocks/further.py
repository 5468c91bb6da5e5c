"""Further cases of a task, other ones at each check, so that a table of the written cases is no
program that does the task.

Which inputs may come is told by the lesson (``further 2 to 40 by 2``) or else by the written cases:
as many inputs as they have, each between the smallest and the largest of those in its place, and
in the same steps. What must come out is what the lesson's own ``solution`` gives.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from math import gcd
from random import Random

from app.lesson.entries import Piece, Wrong
from app.machine.machine import Machine
from app.machine.requests import Request
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.state import Ending

MOST_FURTHER = 8
# How many sets of inputs are tried, for some are written already, or are none for the solution.
_MOST_TRIES = 24
_EXAMPLE = "Write for example 'further 2 to 40 by 2', with a comma before the next input."
# Longer numbers fit no word, and Python reads none of thousands of digits.
_RANGE = re.compile(
    r"(?P<first>-?[0-9]{1,9})(?:\s+to\s+(?P<last>-?[0-9]{1,9})(?:\s+by\s+(?P<by>[0-9]{1,9}))?)?",
    re.IGNORECASE,
)

# The values that each input of a case may have, as signed numbers.
Shape = tuple[range, ...]


def read_shape(machine: Machine, piece: Piece) -> Shape:
    """The values that the inputs of a further case may have: ``2 to 40 by 2, 0``.

    Raises Wrong for what cannot be read.
    """
    return tuple(_read_range(machine, each.strip()) for each in piece.text.split(","))


def _read_range(machine: Machine, text: str) -> range:
    found = _RANGE.fullmatch(text)
    if not found:
        raise Wrong(f"'{text}' does not say which inputs may come.", _EXAMPLE)
    first = int(found["first"])
    last = int(found["last"] or first)
    by = int(found["by"] or 1)
    if min(first, last) < machine.smallest or max(first, last) > machine.largest:
        what = f"'{text}' does not fit a word of {machine.word_bits} bits."
        raise Wrong(what, f"Use numbers from {machine.smallest} to {machine.largest}.")
    if last < first or by < 1:
        raise Wrong(f"There is no number in '{text}'.", "Write the smaller number first.")
    return range(first, last + 1, by)


def shapes_of(machine: Machine, written: Iterable[tuple[int, ...]]) -> tuple[Shape, ...]:
    """The shapes that the inputs (bit patterns) of the written cases show."""
    by_length: dict[int, list[tuple[int, ...]]] = {}
    for inputs in written:
        by_length.setdefault(len(inputs), []).append(tuple(map(machine.signed, inputs)))
    return tuple(
        tuple(_range_of(values) for values in zip(*cases, strict=True))
        for length, cases in by_length.items()
        if length and len(cases) > 1
    )


def _range_of(values: tuple[int, ...]) -> range:
    smallest = min(values)
    return range(smallest, max(values) + 1, gcd(*(each - smallest for each in values)) or 1)


def further_runs(
    solution: Program,
    shapes: tuple[Shape, ...],
    written: Iterable[tuple[int, ...]],
    draw: Random,
    limit: int,
    requests: Sequence[Request] = (),
) -> Iterator[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Inputs and outputs (bit patterns) of at most MOST_FURTHER further cases, none of them
    written. Inputs for which the solution does not halt, or leaves some, are no case."""
    machine = solution.machine
    known = set(written)
    made = 0
    for _ in range(_MOST_TRIES if shapes else 0):
        inputs = tuple(machine.pattern(draw.choice(each)) for each in draw.choice(shapes))
        if inputs in known:
            continue
        known.add(inputs)
        run = Run(machine, solution.words, inputs, limit, requests)
        end = run.finish()
        if end.ending is not Ending.HALTED or end.taken != len(inputs):
            continue
        yield inputs, run.outputs(end.sent)
        made += 1
        if made == MOST_FURTHER:
            return
