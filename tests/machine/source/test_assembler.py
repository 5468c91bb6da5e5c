"""The assembler: words against words worked by hand, and every fault with its place and mend."""

from __future__ import annotations

import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.machine.machine import EIGHT_BIT, MACHINES, SIXTEEN_BIT
from app.machine.source.assembler import LARGEST_SOURCE, MOST_FAULTS, Program, assemble, read_words
from app.machine.words import Format
from tests.codes import CODES, bits, word

FERRY = """\
        LOAD  fare        ; a comment
        ADD   bag
        STORE total
        OUTPUT
        HALT
fare:   9
bag:    4
total:  0
"""

BOTH = pytest.mark.parametrize("format", MACHINES.values(), ids=MACHINES)

# Text that is nearly a program: the parts of one, in any order.
PIECES = st.sampled_from(
    (
        *("LOAD", "STORE", "add", "SUBTRACT", "COMPARE", "JUMP", "INPUT", "OUTPUT", "HALT"),
        *("IF", "LESS", "MORE", "EQUAL", "lod", "fare", "total", "ﬁn", "ß", "_a", "²"),
        *("#", "#5", "#fare", "5", "-5", "99999", "0b101", "0xZ", "1__0", "+", "-"),
        *(":", ";", " ", "  ", "\n", "\r\n", "\r", "\t", "\f", "\x85", "\u2028"),
    )
)
NEARLY_A_PROGRAM = st.lists(PIECES | st.text(max_size=3), max_size=60).map("".join)


def words(source: str, format: Format = EIGHT_BIT) -> list[int]:
    program = assemble(format, source)
    assert program.problems == ()
    return list(program.words)


def check_problems(program: Program, source: str) -> None:
    """Either words or problems; each problem inside the text, with something to say.

    Lines are counted as Python's universal newlines do, which is how editors count them.
    """
    lines = io.StringIO(source, newline=None).read().split("\n")
    assert not (program.problems and program.words)
    for each in program.problems:
        assert 1 <= each.line <= len(lines)
        assert 1 <= each.column <= len(lines[each.line - 1]) + 1
        assert each.length >= 1
        assert each.what.strip() and each.mend.strip()
        assert not each.warning


def test_an_example() -> None:
    """Worked by hand: fare is at 5, bag at 6, total at 7."""
    for format in MACHINES.values():
        code = [word(each, format.name) for each in ("LOAD 5", "ADD 6", "STORE 7", "OUTPUT")]
        assert words(FERRY, format) == [*code, 0, 9, 4, 0]


@BOTH
@pytest.mark.parametrize("written", CODES)
def test_every_instruction(format: Format, written: str) -> None:
    text = written.replace(" a", " 7").replace("#n", "#7")
    assert words(text, format) == [word(text, format.name)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("load 7", word("LOAD 7")),
        ("Load #0b111", word("LOAD #7")),
        ("JUMP 0xE if More", word("JUMP 14 IF MORE")),
        ("LOAD # 15", word("LOAD #15")),
        ("\tLOAD\t7\t; far right", word("LOAD 7")),
        ("LOAD 7;close", word("LOAD 7")),
        ("LOAD 1_5", word("LOAD 15")),
        ("0", 0),
        ("-1", 0xFF),
        ("-128", 0x80),
        ("+127", 0x7F),
        ("−6", -6 & 0xFF),  # the minus of the board
        ("–6", -6 & 0xFF),  # and the one that editors make
        ("255", 0xFF),  # a bit pattern
        ("0b1000_0001", 0x81),  # data
        ("0xFf", 0xFF),
        ("007", 7),
    ],
)
def test_ways_to_write_a_word(text: str, expected: int) -> None:
    assert words(text) == [expected]


@pytest.mark.parametrize(
    "source",
    [
        "LOAD Fare\nHALT\nfare: 9",
        "LOAD fare\nHALT\nFARE: 9",
        "LOAD fare\nHALT\nfare :9",
        "LOAD fare\nHALT\nfare:\n\n; the number itself\n9",
        "LOAD fare\nHALT\nother: fare: 9",
        "LOAD other\nHALT\nother:\nfare:\n9",
        "\n; a comment alone\n\nLOAD 2\r\nHALT\r9",
        "start: LOAD 2\nstop: HALT\n9",
    ],
)
def test_ways_to_write_a_label(source: str) -> None:
    assert words(source) == [word("LOAD 2"), word("HALT"), 9]


@pytest.mark.parametrize("source", ["", "\n\n", "; nothing\n", "   "])
def test_nothing_is_an_empty_program(source: str) -> None:
    assert words(source) == []


