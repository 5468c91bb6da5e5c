"""Memory word by word: what each word means, and a change of one written back into the program.

A word that is changed is changed in the program's text, so that the text and memory can never
say different things.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from app.machine.characters import CHARACTERS, IN_QUOTES, split_comment
from app.machine.machine import Machine
from app.machine.source.assembler import Program
from app.machine.source.disassembler import decode, write_instruction
from app.machine.telling.reading import Reading
from app.machine.telling.wording import USUAL, Wording
from app.machine.words import show_pattern, show_word

from .work import assembled

LONGEST_WORD = 80

_LABELS = re.compile(r"\s*(?:[^\W\d]\w*\s*:\s*)*")


@dataclass(frozen=True, slots=True)
class Word:
    """One word as the memory panel shows it. ``written`` is what may be typed over, ``bits``
    the pattern, ``now`` its value in the run where that differs from the start."""

    address: int
    shown_address: str
    label: str
    written: str
    bits: str
    meaning: str
    now: str
    instruction: bool


@dataclass(frozen=True, slots=True)
class WrongWord:
    """What was typed for a word and cannot be written there, and why."""

    address: int
    written: str
    why: str


def words(
    program: Program, base: str, now: list[int] | None, wording: Wording = USUAL
) -> list[Word]:
    """Every word of memory; ``now`` is memory at the step that the pupil looks at."""
    machine = program.machine
    reading = Reading(machine, base, wording)
    made = []
    for address in range(machine.memory_words):
        inside = address < len(program.words)
        word = program.words[address] if inside else 0
        code = inside and not program.origins[address].is_data
        here = now[address] if now else word
        made.append(
            Word(
                address=address,
                shown_address=reading.address(address),
                label=program.labels.get(address, ""),
                written=write_instruction(machine, word, program.labels)
                if code
                else _number(machine, word, base),
                bits=reading.instruction(word),
                meaning=_meaning(reading, word, code),
                now=reading.number(here) if here != word else "",
                instruction=code,
            )
        )
    return made


def _number(machine: Machine, word: int, base: str) -> str:
    """A number as the assembler reads it, in the base that the board shows."""
    if base == "binary":
        return f"0b{show_pattern(word, machine.word_bits, base).replace(' ', '_')}"
    if base == "hexadecimal":
        return f"0x{show_pattern(word, machine.word_bits, base)}"
    if base == CHARACTERS and (shown := show_word(machine, word, base)).startswith("'"):
        return shown
    return str(machine.signed(word))


def _meaning(reading: Reading, word: int, code: bool) -> str:
    instruction, _ = decode(reading.machine, word)
    number = f"the number {reading.number(word)}"
    if instruction is None:
        return number
    meaning = reading.meaning(word)
    if code:
        return meaning
    # A small number has the opcode of HALT, like every empty word: that would only be noise.
    return f"{number} (as an instruction: {meaning})" if instruction.code else number


def rewrite(program: Program, address: int, text: str) -> str:
    """The program's text with one word of memory changed; its label and comment stay.

    ``text`` is a number in any base, bits as the board writes them, or an instruction. Raises
    ValueError with a sentence where it is none of these or the address does not exist.
    """
    machine = program.machine
    if not 0 <= address < machine.memory_words:
        raise ValueError(f"There is no address {address}.")
    text = text.strip().replace("\N{MINUS SIGN}", "-")
    if not text or len(text) > LONGEST_WORD or re.search(r"[;:\r\n]", re.sub(IN_QUOTES, "", text)):
        raise ValueError("Write one number or one instruction.")
    bits = re.sub(r"[\s_]", "", text)
    if re.fullmatch(r"[01]+", bits) and len(bits) == machine.word_bits:
        text = f"0b{bits}"
        if address < len(program.words) and not program.origins[address].is_data:
            text = write_instruction(machine, int(bits, 2), program.labels)
    lines = program.source.split("\n")
    if address < len(program.origins):
        at = program.origins[address].line - 1
        lines[at] = _with_code(lines[at], text)
    else:
        while lines and not lines[-1].strip():
            lines.pop()
        lines += ["0"] * (address - len(program.origins)) + [text, ""]
    source = "\n".join(lines)
    changed = assembled(machine, source)
    if changed.problems:
        first = changed.problems[0]
        raise ValueError(f"{first.what} {first.mend}")
    return source


def _with_code(line: str, text: str) -> str:
    code, semicolon, comment = split_comment(line)
    found = _LABELS.match(code)
    label = found[0] if found else ""
    # The comment stays in its column where there is room.
    gap = max(len(code) - len(label) - len(text), 1) if semicolon else 0
    return f"{label}{text}{' ' * gap}{semicolon}{comment}"
