"""Sheets for a class to write on: trace tables with blanks, and questions, each with its answers.

Everything is made from a run, so a sheet and its answers cannot disagree.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from string import ascii_uppercase

from app.machine.assembler import Program
from app.machine.disassembler import write_instruction
from app.machine.engine import Step
from app.machine.instructions import DECODE, FETCH, Phase
from app.machine.narration import sentence
from app.machine.problems import lines_of
from app.machine.reading import Reading, fetching
from app.machine.run import Moment

from .asks import Ask
from .header import Depth
from .model import Scene
from .parts import part_name
from .questions import OTHERWISE, AskedQuestion
from .told import Earlier, instead, instead_of_outputs, names_instruction
from .trace import DEVICES, REGISTERS, Column, Rows, Trace, TraceRow, trace_table, usual_columns
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

    @property
    def says_same(self) -> bool:
        """Whether any value is given as the one above."""
        return any(any(each.same) for each in self.rows)

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
    rows = _rows(trace, support)
    reading = Reading(scene.program.format, base)
    return Worksheet(
        version,
        support,
        trace,
        rows,
        listing(scene.program, reading, version.changed),
        tuple(reading.number(each) for each in scene.inputs),
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
    stands in the registers then. ``instead`` has for each of these what is printed in its place
    where the value would tell the answer to an earlier question, else nothing."""

    number: int
    where: str
    state: tuple[tuple[str, str, str], ...]
    prompt: str
    choices: tuple[QuizChoice, ...]
    instead: tuple[str, ...] = ()

    @property
    def answer(self) -> QuizChoice:
        return next(each for each in self.choices if each.right)


def make_quiz(scene: Scene, depth: Depth, first: int = 1) -> tuple[QuizItem, ...]:
    """The questions of a scene, in the order of its run; ``first`` is the number of the first."""
    reading = Reading(scene.program.format, "denary")
    shown = ("PC", "ACC", "status") if depth is Depth.PHASES else REGISTERS
    asks = {each.line: each.ask for each in scene.asked}
    items = []
    earlier: list[Earlier] = []
    for number, asked in enumerate(scene.questions, start=first):
        moment = scene.run.moment(asked.step)
        values = tuple(
            (each, part_name(each), reading.term(each, moment.after, fetching(moment.step)))
            for each in shown
        )
        hidden = [instead(key, text, moment.after, earlier) for key, _, text in values]
        outputs = [reading.number(each) for each in scene.run.outputs(moment.after.sent)]
        if outputs:
            values = (*values, ("output", "output so far", ", ".join(outputs)))
            hidden.append(instead_of_outputs(outputs, earlier))
        said = _truth(scene, asked, asks[asked.line], reading)
        reasons = [said if each == OTHERWISE else each for each in asked.reasons]
        items.append(
            QuizItem(
                number=number,
                where=_where(scene, moment, names_instruction(moment.after, earlier)),
                state=values,
                prompt=asked.prompt,
                choices=tuple(
                    QuizChoice(ascii_uppercase[at], text, at == asked.answer, why)
                    for at, (text, why) in enumerate(zip(asked.choices, reasons, strict=True))
                ),
                instead=tuple(hidden),
            )
        )
        known = scene.run.moment(asked.reveal_step).after
        right = asked.choices[asked.answer]
        earlier.append(Earlier(number, asks[asked.line], right, moment.after.sent, known))
    return tuple(items)


def _truth(scene: Scene, asked: AskedQuestion, ask: Ask, reading: Reading) -> str:
    """The sentence of the step that makes the answer of a question true."""
    place = {"memory": "memory[MAR]", "jump": "PC"}.get(ask.kind, ask.kind)
    # It may be true already: a STORE leaves the accumulator as an ADD before it has made it.
    moments = (scene.run.moment(at) for at in range(asked.reveal_step, 0, -1))
    made = (each for each in moments if each.step and _makes(each.step, place))
    return sentence(reading, next(made, scene.run.moment(asked.reveal_step)), scene.limit)


def _makes(step: Step, place: str) -> bool:
    transfer = step.kind.transfer
    return transfer.target == place or (place == "status" and transfer.uses_alu)


def _where(scene: Scene, moment: Moment, unnamed: bool) -> str:
    """How far the run has come, as it is said on paper; ``unnamed`` leaves the instruction out."""
    step = moment.step
    if step is None:
        return "Before the program starts"
    run, program = scene.run, scene.program
    before = run.moment(run.before_instruction(step.number)).after
    text = write_instruction(program.format, before.memory[before.pc], program.labels)
    text = f"{step.cycle}" if unnamed else f"{step.cycle}, {text}"
    if moment.after.cycles == step.cycle:
        return f"After instruction {text}"
    done = {
        (Phase.FETCH, len(FETCH)): "it has been fetched",
        (Phase.DECODE, len(DECODE)): "it has been decoded",
    }.get((step.kind.phase, len(moment.steps_of_phase)))
    if done is None:
        notation = step.kind.transfer.notation.replace("<-", "\N{LEFTWARDS ARROW}")
        done = f"the last transfer was {notation}"
    return f"In instruction {text}: {done}"
