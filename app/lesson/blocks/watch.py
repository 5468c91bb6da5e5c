"""The words of memory that a scene keeps in sight beside the window of a large memory.

::

    total, price

The names are labels of the scene's program; ``nothing`` leaves the whole room to the window.
"""

from __future__ import annotations

from app.lesson.entries import Piece, read_pieces, too_many
from app.machine.machine import Machine
from app.machine.source.assembler import Program
from app.machine.source.problems import MOST_FAULTS, Problem, nearest

MOST_WATCHED = 4
_SEEN_WHOLE = 16
_NOTHING = ("nothing", "none")


def seen_whole(machine: Machine) -> bool:
    """Whether the memory of a machine is in sight whole: then nothing in it has to be watched."""
    return machine.memory_words <= _SEEN_WHOLE


def read_watch(
    program: Program, text: str, first_line: int
) -> tuple[tuple[int, ...] | None, list[Problem]]:
    """The addresses that a ``watch`` block names, in its order; None where it has a fault. There
    is a warning where the whole memory is in sight anyway."""
    pieces = read_pieces(text, first_line)
    if not pieces:
        what = "The 'watch' block names no word."
        mend = "Write labels of the program, as in 'total, price', or 'nothing'."
        return None, [Problem(first_line, 1, 1, what, mend)]
    if len(pieces) == 1 and pieces[0].text.casefold() in _NOTHING:
        return (), []
    problems: list[Problem] = []
    found: list[int] = []
    for piece in pieces:
        if len(problems) == MOST_FAULTS:
            problems.append(too_many(piece))
            break
        address = program.address_of(piece.text)
        if address is None:
            problems.append(_unknown(program, piece))
        elif address in found:
            what = f"The word labelled '{piece.text}' is named twice."
            problems.append(piece.problem(what, "Leave one of them out."))
        else:
            found.append(address)
    if len(found) > MOST_WATCHED:
        what = f"The block names {len(found)} words."
        mend = f"The board has room for {MOST_WATCHED} beside the program: choose those."
        problems.append(pieces[MOST_WATCHED].problem(what, mend))
    if not problems and seen_whole(program.machine):
        words = program.machine.memory_words
        what = f"All {words} words of this machine's memory are in sight: 'watch' does nothing."
        mend = "Leave the block out; the 16-bit machine needs it."
        problems.append(Problem(first_line - 1, 1, 3, what, mend, warning=True))
        return tuple(found), problems
    return (None if problems else tuple(found)), problems


def _unknown(program: Program, piece: Piece) -> Problem:
    labels = list(program.labels.values())
    near = nearest(piece.text, labels)
    mend = f"Did you mean '{near}'?" if near else "Give the word that label in the program."
    return piece.problem(f"No word of the program has the label '{piece.text}'.", mend)
