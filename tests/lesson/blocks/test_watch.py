"""The 'watch' block: the words that stay in sight, and what is wrong with it."""

from __future__ import annotations

import pytest

from app.lesson.blocks.watch import read_watch
from app.lesson.file.reader import read_lesson
from app.machine.machine import SIXTEEN_BIT
from app.machine.source.assembler import assemble

PROGRAM = assemble(SIXTEEN_BIT, "again: LOAD total\nHALT\ntotal: 4\nprice: 5\nsum: 0\nrest: 0\n")


@pytest.mark.parametrize(
    ("text", "addresses"),
    [
        ("total", (2,)),
        ("price, total", (3, 2)),
        ("price\n  Total\n", (3, 2)),
        ("again, rest,", (0, 5)),
        ("nothing", ()),
    ],
)
def test_labels_are_addresses(text: str, addresses: tuple[int, ...]) -> None:
    assert read_watch(PROGRAM, text, 7) == (addresses, [])


@pytest.mark.parametrize(
    ("text", "line", "column", "what", "mend"),
    [
        ("", 7, 1, "names no word", "total, price"),
        ("total, totl", 7, 8, "label 'totl'", "Did you mean 'total'?"),
        ("total\n total", 8, 2, "named twice", "Leave one"),
        ("again, total, price, sum, rest", 7, 27, "names 5 words", "room for 4"),
    ],
)
def test_what_is_wrong_is_told_where_it_is(
    text: str, line: int, column: int, what: str, mend: str
) -> None:
    found, (problem,) = read_watch(PROGRAM, text, 7)
    assert found is None
    assert (problem.line, problem.column) == (line, column)
    assert what in problem.what and mend in problem.mend


def test_the_block_may_stand_above_the_program() -> None:
    lesson = read_lesson(
        "crates",
        "---\ntitle: Crates\nmachine: 16-bit\n---\n\n# One\n\n```watch\nprice\n```\n\n"
        "```program\nLOAD price\nHALT\nprice: 3\n```\n",
    )
    assert not lesson.problems
    assert lesson.scenes[0].watch == (2,)


@pytest.mark.parametrize(("machine", "told"), [("8-bit", 1), ("16-bit", 0)])
def test_where_all_of_memory_is_in_sight_the_block_does_nothing(machine: str, told: int) -> None:
    lesson = read_lesson(
        "crates",
        f"---\ntitle: Crates\nmachine: {machine}\n---\n\n# One\n\n```program\nLOAD price\nHALT\n"
        "price: 3\n```\n\n```watch\nprice\n```\n",
    )
    assert lesson.can_be_taught and lesson.scenes[0].watch == (2,)
    said = [each for each in lesson.problems if "'watch' does nothing" in each.what]
    assert [(each.line, each.warning) for each in said] == [(14, True)] * told


def test_of_a_program_with_faults_nothing_more_is_told() -> None:
    lesson = read_lesson(
        "crates",
        "---\ntitle: Crates\n---\n\n# One\n\n```watch\nprice\n```\n\n```program\nLODE 3\n```\n",
    )
    assert not any("label" in each.what for each in lesson.problems)
