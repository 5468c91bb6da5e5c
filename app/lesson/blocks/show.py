"""The parts that a scene has on stage at its start."""

from __future__ import annotations

import re

from app.lesson.entries import Piece, Wrong, read_entries, too_many
from app.lesson.parts import all_parts, find_parts, split_names
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.source.problems import MOST_FAULTS, Problem

MOST_NAMES = 60
_EVERYTHING_BUT = re.compile(r"(?:everything|all) but\s+", re.IGNORECASE)


def read_show(
    text: str, first_line: int, machine: Machine = EIGHT_BIT
) -> tuple[frozenset[str], list[Problem]]:
    """The parts that a ``show`` block puts on stage: names set apart by commas, 'and' or lines.

    After 'everything but' come those of a line that are left out.
    """
    shown: set[str] = set()
    problems: list[Problem] = []
    left_out: set[str] = set()
    pieces: list[Piece] = []
    leaves_out: set[Piece] = set()
    for entry in read_entries(text, first_line, carry_on=False):
        but = _EVERYTHING_BUT.match(entry.text)
        shift = but.end() if but else 0
        spans = split_names(entry.text[shift:])
        named = [entry.piece(shift + start, shift + end) for start, end in spans]
        pieces += named
        if but:
            shown |= all_parts(machine)
            leaves_out.update(named)
    for piece in pieces[:MOST_NAMES]:
        if len(problems) == MOST_FAULTS:
            problems.append(too_many(piece))
            return frozenset(shown - left_out), problems
        try:
            named_parts = find_parts(piece.text, machine)
            (left_out if piece in leaves_out else shown).update(named_parts)
        except Wrong as wrong:
            problems.append(piece.problem(wrong.what, wrong.mend))
    for piece in pieces if leaves_out and not problems else ():
        if piece not in leaves_out:
            what = f"'{piece.text}' is not in the line of 'everything but', so it is shown."
            mend = "Write it in that line to leave it out."
            problems.append(piece.problem(what, mend, warning=True))
            break
    if len(pieces) > MOST_NAMES:
        what = f"The block has {len(pieces)} names."
        problems.append(pieces[MOST_NAMES].problem(what, "Write each part once."))
    if not pieces:
        what = "The 'show' block names no part."
        mend = "Write the parts on stage, as in 'main memory, control unit', or 'nothing'."
        problems.append(Problem(first_line, 1, 1, what, mend))
    return frozenset(shown - left_out), problems
