"""The 'change' block: a program once more with other lines, and what is wrong with it."""

from __future__ import annotations

import pytest

from app.lesson.blocks.change import read_change
from app.lesson.file.reader import read_lesson
from app.lesson.model import Lesson
from app.machine.machine import EIGHT_BIT
from app.machine.source.assembler import assemble

SOURCE = """\
        LOAD  cans      ; how many
again:  SUBTRACT #1
        JUMP  again IF MORE
        OUTPUT
        HALT
cans:   3               ; in the morning
a: b:   4
"""
PROGRAM = assemble(EIGHT_BIT, SOURCE)

LESSON = """---
title: Cans
machine: 8-bit
---

# Three

```program
{source}```

# Five

{block}

# Once more

```cues
end: And again.
```
"""


def lesson(block: str, source: str = SOURCE) -> Lesson:
    return read_lesson("cans", LESSON.format(source=source, block=block))


@pytest.mark.parametrize(
    ("text", "line", "written"),
    [
        ("cans: 5", 6, "cans:   5               ; in the morning"),
        ("CANS: 5 ; at noon", 6, "cans:   5 ; at noon"),
        ("again: SUBTRACT #2", 2, "again:  SUBTRACT #2"),
        ("b: 0b11", 7, "a: b:   0b11"),
    ],
)
def test_one_line_stands_in_place_of_another(text: str, line: int, written: str) -> None:
    changed, problems = read_change(PROGRAM, text, 7)
    assert not problems
    lines = SOURCE.split("\n")
    lines[line - 1] = written
    assert changed.source == "\n".join(lines)
    # As if it had been written so at once.
    assert changed == assemble(EIGHT_BIT, changed.source)
    assert changed.words != PROGRAM.words


@pytest.mark.parametrize(
    ("text", "line", "column", "what", "mend"),
    [
        ("", 6, 1, "changes nothing", "cans: 5"),
        ("cans 5", 7, 1, "is to be changed", "cans: 5"),
        ("cans: ; none", 7, 1, "is to be changed", "cans: 5"),
        ("  cas: 5", 7, 3, "label 'cas'", "Did you mean 'cans'?"),
        ("tins: 5", 7, 1, "label 'tins'", "that label"),
        ("cans: 5\ncans: 6", 8, 1, "changed twice", "Leave one"),
        ("cans:  500", 7, 8, "500", "127"),
        ("b: 1\nagain: SUBTARCT #1", 8, 8, "SUBTARCT", "SUBTRACT"),
    ],
)
def test_what_is_wrong_is_told_where_it_is(
    text: str, line: int, column: int, what: str, mend: str
) -> None:
    found, problems = read_change(PROGRAM, text, 7)
    assert found is PROGRAM
    assert (problems[0].line, problems[0].column) == (line, column)
    assert what in problems[0].what and mend in problems[0].mend


def test_a_change_that_changes_nothing_is_a_warning() -> None:
    _, (problem,) = read_change(PROGRAM, "cans: 3", 7)
    assert problem.warning and "there already" in problem.what


def test_a_long_program_is_not_read_again_and_again() -> None:
    long = assemble(EIGHT_BIT, SOURCE + "; a comment\n" * 800)
    found, (problem,) = read_change(long, "cans: 5", 7)
    assert found is long and "letters" in problem.what and not problem.warning


def test_the_scenes_after_keep_it() -> None:
    first, second, third = lesson("```change\ncans: 5\n```").scenes
    assert first.program.words[5] == 3
    assert second.program.words[5] == third.program.words[5] == 5
    assert second.changed == ("cans: 5",) and third.changed == ()
    assert second.run.last_step > first.run.last_step


def test_inputs_alone_change_without_the_program() -> None:
    source = "INPUT\nOUTPUT\nHALT\n"
    block = "```inputs\n7\n```"
    scenes = lesson(block, source).scenes
    assert scenes[1].inputs == (7,) and scenes[1].program is scenes[0].program


def test_a_changed_program_that_never_stops_is_told() -> None:
    found = lesson("```change\nagain: ADD #1\n```", SOURCE).problems
    assert not any("has not stopped" in each.what for each in found), "it ends at 127"
    endless = lesson("```change\nagain: JUMP again\n```", SOURCE).problems
    assert [each.what for each in endless if "has not stopped" in each.what and each.warning]


def test_a_scene_with_a_program_changes_none() -> None:
    both = lesson("```program\nHALT\n```\n\n```change\ncans: 5\n```")
    assert any("has a program of its own" in each.what for each in both.faults)
    none = read_lesson("cans", "---\ntitle: Cans\n---\n\n# One\n\n```change\ncans: 5\n```\n")
    assert any("no program before" in each.what for each in none.faults)
    # Of a program with faults nothing more is told.
    (fault,) = lesson("```change\ncas: 5\n```", SOURCE.replace("LOAD", "LAOD")).faults
    assert "LAOD" in fault.what


def test_another_line_in_a_comment_is_told() -> None:
    (warning,) = read_change(PROGRAM, "cans: 5; b: 6", 7)[1]
    assert (warning.line, warning.column, warning.length, warning.warning) == (7, 9, 5, True)
    assert warning.what == "What follows ';' is a comment, so 'b' is not changed."
    assert read_change(PROGRAM, "cans: 5 ; before: 3\nb: 6 ; b: why?", 7)[1] == []
