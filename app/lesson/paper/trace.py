"""The trace of a run as a table: what stands in the registers and in memory, row by row.

A row is a whole instruction or a single register transfer. Worksheets, answers and the CSV file
are all made from these rows, and the rows from carrying out the run.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import islice
from typing import Any

from app.machine.engine import Step, walk
from app.machine.instructions import Phase
from app.machine.machine import Machine, StepKind
from app.machine.provenance import cir_is_instruction, mdr_is_instruction
from app.machine.registers import Holds
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.source.disassembler import write_instruction
from app.machine.state import State
from app.machine.telling.reading import Reading
from app.machine.telling.wording import Wording

# How far a run is followed to see what it uses, and how many words of memory a table shows.
MOST_LOOKED_AT = 20_000
MOST_MEMORY_COLUMNS = 4
# A file for a spreadsheet has no more than either of these: a run may change all of memory, and
# each of its words has a column.
MOST_CSV_ROWS = 12_000
MOST_CSV_CELLS = 300_000

# What came in or went out in a row, where a register shows what it holds.
DEVICES = ("input", "output")
# All the words of memory that a run changes, where columns are asked for by name.
MEMORY = "memory"


# What stands in place of an instruction where a request is served.
SERVED = "request served"


class Rows(StrEnum):
    """What one row of a table stands for."""

    INSTRUCTIONS = "instructions"
    TRANSFERS = "transfers"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: ``key`` is one of :func:`places` or ``memory 7``; ``title`` stands over it and
    ``name`` says in words what it is."""

    key: str
    title: str
    name: str

    @property
    def address(self) -> int | None:
        """The address of a word of memory; None for another place."""
        kind, _, number = self.key.partition(" ")
        return int(number) if kind == MEMORY else None


@dataclass(frozen=True, slots=True)
class TraceRow:
    """One row. ``number`` counts instructions from 1, ``step`` is the last step that it stands
    for. ``transfer`` is empty in the row of a whole instruction. For each column ``values`` has
    what is there now (of input and output: what came and went in this row), ``written`` whether
    the row's own steps put it there."""

    number: int
    step: int
    phase: str
    address: str
    instruction: str
    transfer: str
    values: tuple[str, ...]
    written: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """A table of the first rows of a run. ``start`` has the values before the first row, and
    ``complete`` whether the run has no more rows than these."""

    columns: tuple[Column, ...]
    rows_are: Rows
    start: tuple[str, ...]
    rows: tuple[TraceRow, ...]
    complete: bool


def places(machine: Machine) -> tuple[str, ...]:
    """What a table may show beside words of memory, in the order of its columns."""
    return (*(each.tag for each in machine.registers), *DEVICES)


def column(key: str, program: Program) -> Column:
    """The column of a key. Raises ValueError for a key that no column has."""
    register = program.machine.register.get(key)
    if register or key in DEVICES:
        switch = register is not None and register.holds is Holds.SWITCH
        return Column(key, "flag" if switch else key, register.name if register else key)
    kind, _, number = key.partition(" ")
    if kind != MEMORY or not number.isdecimal() or int(number) >= program.machine.memory_words:
        raise ValueError(f"a table has no column called '{key}'")
    address = int(number)
    label = program.labels.get(address)
    return Column(f"{MEMORY} {address}", label or f"[{address}]", f"memory, address {address}")


@dataclass(frozen=True, slots=True)
class Uses:
    """What a run uses: ``judges`` are the terms that its jumps look at, ``status`` or a mark;
    ``written`` are the registers that its instructions write, ``changed`` the addresses of the
    words that it changes, in the order of their first change."""

    written: frozenset[str]
    judges: frozenset[str]
    gives_output: bool
    changed: tuple[int, ...]


def uses(run: Run) -> Uses:
    """What the first MOST_LOOKED_AT steps of a run use."""
    gives = False
    judges: set[str] = set()
    # A step's value is a pattern, an address or a status; its transfer says which.
    memory: list[Any] = list(run.moment(0).after.memory)
    changed: dict[int, None] = {}
    written: set[str] = set()
    address: Any = 0
    for _step, _cycle, kind, value in islice(run.steps(), MOST_LOOKED_AT):
        transfer = kind.transfer
        if kind.phase in (Phase.EXECUTE, Phase.INTERRUPT):
            written.update(transfer.targets)
        if transfer.condition:
            judges.add(transfer.waits_for)
        gives = gives or transfer.target == "output"
        if transfer.target == "MAR":
            address = value
        elif transfer.target == "memory[MAR]" and memory[address] != value:
            memory[address] = value
            changed[address] = None
    return Uses(frozenset(written), frozenset(judges), gives, tuple(changed))


