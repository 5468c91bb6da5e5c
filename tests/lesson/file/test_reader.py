"""Reading a lesson file: what comes out of a good one, and what is told of a bad one."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.lesson.file.reader import LARGEST_FILE, MOST_SCENES, read_file, read_lesson
from app.lesson.model import Lesson
from app.paths import resource
from tests.codes import word

HEAD = """\
---
title: Coins
---
"""
# The line that follows the header.
BODY = 4

COINS = """\
# Two coins

Count the *coins*.

```program
        LOAD  #5
        ADD   #3
        OUTPUT
        HALT
```

# Asked for

```program
        INPUT
        OUTPUT
        HALT
```

```inputs
7, 0xA -1 ; the last is never read
```

# Once more

The same again.

# Others

Another coin.

```inputs
9
```
"""


def read(body: str) -> Lesson:
    return read_lesson("coins", HEAD + body)


def scene_of(*blocks: str) -> str:
    return "# A scene\n\n" + "\n\n".join(blocks) + "\n"


def block(kind: str, text: str) -> str:
    return f"```{kind}\n{text}\n```"


def outputs(lesson: Lesson) -> list[list[int]]:
    found = []
    for scene in lesson.scenes:
        end = scene.run.finish()
        found.append([scene.run.machine.signed(each) for each in scene.run.outputs(end.sent)])
    return found


def check_problems(lesson: Lesson, source: str) -> None:
    """Each problem lies in the text, with lines counted as Python's universal newlines do."""
    lines = io.StringIO(source, newline=None).read().split("\n")
    for each in lesson.problems:
        assert 1 <= each.line <= len(lines), each
        assert 1 <= each.column <= len(lines[each.line - 1]) + 1, each
        assert each.length >= 1
        assert each.what.strip() and each.mend.strip()


def test_the_name_of_a_scene_turns_no_words_round() -> None:
    """It stands in a line with others' words, in the list of lessons too."""
    lesson = read_lesson("name", "---\ntitle: A\n---\n\n# One\u202e two\x1b[31m\u2066\n\nNotes.\n")
    assert [each.title for each in lesson.scenes] == ["One  two [31m "]


def test_scenes_and_what_they_keep() -> None:
    lesson = read(COINS)
    assert lesson.problems == ()
    assert lesson.header.title == "Coins"
    assert [(each.title, each.line) for each in lesson.scenes] == [
        ("Two coins", 4),
        ("Asked for", 15),
        ("Once more", 27),
        ("Others", 31),
    ]
    # A scene without a program keeps the last one with its inputs; new inputs go to it.
    assert [each.inputs for each in lesson.scenes] == [(), (7, 10, 255), (7, 10, 255), (9,)]
    assert outputs(lesson) == [[8], [7], [7], [9]]


@pytest.mark.parametrize("end_of_line", ["\r\n", "\r"])
def test_the_line_ends_of_other_systems(end_of_line: str) -> None:
    lesson = read_lesson("coins", (HEAD + COINS).replace("\n", end_of_line))
    assert lesson.problems == ()
    assert outputs(lesson) == [[8], [7], [7], [9]]


def test_new_program_forgets_old_inputs() -> None:
    lesson = read(
        scene_of(block("inputs", "5"), block("program", "INPUT\nHALT"))
        + scene_of(block("program", "INPUT\nOUTPUT\nHALT"))
    )
    assert [each.inputs for each in lesson.scenes] == [(5,), ()]


def test_machine_and_limit_come_from_the_header() -> None:
    header = "---\ntitle: A\nmachine: 16-bit\nlimit: 7\n---\n"
    lesson = read_lesson("a", header + scene_of(block("program", "LOAD #200\nJUMP 0")))
    assert lesson.faults == ()
    scene = lesson.scenes[0]
    assert scene.program.words == (word("LOAD #200", "16-bit"), word("JUMP 0", "16-bit"))
    assert scene.run.finish().cycles == 7


def test_notes_are_the_prose_without_the_blocks() -> None:
    notes = read(COINS).scenes[0].notes
    assert notes.strip() == "<p>Count the <em>coins</em>.</p>"


