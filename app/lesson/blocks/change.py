"""A scene that runs the program of the scene before with other numbers, or other instructions.

::

    cans: 5
    again: SUBTRACT #2

Each line is one of the program's, as it would stand there: the label that the program has, and what
is written behind it from now on.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import islice

from app.lesson.entries import Entry, Piece, read_entries, too_many
from app.machine.characters import split_comment
from app.machine.source.assembler import Program, assemble
from app.machine.source.problems import MOST_FAULTS, Problem, nearest
from app.machine.words import NotANumber, parse_number

# All of the program is read again for each scene that changes it.
LONGEST_SOURCE = 8_000
_LABELS = re.compile(r"\s*(?:[^\W\d]\w*\s*:\s*)*")
_EXAMPLE = "Write a label of the program, a colon, and what stands there now, as in 'cans: 5'."


def read_change(program: Program, text: str, first_line: int) -> tuple[Program, list[Problem]]:
    """The program with the lines of a ``change`` block in place of its own; as it was, where the
    block has a fault."""
    if len(program.source) > LONGEST_SOURCE:
        what = f"The program before has {len(program.source):,} letters: too many to change it."
        mend = f"Leave it under {LONGEST_SOURCE + 1:,} with its comments, or write it again here."
        return program, [Problem(first_line - 1, 1, 3, what, mend)]
    problems: list[Problem] = []
    lines = program.source.split("\n")
    changed: dict[int, tuple[Piece, int]] = {}  # by line, what was written, and where it stands now
    entries = read_entries(text, first_line, carry_on=False)
    if not entries:
        return program, [Problem(first_line - 1, 1, 3, "This block changes nothing.", _EXAMPLE)]
    for entry in entries:
        if len(problems) == MOST_FAULTS:
            problems.append(too_many(entry.whole))
            break
        found = _read_line(program, entry)
        if isinstance(found, Problem):
            problems.append(found)
            continue
        line, said = found
        if line in changed:
            problems.append(entry.whole.problem("This line is changed twice.", "Leave one out."))
            continue
        lines[line - 1], column = _with(lines[line - 1], said.text)
        changed[line] = (said, column)
    if problems:
        return program, problems
    made = assemble(program.machine, "\n".join(lines))
    if made.problems:
        return program, [_here(each, changed, first_line) for each in made.problems]
    warnings = [_here(each, changed, first_line) for each in made.warnings if each.line in changed]
    warnings += islice(_more_in_comments(program, changed.values()), MOST_FAULTS)
    for said, _ in changed.values() if made.words == program.words else ():
        what = f"The program has '{said.text}' there already."
        warnings.append(said.problem(what, "Write another number, or leave it out.", warning=True))
    return made, warnings


def _read_line(program: Program, entry: Entry) -> tuple[int, Piece] | Problem:
    """The line of the program that is meant, counted from 1, and what is to stand there."""
    halves = entry.at_colon()
    if not halves or not halves[0].text or not split_comment(halves[1].text)[0].strip():
        return entry.whole.problem("Here a line of the program is to be changed.", _EXAMPLE)
    label, said = halves
    address = program.address_of(label.text)
    if address is None:
        near = nearest(label.text, program.labels.values())
        mend = f"Did you mean '{near}'?" if near else "Give the line that label in the program."
        what = f"No line of the program before has the label '{label.text}'."
        return label.problem(what, mend)
    return program.origins[address].line, said


def _more_in_comments(program: Program, said: Iterable[tuple[Piece, int]]) -> Iterator[Problem]:
    """Warnings of comments that read like another line to change."""
    for piece, _ in said:
        code, _, comment = split_comment(piece.text)
        label, colon, rest = comment.partition(":")
        if colon and _is_code(program, rest) and program.address_of(label.strip()) is not None:
            what = f"What follows ';' is a comment, so '{label.strip()}' is not changed."
            column = piece.column + len(code) + 1
            mend = "Write it in a line of its own."
            yield Problem(piece.line, column, len(comment), what, mend, warning=True)


def _is_code(program: Program, text: str) -> bool:
    """Whether a text is a number, or starts with an instruction."""
    if text.split()[:1] and text.split()[0].upper() in program.machine.names:
        return True
    try:
        parse_number(text)
    except NotANumber:
        return False
    return True


def _with(line: str, said: str) -> tuple[str, int]:
    """A line of the program with something else behind its labels, and the column of that. Its
    comment stays, unless there is a new one."""
    code, semicolon, comment = split_comment(line)
    labels = _LABELS.match(code)
    start = labels[0] if labels else ""
    if split_comment(said)[1] or not semicolon:
        return f"{start}{said}", len(start) + 1
    gap = max(len(code) - len(start) - len(said), 1)
    return f"{start}{said}{' ' * gap};{comment}", len(start) + 1


def _here(problem: Problem, changed: dict[int, tuple[Piece, int]], first_line: int) -> Problem:
    """A problem of the changed program, where in the block it was written."""
    if problem.line not in changed:
        return Problem(first_line - 1, 1, 3, problem.what, problem.mend, problem.warning)
    said, column = changed[problem.line]
    return problem.moved(said.line - problem.line, said.column - column)