def test_where_words_come_from() -> None:
    program = assemble(EIGHT_BIT, "; fares\nLOAD Fare\n\nHALT\nFare: full:\n9")
    assert program.labels == {2: "Fare"}
    assert [each.line for each in program.origins] == [2, 4, 6]
    assert [each.is_data for each in program.origins] == [False, False, True]
    assert program.origins[2].labels == ("Fare", "full")
    assert program.address_of("fare") == program.address_of("FULL") == 2
    assert program.address_of("bag") is None
    assert program.address_of_line(4) == 1
    assert program.address_of_line(3) is None


# Source, then line, column and length of the fault, part of what is wrong, part of the mend.
FAULTS = {
    "a misspelt instruction": ("HALT\n  lod 3", 2, 3, 3, "'lod'", "Did you mean LOAD?"),
    "no instruction at all": ("zzz 3 4", 1, 1, 3, "'zzz'", "HALT, INPUT, OUTPUT, JUMP"),
    "a label without its colon": ("fare 9", 1, 1, 4, "'fare'", "'fare: 9'"),
    "a misspelt label": ("LOAD fair\nfare: 9", 1, 6, 4, "no label 'fair'", "Did you mean 'fare'?"),
    "an unknown label": ("LOAD fare", 1, 6, 4, "no label 'fare'", "'fare:'"),
    "a label used twice": ("a: 1\nb: 2\n A: 3", 3, 2, 1, "line 1 has it", "another name"),
    "a label that is an instruction": ("load: 1", 1, 1, 4, "'load' is an instr", "'load_1'"),
    "a label that is part of one": ("if: 1", 1, 1, 2, "'if' is an instr", "'if_1'"),
    "a label that is a number": ("HALT\n9: 1", 2, 1, 1, "'9' cannot be", "starts with a letter"),
    "a label with a dash": ("bag-fee: 1", 1, 1, 7, "cannot be a label", "underscores"),
    "a label that names nothing": ("HALT\n  fare:", 2, 3, 4, "nothing comes after it", "'fare: 0'"),
    "a label with a line first": ("_a: 1", 1, 1, 2, "'_a' cannot be", "starts with a letter"),
    "a label with a small digit": ("²: 1", 1, 1, 1, "'²' cannot be", "starts with a letter"),
    "a refused label, used": ("LOAD _a\n_a: 1", 2, 1, 2, "'_a' cannot be", "with a letter"),
    "a number and no address": ("STORE #99", 1, 7, 3, "STORE needs an address", "'STORE a'"),
    "a label and no address": ("STORE #x", 1, 7, 2, "STORE needs an address", "'STORE a'"),
    "the start of an instruction": ("SUB 1", 1, 1, 3, "'SUB'", "'SUBTRACT 1'"),
    "an instruction cut short": ("cmp #1", 1, 1, 3, "'cmp'", "'COMPARE #1'"),
    "a wide colon": ("LOAD x\nx\uff1a 5", 2, 2, 1, "(U+FF1A) only looks", "Write a colon: 'x: 5'"),
    "a wide colon alone": ("JUMP on\non\uff1a\nHALT", 2, 3, 1, "(U+FF1A)", "colon: 'on:'"),
    "a sign of ratio": ("LOAD x\ny: x\u22365", 2, 5, 1, "(U+2236) only looks", "colon: 'x: 5'"),
    "another way of commenting": ("LOAD 1 // Sum", 1, 8, 6, "the line: '// Sum'", "semicolon"),
    "a condition in small letters": ("JUMP 1 if wet", 1, 8, 6, "'if wet' is not", "IF MORE"),
    "a colon without a label": ("HALT\n : 9", 2, 2, 1, "no label here", "'total: 0'"),
    "a colon too late": ("LOAD fare:\nfare: 1", 1, 10, 1, "no label here", "then the colon"),
    "no operand": ("HALT\n LOAD ; which?", 2, 6, 1, "needs something", "'LOAD a' or 'LOAD #n'"),
    "no number after #": ("ADD #", 1, 5, 1, "no number after the '#'", "'#5'"),
    "a label after #": ("ADD #bag\nbag: 4", 1, 5, 4, "'#bag' has no number", "leave the '#' out"),
    "a number that is none after #": ("ADD #1x", 1, 6, 2, "'1x' is not a number", "denary"),
    "a number for an address": ("STORE #3", 1, 7, 2, "STORE needs an address", "'STORE a'"),
    "a number to jump to": ("JUMP #3", 1, 6, 2, "JUMP needs an address", "'JUMP a'"),
    "too large for the operand": ("ADD #16", 1, 5, 3, "16 cannot be written", "'big: 16'"),
    "a negative operand": ("ADD #-1", 1, 5, 3, "-1 cannot be written", "from 0 to 15"),
    "an address past the end": ("LOAD 16", 1, 6, 2, "no address 16", "from 0 to 15"),
    "an address that is no number": ("LOAD 1x", 1, 6, 2, "'1x' is not a number", "denary"),
    "something after the operand": ("LOAD 1 2", 1, 8, 1, "end of the line: '2'", "semicolon"),
    "something after HALT": ("HALT now", 1, 6, 3, "HALT stands alone", "Write just HALT"),
    "something after a number": ("9 4", 1, 3, 1, "after the number: '4'", "one number"),
    "a misspelt condition": ("JUMP 1 IF LES", 1, 8, 6, "'IF LES'", "Did you mean IF LESS?"),
    "no condition after IF": ("JUMP 1 IF", 1, 8, 2, "'IF' is not a cond", "Write IF LESS"),
    "a condition of its own": ("JUMP 1 WHEN WET", 1, 8, 8, "'WHEN WET'", "IF EQUAL or IF MORE"),
    "a jump to nowhere": ("JUMP IF LESS", 1, 6, 2, "missing before IF", "'JUMP a IF LESS'"),
    "data too large": ("HALT\nx: 256", 2, 4, 3, "256 does not fit", "from -128 to 127"),
    "data too small": ("-129", 1, 1, 4, "-129 does not fit", "from -128 to 127"),
    "data that is no number": ("0b102", 1, 1, 5, "'0b102' is not a number", "binary"),
    "underscores": ("1__0", 1, 1, 4, "underscore", "Write it without"),
    "endless digits": ("1" * 70, 1, 1, 70, "too long", "shorter"),
    "more words than memory": ("0\n" * 16 + " HALT", 17, 2, 4, "word 17", "16-bit machine"),
    "after odd spaces": ("HALT\f\u2028\n\x85lod 1", 2, 2, 3, "'lod'", "LOAD"),
}


