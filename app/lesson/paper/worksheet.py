"""Sheets for a class to write on: trace tables with blanks, and questions, each with its answers.

Everything is made from a run, so a sheet and its answers cannot disagree.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from app.lesson.blocks.interrupts import write_request
from app.machine.characters import split_comment
from app.machine.source.assembler import Program
from app.machine.source.disassembler import write_instruction
from app.machine.source.problems import lines_of
from app.machine.telling.reading import Reading

from .trace import DEVICES, Column, Rows, Trace, TraceRow, trace_table, usual_columns
from .versions import Version

# Two pages of rows that are high enough to write in.
MOST_ROWS = 48


class Support(Enum):
    """How much of a table is filled in for the pupil."""

    MORE = 1
    SOME = 2
    LESS = 3

    @property
    def words(self) -> str:
        return {
            Support.MORE: "only what each instruction puts somewhere new is left blank",
            Support.SOME: "every value is left blank",
            Support.LESS: "the instructions are left blank too",
        }[self]


@dataclass(frozen=True, slots=True)
class ListedWord:
    """One word of a program as it is printed beside a table."""

    address: str
    label: str
    text: str
    comment: str


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row of a table on paper. ``blank`` says for each value whether the pupil writes it;
    ``blank_instruction`` the same for the instruction. ``same`` says where a value is given as
    what the pupil wrote further up: in full, it would tell what to write there."""

    row: TraceRow
    blank_instruction: bool
    blank: tuple[bool, ...]
    same: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Worksheet:
    """A trace table to fill in, for one version of a scene; the answer sheet is the same with
    nothing left blank."""

    version: Version
    support: Support
    trace: Trace
    rows: tuple[SheetRow, ...]
    listing: tuple[ListedWord, ...]
    inputs: tuple[str, ...]
    requests: tuple[str, ...] = ()

    @property
    def says_same(self) -> bool:
        """Whether any value is given as the one above."""
        return any(any(each.same) for each in self.rows)


def make_worksheet(
    version: Version,
    support: Support,
    columns: tuple[Column, ...] = (),
    rows_are: Rows = Rows.INSTRUCTIONS,
    base: str = "denary",
) -> Worksheet:
    """A worksheet; without ``columns``, with those that say something about the run."""
    scene = version.scene
    columns = columns or usual_columns(scene.run, scene.program, rows_are)
    reading = Reading(scene.program.machine, base, scene.wording)
    trace = trace_table(scene.run, scene.program, columns, rows_are, reading, MOST_ROWS)
    rows = _rows(trace, support)
    return Worksheet(
        version,
        support,
        trace,
        rows,
        listing(scene.program, reading, version.changed),
        tuple(reading.number(each) for each in scene.inputs),
        tuple(write_request(scene.program.machine, each) for each in scene.requests),
    )


def _rows(trace: Trace, support: Support) -> tuple[SheetRow, ...]:
    nothing = tuple(False for _ in trace.columns)
    # Of input and output, a row has only what came and went in it.
    lasting = tuple(each.key not in DEVICES for each in trace.columns)
    found: list[SheetRow] = []
    unknown = nothing
    for row in trace.rows:
        # The first row is done, to show how.
        if not found:
            found.append(SheetRow(row, False, nothing, nothing))
            continue
        blank = row.written if support is Support.MORE else tuple(True for _ in row.values)
        same = tuple(each and not now for each, now in zip(unknown, blank, strict=True))
        found.append(SheetRow(row, support is Support.LESS, blank, same))
        unknown = tuple(
            last and (each or now) for last, each, now in zip(lasting, unknown, blank, strict=True)
        )
    return tuple(found)


def listing(
    program: Program, reading: Reading, changed: frozenset[int] = frozenset()
) -> tuple[ListedWord, ...]:
    """A program as it is printed: each word with its address, label, text and comment.

    The comment of a ``changed`` word may speak of the number that it had, so it is left out.
    """
    lines = list(lines_of(program.source))
    found = []
    for at, (word, origin) in enumerate(zip(program.words, program.origins, strict=True)):
        text = lines[origin.line - 1] if origin.line <= len(lines) else ""
        comment = "" if at in changed else split_comment(text)[2].strip()
        written = write_instruction(program.machine, word, program.labels)
        found.append(
            ListedWord(
                reading.address(at),
                ", ".join(origin.labels),
                reading.number(word) if origin.is_data else written,
                comment,
            )
        )
    return tuple(found)
