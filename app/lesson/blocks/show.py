"""The parts that a scene has on stage at its start."""

from __future__ import annotations

from app.lesson.entries import Wrong, read_entries, too_many
from app.lesson.parts import find_parts, split_names
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.source.problems import MOST_FAULTS, Problem

MOST_NAMES = 60


def read_show(
    text: str, first_line: int, machine: Machine = EIGHT_BIT
) -> tuple[frozenset[str], list[Problem]]:
    """The parts that a ``show`` block puts on stage: names set apart by commas, 'and' or lines."""
    shown: set[str] = set()
    problems: list[Problem] = []
    pieces = [
        entry.piece(start, end)
        for entry in read_entries(text, first_line, carry_on=False)
        for start, end in split_names(entry.text)
    ]
    for piece in pieces[:MOST_NAMES]:
        if len(problems) == MOST_FAULTS:
            problems.append(too_many(piece))
            return frozenset(shown), problems
        try:
            shown.update(find_parts(piece.text, machine))
        except Wrong as wrong:
            problems.append(piece.problem(wrong.what, wrong.mend))
    if len(pieces) > MOST_NAMES:
        what = f"The block has {len(pieces)} names."
        problems.append(pieces[MOST_NAMES].problem(what, "Write each part once."))
    if not pieces:
        what = "The 'show' block names no part."
        mend = "Write the parts on stage, as in 'main memory, control unit', or 'nothing'."
        problems.append(Problem(first_line, 1, 1, what, mend))
    return frozenset(shown), problems
