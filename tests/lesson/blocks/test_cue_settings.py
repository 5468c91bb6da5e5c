"""What cues set, and several cues at the start: a function of the step alone."""

from __future__ import annotations

from app.lesson.file.reader import read_lesson
from app.lesson.model import Scene


def scene(cues: str) -> Scene:
    head = "---\ntitle: T\nmachine: 8-bit\n---\n# One\n"
    program = "```program\nLOAD #1\nOUTPUT\nHALT\n```\n"
    lesson = read_lesson("t", f"{head}{program}\n```show\nmemory\n```\n```cues\n{cues}\n```\n")
    assert lesson.problems == ()
    return lesson.scenes[0]


def test_a_base_from_its_cue_on() -> None:
    sheet = scene("fetch 2: Bits. [base binary]\nOUTPUT: [base hexadecimal]").cue_sheet
    # The second fetch starts with step 7, OUTPUT is executed in step 12.
    bases = [sheet.base(step) for step in (0, 6, 7, 11, 12, 18)]
    assert bases == [None, None, "binary", "binary", "hexadecimal", "hexadecimal"]


def test_a_base_that_there_is_not() -> None:
    text = "```cues\nstart: [base roman]\n```\n"
    head = "---\ntitle: T\nmachine: 8-bit\n---\n# One\n```program\nHALT\n```\n"
    (problem,) = read_lesson("t", head + text).problems
    assert problem.what == "'roman' is not a number base."
    assert "binary" in problem.mend


def test_a_speed_at_the_start() -> None:
    sheet = scene("start: Fast. [speed 8]\nOUTPUT: [speed 0.5]").cue_sheet
    assert [sheet.speed(step) for step in (0, 11, 12)] == [8.0, 8.0, 0.5]


def test_several_cues_at_the_start_come_one_after_another() -> None:
    cues = "start: One.\nstart: [show ALU]\nstart: Two. [speed 2]\nstart: Three. [show output]"
    sheet = scene(cues).cue_sheet
    assert sheet.opening == 3
    assert [sheet.at(0, said=each).words for each in range(3)] == ["One.", "Two.", "Three."]
    # What they do comes with their words, and stays.
    shown = [sheet.parts(0, each) - {"memory"} for each in range(3)]
    assert shown == [frozenset(), {"ALU"}, {"ALU", "output"}]
    assert [sheet.speed(0, each) for each in range(3)] == [None, 2.0, 2.0]
    assert sheet.parts(1) == sheet.parts(0) == {"memory", "ALU", "output"}
    assert sheet.at(0).words == "Three." and sheet.at(1) is None


def test_one_cue_at_the_start_is_as_ever() -> None:
    sheet = scene("start: One. [show ALU]").cue_sheet
    assert sheet.at(0, said=0) == sheet.at(0)
    assert sheet.parts(0, 0) == {"memory", "ALU"}
