"""From words to text and back: the same words, for every word and any image."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.machine.machine import EIGHT_BIT, MACHINES, SIXTEEN_BIT
from app.machine.source.assembler import assemble
from app.machine.source.disassembler import decode, write_instruction
from app.machine.words import Format
from tests.codes import word
from tests.machine.images import disassemble

BOTH = pytest.mark.parametrize("format", MACHINES.values(), ids=MACHINES)


@pytest.mark.parametrize(
    ("format", "pattern", "text"),
    [
        (EIGHT_BIT, 0x00, "HALT"),
        (EIGHT_BIT, word("LOAD 15"), "LOAD 15"),
        (EIGHT_BIT, word("LOAD #15"), "LOAD #15"),
        (EIGHT_BIT, word("JUMP 3 IF LESS"), "JUMP 3 IF LESS"),
        (EIGHT_BIT, word("INPUT"), "INPUT"),
        # HALT, INPUT and OUTPUT have no operand, so with one the word can only be data.
        (EIGHT_BIT, 0x07, "7"),
        (EIGHT_BIT, word("INPUT") + 1, "17"),
        (SIXTEEN_BIT, word("LOAD 255", "16-bit"), "LOAD 255"),
        # No instruction has these codes.
        (SIXTEEN_BIT, 0x1000, "4096"),
        (SIXTEEN_BIT, 0xFFFF, "-1"),
    ],
)
def test_a_word_as_text(format: Format, pattern: int, text: str) -> None:
    assert write_instruction(format, pattern) == text


def test_labels_stand_for_addresses_only() -> None:
    labels = {3: "fare"}
    plain = ("LOAD 3", "LOAD 4", "LOAD #3", "JUMP 3 IF MORE")
    texts = [write_instruction(EIGHT_BIT, word(each), labels) for each in plain]
    assert texts == ["LOAD fare", "LOAD 4", "LOAD #3", "JUMP fare IF MORE"]


def test_decoding_a_word() -> None:
    instruction, operand = decode(EIGHT_BIT, word("SUBTRACT 10"))
    assert instruction is not None
    assert (instruction.written, operand) == ("SUBTRACT a", 10)
    assert decode(SIXTEEN_BIT, 0x1005) == (None, 5)


@BOTH
def test_every_word_comes_back(format: Format) -> None:
    for start in range(0, 1 << format.word_bits, format.memory_words):
        image = tuple(range(start, start + format.memory_words))
        assert assemble(format, disassemble(format, image)).words == image


@BOTH
@given(data=st.data())
@settings(max_examples=200, deadline=None)
def test_any_image_comes_back(format: Format, data: st.DataObject) -> None:
    image = data.draw(
        st.lists(st.integers(0, format.word_mask), max_size=format.memory_words).map(tuple)
    )
    text = disassemble(format, image)
    assert assemble(format, text).words == image
    assert len(text.splitlines()) == len(image)


@BOTH
def test_plain_text_comes_back(format: Format) -> None:
    """A text in the plainest spelling is its own disassembly."""
    text = "INPUT\nSTORE 9\nADD #3\nCOMPARE 9\nJUMP 1 IF MORE\nOUTPUT\nHALT\n17\n"
    assert disassemble(format, assemble(format, text).words) == text
