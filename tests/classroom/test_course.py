"""The steps that the keys go through, worked out by hand: an instruction with an operand in itself
takes 4 steps of fetch, 1 of decode and 1 of execute."""

from __future__ import annotations

import pytest

from app.classroom.course import MOVES, course_of
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Scene

RUN = "```program\nLOAD #5\nOUTPUT\nHALT\n```\n"
SCALE = "```scale\na hand: 10 cm\na hair: 80 µm\na wire: 20 nm\n```\n"


def scene(blocks: str) -> Scene:
    lesson = read_lesson("course", f"---\ntitle: C\n---\n# One\n{blocks}")
    assert not lesson.faults
    return lesson.scenes[0]


@pytest.mark.parametrize(
    ("move", "step", "transfers", "phases"),
    [
        ("here", 7, 7, 7),
        ("forward", 0, 1, 4),
        ("forward", 4, 5, 5),
        ("forward", 6, 7, 10),
        ("forward", 18, 18, 18),
        ("back", 0, 0, 0),
        ("back", 1, 0, 0),
        ("back", 10, 9, 6),
        ("back", 18, 17, 17),
        ("phase", 0, 4, 4),
        ("phase", 5, 6, 6),
        ("instruction", 0, 6, 6),
        ("instruction", 7, 12, 12),
        ("instruction", 18, 18, 18),
        ("instruction-back", 12, 6, 6),
        ("instruction-back", 7, 6, 6),
        ("instruction-back", 0, 0, 0),
        ("restart", 11, 0, 0),
        ("end", 3, 18, 18),
    ],
)
def test_moves_along_a_run(move: str, step: int, transfers: int, phases: int) -> None:
    course = course_of(scene(RUN))
    assert MOVES[move](course, step, Depth.TRANSFERS) == transfers
    assert MOVES[move](course, step, Depth.PHASES) == phases


@pytest.mark.parametrize("depth", Depth)
def test_moves_along_a_zoom(depth: Depth) -> None:
    course = course_of(scene(SCALE))
    found = {name: [move(course, step, depth) for step in range(3)] for name, move in MOVES.items()}
    on, back = [1, 2, 2], [0, 0, 1]
    assert found == {
        "here": [0, 1, 2],
        "forward": on,
        "back": back,
        "phase": on,
        "instruction": on,
        "instruction-back": back,
        "restart": [0, 0, 0],
        "end": [2, 2, 2],
    }
    assert course.moment(1) is None


@pytest.mark.parametrize("move", MOVES)
def test_a_scene_of_words_alone_has_one_step(move: str) -> None:
    course = course_of(scene("Words.\n"))
    assert MOVES[move](course, 0, Depth.TRANSFERS) == 0
    assert course.reaches(0) and not course.reaches(1)