def test_prose_keeps_its_smaller_headings_and_plain_fences() -> None:
    notes = read(scene_of("## First", "```\nJUMP\n```", "> # Said", "- a\n- b")).scenes[0].notes
    assert "<h2>First</h2>" in notes
    assert "JUMP" in notes
    # A heading in a quotation starts no scene, so the quotation stays whole.
    assert notes.count("<blockquote>") == notes.count("</blockquote>") == 1
    assert "<h1>Said</h1>" in notes


@pytest.mark.parametrize(
    ("prose", "harm"),
    [
        ("<script>alert(1)</script>", "<script"),
        ("Press <img src=x onerror=alert(1)>", "<img"),
        ("<!-- gone -->", "<!--"),
        ("[click](javascript:alert(1))", 'href="javascript'),
        ("[click](<JaVaScRiPt:alert(1)>)", 'href="javascript'),
        ("[click](data:text/html,hello)", 'href="data:'),
        ("![see](vbscript:run)", 'src="vbscript'),
        ('[a](x "title\\" onclick=\\"alert(1)")', '" onclick="'),
    ],
)
def test_prose_can_do_no_harm(prose: str, harm: str) -> None:
    """Raw HTML is shown as text, and unsafe links are no links."""
    lesson = read(scene_of(prose))
    assert harm not in lesson.scenes[0].notes.casefold()
    assert lesson.scenes[0].notes.strip()


# The file, then line and column of the fault, part of what is wrong, part of the mend.
FAULTS = {
    "nothing at all": ("", 1, 1, "does not start with a header", "'---'"),
    "no header": ("# A scene\n", 1, 1, "does not start with a header", "'title: The name"),
    "two marks of order": ("\ufeff" + HEAD + scene_of(), 1, 1, "sees (U+FEFF)", "just '---'"),
    "an unseen sign behind the header": (
        HEAD.rstrip() + "\u200b\n" + scene_of(),
        3,
        4,
        "sees (U+200B)",
        "just '---'",
    ),
    "a fault in the header": ("---\ntitle: A\nagee: 9\n---\n# B\n", 3, 1, "'agee'", "age?"),
    "no scene": (HEAD + "Just words.\n", BODY, 1, "no scene", "'# The name"),
    "a scene without a name": (HEAD + "\n#\n", BODY + 1, 1, "no name", "after the '#'"),
    "a misspelt block": (
        HEAD + scene_of(block("progam", "HALT")),
        BODY + 2,
        1,
        "no block called 'progam'",
        "Did you mean 'program'?",
    ),
    "an unknown block": (
        HEAD + scene_of(block("Xyzzy", "HALT")),
        BODY + 2,
        1,
        "no block called 'Xyzzy'",
        "'program', 'inputs', 'cues'",
    ),
    "a block before the first scene": (
        HEAD + block("program", "HALT") + "\n" + scene_of(),
        BODY,
        1,
        "before the first scene",
        "'# The name",
    ),
    "a second program": (
        HEAD + scene_of(block("program", "HALT"), block("program", "HALT")),
        BODY + 6,
        1,
        "a second 'program' block",
        "the first is on line 6",
    ),
    "an empty program": (
        HEAD + scene_of(block("program", "; nothing")),
        BODY + 2,
        1,
        "program is empty",
        "HALT as the last",
    ),
    "a fault in a program": (
        HEAD + scene_of(block("program", "HALT\n  lod 3")),
        BODY + 4,
        3,
        "'lod'",
        "LOAD?",
    ),
    "a fault in a cue": (
        HEAD + scene_of(block("program", "HALT"), block("cues", "start: A\nfetsh 1: B")),
        BODY + 8,
        1,
        "not a place",
        "fetch",
    ),
    "an input that is no number": (
        HEAD + scene_of(block("program", "INPUT\nHALT"), block("inputs", "1\n2, two")),
        BODY + 9,
        4,
        "'two' is not a number",
        "Write numbers such as 7",
    ),
    "an input with two underscores": (
        HEAD + scene_of(block("program", "INPUT\nHALT"), block("inputs", "1__0")),
        BODY + 8,
        1,
        "underscore",
        "Write it without",
    ),
    "an input that does not fit": (
        HEAD + scene_of(block("program", "INPUT\nHALT"), block("inputs", "1 256")),
        BODY + 8,
        3,
        "256 does not fit",
        "-128 to 127",
    ),
    "a fault after odd characters": (
        HEAD + scene_of(block("program", "HALT ; a\f b\u2028\n\x85 lod 3")),
        BODY + 4,
        3,
        "'lod'",
        "LOAD?",
    ),
}