def usual_columns(run: Run, program: Program, rows_are: Rows) -> tuple[Column, ...]:
    """The columns that say something about this run."""
    used = uses(run)
    keys = ["PC"]
    if rows_are is Rows.TRANSFERS:
        keys += ["MAR", "MDR", "CIR"]
    fetched = {each.target for each in program.machine.fetch}
    for register in program.machine.registers:
        if register.holds is Holds.WORD and register.tag not in fetched:
            # The accumulator says something even where it stays as it is.
            keys += [register.tag] if register.tag in ("ACC", *used.written) else []
    # The stack pointer says where the stack stands, the other marks what a jump goes by.
    others = {"SP", "interrupts"} & used.written | {"status", "carry"} & used.judges
    keys += [each.tag for each in program.machine.registers if each.tag in others]
    keys += [f"memory {address}" for address in sorted(used.changed[:MOST_MEMORY_COLUMNS])]
    if used.gives_output:
        keys.append("output")
    return tuple(column(each, program) for each in keys)


def chosen_columns(run: Run, program: Program, names: Sequence[str]) -> tuple[Column, ...]:
    """The columns of some names: names of :func:`places`, and ``memory`` for the words that change.

    Raises ValueError for a name that is none of these.
    """
    known = places(program.machine)
    unknown = [each for each in names if each not in (*known, MEMORY)]
    if unknown:
        raise ValueError(f"a table has no column called '{unknown[0]}'")
    keys = [each for each in known if each in names and each not in DEVICES]
    if MEMORY in names:
        keys += [f"memory {at}" for at in sorted(uses(run).changed[:MOST_MEMORY_COLUMNS])]
    keys += [each for each in DEVICES if each in names]
    return tuple(column(each, program) for each in keys)


def all_columns(run: Run, program: Program) -> tuple[Column, ...]:
    """Every column that a table of this run may have."""
    words = [f"memory {address}" for address in sorted(uses(run).changed)]
    registers = [each.tag for each in program.machine.registers]
    return tuple(column(each, program) for each in (*registers, *words, *DEVICES))


def trace_table(
    run: Run,
    program: Program,
    columns: Sequence[Column],
    rows_are: Rows = Rows.INSTRUCTIONS,
    reading: Reading | None = None,
    most: int = 60,
) -> Trace:
    """The first ``most`` rows of a run, read in denary and told in the usual words unless there is
    another ``reading``."""
    reading = reading or Reading(run.machine, "denary")
    follower = _Follower(run, program, columns, reading)
    start = follower.start()
    found = list(islice(follower.rows(rows_are), most + 1))
    told = tuple(_told(each, reading.wording) for each in columns)
    return Trace(told, rows_are, start, tuple(found[:most]), len(found) <= most)


def _told(column: Column, wording: Wording) -> Column:
    """A column in the words of the course; over a word of memory stands its label."""
    if column.address is not None:
        return column
    return replace(column, title=wording.say(column.title), name=wording.say(column.name))


