"""A task for the pupils: a goal in words, and cases that the machine checks.

::

    goal: Output the larger of any two numbers.
    inputs 3, 8 gives 8
    inputs 8, 3 gives 8

A case without inputs is ``gives 5``; one without outputs ends in ``gives nothing``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from app.lesson.entries import Entry, Piece, Wrong, read_entries, too_many
from app.machine.machine import Machine
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.source.numbers import read_numbers, write_numbers
from app.machine.source.problems import MOST_FAULTS, Problem, nearest
from app.machine.state import Ending

MOST_CASES = 20
MOST_NUMBERS = 100
LONGEST_GOAL = 600

_CASE = re.compile(r"(?:inputs?\b(?P<inputs>.*?))?\bgives\b(?P<outputs>.*)", re.IGNORECASE)
_EXAMPLE = "Write for example 'inputs 3, 8 gives 8'."
_NOTHING = ("nothing", "none")


@dataclass(frozen=True, slots=True)
class Case:
    """With these inputs the program must give these outputs (bit patterns) and halt."""

    inputs: tuple[int, ...]
    outputs: tuple[int, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Task:
    """What a program shall do: ``goal`` in words, and the cases that show it."""

    goal: str
    cases: tuple[Case, ...]
    line: int


@dataclass(frozen=True, slots=True)
class TaskOutcome:
    """Whether a program does a task.

    Where it does not, ``first_failing_case`` is the first case that went wrong and ``run`` its
    run, to be looked at; where it does, ``run`` is that of the last case. ``words`` says it.
    ``steps`` counts those of all the runs together.
    """

    passed: bool
    first_failing_case: Case | None
    run: Run
    words: str
    steps: int


def check_task(program: Program, task: Task, limit: int) -> TaskOutcome:
    """Run a program on every case of a task, each for at most ``limit`` instructions.

    Raises ValueError for a program that has faults or no words, which cannot be run.
    """
    if program.problems or not program.words:
        raise ValueError("a program with faults cannot be checked")
    run = None
    steps = 0
    for case in task.cases:
        run = Run(program.machine, program.words, case.inputs, limit)
        end = run.finish()
        steps += end.steps
        given = run.outputs(end.sent)
        if end.ending is not Ending.HALTED or given != case.outputs:
            words = _failure(program.machine, case, given, end.ending, limit)
            return TaskOutcome(False, case, run, words, steps)
    if run is None:
        raise ValueError("a task has at least one case")
    count = len(task.cases)
    words = f"All {count} cases are right." if count > 1 else "The case is right."
    return TaskOutcome(True, None, run, words, steps)


def _failure(
    machine: Machine, case: Case, given: tuple[int, ...], ending: Ending | None, limit: int
) -> str:
    before = f"With inputs {write_numbers(machine, case.inputs)}" if case.inputs else "Here"
    wanted = write_numbers(machine, case.outputs)
    got = write_numbers(machine, given[: len(case.outputs) + 5])
    why = {
        Ending.LIMIT: f"The program had not stopped after {limit:,} instructions.",
        Ending.WAITING: "The program then waits for an input that never comes.",
        Ending.OFF_MEMORY: "The program then runs past the end of memory and has met no HALT.",
        Ending.UNKNOWN_CODE: "The program then meets a word that is no instruction.",
    }
    words = f"{before} the program should give {wanted}; it gave {got}."
    return f"{words} {why[ending]}" if ending in why else words


def read_task(machine: Machine, text: str, first_line: int) -> tuple[Task | None, list[Problem]]:
    """The task of a ``task`` block."""
    problems: list[Problem] = []
    warnings: list[Problem] = []
    cases: list[Case] = []
    goal: Piece | None = None
    for entry in read_entries(text, first_line):
        if len(problems) >= MOST_FAULTS:
            if len(problems) == MOST_FAULTS:
                problems.append(too_many(entry.whole))
            break
        halves = entry.at_colon()
        if halves and halves[0].text.casefold() == "goal":
            if goal:
                problems.append(halves[0].problem("There is a second goal.", "Write one goal."))
            elif not halves[1].text:
                mend = "Write it after the colon, as in 'goal: Output the larger number.'"
                problems.append(halves[0].problem("The goal has no words.", mend))
            goal = goal or halves[1]
            continue
        try:
            cases.append(_read_case(machine, entry, problems, warnings))
        except Wrong as wrong:
            problems.append((halves[0] if halves else entry.whole).problem(wrong.what, wrong.mend))
    if goal is None:
        what = "The task has no goal."
        mend = "Add a line 'goal: Output the larger number.'"
        problems.append(Problem(first_line, 1, 1, what, mend))
    if len(cases) > MOST_CASES:
        what = f"The task has {len(cases)} cases."
        problems.append(Problem(cases[MOST_CASES].line, 1, 1, what, f"It may have {MOST_CASES}."))
    if goal and len(goal.text) > LONGEST_GOAL:
        what = f"The goal has {len(goal.text)} letters."
        problems.append(goal.problem(what, f"Say it in at most {LONGEST_GOAL}."))
    if not cases and not problems:
        what = "The task has no case to check."
        problems.append(Problem(first_line, 1, 1, what, _EXAMPLE))
    told = problems + warnings[:MOST_FAULTS]
    if goal is None or problems:
        return None, told
    return Task(goal.text, tuple(cases), goal.line), told


def _read_case(
    machine: Machine, entry: Entry, problems: list[Problem], warnings: list[Problem]
) -> Case:
    found = _CASE.fullmatch(entry.text)
    if not found:
        first = entry.text.split()[0].rstrip(":")
        near = nearest(first, ("goal", "inputs", "gives"))
        known = first.casefold() in ("goal", "inputs", "input", "gives")
        mend = f"Did you mean '{near}'?" if near and not known else _EXAMPLE
        raise Wrong("This is neither the goal nor a case.", mend)
    inputs = _numbers(machine, entry, found.span("inputs"), "input", problems, warnings)
    outputs = _numbers(machine, entry, found.span("outputs"), "output", problems, warnings)
    if not found["outputs"].strip():
        raise Wrong("The case does not say what comes out.", "Write numbers, or 'gives nothing'.")
    return Case(inputs, outputs, entry.whole.line)


def _numbers(
    machine: Machine,
    entry: Entry,
    span: tuple[int, int],
    kind: str,
    problems: list[Problem],
    warnings: list[Problem],
) -> tuple[int, ...]:
    """The bit patterns of the numbers that stand in a part of an entry."""
    start, end = span
    text = entry.text[start:end] if start >= 0 else ""
    if text.strip().casefold() in _NOTHING:
        return ()
    patterns, found = read_numbers(machine, text, kind, comments=False, most=MOST_NUMBERS)
    for each in found:
        first = start + each.column - 1
        piece = entry.piece(first, first + each.length)
        here = piece.problem(each.what, each.mend, each.warning)
        if each.warning:
            warnings.append(here)
        elif len(problems) < MOST_FAULTS:
            problems.append(here)
        elif len(problems) == MOST_FAULTS:
            problems.append(too_many(piece))
    return patterns
