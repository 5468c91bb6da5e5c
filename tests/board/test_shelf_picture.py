"""The small picture of a lesson: what it shows is in the lesson."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.board.shelf_picture import HEIGHT, MOST_ROWS, WIDTH, ShelfPicture, shelf_picture
from app.lesson.file.reader import read_file, read_lesson

LESSONS = sorted((Path(__file__).parents[2] / "lessons").glob("*.md"))


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_it_is_drawn_from_the_lesson(path: Path) -> None:
    """Against the text of the file alone: its blocks and the words of its programs."""
    text = path.read_text("utf-8")
    picture = shelf_picture(read_file(path))
    sources = re.findall(r"```program\n(.*?)```", text, re.S)
    # Without comments and labels: one of these stands in a line of its own.
    codes = [
        [code for line in each.split("\n") if (code := re.sub(r";.*|^\s*\w+:", "", line).strip())]
        for each in sources
    ]
    code = max(codes, key=len)
    assert len(picture.words) == min(len(code), MOST_ROWS)
    for name, shown in (("INPUT", picture.reads), ("OUTPUT", picture.sends)):
        assert shown == any(re.search(rf"\b{name}\b", line) for line in code), name
    sums = r"\b(ADD|SUBTRACT|COMPARE|AND|OR|XOR|NOT|SHIFT|ROTATE)\b"
    assert picture.works == any(re.search(sums, line) for line in code)
    assert len(picture.jumps) == sum("JUMP" in line for line in code[:MOST_ROWS])
    assert picture.clock == ("```speed" in text)
    scale = re.search(r"```scale\n(.*?)```", text, re.S)
    assert bool(picture.discs) == bool(scale)


def picture_of(*lines: str) -> ShelfPicture:
    head = "---\ntitle: T\nmachine: 16-bit\nwith: bit operations, index register\n---\n\n# One\n\n"
    program = "\n".join([*lines, "HALT"])
    lesson = read_lesson("t", f"{head}```program\n{program}\n```\n")
    assert lesson.can_be_taught, lesson.problems
    return shelf_picture(lesson)


# By hand: which of them the ALU works for (tests/hardware/machine.md: 'ACC, status <- ...'), and
# which go on at their own operand.
@pytest.mark.parametrize(
    ("line", "works", "jumps"),
    [
        ("LOAD 3", False, 0),
        ("ADD 3", True, 0),
        ("COMPARE #3", True, 0),
        ("NOT", True, 0),
        ("SHIFT #1 LEFT", True, 0),
        ("AND #1", True, 0),
        ("ADD #1 TO INDEX", True, 0),
        ("JUMP 1", False, 1),
        ("JUMP 1 IF CARRY", False, 1),
        ("JUMP 1 INDIRECT", False, 0),
        ("JUMP 1 INDEXED", False, 0),
    ],
)
def test_what_works_and_what_jumps_is_what_the_transfers_say(
    line: str, works: bool, jumps: int
) -> None:
    picture = picture_of(line)
    assert (picture.works, len(picture.jumps)) == (works, jumps)


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_everything_stays_in_the_picture(path: Path) -> None:
    picture = shelf_picture(read_file(path))
    for bar in picture.words:
        assert 0 <= bar.y <= HEIGHT - 4 and 116 + bar.width <= WIDTH
    ends = [each.x + each.radius for each in picture.discs]
    assert all(each.x - each.radius > 0 and each.x + each.radius <= 110 for each in picture.discs)
    assert ends == sorted(ends)


def test_no_two_lessons_look_alike() -> None:
    pictures = [shelf_picture(read_file(path)) for path in LESSONS]
    assert len(set(pictures)) == len(pictures)