@pytest.mark.parametrize(
    ("source", "line", "column", "length", "what", "mend"), FAULTS.values(), ids=FAULTS
)
def test_fault(source: str, line: int, column: int, length: int, what: str, mend: str) -> None:
    program = assemble(EIGHT_BIT, source)
    assert program.words == ()
    assert len(program.problems) == 1
    (problem,) = program.problems
    assert (problem.line, problem.column, problem.length) == (line, column, length)
    assert what in problem.what
    assert mend in problem.mend


def test_limits_of_the_large_machine() -> None:
    program = assemble(SIXTEEN_BIT, "LOAD 256\nADD #256\n65536\n" + "0\n" * 254)
    assert [(each.line, each.column) for each in program.problems] == [
        (1, 6),
        (2, 5),
        (3, 1),
        (257, 1),
    ]
    # There is no larger machine to go to.
    assert "16-bit machine" not in program.problems[-1].mend
    assert words("LOAD 255\nADD #255\n65535\n-32768", SIXTEEN_BIT) == [
        word("LOAD 255", "16-bit"),
        word("ADD #255", "16-bit"),
        0xFFFF,
        0x8000,
    ]


def test_every_fault_is_told_at_once_and_in_order() -> None:
    source = "LOD 1\nADD #99\nfare 9\nJUMP fair IF MOR\nfare: 999"
    places = [(each.line, each.column) for each in assemble(EIGHT_BIT, source).problems]
    assert places == [(1, 1), (2, 5), (3, 1), (4, 6), (4, 11), (5, 7)]


def test_lines_are_those_of_the_text_around_it() -> None:
    """A program in a lesson starts further down, and its messages name the lines of the file."""
    program = assemble(EIGHT_BIT, "wash: 1\nHALT\nWash: 2", first_line=16)
    (problem,) = program.problems
    assert (problem.line, problem.column) == (18, 1)
    assert "line 16 has it already" in problem.what
    assert [each.line for each in assemble(EIGHT_BIT, "HALT", 16).origins] == [1]
    (warning,) = assemble(EIGHT_BIT, "HALT\nx: 200", 16).warnings
    assert warning.line == 17


