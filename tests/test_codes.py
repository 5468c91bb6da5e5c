"""The table that the tests take their words from, and that no test keeps a word of its own.

A word that is spelled out (``0x25``, ``0b0010_0101``, ``0010 0101``, 'opcode 2') would go on
meaning whatever it meant when the table was another. So tests say ``word("LOAD #5")``, and the
lines of their sources are searched for anything that has the shape of an instruction word. A
number that is no instruction says so at the end of its line: ``# data``. Numbers in denary cannot
be told from others; they are left to the tests that use them.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from .codes import CODES, HALF_BITS, bits, code, rows, word

HERE = Path(__file__).parent
# These work the table out by hand or look for spelled-out words, so they spell them out themselves.
SPELLED_HERE = {"codes.py", "test_codes.py", "test_spelled_codes.py"}
SHAPES = re.compile(
    r"\b0[xX](?P<digits>[0-9A-Fa-f]{4}|[0-9A-Fa-f]{2})\b"
    r"|(?<![\w])(?:0b)?(?P<groups>[01]{4}(?:[ _]?[01]{4}){3}|[01]{4}[ _]?[01]{4})(?![ _]?[01])"
    r"|\b(?:op)?code(?: | ?(?:[=<>]=?|in) ?\(?)(?P<code>\d+)\b"
)
# The ends of the two's-complement range and of the mask: numbers in any test of arithmetic.
EDGES = {0x7F, 0x80, 0xFF}


def spelled(line: str) -> list[str]:
    """What a line of a test has in the shape of an instruction word."""
    if re.search(r"# data\b", line):
        return []
    return [each[0] for each in SHAPES.finditer(line) if is_instruction(each)]


def is_instruction(found: re.Match[str]) -> bool:
    """Whether the opcode half is one that does something; HALT is 0, as any small number is."""
    if found["code"]:
        return 0 < int(found["code"]) <= max(CODES.values())
    digits = found["digits"] or f"{int(re.sub('[ _]', '', found['groups']), 2):x}"
    if found["groups"]:
        digits = digits.zfill(len(re.sub("[ _]", "", found["groups"])) // 4)
    value, half = int(digits, 16), 2 * len(digits)
    return value not in EDGES and 1 <= value >> half <= max(CODES.values())


def sources() -> list[Path]:
    return [each for each in sorted(HERE.rglob("*.py")) if each.name not in SPELLED_HERE]


@pytest.mark.parametrize("path", sources(), ids=lambda each: str(each.relative_to(HERE)))
def test_no_test_spells_a_word_out(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    found = {at: here for at, line in enumerate(lines, start=1) if (here := spelled(line))}
    assert not found, f"{path}: write word('LOAD #5'), or say '# data' at the end of the line"


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("run([0x25, 0x00])", ["0x25"]),
        ("run([0x0205, 9])", ["0x0205"]),
        ("x = 0b0010_0101", ["0b0010_0101"]),
        ('expect("0010 0101")', ["0010 0101"]),
        ("# 0010 0101 is a LOAD", ["0010 0101"]),
        ('bits = "0000 0010 0000 0101"', ["0000 0010 0000 0101"]),
        ('"the opcode 14"', ["opcode 14"]),
        ("elif code == 14:", ["code == 14"]),
        ("if code in (4, 7):", ["code in (4"]),
        ("word = code << 4 | 9", []),
        ("0x25  # data", []),
        ("0x0F, 0x05, 0x00, 5, 0xFF, 0x80, 0x7F", []),  # HALT or a small number, and the edges
        ("0x1000, 0xFFFF", []),  # codes that no instruction has
        ("'the opcode 16'", []),
        ('"0000 1101", 0b1101', []),
        ("simulate([word('LOAD #5')])", []),
    ],
)
def test_what_is_found_in_a_line(line: str, found: list[str]) -> None:
    assert spelled(line) == found


# The table itself.


def test_words_worked_by_hand() -> None:
    assert [word(each) for each in ("HALT", "INPUT", "OUTPUT")] == [0x00, 0x10, 0x20]
    assert [word(each) for each in ("JUMP 15", "JUMP 1 IF LESS")] == [0x3F, 0x41]
    assert [word(each) for each in ("JUMP 2 IF EQUAL", "JUMP 3 IF MORE")] == [0x52, 0x63]
    assert [word(each) for each in ("STORE 4", "COMPARE 5", "COMPARE #6")] == [0x74, 0x85, 0x96]
    assert [word(each) for each in ("SUBTRACT 7", "SUBTRACT #8")] == [0xA7, 0xB8]
    assert [word(each) for each in ("ADD 9", "ADD #10")] == [0xC9, 0xDA]
    assert [word(each) for each in ("LOAD 11", "LOAD #12")] == [0xEB, 0xFC]
    assert word("LOAD #255", "16-bit") == 0x0FFF
    assert bits("LOAD 5") == "1110 0101"
    assert bits("STORE 200", "16-bit") == "0000 0111 1100 1000"


@pytest.mark.parametrize("text", ["LOAD", "HALT 3", "load 5", "LOAD fare", "JUMP 1 IF WET", ""])
def test_what_is_no_instruction_is_refused(text: str) -> None:
    with pytest.raises((ValueError, KeyError)):
        word(text)


def test_the_rules_that_a_class_can_find() -> None:
    """No operand, jumps, STORE; from 8 up the last bit tells a number (1) from an address (0)."""
    assert [number for number, _, _ in rows()] == list(range(16))
    assert len(CODES) == 16 and HALF_BITS == {"8-bit": 4, "16-bit": 8}
    for written, number in CODES.items():
        assert number < 8 or ("#n" in written) == (number % 2 == 1)
    assert all(number >= 8 for written, number in CODES.items() if "#n" in written)
    without = [number for each, number in CODES.items() if " " not in each]
    jumps = [number for each, number in CODES.items() if each.startswith("JUMP")]
    assert (without, jumps, code("STORE a")) == ([0, 1, 2], [3, 4, 5, 6], 7)