@pytest.mark.parametrize(("source", "line", "column", "what", "mend"), FAULTS.values(), ids=FAULTS)
def test_fault(source: str, line: int, column: int, what: str, mend: str) -> None:
    lesson = read_lesson("bad", source)
    problem = next(each for each in lesson.faults if what in each.what)
    assert (problem.line, problem.column) == (line, column)
    assert mend in problem.mend
    check_problems(lesson, source)
    assert lesson.faults == (problem,)


@pytest.mark.parametrize(
    ("kind", "text", "line", "column", "code"),
    [
        ("cues", "start: A\n\x0bend: B", 1, 1, "U+000B"),  # it would go on with the cue before
        ("cues", "start: A\n\u2028end: B", 1, 1, "U+2028"),
        ("cues", "start: It is \u202e97\u202c grams", 0, 14, "U+202E"),
        ("cues", "start: \u200f97 - 35 grams", 0, 8, "U+200F"),  # a browser shows 35 - 97
        ("question", "before end: A\nask: ACC\nchoices: 1 or 2 be\xadcause", 2, 19, "U+00AD"),
        ("homework", "The factors of 91. \u115f(1, 7, 13.)", 0, 20, "U+115F"),
        ("question", "before end: A\nask: ACC\nchoices: 1 or 2 be\u200bcause", 2, 19, "U+200B"),
        ("question", "before end: A\nask: ACC\nchoices: 1 or 2\ufeff or 3", 2, 16, "U+FEFF"),
        ("task", "goal: A\n\x85gives 1", 1, 1, "U+0085"),
        ("inputs", "1, 2\u2060", 0, 5, "U+2060"),
    ],
)
def test_a_sign_in_a_block_that_nobody_sees(
    kind: str, text: str, line: int, column: int, code: str
) -> None:
    source = HEAD + scene_of(block("program", "INPUT\nHALT"), block(kind, text))
    found = read_lesson("unseen", source).faults
    (told,) = (each for each in found if code in each.what)
    start = source.split("\n").index(f"```{kind}") + 2
    assert (told.line, told.column) == (start + line, column) and "Take it out" in told.mend


def test_signs_that_have_their_place_between_letters_stay() -> None:
    """Thai words may be set apart by U+200B, and the parts of a picture are joined by U+200D."""
    thai, pictures = (
        "\u0e01\u0e32\u200b\u0e23",
        "\U0001f469\u200d\U0001f3eb 1\ufe0f\u20e3 \u2600\ufe0f",
    )
    words = f"{thai} {pictures} \u05d0 97\u200f!"
    source = HEAD + scene_of(block("program", "HALT"), block("cues", f"start: {words}"))
    lesson = read_lesson("letters", source)
    assert not lesson.problems and lesson.scenes[0].cues[0].words == words


ONE_OF_ITS_OWN = {
    "a cue": ("cues", "start: A\n first INPUT: B\n last transfer of fetch 1: C", 1, 2),
    "a line of a question": (
        "question",
        "before end: A\nask: the output\nbecause: B\n ask: C",
        3,
        2,
    ),
    "where the answer is": ("question", "ask at start: A\n answer at end\nask: ACC", 1, 2),
    "a case": ("task", "goal: A\n  inputs 3, 8 gives 8\ngives 1", 1, 3),
    "a cue with a dash": ("cues", "start: A\n  - first INPUT: B", 1, 3),
    "a cue with a wide colon": ("cues", "start: A\n  end\N{FULLWIDTH COLON} B", 1, 3),
    "a case of characters": ("task", "goal: A\n  inputs 'A', 'b' gives 'C'\ngives 1", 1, 3),
    "a case without outputs": ("task", "goal: A\n  inputs 3 and 8 gives nothing\ngives 1", 1, 3),
    "further inputs": ("task", "goal: A\n  further 1 to 4, 2 to 5\ngives 1", 1, 3),
    "a second goal": ("task", "goal: A\n goal: B\ngives 1", 1, 2),
}


