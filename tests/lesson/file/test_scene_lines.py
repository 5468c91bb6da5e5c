"""The lines under the heading of a scene."""

from __future__ import annotations

import pytest

from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth, Press
from app.lesson.minutes import scene_minutes
from app.lesson.model import Lesson
from app.lesson.parts import ALL_PARTS

HEAD = "---\ntitle: T\nmachine: 8-bit\n{more}---\n"
SHOW = "```show\nmemory\n```\n"
PROGRAM = "\n```program\nLOAD #3\nHALT\n```\n"


def read(scene: str, more: str = "") -> Lesson:
    return read_lesson("t", HEAD.format(more=more) + scene)


def test_what_a_scene_says_of_itself() -> None:
    lesson = read(
        "# One\nminutes: 8\npress: cue   # a comment\ndepth: phases\n\nAsk first.\n" + PROGRAM
    )
    (scene,) = lesson.scenes
    assert lesson.problems == ()
    assert (scene.minutes, scene.press, scene.depth) == (8, Press.CUE, Depth.PHASES)
    assert scene.notes == "<p>Ask first.</p>\n"
    (minutes,) = scene_minutes(40, lesson.scenes)
    assert minutes and minutes.words == "8 min"


def test_what_it_does_not_say_is_in_the_header() -> None:
    lesson = read("# One\nmore: words\n" + PROGRAM, "depth: phases\npress: instruction\n")
    (scene,) = lesson.scenes
    assert (scene.minutes, scene.press) == (None, Press.INSTRUCTION)
    assert scene.depth is Depth.PHASES
    assert "more: words" in scene.notes


def test_notes_may_follow_without_an_empty_line_and_are_read_as_ever() -> None:
    (scene,) = read("# One\npress: phase\n*Ask*: how many?\n" + PROGRAM).scenes
    assert scene.press is Press.PHASE
    assert scene.notes == "<p><em>Ask</em>: how many?</p>\n"


def test_only_the_first_paragraph_has_such_lines() -> None:
    lesson = read("# One\nAsk first.\n\npress: cue\n" + PROGRAM)
    assert lesson.scenes[0].press is None
    assert "press: cue" in lesson.scenes[0].notes


@pytest.mark.parametrize(
    ("line", "column", "what", "mend"),
    [
        ("press: cues", 8, "'cues' is not something that a press can do.", "Did you mean 'cue'?"),
        ("depth: deep", 8, "'deep' is not a depth.", "Write"),
        ("minutes: none", 10, "'none' is not a number of minutes.", "from 1 to 300"),
        ("minutes: 0", 10, "'0' is not a number of minutes.", "from 1 to 300"),
        ("press: cue\npress: phase", 1, "The scene says 'press' twice.", "Leave one"),
        ("pres: cue", 1, "'pres' is taken for a word of the notes.", "Did you mean 'press'?"),
        # What for every eye is such a line would be notes, and the press as it is without it.
        ("press\u200b: cue", 6, "A sign that nobody sees (U+200B) stands here.", "'press: cue'"),
        ("press\uff1a cue", 6, "'\uff1a' (U+FF1A) only looks like a colon.", "'press: cue'"),
    ],
)
def test_slips(line: str, column: int, what: str, mend: str) -> None:
    (problem,) = read(f"# One\n{line}\n{PROGRAM}").problems
    assert (problem.line, problem.column) == (6 + line.count("\n"), column)
    assert problem.what == what
    assert mend in problem.mend
    assert problem.warning == line.startswith("pres:")


def test_a_header_that_says_no_press() -> None:
    (problem,) = read("# One\n" + PROGRAM, "press: button\n").problems
    assert "The header's 'press' cannot be used." in problem.what


def test_more_presses_than_there_is_time_for() -> None:
    """One minute has six presses of ten seconds."""
    lesson = read("# One\nminutes: 1\n" + PROGRAM)
    (problem,) = lesson.problems
    assert problem.warning
    assert "takes 12 presses, and has 1 min: at 10 seconds a press there is time for 6." in (
        problem.what
    )
    assert "'press: phase'" in problem.mend
    assert read("# One\nminutes: 1\npress: phase\n" + PROGRAM).problems == ()
    assert read("# One\nminutes: 2\n" + PROGRAM).problems == ()


def test_a_scene_for_which_no_minutes_are_left() -> None:
    lesson = read(f"# One\nminutes: 9\n{PROGRAM}\n# Two\n{PROGRAM}", "minutes: 9\n")
    (problem,) = lesson.problems
    assert problem.warning and problem.line > 9
    assert problem.what == (
        "The scene 'Two' takes 12 presses, and the other scenes leave none of the lesson's"
        " minutes for it."
    )
    assert "'minutes: 5'" in problem.mend


