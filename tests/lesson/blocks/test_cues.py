"""Cues: reading the places, and finding them in a run whose steps are worked out by hand."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.lesson.file.reader import read_lesson
from app.lesson.model import Lesson, Scene

# cycle          1: INPUT  2: OUTPUT  3: SUBTRACT  4: JUMP  5: OUTPUT  6: SUBTRACT  7: JUMP  8: HALT
# fetch          1-4       7-10       13-16        19-22    25-28      31-34        37-40    43-46
# decode         5         11         17           23       29         35           41       47
# execute        6         12         18           24       30         36           42       48
TWICE = "INPUT\nagain: OUTPUT\nSUBTRACT #1\nJUMP again IF MORE\nHALT"


# The line of the lesson file that the first cue is on.
FIRST_CUE = 7


def lesson(cues: str, program: str = TWICE, inputs: str = "2") -> Lesson:
    blocks = {"cues": cues, "program": program, "inputs": inputs}
    fenced = "".join(f"```{kind}\n{text}\n```\n" for kind, text in blocks.items())
    return read_lesson("cues", f"---\ntitle: Cues\n---\n\n# A scene\n{fenced}")


def scene(cues: str, program: str = TWICE, inputs: str = "2") -> Scene:
    found = lesson(cues, program, inputs)
    assert found.faults == ()
    return found.scenes[0]


def shown(when: str, program: str = TWICE, inputs: str = "2") -> list[int]:
    """The steps at which a cue of this place is shown."""
    of = scene(f"{when}: words", program, inputs)
    return [step for step in range(of.run.last_step + 1) if of.cue_sheet.at(step)]


@pytest.mark.parametrize(
    ("when", "steps"),
    [
        ("start", [0]),
        ("end", [48]),
        ("step 1", [1]),
        ("step 20", [20]),
        ("fetch 1", [1, 2, 3, 4]),
        ("fetch 4", [19, 20, 21, 22]),
        ("decode 2", [11]),
        ("execute 8", [48]),
        ("INPUT", [6]),
        ("OUTPUT", [12, 30]),
        ("each OUTPUT", [12, 30]),
        ("execute of OUTPUT", [12, 30]),
        ("first OUTPUT", [12]),
        ("last OUTPUT", [30]),
        ("decode of SUBTRACT", [17, 35]),
        ("fetch of SUBTRACT", [13, 14, 15, 16, 31, 32, 33, 34]),
        ("last fetch of JUMP", [37, 38, 39, 40]),
        ("first decode of JUMP", [23]),
        ("JUMP", [24, 42]),
        ("HALT", [48]),
        # Case and spaces do not matter.
        ("  First   output ", [12]),
        ("DECODE OF subtract", [17, 35]),
    ],
)
def test_places_in_a_run(when: str, steps: list[int]) -> None:
    assert shown(when) == steps


@pytest.mark.parametrize("when", ["step 49", "fetch 9", "execute 9", "LOAD", "first decode of ADD"])
def test_places_that_the_run_never_comes_to(when: str) -> None:
    """The cue is no fault, but there is a warning."""
    found = lesson(f"start: first words\n{when}: never said")
    assert found.faults == ()
    (warning,) = found.problems
    assert (warning.line, warning.column, warning.length) == (FIRST_CUE + 1, 1, len(when))
    assert f"'{when}'" in warning.what
    assert warning.mend
    assert [each.text for each in found.scenes[0].cue_sheet.unused] == [when]
    assert shown(when) == []


def test_an_execute_of_several_steps() -> None:
    """ADD from memory executes in three transfers; its cue stays for all of them."""
    assert shown("execute of ADD", "ADD 2\nHALT\n1") == [6, 7, 8]


def test_a_run_that_waits() -> None:
    """INPUT is fetched and decoded; its execute phase never comes."""
    waiting = ("OUTPUT\nINPUT", "")
    assert shown("fetch of INPUT", *waiting) == [7, 8, 9, 10]
    assert shown("decode of INPUT", *waiting) == [11]
    assert shown("INPUT", *waiting) == []
    assert shown("end", *waiting) == [11]


def test_the_narrowest_place_is_shown_and_of_equals_the_first_written() -> None:
    of = scene(
        """\
