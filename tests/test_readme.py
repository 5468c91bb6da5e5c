"""What the README says is so."""

from __future__ import annotations

import re

from app.board.controls import CONTROLS, KEY_NAMES
from app.lesson.file.reader import read_lesson
from app.machine.growing import PARTS
from app.machine.instructions import INSTRUCTIONS
from app.machine.machine import MACHINES
from tests.server import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_key_is_in_its_table() -> None:
    """By name, on the line of its control or of the pair that its control belongs to."""
    rows = re.findall(r"^\| (.+) \| .+ \|$", README, flags=re.MULTILINE)
    listed = {word for row in rows for word in re.split(r", | or | and ", row)}
    for control in CONTROLS:
        for key in control.keys:
            if key != "=":  # the plus key without Shift
                assert KEY_NAMES.get(key, key) in listed, control.name


def test_every_instruction_is_in_its_table() -> None:
    (table,) = re.findall(r"^\| instruction \|.*\n((?:\|.*\n)+)", README, flags=re.MULTILINE)
    written = re.findall(r"`([^`]+)`", "".join(re.findall(r"^\| (.+?) \|", table, re.MULTILINE)))
    assert sorted(written) == sorted(each.written for each in INSTRUCTIONS)


def test_every_instruction_of_a_part_is_in_their_table() -> None:
    (table,) = re.findall(r"^\| part \|.*\n((?:\|.*\n)+)", README, flags=re.MULTILINE)
    written: dict[str, list[str]] = {}
    for part, instructions in re.findall(r"^\| `([^`]+)` \| (.+?) \|", table, re.MULTILINE):
        written.setdefault(part, []).extend(re.findall(r"`([^`]+)`", instructions))
    for name, part in PARTS.items():
        assert sorted(written[name]) == sorted(each.written for each in part.instructions)
    assert set(written) == set(PARTS)


def test_the_numbers_it_gives_are_those_of_the_machines() -> None:
    for format in MACHINES.values():
        for number in (format.smallest, format.largest, format.operand_mask):
            shown = f"{number:,}".replace("-", "\N{MINUS SIGN}")
            assert re.search(rf"(?<!\d){shown}(?!\d)", README), (format.name, shown)


def test_its_lesson_has_no_problem() -> None:
    example = re.search(r"^    ---\n(?:    .*\n|\n)+", README, flags=re.MULTILINE)
    assert example
    lesson = read_lesson("example", re.sub(r"^    ", "", example[0], flags=re.MULTILINE))
    assert lesson.problems == ()
    assert lesson.scenes[0].program.words


def test_its_picture_is_there_and_not_too_large() -> None:
    (name,) = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert 10_000 < (ROOT / name).stat().st_size < 150_000
