"""A solution: a program that does the task of its scene, tried by the check."""

from __future__ import annotations

import pytest

from app.lesson.file.reader import read_lesson
from app.lesson.model import Lesson

TASK = "```task\ngoal: Output twice the number.\ninputs 4 gives 8\ninputs -3 gives -6\n```\n"
DOUBLE = "INPUT\nSTORE n\nADD n\nOUTPUT\nHALT\nn: 0"
# The block's first line stands on line 17 of the file.
BEFORE = f"---\ntitle: Twice\n---\n# Twice\n```program\nINPUT\nOUTPUT\nHALT\n```\n\n{TASK}"


def lesson(solution: str, before: str = BEFORE) -> Lesson:
    return read_lesson("twice", f"{before}\n```solution\n{solution}\n```\n")


def test_a_solution_that_does_its_task() -> None:
    found = lesson(DOUBLE)
    assert found.problems == ()
    (scene,) = found.scenes
    assert scene.solution and scene.solution.source == DOUBLE
    # The scene runs the program of the class.
    assert scene.program.source == "INPUT\nOUTPUT\nHALT"


@pytest.mark.parametrize(
    ("solution", "what", "case"),
    [
        ("INPUT\nOUTPUT\nHALT", "With inputs 4 the program should give 8; it gave 4.", 13),
        # 4 + 4 by a number: right once, and wrong for -3.
        ("INPUT\nADD #4\nOUTPUT\nHALT", "should give \N{MINUS SIGN}6; it gave 1.", 14),
        (
            "INPUT\nagain: JUMP again\nHALT",
            "The program had not stopped after 10,000 instructions.",
            13,
        ),
    ],
)
def test_one_that_does_not_is_a_warning(solution: str, what: str, case: int) -> None:
    (warning,) = lesson(solution).problems
    assert warning.warning and warning.line == 17
    assert warning.what.startswith("The solution of 'Twice' does not do the task.")
    assert what in warning.what
    assert warning.mend == f"Mend the solution, or the case on line {case}."


def test_faults_stand_where_they_are_written() -> None:
    (fault,) = lesson("INPUT\nADD none\nHALT").faults
    assert (fault.line, fault.column) == (19, 5)
    assert "no label 'none'" in fault.what


def test_an_empty_solution_and_one_without_a_task() -> None:
    (fault,) = lesson("; nothing").faults
    assert fault.line == 17 and "The solution is empty." in fault.what
    alone = BEFORE.replace(TASK, "").replace("INPUT\nOUTPUT", "OUTPUT")
    (warning,) = lesson(DOUBLE, alone).problems
    assert warning.warning and "has a solution but no task" in warning.what


def test_there_is_one_solution() -> None:
    (fault,) = read_lesson(
        "twice", f"{BEFORE}\n```solution\n{DOUBLE}\n```\n\n```solution\n{DOUBLE}\n```\n"
    ).faults
    assert "second 'solution' block" in fault.what


def test_solutions_do_not_hold_the_check_up() -> None:
    """Solutions that never stop are left after the instructions that pupils' programs have."""
    scenes = "".join(
        f"# Scene {at}\n```program\nHALT\n```\n{TASK}```solution\nx: JUMP x\n```\n"
        for at in range(1, 21)
    )
    found = read_lesson("many", f"---\ntitle: Many\n---\n{scenes}")
    warnings = [each.what for each in found.problems]
    assert sum("does not do the task" in each for each in warnings) < 20
    assert any("were not run: 1" in each for each in warnings)