@pytest.mark.parametrize(
    ("kind", "text", "line", "column"), ONE_OF_ITS_OWN.values(), ids=ONE_OF_ITS_OWN
)
def test_a_line_that_goes_on_and_reads_like_one_of_its_own_is_told(
    kind: str, text: str, line: int, column: int
) -> None:
    source = HEAD + scene_of(block("program", "INPUT\nOUTPUT\nHALT"), block(kind, text))
    told = [each for each in read_lesson("on", source).problems if "further right" in each.what]
    start = source.split("\n").index(f"```{kind}") + 2
    assert (told[0].line, told[0].column) == (start + line, column) and told[0].warning


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("cues", "start: What it reads\n  is 5: the first\n  input of all."),
        ("question", "before end: Which of them\n  does it ask for: this?\nask: the output"),
        ("task", "goal: Output what the user\n  gives as an input.\ninputs 1\n  gives 1"),
    ],
)
def test_words_that_go_on_are_not(kind: str, text: str) -> None:
    source = HEAD + scene_of(block("program", "INPUT\nOUTPUT\nHALT"), block(kind, text))
    problems = read_lesson("on", source).problems
    assert not [each for each in problems if "further right" in each.what]


def test_a_header_without_end() -> None:
    lesson = read_lesson("bad", "---\ntitle: A\n\n# A scene\n")
    (fault,) = lesson.faults
    assert "no end" in fault.what
    assert lesson.header.title == "bad"


def test_an_empty_line_above_the_header() -> None:
    lesson = read_lesson("bad", "\n---\ntitle: A\nagee: 9\n---\n# A scene\nWords.\n")
    above, inside = lesson.faults
    assert (above.line, "empty line above" in above.mend) == (1, True)
    assert (inside.line, lesson.header.title) == (4, "A")


def test_many_blocks_without_a_scene_are_told_once() -> None:
    lesson = read(f"{block('program', 'HALT')}\n\n{block('cues', 'start: Hello.')}\n")
    (fault,) = lesson.faults
    assert (fault.line, "before the first scene" in fault.what) == (BODY, True)


def test_every_fault_is_told_at_once() -> None:
    lesson = read(
        scene_of(block("program", "LOD 1\nHALT"), block("cues", "fetsh 1: A"))
        + scene_of(block("program", "STORE #1"), block("inputs", "x"))
    )
    assert [each.line for each in lesson.faults] == [7, 12, 17, 21]
    assert list(lesson.problems) == sorted(lesson.problems)


def test_too_many_scenes() -> None:
    lesson = read("".join(f"# Scene {number}\n" for number in range(MOST_SCENES + 5)))
    (fault,) = lesson.faults
    assert (fault.line, len(lesson.scenes)) == (BODY + MOST_SCENES, MOST_SCENES)
    assert str(MOST_SCENES) in fault.mend


@pytest.mark.parametrize(
    ("text", "column", "what", "mend"),
    [
        ("HALT", 1, "never comes to 'first OUTPUT'", "6 steps"),
        ("again: JUMP again", 1, "never comes to 'first OUTPUT'", "steps"),
    ],
)
def test_a_cue_that_never_comes_is_a_warning(text: str, column: int, what: str, mend: str) -> None:
    lesson = read(scene_of(block("program", text), block("cues", "first OUTPUT: Never.")))
    assert lesson.faults == ()
    warning = next(each for each in lesson.problems if what in each.what)
    assert (warning.line, warning.column) == (BODY + 7, column)
    assert warning.warning
    assert mend in warning.mend


