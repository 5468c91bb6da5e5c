"""The header of a lesson file: what it may say, and every fault with its place and mend."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from app.lesson.file.head import FIELDS, in_header, read_syllabus
from app.lesson.file.reader import read_lesson
from app.lesson.file.starter import starter_lesson
from app.lesson.header import Depth, Header
from app.lesson.model import Lesson
from app.lesson.unseen import as_shown
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT
from app.machine.run import DEFAULT_LIMIT
from app.machine.source.problems import MOST_FAULTS


def lesson(text: str) -> Lesson:
    """A lesson with this header: it starts on line 2, after the first line of dashes."""
    return read_lesson("file-name", f"---\n{text}\n---\n\n# A scene\n")


def read(text: str) -> Header:
    found = lesson(text)
    assert found.faults == ()
    return found.header


def test_all_that_a_header_may_say() -> None:
    header = read(
        """\
title: The ferry ticket machine
machine: 16-bit
depth: phases
age: 11 to 14
minutes: 40
limit: 500
objectives:
  - name the three phases
  - "follow one number: from memory and back"
"""
    )
    assert header.title == "The ferry ticket machine"
    assert header.machine == SIXTEEN_BIT
    assert header.depth is Depth.PHASES
    assert header.age == "11 to 14"
    assert header.minutes == 40
    assert header.limit == 500
    assert header.objectives == (
        "name the three phases",
        "follow one number: from memory and back",
    )


def test_a_title_is_enough() -> None:
    header = read("title: Sums")
    assert (header.machine, header.depth) == (EIGHT_BIT, Depth.TRANSFERS)
    assert (header.minutes, header.objectives, header.limit) == (None, (), DEFAULT_LIMIT)


@pytest.mark.parametrize(
    "words",
    # YAML 1.1 makes of these a truth value, minutes in base sixty, a date, an octal and nothing.
    ["On", "Yes", "10:30", "2024-10-01", "011", "~", "1e3", "11", "!!bool maybe"],
)
def test_words_stay_words(words: str) -> None:
    expected = words.removeprefix("!!bool ")
    assert read(f"title: {words}").title == expected
    assert read(f"title: A\nobjectives: [{words}]").objectives == (expected,)


def test_words_that_turn_others_round_stand_alone() -> None:
    """A title with the sign for that would be read backwards, and what stands behind it too."""
    assert read("title: '\u202eA\u2066 B'").title == "A B"
    assert read("title: 'שלום\u200f!'").title == "שלום\u200f!"


@pytest.mark.parametrize(("text", "number"), [("40", 40), ("0xA", 10), ("1_0", 10), ("'40'", 40)])
def test_whole_numbers(text: str, number: int) -> None:
    assert read(f"title: A\nminutes: {text}").minutes == number


@pytest.mark.parametrize(("machine", "bits"), [("8-BIT", 8), ("' 16-bit '", 16)])
def test_choices_in_any_case(machine: str, bits: int) -> None:
    assert read(f"title: A\nmachine: {machine}").machine.word_bits == bits


# Text of the header, then line (of the file), column and length of the fault, part of what is
# wrong, part of the mend.
FAULTS = {
    "no title": ("age: 11", 1, 1, 3, "no title", "title: The name"),
    "nothing": ("", 1, 1, 3, "no title", "title: The name"),
    "only a comment": ("# later", 1, 1, 3, "no title", "title: The name"),
    "an empty title": ("title:", 2, 7, 1, "'title' cannot be used", "after the colon"),
    "a list for a title": ("title: [A, B]", 2, 8, 6, "A list stands", "without brackets"),
    "a title that nobody sees": ('title: "\u200b\u0301"', 2, 8, 4, "needs some words", "colon"),
    "a misspelt field": ("title: A\nminuets: 9", 3, 1, 7, "called 'minuets'", "mean minutes?"),
    "an unknown field": ("title: A\nxyzzy: 9", 3, 1, 5, "called 'xyzzy'", "machine, depth"),
    "a field twice": ("title: A\nage: 9\nage: 9", 4, 1, 3, "'age' twice", "Leave one"),
    "a title twice": ("title: A\ntitle: B", 3, 1, 5, "'title' twice", "Leave one"),
    "a misspelt machine": ("title: A\nmachine: 8bit", 3, 10, 4, "'8bit' is not", "mean 8-bit?"),
    "an unknown machine": ("title: A\nmachine: pdq", 3, 10, 3, "'pdq' is not", "16-bit"),
    "no such machine": ("title: A\nmachine: 32-bit", 3, 10, 6, "is not one", "8-bit or 16-bit"),
    "a list for a machine": ("title: A\nmachine: [8]", 3, 10, 3, "A list stands", "brackets"),
    "a list for parts": ("title: A\nshow: [all]", 3, 7, 5, "A list stands", "brackets"),
    "a title in braces": ("title: {A: B}", 2, 8, 6, "a name with a colon", "in quotes"),
    "a term with a dash": (
        "title: A\nterms:\n  - opcode: x",
        4,
        3,
        11,
        "stands in a list",
        "without dashes",
    ),
    "a term beside the name": (
        "title: A\nterms: opcode: x",
        3,
        8,
        11,
        "It needs the terms",
        "on an indented line",
    ),
    "a term twice": ("title: A\nterms:\n  a: b\n  c: d\n  'a ': e", 6, 3, 4, "'a ' twice", "Leave"),
    "a line that goes on from nothing": (
        "title: A\nobjectives:\n  - see\n  do",
        5,
        3,
        1,
        "this line has no colon",
        "with more spaces",
    ),
    "words alone": ("title: A\nsums and more\nage: 9", 3, 1, 1, "has no colon", "'name: words'"),
    "a long name": ("title: A\n" + "a" * 1100 + ": b", 3, 1, 1, "from here on.", "name: words"),
    "an odd line end in words": (
        "title: A\nage: b\u2029c\nminutes: 5",
        3,
        7,
        1,
        "nobody sees (U+2029)",
        "Take it out",
    ),
    "a line of another kind": ("%YAML 9\ntitle: A", 2, 1, 7, "starts with '%'", "a remark"),
    "a misspelt depth": ("title: A\ndepth: phase", 3, 8, 5, "'phase' is not", "mean phases?"),
    "minutes in words": ("title: A\nminutes: ten", 3, 10, 3, "'ten' is not", "from 1 to 300"),
    "no minutes": ("title: A\nminutes: 0", 3, 10, 1, "'0' is not", "from 1 to 300"),
    "too many minutes": ("title: A\nminutes: 301", 3, 10, 3, "'301' is not", "from 1 to 300"),
    "half a minute": ("title: A\nminutes: 0.5", 3, 10, 3, "'0.5' is not", "from 1 to 300"),
    "endless minutes": ("title: A\nminutes: " + "9" * 5000, 3, 10, 5000, "is not", "from 1 to"),
    "too large a limit": ("title: A\nlimit: 1_000_001", 3, 8, 9, "not", "from 1 to 1000000"),
    "objectives in a line": ("title: A\nobjectives: B", 3, 13, 1, "a list", "starts with '- '"),
    "no objectives": ("title: A\nobjectives: []", 3, 13, 2, "a list", "starts with '- '"),
    "a list of lists": ("title: A\nobjectives: [[B]]", 3, 13, 5, "A list stands", "brackets"),
    "a colon in the title": ("title: A: B", 2, 9, 1, "colon of their own", 'in quotes: "A: B"'),
    "a colon and quotes": ('title: "A": B', 2, 11, 1, "cannot be read", "in quotes"),
    "a colon in an objective": (
        "title: A\nobjectives:\n  - see: do",
        4,
        8,
        1,
        "colon of their own",
        '"see: do"',
    ),
    "a colon at the end": ("title: It's:", 2, 12, 1, "colon of their own", '"It\'s:"'),
    "a colon in a meaning": ("title: A\nterms:\n  a: b: c", 4, 7, 1, "of their own", '"b: c"'),
    "no space": ("title: A\nmachine:8-bit", 3, 1, 7, "no space after", "'machine: 8-bit'"),
    "no space at first": ("title:A\nmachine: 8-bit", 2, 1, 5, "no space after", "'title: A'"),
    "an open quote": ('title: "A\nmachine: 8-bit\nage: 9', 2, 8, 1, "no second one", "one more"),
    "an open quote in a list": (
        "title: A\nobjectives:\n  - 'see\n  - do\nage: 9",
        4,
        5,
        1,
        "no second one",
        "one more",
    ),
    "an open quote before an apostrophe": (
        "title: A\nobjectives:\n  - 'see\n  - don't",
        4,
        5,
        1,
        "no second one",
        "one more",
    ),
    "an indented field": ("title: A\n  machine: 8-bit", 3, 3, 7, "is indented", "left edge"),
    "an indented first field": ("  title: A\nmachine: 8-bit", 2, 3, 5, "is indented", "left edge"),
    "a field in a list": (
        "title: A\nobjectives:\n  - see\n  age: 9",
        5,
        3,
        3,
        "is indented",
        "left edge",
    ),
    "a tab before an item": (
        "title: A\nobjectives:\n\t- see",
        4,
        1,
        1,
        "starts with a tab",
        "two spaces",
    ),
    "a sign at the start": ("title: A\nage: @nine", 3, 6, 1, "cannot be read", "start with a sign"),
    "a tab": ("title: A\n\tage: 9", 3, 1, 1, "starts with a tab", "left edge"),
    "an open bracket": ("title: A\nage: [", 3, 7, 1, "cannot be read", "name: words"),
    "a control character": ("title: A\nage: 1\a1", 3, 7, 1, "nobody sees (U+0007)", "before '1'"),
    "one in quotes": ('title: "a\x01b" # c', 2, 10, 1, "nobody sees (U+0001)", "before 'b\" # c'"),
    "one at the end": ("title: A\nage: 9\x7f", 3, 7, 1, "nobody sees (U+007F)", "end of the line"),
    "one in a remark": ("# \x9b\ntitle: A", 2, 3, 1, "nobody sees (U+009B)", "end of the line"),
    "no character": ("title: A\uffff b\ufffe", 2, 9, 1, "nobody sees (U+FFFF)", "before ' b'"),
    "no character, by its code": (
        'title: "A \\uffff"',
        2,
        8,
        10,
        "nobody sees (U+FFFF)",
        "Leave it",
    ),
    "a control character, by its code": ('title: "A\\x01"', 2, 8, 7, "sees (U+0001)", "Leave it"),
    "half a character": ('title: "A\\ud800"', 2, 8, 9, "half of a character", "the character"),
    "no character in a term": (
        'title: A\nterms:\n  "a\\ufffe": b',
        4,
        3,
        12,
        "nobody sees (U+FFFE)",
        "Leave it",
    ),
    "no names": ("just words", 2, 1, 1, "not made of lines", "title: The name"),
    "a list": ("- title", 2, 1, 1, "not made of lines", "title: The name"),
    "a value of itself": ("title: A\nage: &a [*a]", 3, 10, 1, "a star stands", "with a star"),
    "a star": ("title: A\nage: *nine", 3, 6, 1, "a star stands", "with a star"),
    # YAML ends a line here, editors do not.
    "an odd line end": ("title: A\u2028B", 2, 9, 1, "nobody sees (U+2028)", "before 'B'"),
    "an odd line end in quotes": (
        "title: 'A\x85B'",
        2,
        10,
        1,
        "nobody sees (U+0085)",
        "before 'B'",
    ),
    "a term said twice in other signs": (
        "title: A\nterms:\n  opcode: b\n  op\u200bcode: c",
        5,
        3,
        7,
        "twice",
        "Leave one",
    ),
    "an item too far right": (
        "title: A\nobjectives:\n  - one\n   - two\n  - three",
        5,
        4,
        1,
        "further right",
        "below the dash above",
    ),
}


@pytest.mark.parametrize(
    ("text", "line", "column", "length", "what", "mend"), FAULTS.values(), ids=FAULTS
)
def test_fault(text: str, line: int, column: int, length: int, what: str, mend: str) -> None:
    (problem,) = lesson(text).faults
    assert (problem.line, problem.column, problem.length) == (line, column, length)
    assert what in problem.what
    assert mend in problem.mend
    # Nobody who writes a lesson need know YAML.
    for word in ("mapping", "scalar", "token", "block", "stream", "document", "YAML"):
        assert word not in str(problem)


@pytest.mark.parametrize(
    "text",
    [
        "title: The drum\nmachine:16-bit",
        "title: The drum\n  machine: 16-bit",
        'title: "The drum\nmachine: 16-bit',
        "title: The drum\n\tmachine: 16-bit",
        "machine: 16-bit\ntitle: 'The drum",
        "title:The drum\nmachine: 16-bit",
    ],
)
def test_a_slip_hides_nothing_else(text: str) -> None:
    """The other fields are read, so that a program is not judged by the wrong machine."""
    found = lesson(text)
    assert len(found.faults) == 1
    assert (found.header.machine, found.header.title) == (SIXTEEN_BIT, "The drum")
    body = "```program\nLOAD #200\nHALT\n```\n"
    broken = read_lesson("file-name", f"---\nmachine: 16-bit\nage: @9\n---\n# A\n{body}")
    assert [each.line for each in broken.faults] == [3]


def test_an_item_too_far_right_is_one_of_its_own() -> None:
    text = "title: A\nobjectives:\n- one\n\n    - two\n    - three: four\nage: 9"
    found = lesson(text)
    assert found.header.objectives == ("one", "two", "three: four")
    assert [each.line for each in found.faults] == [6, 7, 7]


def test_what_nobody_sees_hides_nothing_else() -> None:
    found = lesson("title: 'The\x0b drum'\n\x01machine: 16-bit\nage: \x00")
    assert (found.header.machine, found.header.title) == (SIXTEEN_BIT, "The drum")
    # The last is no character in a file, and is shown as one that could not be read.
    assert [(each.line, each.column) for each in found.faults] == [(2, 12), (3, 1)]
    many = lesson("title: A\n" + "age: \x01\n" * 500)
    assert len(many.faults) <= MOST_FAULTS + 1


def test_a_sign_that_is_newer_than_this_python_is_seen() -> None:
    assert read("title: \U0001fae9").title == "\U0001fae9"
    assert read_lesson("x", "---\ntitle: A\n---\n# \U0001fae9\nWords.\n").problems == ()
    (fault,) = read_lesson("x", "---\ntitle: A\n---\n# \u200b\nWords.\n").problems
    assert "no name" in fault.what


@given(st.text(max_size=30))
@example("a\uffff b\x01\x85\u2028")
@settings(deadline=None)
def test_words_that_are_written_into_a_header_are_read_from_it(words: str) -> None:
    shown = as_shown(words)
    written = f"title: {in_header(words)}" if shown else "title: A"
    assert read(written).title == (shown or "A")


@pytest.mark.parametrize(
    ("name", "title"), [("\u200b", "My lesson"), ("a\uffff-b", "A b"), ("---", "---")]
)
def test_a_lesson_that_is_started_has_a_title_that_is_seen(name: str, title: str) -> None:
    made = read_lesson("x", starter_lesson(name, EIGHT_BIT))
    assert (made.header.title, made.problems) == (title, ())


def test_a_syllabus_is_told_of_signs_that_nobody_sees(tmp_path: Path) -> None:
    (tmp_path / "syllabus.yaml").write_text('words: IR\x01, MBR\ngates: "shapes\\uffff"\n', "utf-8")
    fields, problems = read_syllabus(tmp_path / "any.md")
    assert [*fields] == ["words"] and len(fields["words"]) == 2
    assert [(each.line, each.column) for each in problems] == [(1, 10), (2, 8)]
    assert "(U+0001)" in problems[0].what and "(U+FFFF)" in problems[1].what


@pytest.mark.parametrize(
    ("text", "title"),
    [
        ("'a\n\n  b'", "a b"),
        ('"a\n\n\n  b"  # all', "a b"),
        ("'a\n  - b'", "a - b"),
        ("'a\nb'", "a b"),
        ("'a\n  it''s: b'", "a it's: b"),
        ('"a \\\n  \\"b\\""', 'a "b"'),
        ("'a" + "\n  b" * 25 + "'", "a" + " b" * 25),
    ],
)
def test_words_in_quotes_over_several_lines(text: str, title: str) -> None:
    assert read(f"title: {text}\nmachine: 16-bit").title == title
    assert read(f"title: A\nage: {text}\nlimit: 9").age == title
    assert read(f"title: A\nobjectives:\n  - {text}\n  - c").objectives == (title, "c")
    assert read(f"title: A\nterms:\n  a: {text}\n  c: d").terms == (("a", title), ("c", "d"))


HARD = st.text(st.sampled_from("ab0 :#'\"\\,.[{-&é“’"), min_size=1, max_size=20)


@pytest.mark.parametrize("line", ["title: {}", "title: A\nage: {}", "title: A\nterms:\n  a: {}"])
@given(before=st.sampled_from("aC1é"), words=HARD, after=HARD)
@example("T", 'he "bell" isn\'t', "here")
@example("C", ":\\new", "x")
@example("a", "\\d", "e")
@settings(deadline=None, max_examples=100)
def test_words_in_quotes_as_it_is_told_read_as_they_were_meant(
    line: str, before: str, words: str, after: str
) -> None:
    meant = " ".join(f"{before}{words}: {after}".split()).split(" #")[0].rstrip()
    text = line.format(f"{before}{words}: {after}")
    told = [re.search(r"Put them in quotes: (.*)\.$", each.mend) for each in lesson(text).faults]
    mended = [each[1] for each in told if each]
    if mended:
        header = read(line.format(mended[0]))
        assert meant in (header.title, header.age, dict(header.terms).get("a"))
    else:
        assert not COLON.search(meant)


# What no value without quotes may have.
COLON = re.compile(r":(?=\s|$)")


def test_a_title_with_a_colon_is_read_as_it_was_meant() -> None:
    found = lesson("title: Lesson 3: the drum's turns\nage: 9")
    assert (found.header.title, found.header.age) == ("Lesson 3: the drum's turns", "9")


@pytest.mark.parametrize(
    "text",
    [
        "title:\tSums\nmachine:\t8-bit",
        "title: 'It''s'\nage: \"a \\\" b: c\" # all",
        'title: "A long\n  title: here"',
        "title: A\nage: 11\n  to 14",
        "title: A\nterms:\n  age: how old\n  limit: how far\n  title: a name",
        "  title: A\n  machine: 8-bit",
        "title: A\nminutes: 40 # or less\nmachine: 8-bit    # small",
        "title: A     # a remark",
        "title: C# and more",
        "title: “A” and “B”",
        "title: A\nobjectives:\n- see\n- do it at 10:30",
        "title: A\nobjectives: [see, do]",
    ],
)
def test_what_is_no_slip(text: str) -> None:
    assert [each for each in lesson(text).problems if each.line < len(text.split("\n")) + 2] == []


@pytest.mark.parametrize(
    ("text", "column", "length", "what", "mend"),
    [
        ("title: Laundry # 2", 16, 3, "left out", "in quotes"),
        ('title: "Laundry"#2', 17, 2, "left out", "into the quotes"),
        ("title: “Laundry”", 8, 9, "will be shown", "Laundry"),
    ],
)
def test_what_is_surely_not_meant(
    text: str, column: int, length: int, what: str, mend: str
) -> None:
    found = lesson(text)
    assert found.faults == ()
    warning = found.problems[0]
    assert (warning.line, warning.column, warning.length) == (2, column, length)
    assert what in warning.what and mend in warning.mend


def test_every_fault_is_told_at_once() -> None:
    found = lesson("titel: A\nage: 12\nminutes: none\ndepth: x")
    assert [(each.line, each.column) for each in found.faults] == [(1, 1), (2, 1), (4, 10), (5, 8)]
    # What is right is kept, and the file's name stands in for the title.
    assert (found.header.age, found.header.title) == ("12", "file-name")


def test_brackets_without_end_are_told() -> None:
    (problem,) = lesson("title: " + "[" * 1000).faults
    assert "cannot be read" in problem.what


@pytest.mark.parametrize(
    "lines",
    [
        # A list of ten references to a list of ten references, nine deep: a thousand million.
        [f"x{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 10)],
        # A list in a list, six hundred deep, in one line.
        ["x: [" + ", ".join(f"&a{n} [*a{n - 1}]" for n in range(1, 600)) + "]"],
    ],
    ids=["wide", "deep"],
)
def test_a_small_text_that_stands_for_a_huge_one_is_told(lines: list[str], tmp_path: Path) -> None:
    for field in (*FIELDS, "no such field"):
        text = "\n".join(["age: &a0 [x]", *lines, f"{field}: *a9"])
        (problem,) = lesson(text).faults
        assert "a star stands" in problem.what
        # Nor does what stands beside all lessons of a folder.
        (tmp_path / "syllabus.yaml").write_text(text)
        fields, problems = read_syllabus(tmp_path / "any.md")
        told = problem.what.replace("The header", "The file")
        assert not fields and [each.what for each in problems] == [told]


PIECES = st.sampled_from(
    (
        *("title", "machine", "depth", "age", "minutes", "objectives", "limit", "8-bit", "40"),
        *(": ", ":", "- ", "\n", "\n  ", "[", "]", "{", "}", "'", '"', "#", "&a ", "*a", "<<: "),
        *("!!int ", "!!timestamp ", "!!float ", "!!binary ", "!!python/none ", "? ", "| ", "> "),
        *("~", "---", "...", "%", "@", "\t", "\x85", "\u2028", "\ufeff"),
    )
)


@given(text=st.text(max_size=60) | st.lists(PIECES, max_size=30).map("".join))
@settings(max_examples=300, deadline=None)
def test_any_text_is_a_header_or_explained(text: str) -> None:
    found = lesson(text)
    assert found.header.title
    for each in found.problems:
        assert each.line >= 1 and each.column >= 1 and each.length >= 1
        assert each.what.strip() and each.mend.strip()


def test_a_line_of_the_header_among_the_terms_is_told() -> None:
    terms = "terms:\n  opcode: what to do\n  cache: a store near by\n  machine: 16-bit"
    found = lesson(f"title: T\n{terms}")
    (warning,) = (each for each in found.problems if each.line < 8)
    assert (warning.line, warning.column, warning.warning) == (6, 3, True)
    assert warning.what == "'machine' is one of the terms here, so it says nothing of the lesson."
    assert len(found.header.terms) == 3