def test_what_is_on_stage_where_a_scene_does_not_say() -> None:
    lesson = read(f"# One\n{PROGRAM}\n# Two\n{PROGRAM}{SHOW}", "show: everything but the status\n")
    assert lesson.problems == ()
    assert [ALL_PARTS - each.parts for each in lesson.scenes] == [
        {"status"},
        ALL_PARTS - {"memory"},
    ]
    (problem,) = read(f"# One\n{PROGRAM}", "show: everything but the statsu\n").faults
    assert "'show' cannot be used" in problem.what and problem.line == 4


@pytest.mark.parametrize(
    ("lines", "at", "meant"),
    [
        ("press cue", 5, "press: cue"),
        ("press; cue", 5, "press: cue"),
        ("minutes = 8", 5, "minutes: 8"),
        ("Minutes - 8  # about", 5, "minutes: 8"),
        ("minutes: 8\n\npress: cue", 7, "press: cue"),
        ("Ask first.\npress: cue", 6, "press: cue"),
        ("- press: cue", 5, "press: cue"),
    ],
)
def test_what_would_be_such_a_line_and_is_none(lines: str, at: int, meant: str) -> None:
    (problem,) = read(f"# One\n{lines}\n{PROGRAM}").problems
    assert problem.warning and problem.line == at + 1
    assert "taken for notes" in problem.what
    assert problem.mend == f"Write '{meant}' right under the heading."
    name, value = meant.split(": ")
    (scene,) = read(f"# One\n{meant}\n{PROGRAM}").scenes
    assert str(getattr(scene, name)) == value


@pytest.mark.parametrize("line", ["show: ALU", "machine: 16-bit", "limit: 50"])
def test_a_line_of_the_header_under_a_heading_is_told(line: str) -> None:
    (problem,) = read(f"# One\n{line}\n{PROGRAM}").problems
    assert problem.warning and problem.line == 6 and "belongs in the header" in problem.what
    assert ("'show' block" in problem.mend) == line.startswith("show")


@pytest.mark.parametrize(
    "line", ["Show: where it is.", "terms: one, two", "minutes pass.", "depth"]
)
def test_words_of_the_notes_are_left_alone(line: str) -> None:
    assert read(f"# One\n{line}\n{PROGRAM}").problems == ()


@pytest.mark.parametrize("line", ["machine: 16-bit", "press: cue # all of them", "minutes: 40"])
def test_a_line_of_the_header_below_its_end_is_told(line: str) -> None:
    lesson = read_lesson("t", f"---\ntitle: T\n---\n{line}\n---\n\n# One\n{PROGRAM}")
    (problem,) = lesson.problems
    assert problem.warning and problem.line == 4 and "below the header" in problem.what


def test_a_line_above_its_scene_is_told_once() -> None:
    lesson = read_lesson("t", f"---\ntitle: T\n---\npress: cue\n\n# One\n{PROGRAM}")
    assert [each.line for each in lesson.problems] == [4]


@pytest.mark.parametrize("line", ["Machine: as big as a house", "age: 11", "Note: 16-bit", "words"])
def test_words_above_the_first_scene_are_left_alone(line: str) -> None:
    lesson = read_lesson("t", f"---\ntitle: T\n---\n{line}\n\n# One\n{PROGRAM}")
    assert lesson.problems == ()


@pytest.mark.parametrize(
    "header", ["title: U\nmachine: 16-bit", "machine: 16-bit", "title: U\nobjectives:\n  - a\n"]
)
def test_the_header_of_another_lesson_below_this_one_is_told(header: str) -> None:
    lesson = read(f"# One\n{PROGRAM}\n---\n{header}\n---\n\n# Two\n{PROGRAM}")
    (problem,) = lesson.problems
    assert problem.warning and problem.line == 13 and "second header" in problem.what


@pytest.mark.parametrize("words", ["Note: this\n---", "Machine: it hums.", "words\n\n---"])
def test_rules_in_the_notes_are_left_alone(words: str) -> None:
    assert read(f"# One\n\nAsk first.\n\n---\n{words}\n{PROGRAM}").problems == ()


@pytest.mark.parametrize(
    "block",
    [
        "cues\nstart: A <!-- not for them -->",
        "question\nbefore end: A <!-- 3 -->\nask: ACC",
        "homework\nFind it. <!-- 7 -->",
    ],
)
def test_what_a_block_cannot_hide_is_told(block: str) -> None:
    (problem,) = read(f"# One\n{PROGRAM}\n```{block}\n```\n").problems
    assert problem.warning and problem.line == 13 and "is shown" in problem.what


@pytest.mark.parametrize(
    "line", ["Press: the clicker, not the mouse.", "Cache: none of them knows this word."]
)
def test_a_sentence_of_the_notes_is_no_fault(line: str) -> None:
    lesson = read(f"# One\n{line}\n{PROGRAM}")
    (problem,) = lesson.problems
    assert problem.warning and "taken for a word of the notes" in problem.what
    assert line.split(":")[0] in lesson.scenes[0].notes
