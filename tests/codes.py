"""Instruction words for tests, from the published table of the machine and from nothing else.

No test spells a word out: it says ``word("LOAD 5")`` and gets what the table below says, which
shares no code with ``app``. ``tests/test_codes.py`` looks through the sources of the tests.
"""

from __future__ import annotations

import re

# The table 'Instructions' of the design of the machine: what each code is written as and does.
PUBLISHED = """
0  | HALT            | the control unit stops the clock
1  | INPUT           | ACC <- next input
2  | OUTPUT          | output <- ACC
3  | JUMP a          | PC <- operand
4  | JUMP a IF LESS  | PC <- operand, when status is LESS
5  | JUMP a IF EQUAL | PC <- operand, when status is EQUAL
6  | JUMP a IF MORE  | PC <- operand, when status is MORE
7  | STORE a         | MAR <- operand; MDR <- ACC; memory[MAR] <- MDR
8  | COMPARE a       | MAR <- operand; MDR <- memory[MAR]; status <- ACC compared with MDR
9  | COMPARE #n      | status <- ACC compared with operand
10 | SUBTRACT a      | MAR <- operand; MDR <- memory[MAR]; ACC, status <- ACC - MDR
11 | SUBTRACT #n     | ACC, status <- ACC - operand
12 | ADD a           | MAR <- operand; MDR <- memory[MAR]; ACC, status <- ACC + MDR
13 | ADD #n          | ACC, status <- ACC + operand
14 | LOAD a          | MAR <- operand; MDR <- memory[MAR]; ACC <- MDR
15 | LOAD #n         | ACC <- operand
"""
HALF_BITS = {"8-bit": 4, "16-bit": 8}


def rows() -> list[tuple[int, str, str]]:
    """The code of each instruction, how it is written, and what it does."""
    split = [[part.strip() for part in line.split("|")] for line in PUBLISHED.strip().splitlines()]
    return [(int(code), written, effect) for code, written, effect in split]


CODES = {written: code for code, written, _ in rows()}


def code(written: str) -> int:
    """The code of an instruction as the table writes it: ``LOAD #n``, ``JUMP a IF MORE``."""
    return CODES[written]


def word(text: str, machine: str = "8-bit") -> int:
    """The word of an instruction whose operand is a denary number: ``LOAD #5``, ``OUTPUT``."""
    found = re.fullmatch(r"([A-Z]+)(?: (#?)(\d+))?( IF [A-Z]+)?", text)
    if not found:
        raise ValueError(f"{text!r} is no instruction with a denary operand")
    name, sign, operand, ending = found.groups()
    kind = "" if operand is None else " #n" if sign else " a"
    return code(f"{name}{kind}{ending or ''}") << HALF_BITS[machine] | int(operand or 0)


def bits(text: str, machine: str = "8-bit") -> str:
    """The same in binary, as the board shows it: in groups of four."""
    digits = f"{word(text, machine):0{2 * HALF_BITS[machine]}b}"
    return " ".join(digits[at : at + 4] for at in range(0, len(digits), 4))
