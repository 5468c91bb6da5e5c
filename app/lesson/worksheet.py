"""Sheets for a class to write on: trace tables with blanks, and questions, each with its answers.

Everything is made from a run, so a sheet and its answers cannot disagree.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from string import ascii_uppercase

from app.machine.assembler import Program
from app.machine.disassembler import write_instruction
from app.machine.instructions import DECODE, FETCH, Phase
from app.machine.problems import lines_of
from app.machine.reading import Reading, fetching
from app.machine.run import Moment

from .header import Depth
from .model import Scene
from .parts import part_name
from .trace import REGISTERS, Column, Rows, Trace, TraceRow, trace_table, usual_columns
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
    ``blank_instruction`` the same for the instruction."""

    row: TraceRow
    blank_instruction: bool
    blank: tuple[bool, ...]


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

    @property
    def blanks(self) -> int:
        return sum(sum(each.blank) + each.blank_instruction for each in self.rows)


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
    trace = trace_table(scene.run, scene.program, columns, rows_are, base, MOST_ROWS)
    rows = tuple(_row(each, at, support, rows_are) for at, each in enumerate(trace.rows))
    reading = Reading(scene.program.format, base)
    return Worksheet(
        version,
        support,
        trace,
        rows,
        listing(scene.program, reading, version.changed),
        tuple(reading.number(each) for each in scene.inputs),
    )


def _row(row: TraceRow, at: int, support: Support, rows_are: Rows) -> SheetRow:
    # The first row is done, to show how; nothing is written where nothing came out.
    if at == 0:
        return SheetRow(row, False, tuple(False for _ in row.values))
    match support:
        case Support.MORE:
            blank = row.written
        case _:
            blank = tuple(True for _ in row.values)
    return SheetRow(row, support is Support.LESS, blank)


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
        comment = "" if at in changed else text.partition(";")[2].strip()
        written = write_instruction(program.format, word, program.labels)
        found.append(
            ListedWord(
                reading.address(at),
                ", ".join(origin.labels),
                reading.number(word) if origin.is_data else written,
                comment,
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class QuizChoice:
    """``reason`` is the confusion behind a wrong choice."""

    letter: str
    text: str
    right: bool
    reason: str


@dataclass(frozen=True, slots=True)
class QuizItem:
    """A question of a scene on paper: ``where`` says how far the run has come, ``state`` what
    stands in the registers then."""

    number: int
    where: str
    state: tuple[tuple[str, str, str], ...]
    prompt: str
    choices: tuple[QuizChoice, ...]

    @property
    def answer(self) -> QuizChoice:
        return next(each for each in self.choices if each.right)


def make_quiz(scene: Scene, depth: Depth) -> tuple[QuizItem, ...]:
    """The questions of a scene, in the order of its run."""
    reading = Reading(scene.program.format, "denary")
    shown = ("PC", "ACC", "status") if depth is Depth.PHASES else REGISTERS
    items = []
    for asked in scene.questions:
        moment = scene.run.moment(asked.step)
        values = tuple(
            (each, part_name(each), reading.term(each, moment.after, fetching(moment.step)))
            for each in shown
        )
        outputs = scene.run.outputs(moment.after.sent)
        if outputs:
            sent = ", ".join(reading.number(each) for each in outputs)
            values = (*values, ("output", "output so far", sent))
        items.append(
            QuizItem(
                number=asked.number,
                where=_where(scene, moment),
                state=values,
                prompt=asked.prompt,
                choices=tuple(
                    QuizChoice(ascii_uppercase[at], text, at == asked.answer, asked.reasons[at])
                    for at, text in enumerate(asked.choices)
                ),
            )
        )
    return tuple(items)


def _where(scene: Scene, moment: Moment) -> str:
    """How far the run has come, as it is said on paper."""
    step = moment.step
    if step is None:
        return "Before the program starts"
    run, program = scene.run, scene.program
    before = run.moment(run.before_instruction(step.number)).after
    text = write_instruction(program.format, before.memory[before.pc], program.labels)
    if moment.after.cycles == step.cycle:
        return f"After instruction {step.cycle}, {text}"
    done = {
        (Phase.FETCH, len(FETCH)): "it has been fetched",
        (Phase.DECODE, len(DECODE)): "it has been decoded",
    }.get((step.kind.phase, len(moment.steps_of_phase)))
    if done is None:
        notation = step.kind.transfer.notation.replace("<-", "\N{LEFTWARDS ARROW}")
        done = f"the last transfer was {notation}"
    return f"In instruction {step.cycle}, {text}: {done}"
