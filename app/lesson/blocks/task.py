"""A task for the pupils: a goal in words, and cases that the machine checks.

::

    goal: Output the larger of any two numbers.
    inputs 3, 8 gives 8
    inputs 8, 3 gives 8

A case without inputs is ``gives 5``; one without outputs ends in ``gives nothing``. Further cases
are made afresh at each check; ``further 0 to 40, 0 to 40`` says with which inputs, and ``further
none`` that there are none (``further.py``).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain, islice
from random import Random

from app.lesson.entries import (
    Entry,
    Piece,
    Wrong,
    carried_on,
    read_entries,
    seem_one_number,
    too_many,
)
from app.machine.machine import Machine
from app.machine.requests import Request
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.source.numbers import read_numbers, write_numbers
from app.machine.source.problems import MOST_FAULTS, Problem, nearest
from app.machine.state import Ending

from .further import Shape, further_runs, read_shape, shapes_of

MOST_CASES = 20
MOST_NUMBERS = 100
LONGEST_GOAL = 600
# Of outputs that nobody asked for.
_MORE_SHOWN = 5

_CASE = re.compile(r"(?:inputs?\b(?P<inputs>.*?))?\bgives\b(?P<outputs>.*)", re.IGNORECASE)
_FURTHER = re.compile(r"further\b(?:\s+inputs?\b)?(?P<shape>.*)", re.IGNORECASE)
_LIKE_A_LINE = re.compile(
    r"goal\s*:.*|further\s+(?:inputs?\b|-?[0-9]+\s+to\b).*|gives\b[^a-z]*"
    r"|inputs?\b(?:'.'|and\b|[^a-z])*+gives\b(?:'.'|and\b|nothing\b|[^a-z])*+",
    re.IGNORECASE,
)
_EXAMPLE = "Write for example 'inputs 3, 8 gives 8'."
_NOTHING = ("nothing", "none")


@dataclass(frozen=True, slots=True)
class Case:
    """With these inputs the program must give these outputs (bit patterns) and halt. A case that
    the machine made has the line of its task's goal."""

    inputs: tuple[int, ...]
    outputs: tuple[int, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Task:
    """What a program shall do: ``goal`` in words, the cases that show it, and the ``shapes`` that
    the inputs of further cases may have. The ``requests`` of its scene come in every case."""

    goal: str
    cases: tuple[Case, ...]
    line: int
    shapes: tuple[Shape, ...] = ()
    requests: tuple[Request, ...] = ()

    def further(self, solution: Program | None, draw: Random, limit: int) -> Iterator[Case]:
        """Cases made afresh from a program that does the task; none without one. ``limit`` is how
        many instructions of it are carried out."""
        if solution is None or solution.problems or not solution.words:
            return
        written = [each.inputs for each in self.cases]
        made = further_runs(solution, self.shapes, written, draw, limit, self.requests)
        for inputs, outputs in made:
            yield Case(inputs, outputs, self.line)


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


def check_task(
    program: Program, task: Task, limit: int, further: Iterable[Case] = ()
) -> TaskOutcome:
    """Run a program on every case of a task, and on ``further`` ones once it has done those, each
    for at most ``limit`` instructions. It must end at a HALT of its own.

    Raises ValueError for a program that has faults or no words, which cannot be run.
    """
    if program.problems or not program.words:
        raise ValueError("a program with faults cannot be checked")
    run = None
    steps = count = 0
    for case in chain(task.cases, further):
        run = Run(program.machine, program.words, case.inputs, limit, task.requests)
        end = run.finish()
        steps += end.steps
        given = run.outputs(end.sent)
        if end.ending is not Ending.HALTED or given != case.outputs:
            words = _failure(program.machine, case, given, end.ending, limit)
            return TaskOutcome(False, case, run, words, steps)
        if not _stops_at_its_halt(program, end.mar):
            return TaskOutcome(False, case, run, _NO_HALT, steps)
        count += 1
    if run is None:
        raise ValueError("a task has at least one case")
    return TaskOutcome(True, None, run, _success(len(task.cases), count), steps)


_NO_HALT = (
    "What comes out is right, but the program stops by chance, at a word that is not written as an"
    " instruction. Perhaps a HALT is missing."
)


def _stops_at_its_halt(program: Program, address: int) -> bool:
    """Whether the HALT at an address is one that was written: empty memory and a 0 are the same
    word. A program that is written as numbers alone knows what it does."""
    origins = program.origins
    if address >= len(origins):
        return False
    return not origins[address].is_data or all(each.is_data for each in origins)


def _success(written: int, count: int) -> str:
    words = f"All {written} cases are right" if written > 1 else "The case is right"
    more = count - written
    if not more:
        return f"{words}."
    others = "one more that was" if more == 1 else f"{more} more that were"
    return f"{words}, and {others} made for this check."


def _failure(
    machine: Machine, case: Case, given: tuple[int, ...], ending: Ending | None, limit: int
) -> str:
    before = f"With inputs {write_numbers(machine, case.inputs)}" if case.inputs else "Here"
    wanted = write_numbers(machine, case.outputs)
    most = len(case.outputs) + _MORE_SHOWN
    left_out = f" and {len(given) - most} more" if len(given) > most else ""
    got = f"{write_numbers(machine, given[:most])}{left_out}"
    why = {
        Ending.LIMIT: f"The program had not stopped after {limit:,} instructions.",
        Ending.WAITING: "The program then waits for an input that never comes.",
        Ending.OFF_MEMORY: "The program then runs past the end of memory and has met no HALT.",
        Ending.UNKNOWN_CODE: "The program then meets a word that is no instruction.",
        Ending.NO_ADDRESS: "The program then comes to an address that memory does not have.",
        Ending.STACK_EMPTY: "The program then takes something off an empty stack.",
        Ending.STACK_FULL: "The stack then grows into the words of the program.",
    }
    words = f"{before} the program should give {wanted}; it gave {got}."
    return f"{words} {why[ending]}" if ending in why else words


def read_task(machine: Machine, text: str, first_line: int) -> tuple[Task | None, list[Problem]]:
    """The task of a ``task`` block."""
    problems: list[Problem] = []
    warnings: list[Problem] = []
    cases: list[Case] = []
    goal: Piece | None = None
    shapes: list[Shape] | None = None
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
            found = carried_on(entry, lambda line: bool(_LIKE_A_LINE.fullmatch(line)))
            warnings += islice(found, MOST_FAULTS)
            continue
        here = halves[0] if halves else entry.whole
        further = _FURTHER.fullmatch(entry.text)
        try:
            if further:
                shapes = shapes or []
                here = entry.piece(*further.span("shape"))
                if here.text.casefold() not in _NOTHING:
                    shapes.append(read_shape(machine, here))
                    warnings += seem_one_number(here, machine)
                continue
            cases.append(_read_case(machine, entry, problems, warnings))
        except Wrong as wrong:
            problems.append(here.problem(wrong.what, wrong.mend))
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
    if shapes is None:
        shapes = [*shapes_of(machine, (each.inputs for each in cases))]
    return Task(goal.text, tuple(cases), goal.line, tuple(shapes)), told


def _read_case(
    machine: Machine, entry: Entry, problems: list[Problem], warnings: list[Problem]
) -> Case:
    found = _CASE.fullmatch(entry.text)
    if not found:
        first = entry.text.split()[0].rstrip(":")
        near = nearest(first, ("goal", "inputs", "gives", "further"))
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