def trace_csv(
    run: Run,
    program: Program,
    rows_are: Rows = Rows.INSTRUCTIONS,
    reading: Reading | None = None,
) -> Iterator[str]:
    """The trace as lines of a CSV file (RFC 4180) with every column, a line of titles first. Where
    the run has more rows than a file may have, the last line says so.

    Numbers have a plain minus sign, so that a spreadsheet takes them as numbers.
    """
    reading = reading or Reading(run.machine, "denary")
    columns = tuple(_told(each, reading.wording) for each in all_columns(run, program))
    by_step = rows_are is Rows.TRANSFERS
    steps = ("phase", "transfer") if by_step else ()
    titles = (
        each.name if each.key.startswith("memory") and each.title[0] == "[" else each.title
        for each in columns
    )
    head = ("step", "number", "address", "instruction", *steps, *titles)
    yield _csv_line(*head)
    most = min(MOST_CSV_ROWS, MOST_CSV_CELLS // len(head))
    for count, row in enumerate(_Follower(run, program, columns, reading).rows(rows_are)):
        if count == most:
            goes_on = f"The run goes on: these are its first {most:,} rows."
            yield _csv_line(goes_on, *[""] * (len(head) - 1))
            return
        how = (row.phase, row.transfer) if by_step else ()
        values = (each.replace("\N{MINUS SIGN}", "-") for each in row.values)
        yield _csv_line(row.step, row.number, row.address, row.instruction, *how, *values)


def _csv_line(*fields: object) -> str:
    line = io.StringIO()
    csv.writer(line).writerow(fields)
    return line.getvalue()


class _Follower:
    """Carries a run out instruction by instruction and reads the columns off its states."""

    def __init__(
        self, run: Run, program: Program, columns: Sequence[Column], reading: Reading
    ) -> None:
        self._run = run
        self._program = program
        self._columns = columns
        self._reading = reading
        self._state = run.moment(0).after.copy()
        self._kind: StepKind | None = None

    def start(self) -> tuple[str, ...]:
        return tuple(
            "" if each.key in DEVICES else self._value(each.key, self._run.moment(0).after)
            for each in self._columns
        )

    def rows(self, rows_are: Rows) -> Iterator[TraceRow]:
        state = self._state
        outputs: list[int] = []
        while state.ending is None and state.cycles < self._run.limit:
            address = state.pc
            if address == self._run.machine.memory_words:
                return
            text = self._text(state.memory[address])
            written: dict[str, str] = {}
            number, step = state.cycles + 1, None
            requests = self._run.requests
            for step in walk(self._run.machine, state, self._run.inputs, outputs, requests):
                if step.kind.phase is Phase.INTERRUPT:
                    text = SERVED
                self._note(step, state, written)
                ended = step.kind.phase is Phase.EXECUTE and state.cycles == number
                if rows_are is Rows.TRANSFERS or ended:
                    yield self._row(number, step, address, text, written, rows_are)
                    # A request that is served after it has a row of its own.
                    written, step = {}, None
            if rows_are is Rows.INSTRUCTIONS and step is not None:
                yield self._row(number, step, address, text, written, rows_are)

    def _note(self, step: Step, state: State, written: dict[str, str]) -> None:
        """What a step wrote, added to what was written before it in the same row."""
        self._kind = step.kind
        transfer = step.kind.transfer
        target = transfer.target
        if step.value is None or target in ("clock", "opcode, operand"):
            return
        key = f"memory {state.mar}" if target == "memory[MAR]" else target
        written[key] = ""
        if target == "output":
            written[key] = self._reading.number(state.acc)
        elif transfer.left == "input":
            written["input"] = self._reading.number(state.acc)
        else:
            written |= dict.fromkeys(transfer.targets[1:], "")

    def _row(
        self,
        number: int,
        step: Step,
        address: int,
        text: str,
        written: dict[str, str],
        rows_are: Rows,
    ) -> TraceRow:
        by_step = rows_are is Rows.TRANSFERS
        transfer = step.kind.transfer.written(any(each.key == "status" for each in self._columns))
        return TraceRow(
            number=number,
            step=step.number,
            phase=step.kind.phase.value if by_step else "",
            address="" if text is SERVED else self._reading.address(address),
            instruction=text,
            transfer=self._reading.wording.say(transfer) if by_step else "",
            values=tuple(
                written.get(each.key, "")
                if each.key in DEVICES
                else self._value(each.key, self._state)
                for each in self._columns
            ),
            written=tuple(each.key in written for each in self._columns),
        )

    def _value(self, key: str, state: State) -> str:
        if key.startswith("memory"):
            return self._reading.number(state.memory[int(key.split()[1])])
        if key == "CIR":
            if cir_is_instruction(self._run.machine, state):
                return self._word(state.cir)
            return self._reading.number(state.cir)
        if key == "MDR" and mdr_is_instruction(self._run.machine, state, self._kind):
            return self._word(state.mdr)
        return self._reading.term(key, state)

    def _word(self, pattern: int) -> str:
        """An instruction in a register: as a pupil would write it, or its bits."""
        if self._reading.base == "denary":
            return write_instruction(self._run.machine, pattern)
        return self._reading.instruction(pattern)

    def _text(self, word: int) -> str:
        """An instruction as source text. Read from memory, for a program may change itself."""
        return write_instruction(self._run.machine, word, self._program.labels)
