"""Tasks: programs that do them and programs that do not, with outcomes worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.lesson.blocks.task import Task, check_task, read_task
from app.lesson.file.reader import read_lesson
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT
from app.machine.source.assembler import assemble
from app.machine.state import Ending

LARGER = """\
goal: Output the larger
  of any two numbers.
inputs 3, 8 gives 8
inputs 8 3 gives 8
inputs -2, -5 gives -2
inputs 7, 7 gives 7
"""

SOLUTION = """\
        INPUT
        STORE one
        INPUT
        COMPARE one
        JUMP show IF MORE
        LOAD one
show:   OUTPUT
        HALT
one:    0
"""


def task(text: str) -> Task:
    found, problems = read_task(EIGHT_BIT, text, 1)
    assert found and not problems
    return found


def outcome(program: str, text: str = LARGER, limit: int = 1000):
    return check_task(assemble(EIGHT_BIT, program), task(text), limit)


def test_as_it_is_written() -> None:
    found = task(LARGER)
    assert found.goal == "Output the larger of any two numbers."
    assert found.line == 1
    assert [(each.inputs, each.outputs, each.line) for each in found.cases] == [
        ((3, 8), (8,), 3),
        ((8, 3), (8,), 4),
        ((254, 251), (254,), 5),
        ((7, 7), (7,), 6),
    ]


def test_a_program_that_does_it() -> None:
    found = outcome(SOLUTION)
    assert found.passed and found.first_failing_case is None
    assert found.words == "All 4 cases are right."
    assert found.run.outputs(1) == (7,)


def test_the_first_case_that_goes_wrong() -> None:
    """Without the comparison the second number comes out, which is right once."""
    found = outcome("INPUT\nINPUT\nOUTPUT\nHALT")
    assert not found.passed
    assert found.first_failing_case == task(LARGER).cases[1]
    assert found.words == "With inputs 8, 3 the program should give 8; it gave 3."
    assert found.run.finish().ending is Ending.HALTED


@pytest.mark.parametrize(
    ("program", "words"),
    [
        ("HALT", "it gave nothing."),
        ("INPUT\nINPUT\nOUTPUT\nOUTPUT\nHALT", "it gave 8, 8."),
        # So many more than wanted are shown, and of the others how many they are.
        ("LOAD #8\n" + "OUTPUT\n" * 6 + "HALT", "it gave 8, 8, 8, 8, 8, 8."),
        ("LOAD #8\n" + "OUTPUT\n" * 9 + "HALT", "it gave 8, 8, 8, 8, 8, 8 and 3 more."),
        ("again: JUMP again", "it gave nothing. The program had not stopped after"),
        ("INPUT\nINPUT\nOUTPUT\nINPUT", "it gave 8. The program then waits for an input"),
        (
            "\n".join(["INPUT", "INPUT", "OUTPUT"] + ["ADD #0"] * 13),
            "it gave 8. The program then runs past the end of memory",
        ),
    ],
)
def test_other_ways_to_go_wrong(program: str, words: str) -> None:
    found = outcome(program, "goal: x\ninputs 3, 8 gives 8")
    assert not found.passed
    assert words in found.words


FACTOR = """\
goal: Output the smallest factor that is more than 1.
inputs 15 gives 3
inputs 2 gives 2
inputs 6 gives 2
inputs 13 gives 13
inputs 49 gives 7
inputs 91 gives 7
"""
FACTOR_FOUND = """\
        INPUT
        STORE n
again:  LOAD  by
        ADD   #1
        STORE by
        LOAD  n
take:   SUBTRACT by
        JUMP  take IF MORE
        JUMP  again IF LESS
        LOAD  by
        OUTPUT
        HALT
