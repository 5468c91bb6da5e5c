"""Codes that a lesson spells out, read from its text and held to the published table.

Notes and cues say things such as 'the opcode 1110 means LOAD', '1111 0111, LOAD #7' or a table of
opcodes. Where a pattern stands beside the name of an instruction it must be that instruction's.
Where it does not, it must be that of a whole instruction written in the same paragraph, or stand
in the program of its scene. Only a lesson that never says 'opcode' may have other patterns: they
are numbers.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from app.lesson.file.reader import read_file, read_lesson
from app.lesson.model import Lesson
from app.paths import resource

from ..codes import CODES, HALF_BITS, word

LESSONS = {path.stem: path for path in sorted(resource("lessons").glob("*.md"))}

NAMES = "|".join(dict.fromkeys(written.split()[0] for written in CODES))
# A name, and what tells whether its operand is a number or an address.
NAME = rf"(?P<name>{NAMES})\b(?P<operand> #| the number| what is stored at|(?= \d)| \| a number)?"
HALF = r"(?P<half>[01]{4}|0x[0-9A-F]\b|\d{1,2}\b)"
WORD = r"(?:0b)?(?P<left>[01]{4})[ _](?P<right>[01]{4})(?![01])|0x(?P<hex>[0-9A-F]{2})\b"
CLAIMS = (
    re.compile(rf"(?:{WORD})(?:,|:|, and that is) {NAME}"),
    re.compile(rf"\b(?P<half>[01]{{4}}) and [01]{{4}}: {NAME}"),
    re.compile(rf"(?:(?:op)?code|left half),? {HALF},? (?:means|is) {NAME}"),
    re.compile(rf"^\| {HALF} \| {NAME}"),
    re.compile(rf"{NAME} has the (?:op)?code {HALF}"),
)
# A pattern alone: a whole word, or half of one.
ALONE = re.compile(
    rf"(?P<first>[01]{{4}}) and the operand (?P<second>[01]{{4}})|(?:{WORD})"
    r"|(?<![01] )\b(?P<half>[01]{4})\b|\b(?:op)?code (?P<code>(?![01]{4}\b)\d+)\b"
)
WRITTEN = re.compile(rf"\b(?:{NAMES})(?: +#?\d+)?(?: IF [A-Z]+)?\b")


def paragraphs(source: str) -> Iterator[tuple[int, str]]:
    """The text in pieces that belong together, each with the number of its first line: a
    paragraph of notes as one line, and every line of a block or of a table."""
    fenced, first, piece = False, 0, ""
    for at, line in enumerate([*source.splitlines(), ""], start=1):
        if fenced or not line.strip() or line.startswith(("```", "|")):
            if piece:
                yield first, piece
            piece = ""
            fenced = fenced != line.startswith("```")
            if line.strip():
                yield at, line.strip()
        else:
            first, piece = (first, f"{piece} {line.strip()}") if piece else (at, line.strip())


def value(half: str) -> int:
    """The number that is half a word: four bits, a hexadecimal digit or a denary number."""
    return int(half, 2) if re.fullmatch("[01]{4}", half) else int(half, 0)


def opcode(found: re.Match[str]) -> int:
    parts = found.groupdict()
    if parts.get("hex"):
        return int(parts["hex"][0], 16)
    return value(parts.get("left") or parts["half"])


def meant(found: re.Match[str]) -> set[int]:
    """The codes that the name beside a pattern may have."""
    name, operand = found["name"], found["operand"]
    ending = {" #": " #n", " the number": " #n", " what is stored at": " a", "": " a"}
    if operand is not None and f"{name}{ending[operand]}" in CODES:
        return {CODES[f"{name}{ending[operand]}"]}
    return {number for written, number in CODES.items() if written.split()[0] == name}


def wrong_claims(text: str) -> list[str]:
    """What stands beside the name of an instruction and is not its code."""
    claims = (found for each in CLAIMS for found in each.finditer(text))
    return [found[0] for found in claims if opcode(found) not in meant(found)]


def unexplained(text: str, program: tuple[int, ...]) -> list[str]:
    """The patterns that stand beside no name and are nothing that is written there."""
    beside = [found.span() for each in CLAIMS for found in each.finditer(text)]
    words = {*program, *(written_words(text))}
    lefts, rights = {each >> 4 for each in words}, {each & 15 for each in words}
    found = []
    for each in ALONE.finditer(text):
        if any(start <= each.start() < end for start, end in beside):
            continue
        whole = (each["left"] or each["first"] or "") + (each["right"] or each["second"] or "")
        if whole or each["hex"]:
            known = (int(whole, 2) if whole else int(each["hex"], 16)) in words
        else:
            before = text[: each.start()]
            halves = lefts | rights
            if each["code"] or re.search(r"(code|left half)[,:]? $", before):
                halves = lefts
            elif re.search(r"(operand|right half)[,:]? $", before):
                halves = rights
            known = value(each["half"] or each["code"]) in halves
        if not known:
            found.append(each[0])
    return found


def written_words(text: str) -> Iterator[int]:
    for each in WRITTEN.findall(text):
        try:
            yield word(" ".join(each.split()))
        except KeyError:
            continue  # a name alone, such as LOAD in a sentence


def mistakes(lesson: Lesson) -> list[tuple[int, str]]:
    """Every code of a lesson's text that is not the table's, with its line."""
    found = []
    small = HALF_BITS[lesson.header.machine.name] == 4
    for line, text in paragraphs(lesson.source):
        scene = next((each for each in reversed(lesson.scenes) if each.line <= line), None)
        found += [(line, each) for each in wrong_claims(text)]
        if scene and small and "opcode" in lesson.source:
            words = scene.program.words
            found += [(line, each) for each in unexplained(text, words)]
    return found


@pytest.mark.parametrize("path", LESSONS.values(), ids=LESSONS)
def test_the_codes_of_a_lesson_are_those_of_the_table(path: Path) -> None:
    assert mistakes(read_file(path)) == []


# The proof that the check sees what it should.

BITS = re.compile(r"(?<![01])[01]{4}(?![01])")
# Only in these lessons are codes spelled out; the words of the others are numbers.
SPELLING = ("02-ferry-ticket-machine", "10-lighthouse-list")


def changed_by_a_bit(source: str) -> Iterator[tuple[int, str]]:
    """The text with the first bit of one group of four turned over, for each that is an opcode.

    Right halves are left alone, and so are the words of a program: its outcome is tested.
    """
    for group in BITS.finditer(source):
        at = group.start()
        if re.search(r"([01]{4}[ _]|and |right half[:,] |operand (is )?|0b)$", source[:at]):
            continue
        line = source.count("\n", 0, at) + 1
        yield line, source[:at] + "10"[int(source[at])] + source[at + 1 :]


@pytest.mark.parametrize("slug", SPELLING)
def test_a_changed_code_is_found(slug: str) -> None:
    source = LESSONS[slug].read_text(encoding="utf-8")
    tried = [*changed_by_a_bit(source)]
    assert len(tried) >= 15
    unseen = [line for line, text in tried if not mistakes(read_lesson(slug, text))]
    assert unseen == []


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("The opcode 1110 means LOAD.", False),
        ("The opcode 0001 means LOAD.", True),
        ("The opcode 14 means LOAD, and the code 0xE is LOAD, too.", False),
        ("The opcode 1 means LOAD.", True),
        ("The code 0x1 is LOAD.", True),
        ("1111 0111, LOAD #7", False),
        ("1110 0111, LOAD #7", True),
        ("1111 0111, LOAD 7", True),
        ("0xF7: LOAD the number 7", False),
        ("0x27: LOAD the number 7", True),
        ("decode 2: 1101 and 0100: ADD the number 4.", False),
        ("decode 2: 0101 and 0100: ADD the number 4.", True),
        ("| 1101 | ADD # | a number |", False),
        ("| 0101 | ADD # | a number |", True),
        ("OUTPUT has the opcode 0010", False),
        ("OUTPUT has the opcode 1111", True),
    ],
)
def test_what_stands_beside_a_name(text: str, wrong: bool) -> None:
    assert bool(wrong_claims(text)) is wrong


def test_what_stands_alone() -> None:
    program = (word("LOAD 5"), word("HALT"))
    for text in ("Look at 1110 0101.", "the opcode 1110", "the operand 0101", "opcode 14"):
        assert unexplained(text, program) == []
    assert unexplained("Write as bits: ADD #3. (1101 0011)", program) == []
    assert unexplained("Look at 0001 0101.", program) == ["0001 0101"]
    assert unexplained("the opcode 0001", program) == ["0001"]
    assert unexplained("Slice 0x15", program) == ["0x15"]
    assert unexplained("opcode 1", program) == ["opcode 1"]
    assert unexplained("Write as bits: ADD #3. (0101 0011)", program) == ["0101 0011"]
