"""What the README says is so."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from app.board.controls import CONTROLS, KEY_NAMES
from app.lesson.asking.questions import MOST_QUESTIONS
from app.lesson.asking.subjects import read_subject
from app.lesson.blocks.cues import LONGEST_CUE, MOST_CUES
from app.lesson.blocks.question import FEWEST_CHOICES, MOST_CHOICES
from app.lesson.file.head import FIELDS, LONGEST_TITLE
from app.lesson.file.reader import LARGEST_FILE, MOST_LINES, MOST_SCENES, read_lesson
from app.lesson.file.scenes import BLOCKS
from app.lesson.parts import find_parts
from app.lesson.places import read_when
from app.machine.growing import PARTS, grown
from app.machine.instructions import INSTRUCTIONS
from app.machine.machine import MACHINES
from app.machine.source.assembler import LONGEST_LABEL
from app.machine.source.numbers import MOST_INPUTS
from tests.server import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
# As it is read, whichever way its lines are filled.
WORDS = " ".join(README.split())


def column(head: str) -> list[str]:
    """What stands in code style in the first column of each table with this head."""
    tables = re.findall(rf"^\| {head} \|.*\n\|-.*\n((?:\|.*\n)+)", README, flags=re.MULTILINE)
    cells = re.findall(r"^\| (.+?) \|", "".join(tables), flags=re.MULTILINE)
    return re.findall(r"`([^`]+)`", "\n".join(cells))


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


def test_its_header_has_no_fault_and_names_every_field() -> None:
    (header,) = re.findall(r"^```\n(---\n(?:.*\n)+?---\n)```$", README, flags=re.MULTILINE)
    lesson = read_lesson("example", f"{header}\n# A scene\n\nNotes.\n")
    assert lesson.problems == ()
    for field in FIELDS:
        assert re.search(rf"^{field}:", header, re.MULTILINE) or f"`{field}" in README, field


def test_every_option_of_the_command_that_needs_no_name_is_in_its_table() -> None:
    asked = [sys.executable, "-m", "app", "serve", "--help"]
    told = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    found = re.findall(r"^  --[a-z-]+(?: / (--[a-z-]+))?", told, flags=re.MULTILINE)
    lines = re.findall(r"^  (--[a-z-]+)", told, flags=re.MULTILINE)
    # Of two a table names the one that has to be asked for.
    there = {other or first for first, other in zip(lines, found, strict=True)} - {"--help"}
    assert {each.split()[0] for each in column("option")} == there


def test_every_kind_of_block_is_in_its_tables() -> None:
    assert {*column("block")} == {*BLOCKS}


@pytest.mark.parametrize("place", column("place"))
def test_a_place_that_it_names_is_one(place: str) -> None:
    read_when(place, machine=grown(frozenset(PARTS)))


def test_what_it_says_can_be_asked_about_can_be() -> None:
    machine = grown(frozenset(PARTS))
    (asked,) = re.findall(r"and what to `ask`: (.+?), or a register by its name\.", WORDS)
    (requests,) = re.findall(r"Questions may ask (`when the request.+?)\.", WORDS)
    (watched,) = re.findall(r"Questions may ask (`hit or miss.+?); and the last", WORDS)
    said = re.findall(r"`([^`]+)`", f"{asked} {requests} {watched}")
    assert len(said) > 12
    for each in said:
        read_subject(each, machine)


def test_the_parts_that_it_names_are_parts() -> None:
    (plain, grown_by) = re.findall(
        r"\*\*The parts\*\* are (.+?)\. What `with` brings has names, too: (.+?)\.", WORDS
    )[0]
    for text, machine in ((plain, MACHINES["8-bit"]), (grown_by, grown(frozenset(PARTS)))):
        text = text.replace(" and for several at once", ",").replace(" (with their panel)", "")
        names = re.findall(r"[^,;()]+", text)
        assert len([find_parts(each.strip(), machine) for each in names if each.strip()]) > 5


def test_its_limits_are_those_of_the_check() -> None:
    (limits,) = re.findall(r"\*\*Limits\*\*.+?\. ", WORDS)
    numbers = [int(each.replace(",", "")) for each in re.findall(r"\d[\d,]*\d", limits)]
    assert numbers == [
        *(MOST_LINES, LARGEST_FILE // 1024, MOST_SCENES, MOST_QUESTIONS, MOST_CUES, MOST_INPUTS),
        *(LONGEST_TITLE, LONGEST_LABEL, LONGEST_CUE),
    ]
    assert (FEWEST_CHOICES, MOST_CHOICES) == (3, 5) and "three to five of them" in WORDS