n:      0
by:     1
"""


def test_a_table_of_the_written_cases_does_not_do_a_task() -> None:
    """Every written case is right; further ones, of the solution's, are not. Thirteen further
    checks of different chance all tell."""
    table = "INPUT\nSTORE n\n" + "".join(
        f"LOAD n\nSUBTRACT a{at}\nJUMP is{at} IF EQUAL\n" for at in range(3)
    )
    table += "HALT\n" + "".join(
        f"is{at}: LOAD #{out}\nOUTPUT\nHALT\na{at}: {given}\n"
        for at, (given, out) in enumerate([(15, 3), (2, 2), (49, 7)])
    )
    wanted = read_task(SIXTEEN_BIT, FACTOR.replace("inputs 6 gives 2\ninputs 13 gives 13\n", ""), 1)
    found = wanted[0]
    assert found
    cases = tuple(each for each in found.cases if each.inputs != (91,))
    found = replace(found, cases=cases)
    program = assemble(SIXTEEN_BIT, table + "n: 0")
    solution = assemble(SIXTEEN_BIT, FACTOR_FOUND)
    assert check_task(program, found, 1000).passed
    for chance in range(13):
        further = found.further(solution, Random(chance), 1000)
        outcome = check_task(program, found, 1000, further)
        assert not outcome.passed
        failing = outcome.first_failing_case
        assert failing and failing not in cases and failing.line == found.line
        assert check_task(solution, found, 1000, [failing]).passed


def test_further_cases_are_others_each_time_and_keep_to_the_written_ones() -> None:
    made = task(FACTOR)
    solution = assemble(EIGHT_BIT, FACTOR_FOUND)
    first, second = (list(made.further(solution, Random(each), 1000)) for each in (1, 2))
    assert len(first) == len(second) == 8
    assert {each.inputs for each in first} != {each.inputs for each in second}
    written = {each.inputs for each in made.cases}
    for each in first + second:
        (given,), (factor,) = each.inputs, each.outputs
        assert 2 <= given <= 91 and (given,) not in written
        assert given % factor == 0 and all(given % less for less in range(2, factor))


def test_which_inputs_further_cases_have() -> None:
    """By the cases: as many, in their places, in their steps. By the lesson where it says so."""
    pairs = task("goal: x\ninputs 4, 0 gives 0\ninputs 10, 0 gives 0\ninputs 6, 0 gives 0\ngives 1")
    assert pairs.shapes == ((range(4, 11, 2), range(0, 1)),)
    assert task("goal: x\ninputs 4 gives 0\ninputs 1, 2 gives 0").shapes == ()
    said = task("goal: x\ninputs 4 gives 0\nfurther -3 to 7 by 2, 0\nfurther inputs 5 to 6")
    assert said.shapes == ((range(-3, 8, 2), range(0, 1)), (range(5, 7),))
    assert task(FACTOR + "further none").shapes == ()


@pytest.mark.parametrize(
    ("case", "column"),
    [("inputs 1,000 gives 1", 8), ("gives 1,000", 7), ("further 1 to 1,000", 14)],
)
def test_thousands_set_apart_in_a_case_are_told(case: str, column: int) -> None:
    found, (warning,) = read_task(SIXTEEN_BIT, f"goal: x\ngives 1\n{case}", 5)
    assert found and warning.warning and (warning.line, warning.column) == (7, column)
    assert warning.what == "'1,000' is read as 2 numbers."
    assert read_task(SIXTEEN_BIT, f"goal: x\ngives 1\n{case.replace(',', '')}", 5)[1] == []


def test_inputs_that_the_solution_cannot_do_make_no_case() -> None:
    made = task("goal: x\ninputs 1 gives 1\nfurther 1 to 9, 1 to 9\nfurther 0")
    # It takes one number, never two; with 0 it does not stop.
    solution = assemble(EIGHT_BIT, "again: INPUT\nCOMPARE #0\nJUMP again IF EQUAL\nOUTPUT\nHALT")
    assert list(made.further(solution, Random(1), 1000)) == []
    assert list(made.further(None, Random(1), 1000)) == []


def test_a_program_that_stops_by_chance_does_not_do_a_task() -> None:
    """Empty memory and a number 0 are the word of HALT."""
    for program in ("INPUT\nINPUT\nOUTPUT", "INPUT\nINPUT\nOUTPUT\nn: 0"):
        found = outcome(program, "goal: x\ninputs 3, 8 gives 8")
        assert not found.passed and "Perhaps a HALT is missing." in found.words
    # Numbers that are meant to be a program are one.
    numbers = "\n".join(map(str, assemble(EIGHT_BIT, "INPUT\nOUTPUT\nHALT").words))
    assert outcome(numbers, "goal: x\ninputs 3 gives 3").passed


def test_cases_without_inputs_or_outputs() -> None:
    assert outcome("LOAD #5\nOUTPUT\nHALT", "goal: x\ngives 5").words == "The case is right."
    assert outcome("HALT", "goal: x\ninputs 3 gives nothing").passed
    assert outcome("HALT", "goal: x\ninputs none gives nothing").passed
    found = outcome("HALT", "goal: x\ngives 5")
    assert found.words == "Here the program should give 5; it gave nothing."


def test_a_program_with_faults_is_not_checked() -> None:
    for program in ("LAOD 3", ""):
        with pytest.raises(ValueError, match="faults"):
            outcome(program)


@pytest.mark.parametrize(
    ("text", "line", "column", "length", "what", "mend"),
    [
        ("inputs 1 gives 1", 5, 1, 1, "no goal", "'goal: "),
        ("goal: x", 5, 1, 1, "no case", "'inputs 3, 8 gives 8'"),
        ("goal:\ngives 1", 5, 1, 4, "no words", "after the colon"),
        ("goal: x\ngoal: y\ngives 1", 6, 1, 4, "second goal", "one goal"),
        ("goal: x\ninputs 1, 300 gives 1", 6, 11, 3, "300 does not fit", "-128 to 127"),
        ("goal: x\ninputs 1 gives -129", 6, 16, 4, "-129 does not fit", "-128 to 127"),
        ("goal: x\ninputs one gives 1", 6, 8, 3, "'one' is not a number", "commas"),
        ("goal: x\ninputs 3; 8 gives 1", 6, 8, 2, "'3;' is not a number", "commas"),
        ("goal: x\ninputs 1 gives", 6, 1, 14, "what comes out", "'gives nothing'"),
        ("goal: x\ninput: 1", 6, 1, 5, "neither the goal nor a case", "'inputs 3, 8 gives 8'"),
        ("goal: x\nimputs 1 gives 1", 6, 1, 16, "neither the goal", "'inputs'?"),
        ("goal: x\ngives 1\nfurther 2 to", 7, 9, 4, "'2 to' does not say", "further 2 to 40"),
        ("goal: x\ngives 1\nfurther 9 to 2", 7, 9, 6, "no number in", "smaller number first"),
        ("goal: x\ngives 1\nfurther 0 to 200", 7, 9, 8, "does not fit", "-128 to 127"),
        (f"goal: x\ngives 1\nfurther {'9' * 5000} to 1", 7, 9, 5005, "does not say", "2 to 40"),
        (f"goal: x\ngives 1\nfurther 1 to {'9' * 5000}", 7, 9, 5005, "does not say", "2 to 40"),
        ("gaol: x\ngives 1", 5, 1, 4, "neither the goal", "'goal'?"),
    ],
)
def test_faults(text: str, line: int, column: int, length: int, what: str, mend: str) -> None:
    found, problems = read_task(EIGHT_BIT, text, 5)
    assert found is None
    fault = next(each for each in problems if what in each.what)
    assert (fault.line, fault.column, fault.length) == (line, column, length)
    assert mend in fault.mend


def test_too_many_cases_and_numbers() -> None:
    _, (fault,) = read_task(EIGHT_BIT, "goal: x\n" + "gives 1\n" * 21, 1)
    assert (fault.line, "21 cases" in fault.what) == (22, True)
    _, (fault,) = read_task(EIGHT_BIT, "goal: x\ngives " + "1 " * 101, 1)
    assert "101 outputs" in fault.what


def test_a_scene_has_its_task_and_its_starter_may_be_unfinished() -> None:
    found = read_lesson(
        "t",
        f"---\ntitle: T\n---\n# One\n```program\nINPUT\n```\n```task\n{LARGER}```\n# Two\nGo on.\n",
    )
    assert found.faults == ()
    one, two = found.scenes
    assert one.task and one.task.line == 9 and one.task.goal == task(LARGER).goal
    assert two.task is None
    assert not any(each.line < 15 for each in found.problems)


@given(st.text(max_size=80))
def test_any_text_is_a_task_or_explained(text: str) -> None:
    found, problems = read_task(EIGHT_BIT, text, 1)
    assert found or problems
    assert all(each.what.strip() and each.mend.strip() for each in problems)
