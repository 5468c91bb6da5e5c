"""Whole parts of a lesson: a scene, a program, inputs, a task with its cases."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.lesson.blocks.task import MOST_CASES, check_task
from app.lesson.entries import Wrong, read_entries
from app.lesson.file.head import in_header
from app.lesson.model import Scene
from app.lesson.unseen import as_shown
from app.machine.machine import Machine
from app.machine.run import DEFAULT_LIMIT, Run
from app.machine.source.assembler import assemble
from app.machine.source.numbers import read_numbers
from app.machine.source.problems import lines_of
from app.machine.state import Ending

from .manuscript import Manuscript
from .outline import Placed
from .saying import entry_lines

# A program to start from: it runs, and every line of it can be changed.
FIRST_PROGRAM = (
    "        LOAD  first",
    "        ADD   second",
    "        OUTPUT",
    "        HALT",
    "first:  9",
    "second: 4",
)


def add_scene(manuscript: Manuscript, number: int, title: str, program: bool = False) -> Manuscript:
    """A new scene after one, or at the end of a lesson that has no scene yet; if wanted with a
    program to start from."""
    title = as_shown(title)
    if not title:
        raise Wrong("The scene has no name.", "Type one.")
    scenes = manuscript.outline.scenes
    lines = manuscript.text.lines
    at = scenes[min(number, len(scenes) - 1)].end if scenes else len(lines)
    if at == len(lines) and not lines[-1]:
        at -= 1
    first = ["", "```program", *FIRST_PROGRAM, "```"] if program else []
    after = manuscript.with_own_lines(at, [f"# {title}", *first])
    made = [each.title for each in after.lesson.scenes]
    if len(made) != len(scenes) + 1 or title not in made:
        what = "This name would be read as something else."
        raise Wrong(what, "Leave signs such as '#', '*' or '_' out.")
    return after


def add_program(manuscript: Manuscript, number: int) -> Manuscript:
    """A program for a scene that has none of its own: one to start from."""
    manuscript.scene(number)
    if manuscript.outline.scenes[number].first("program"):
        raise Wrong("This scene has a program.", "Change it in the text.")
    return manuscript.with_block(number, "program", FIRST_PROGRAM)


def set_inputs(manuscript: Manuscript, number: int, values: str) -> Manuscript:
    """The values that arrive in a scene; no ``inputs`` block for none.

    Raises Wrong for what cannot be read, and where without a block those of the scene before it
    would arrive.
    """
    scene = manuscript.scene(number)
    machine = scene.program.machine
    there = manuscript.outline.scenes[number].first("inputs")
    if not values.strip():
        after = manuscript.without_block(there) if there else manuscript
        if after.lesson.scenes[number].inputs:
            what = "This scene has no program of its own, so the inputs of the one before arrive."
            raise Wrong(what, "Type other ones, or write a program into this scene.")
        return after
    written = _numbers(machine, values)
    if there and written == _written(machine, scene.inputs):
        # They are there, with whatever comments, and perhaps as characters.
        return replace(manuscript, line=there.open + 2)
    return manuscript.with_block(number, "inputs", [written])


def _numbers(machine: Machine, text: str) -> str:
    """Numbers as they are written into a lesson. Raises Wrong for anything else."""
    patterns, problems = read_numbers(machine, text, comments=False)
    faults = [each for each in problems if not each.warning]
    if faults:
        raise Wrong(faults[0].what, faults[0].mend)
    return _written(machine, patterns)


def _written(machine: Machine, patterns: Sequence[int]) -> str:
    return ", ".join(str(machine.signed(each)) for each in patterns)


def cases_of(scene: Scene, solution: str, inputs: str) -> list[str]:
    """The cases of a task for a scene, one for each line of ``inputs``, as they stand in its block:
    filled in by running a program that does it, with the requests of the scene.

    Raises Wrong for a program that cannot be run, or does not come to its HALT.
    """
    machine = scene.program.machine
    program = assemble(machine, solution)
    if program.problems or not program.words:
        if not program.problems:
            raise Wrong("The solution is empty.", "Write a program that does the task.")
        fault = program.problems[0]
        raise Wrong(f"Line {fault.line} of the solution: {fault.what}", fault.mend)
    found: list[str] = []
    # One that is written twice is one case.
    lines = [*dict.fromkeys(each.strip() for each in lines_of(inputs.strip()))]
    if len(lines) > MOST_CASES:
        raise Wrong(f"There are {len(lines)} cases.", f"A task may have {MOST_CASES}.")
    for line in lines:
        patterns, problems = read_numbers(machine, line, comments=False)
        faults = [each for each in problems if not each.warning]
        if faults:
            raise Wrong(faults[0].what, faults[0].mend)
        run = Run(machine, program.words, patterns, DEFAULT_LIMIT, scene.requests)
        end = run.finish()
        given = _written(machine, run.outputs(end.sent)) or "nothing"
        word = "input" if len(patterns) == 1 else "inputs"
        with_inputs = f"{word} {_written(machine, patterns)} " if patterns else ""
        if end.ending is not Ending.HALTED:
            said = f"With inputs {line} the" if patterns else "The"
            what = f"{said} solution does not come to a HALT."
            mend = "Add the inputs that it reads." if end.ending is Ending.WAITING else "Mend it."
            raise Wrong(what, mend)
        case = f"{with_inputs}gives {given}"
        if case not in found:
            found.append(case)
    return found


def set_task(
    manuscript: Manuscript, number: int, goal: str, solution: str, inputs: str
) -> Manuscript:
    """A task for a scene: its goal, the cases that running ``solution`` gives for each line of
    ``inputs``, and the solution itself, which the class never sees.

    Raises Wrong for what cannot be a task.
    """
    scene = manuscript.scene(number)
    goal = " ".join(goal.split())
    if not goal:
        raise Wrong("The task has no goal.", "Type what the program shall do.")
    cases = cases_of(scene, solution, inputs)
    program = [each.rstrip() for each in lines_of(solution.strip("\r\n"))]
    there = manuscript.outline.scenes[number].first("task")
    kept = _further(manuscript, there) if there else []
    task = [*entry_lines("", "goal", goal, ""), *cases, *kept]
    after = manuscript.with_blocks(number, {"task": task, "solution": program})
    made = after.lesson.scenes[number]
    solved = made.task and made.solution and made.solution.words
    if not solved or not made.task or made.task.goal != goal:
        raise Wrong("The task would be read as something else.", "Leave odd signs out of it.")
    assert made.solution
    outcome = check_task(made.solution, made.task, DEFAULT_LIMIT)
    if not outcome.passed:
        raise Wrong(f"The solution does not do the task. {outcome.words}", "Mend the solution.")
    block = after.outline.scenes[number].first("task")
    return replace(after, line=block.open + 2) if block else after


def _further(manuscript: Manuscript, task: Placed) -> list[str]:
    """The lines of a task that say which inputs its further cases may have, as they stand there."""
    lines = manuscript.text.lines
    inside = "\n".join(lines[each] for each in task.inside)
    return [
        lines[line - 1]
        for entry in read_entries(inside, task.open + 2)
        if entry.text.split()[0].casefold() == "further"
        for _, line, _ in entry.starts
    ]


def first_lesson(title: str, machine: Machine) -> str:
    """The text of a new lesson: one scene, with a program that runs. Its class looks at whole
    phases: three presses an instruction, where every movement by itself would take six or eight."""
    program = "\n".join(FIRST_PROGRAM)
    return (
        f"---\ntitle: {in_header(title)}\nmachine: {machine.name}\ndepth: phases\n---\n\n"
        "# First scene\n\n"
        "Notes for yourself: what you say, and what you ask the class. They see none of this.\n\n"
        f"```program\n{program}\n```\n"
    )