@pytest.mark.parametrize(
    ("format", "text", "shown"),
    [
        (EIGHT_BIT, "128", "-128"),
        (EIGHT_BIT, "+200", "-56"),
        (EIGHT_BIT, "2_5_5", "-1"),
        (SIXTEEN_BIT, "32768", "-32768"),
        (SIXTEEN_BIT, "65535", "-1"),
    ],
)
def test_a_number_that_the_board_shows_as_another(format: Format, text: str, shown: str) -> None:
    program = assemble(format, f"HALT\n  x: {text}")
    assert program.problems == () and len(program.words) == 2
    (warning,) = program.warnings
    assert (warning.line, warning.column, warning.length) == (2, 6, len(text))
    assert warning.warning
    assert f"will show {shown} " in warning.what and f"Write {shown}," in warning.mend


@pytest.mark.parametrize("text", ["127", "-128", "0b1100_1000", "0xC8", "0XC8"])  # data
def test_a_number_that_is_shown_as_it_is_meant(text: str) -> None:
    assert assemble(EIGHT_BIT, text).warnings == ()


def test_a_program_that_is_all_wrong_is_not_read_to_its_end() -> None:
    found = assemble(EIGHT_BIT, "wrong\n" * 10_000).problems
    assert len(found) == MOST_FAULTS + 1
    # One of them says that memory is full.
    assert (found[-1].line, "not read to its end" in found[-1].what) == (MOST_FAULTS, True)
    for source in ("-: 1\n" * 10_000, "a:" * 30_000, ":" * 60_000, "LOAD no\n" * 5_000):
        assert len(assemble(EIGHT_BIT, source).problems) == MOST_FAULTS + 1


def test_a_label_past_the_end_of_memory() -> None:
    """A program one word too long, whose last label no operand can hold."""
    program = assemble(EIGHT_BIT, "LOAD last\n" * 16 + "last: 0")
    assert [(each.line, each.column) for each in program.problems] == [(17, 7)]


def test_an_endless_text_is_not_read() -> None:
    (problem,) = assemble(EIGHT_BIT, "HALT\n" * LARGEST_SOURCE).problems
    assert "too long" in problem.what
    (problem,) = read_words(EIGHT_BIT, "0000 0000\n" * LARGEST_SOURCE).problems
    assert "too long" in problem.what


@BOTH
@given(source=st.text(max_size=200) | NEARLY_A_PROGRAM)
@settings(max_examples=300, deadline=None)
def test_any_text_is_a_program_or_explained(format: Format, source: str) -> None:
    program = assemble(format, source)
    check_problems(program, source)
    assert len(program.words) == len(program.origins) <= format.memory_words
    assert all(0 <= word <= format.word_mask for word in program.words)


def test_raw_words() -> None:
    underscored = bits("OUTPUT").replace(" ", "_")
    text = f"; a comment\n{bits('LOAD 12')}\n\n {underscored} ; out\r\n00000000"
    program = read_words(EIGHT_BIT, text)
    assert program.problems == ()
    assert program.words == (word("LOAD 12"), word("OUTPUT"), 0x00)
    assert [each.line for each in program.origins] == [2, 4, 5]
    assert read_words(SIXTEEN_BIT, bits("LOAD 12", "16-bit")).words == (word("LOAD 12", "16-bit"),)


@pytest.mark.parametrize(
    ("source", "line", "column", "length", "what", "mend"),
    [
        ("0000 1100\n0001 12", 2, 7, 1, "'2' is not a binary digit", "0 and 1"),
        ("  0001 110 ; short", 1, 3, 8, "7 bits", "8"),
        ("0000 1100 0", 1, 1, 11, "9 bits", "8"),
        ("0000 0000\n" * 17, 17, 1, 9, "more words than memory", "16 words"),
    ],
)
def test_fault_in_raw_words(
    source: str, line: int, column: int, length: int, what: str, mend: str
) -> None:
    (problem,) = read_words(EIGHT_BIT, source).problems
    assert (problem.line, problem.column, problem.length) == (line, column, length)
    assert what in problem.what
    assert mend in problem.mend


@BOTH
@given(source=st.text(max_size=100) | st.text("01 _;\n\t\r\f2", max_size=100))
@settings(max_examples=300, deadline=None)
def test_any_text_is_raw_words_or_explained(format: Format, source: str) -> None:
    check_problems(read_words(format, source), source)


@BOTH
@given(data=st.data())
@settings(max_examples=100, deadline=None)
def test_raw_words_are_pythons_binary(format: Format, data: st.DataObject) -> None:
    image = data.draw(
        st.lists(st.integers(0, format.word_mask), max_size=format.memory_words).map(tuple)
    )
    source = "\n".join(f"{word:0{format.word_bits}b}" for word in image)
    assert read_words(format, source).words == image