def test_a_program_that_never_stops_is_a_warning() -> None:
    lesson = read(scene_of(block("program", "again: JUMP again")))
    (warning,) = lesson.problems
    assert warning.warning
    assert "has not stopped after" in warning.what
    assert "'limit'" in warning.mend


# Files.


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_file_with_and_without_a_byte_order_mark(tmp_path: Path, mark: bytes) -> None:
    path = tmp_path / "coins.md"
    path.write_bytes(mark + (HEAD + COINS).encode())
    lesson = read_file(path)
    assert (lesson.slug, lesson.problems) == ("coins", ())


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_file_in_another_encoding(tmp_path: Path, mark: bytes) -> None:
    path = tmp_path / "cafe.md"
    path.write_bytes(mark + "---\ncafé".encode("latin-1"))
    (problem,) = read_file(path).faults
    assert (problem.line, problem.column) == (2, 1)
    assert "UTF-8" in problem.what and "UTF-8" in problem.mend


def test_a_file_that_is_far_too_large(tmp_path: Path) -> None:
    path = tmp_path / "large.md"
    path.write_bytes(b"x" * (LARGEST_FILE + 1))
    (problem,) = read_file(path).faults
    assert str(LARGEST_FILE + 1) in problem.what
    assert "two lessons" in problem.mend


def test_a_text_that_no_file_may_have_is_not_read() -> None:
    # A draft is longer than that until it is saved; it keeps its words, and no rule looks at them.
    source = HEAD + COINS + "\N{EURO SIGN}" * (LARGEST_FILE // 3)
    lesson = read_lesson("long", source)
    (problem,) = lesson.faults
    assert str(len(source.encode())) in problem.what
    assert "two lessons" in problem.mend
    assert (lesson.scenes, lesson.source) == ((), source)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(OSError):
        read_file(tmp_path / "none.md")


# Anything that a person may write, or that a slip of the hand may make of a good lesson.

SHIPPED = [
    # A small limit, so that the many runs that do not stop any more are short.
    path.read_text(encoding="utf-8").replace("---\n", "---\nlimit: 200\n", 1)
    for path in sorted(resource("lessons").glob("*.md"))
]
FRAGMENTS = (
    *("---\n", "# ", "## ", "> ", "- ", "```", "```program\n", "```inputs\n", "```cues\n"),
    *("```question\n", "~~~", ":", ";", "#", "[", "]", "{", "&a ", "*a", "!!int ", "'", '"'),
    *("LOAD", "JUMP", "fetch 9", "first", "99999", "-1", "0b", "1__0", "\t", "    ", "\n\n"),
    *("\f", "\x00", "\x85", "\u2028", "\ufeff", "\r", "é", "😀"),
)


@st.composite
def slips(draw: st.DrawFn) -> str:
    """A shipped lesson with a few things cut out, put in, doubled or moved."""
    source = draw(st.sampled_from(SHIPPED))
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(source)))
        end = min(start + draw(st.integers(0, 40)), len(source))
        match draw(st.sampled_from(("cut", "cut the rest", "insert", "double", "move"))):
            case "cut":
                source = source[:start] + source[end:]
            case "cut the rest":
                source = source[:start]
            case "insert":
                source = source[:start] + draw(st.sampled_from(FRAGMENTS)) + source[start:]
            case "double":
                source = source[:end] + source[start:]
            case "move":
                source = source[start:end] + source[:start] + source[end:]
    return source


@given(source=slips())
@settings(max_examples=250, deadline=None)
def test_a_spoilt_lesson_is_read_or_explained(source: str) -> None:
    lesson = read_lesson("spoilt", source)
    check_problems(lesson, source)
    assert lesson.scenes or lesson.faults


@given(text=st.text(max_size=200) | st.lists(st.sampled_from(FRAGMENTS), max_size=40).map("".join))
@settings(max_examples=250, deadline=None)
def test_any_text_is_read_or_explained(text: str) -> None:
    for source in (text, HEAD + text, HEAD + "# A scene\n" + text):
        lesson = read_lesson("any", source)
        check_problems(lesson, source)
        assert lesson.scenes or lesson.faults