fetch 1: whole fetch
step 3: one step
decode of OUTPUT: each decode
first decode of OUTPUT: first decode
last decode of OUTPUT: last decode
"""
    )
    words = {step: cue.words for step in range(49) if (cue := of.cue_sheet.at(step))}
    assert words == {
        1: "whole fetch",
        2: "whole fetch",
        3: "one step",
        4: "whole fetch",
        11: "each decode",
        29: "each decode",
    }


def test_what_comes_next() -> None:
    cues = scene("OUTPUT: sent\nfetch 1: fetched\nstart: begun").cue_sheet
    following = {
        step: (found[0], found[1].words) if (found := cues.after(step)) else None
        for step in (0, 1, 4, 12, 29, 30)
    }
    assert following == {
        0: (1, "fetched"),
        1: (12, "sent"),
        4: (12, "sent"),
        12: (30, "sent"),
        29: (30, "sent"),
        30: None,
    }


def test_a_run_without_cues() -> None:
    cues = scene("").cue_sheet
    assert (cues.at(0), cues.after(0), cues.unused) == (None, None, [])


# Reading.


def test_cues_as_they_are_written() -> None:
    """An indented line goes on with the words above, whatever it looks like."""
    cues = scene(
        """\
start: A machine: a simple one.

  first OUTPUT :  The ticket is
    printed,
\tand torn off.
end: Done."""
    ).cues
    assert [(each.line, each.column, each.text) for each in cues] == [
        (FIRST_CUE, 1, "start"),
        (FIRST_CUE + 5, 1, "end"),
    ]
    assert cues[0].words == (
        "A machine: a simple one. first OUTPUT :  The ticket is printed, and torn off."
    )


def test_an_indented_first_cue() -> None:
    (cue,) = scene("  start: Hello.").cues
    assert (cue.column, cue.text, cue.words) == (3, "start", "Hello.")


def test_several_blocks_of_cues() -> None:
    found = lesson("start: A\n```\n\nProse.\n\n```cues\nend: B")
    assert [(each.line, each.words) for each in found.scenes[0].cues] == [(7, "A"), (13, "B")]


@pytest.mark.parametrize(
    ("line", "column", "length", "what", "mend"),
    [
        ("fetch 1", 1, 7, "a colon, and words", "'fetch 1: The first"),
        ("fetch 1:", 1, 7, "a colon, and words", "'fetch 1: The first"),
        (": words", 1, 1, "not a place", "'first OUTPUT'"),
        ("fetch one: words", 1, 9, "'one' is not a whole number", "'fetch 1'"),
        ("step 0: words", 1, 6, "'0' is not a whole number", "'step 1'"),
        ("step -1: words", 1, 7, "'-1' is not a whole number", "'step 1'"),
        ("step 99999999: words", 1, 13, "is not a whole number", "'step 1'"),
        ("fetsh 1: words", 1, 7, "'fetsh 1' is not a place", "Did you mean 'fetch"),
        ("first OUTPT: words", 1, 11, "not a place", "OUTPUT'?"),
        ("decode of AD: words", 1, 12, "not a place", "ADD'?"),
        ("xyzzy: words", 1, 5, "'xyzzy' is not a place", "'decode of ADD'"),
        ("executing ADD: words", 1, 13, "not a place", "mean 'execute of ADD'?"),
        ("execute ADD: words", 1, 11, "not a place", "mean 'execute of ADD'?"),
        ("first fetching add: words", 1, 18, "not a place", "mean 'first fetch of add'?"),
        ("SUB: words", 1, 3, "not a place", "mean 'SUBTRACT'?"),
        ("and goes on without a colon", 1, 27, "a colon, and words", "indent it"),
        ("first: words", 1, 5, "not a place", "'first OUTPUT'"),
        ("first start: words", 1, 11, "not a place", "'first OUTPUT'"),
        ("of ADD: words", 1, 6, "not a place", "'decode of ADD'"),
        ("9" * 5000 + "th ADD: words", 1, 5006, "not a place", "'first OUTPUT'"),
    ],
    ids=lambda value: str(value)[:30],
)
def test_fault(line: str, column: int, length: int, what: str, mend: str) -> None:
    found = lesson(f"start: fine\n{line}\nend: fine")
    (problem,) = found.faults
    assert (problem.line, problem.column, problem.length) == (FIRST_CUE + 1, column, length)
    assert what in problem.what
    assert mend in problem.mend
    # What is right is kept.
    assert [each.text for each in found.scenes[0].cues] == ["start", "end"]


PIECES = st.sampled_from(
    (
        *("start", "end", "step", "fetch", "decode", "execute", "of", "first", "last", "each"),
        *("ADD", "OUTPUT", "when", "1", "9th", "٣", "²", "[", "]", ":", ": a", " ", " ", "\n"),
        *("\n ", "\t", "\f", "\x85", "\u2028"),
    )
)


@given(text=st.text(max_size=60) | st.lists(PIECES, max_size=40).map("".join))
@settings(max_examples=200, deadline=None)
def test_any_text_is_cues_or_explained(text: str) -> None:
    for each in lesson(text).problems:
        assert each.line >= 1 and each.column >= 1 and each.length >= 1
        assert each.what.strip() and each.mend.strip()
