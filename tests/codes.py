"""Instruction words for tests, from the specification of the machine and from nothing else.

No test spells a word out: it says ``word("LOAD 5")`` and gets what the table in
``hardware/machine.md`` says, which shares no code with ``app``. ``tests/test_codes.py`` looks
through the sources of the tests.
"""

from __future__ import annotations

import re
from pathlib import Path

# The specification of the machine. Its table 'Instructions' says how each code is written and what
# it does, its table 'Sizes' how large the words are.
PAGE = (Path(__file__).parent / "hardware" / "machine.md").read_text(encoding="utf-8")


def table(heading: str) -> list[list[str]]:
    """The rows of the table under a heading of the page, its head left out."""
    (section,) = re.findall(rf"^## {heading}$(.*?)(?=^##? |\Z)", PAGE, re.MULTILINE | re.DOTALL)
    lines = [line for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip(" `") for cell in line.strip("|").split("|")] for line in lines[2:]]


def rows() -> list[tuple[int, str, str]]:
    """The code of each instruction, how it is written, and what it does."""
    return [(int(code), written, effect) for code, written, effect in table("Instructions")]


def part_rows(part: str) -> list[tuple[int, str, str]]:
    """The same of a part of the grown machine, named by its heading in small letters."""
    return [(int(code, 16), written, effect) for code, written, effect in table(part.capitalize())]


# The parts that the larger machine can be built with.
GROWN_BY = ("bit operations", "index register", "stack", "interrupts")
HALF_BITS = {machine: int(operand.split()[0]) for machine, _, _, operand, *_ in table("Sizes")}
CODES = {written: code for code, written, _ in rows()}
PART_CODES = {part: {written: code for code, written, _ in part_rows(part)} for part in GROWN_BY}
# How many steps an instruction has after its fetch and its decoding, by its code.
EXECUTE_STEPS = {
    code: len(effect.split(";"))
    for found in (rows(), *map(part_rows, GROWN_BY))
    for code, _, effect in found
}
ALL_CODES = CODES | {
    written: code for part in PART_CODES.values() for written, code in part.items()
}


def code(written: str) -> int:
    """The code of an instruction as the table writes it: ``LOAD #n``, ``JUMP a IF MORE``."""
    return ALL_CODES[written]


def word(text: str, machine: str = "8-bit") -> int:
    """The word of an instruction whose operand is a denary number: ``LOAD #5``, ``OUTPUT``."""
    found = re.fullmatch(r"([A-Z]+)(?: (#?)(\d+))?((?: [A-Z]+)*)", text)
    if not found:
        raise ValueError(f"{text!r} is no instruction with a denary operand")
    name, sign, operand, ending = found.groups()
    kind = "" if operand is None else " #n" if sign else " a"
    return code(f"{name}{kind}{ending or ''}") << HALF_BITS[machine] | int(operand or 0)


def bits(text: str, machine: str = "8-bit") -> str:
    """The same in binary, as the board shows it: in groups of four."""
    digits = f"{word(text, machine):0{2 * HALF_BITS[machine]}b}"
    return " ".join(digits[at : at + 4] for at in range(0, len(digits), 4))
