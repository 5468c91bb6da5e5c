"""Lines that were meant to start or to end a block or a scene: one complaint for each slip."""

from __future__ import annotations

import pytest

from app.lesson.file.reader import read_lesson
from app.lesson.model import Lesson

PROGRAM = "LOAD fare\nOUTPUT\nHALT\nfare: 9"
CUES = "```cues\nstart: Two numbers.\nfirst OUTPUT: There it is.\n```\n"


def read(body: str) -> Lesson:
    """The first line of the body is line 4 of the file."""
    return read_lesson("slip", f"---\ntitle: Slip\n---\n{body}")


# The scene, then the line of the only complaint, what is in it, and in its mend.
UNCLOSED = {
    "before a block": (
        f"# One\n\n```program\n{PROGRAM}\n\n```show\nmain memory\n```\n\n{CUES}",
        (6, "'program' block of line 6 has no end before line 12", "'```'"),
    ),
    "before a block in capitals": (
        f"# One\n\n```program\n{PROGRAM}\n```Show\nmain memory\n```\n",
        (6, "before line 11", "'```'"),
    ),
    "before a scene": (
        f"# One\n\n```program\n{PROGRAM}\n\n# Two\n\nWords.\n\n```program\nHALT\n```\n",
        (6, "before line 12", "'```'"),
    ),
    "cues": (
        f"# One\n```program\n{PROGRAM}\n```\n{CUES[:-4]}\n```show\nmain memory\n```\n",
        (11, "'cues' block of line 11 has no end before line 15", "'```'"),
    ),
    "of waves": (
        f"# One\n~~~program\n{PROGRAM}\n```\n\n~~~cues\nstart: a\n~~~\n",
        (5, "has no end before line 12", "'~~~'"),
    ),
    "at the end": (f"# One\n```program\n{PROGRAM}\n", (5, "line 5 has no end.", "'```'")),
    "closed twice": (
        f"# One\n```program\n{PROGRAM}\n```\n```\n\nWords.\n\n{CUES}",
        (11, "without a kind, which has no end before line 15", "one too many"),
    ),
}


@pytest.mark.parametrize(("body", "told"), UNCLOSED.values(), ids=UNCLOSED)
def test_a_block_that_is_not_closed(body: str, told: tuple[int, str, str]) -> None:
    (fault,) = read(body).problems
    assert not fault.warning
    assert (fault.line, told[1] in fault.what, told[2] in fault.mend) == (told[0], True, True)


def test_what_comes_after_an_unclosed_block_is_read() -> None:
    lesson = read(
        "# One\n```program\nHALT\n\n# Two\n\nWords.\n\n```program\nLAOD 1\n```\n\n# Three\nEnd.\n"
    )
    assert [each.title for each in lesson.scenes] == ["One", "Two", "Three"]
    assert [each.line for each in lesson.faults] == [5, 13]
    assert "Words." in lesson.scenes[1].notes


def test_a_longer_fence_holds_shorter_ones() -> None:
    lesson = read("# One\n````\n```program\nHALT\n```\n````\n")
    (warning,) = lesson.problems
    assert (warning.line, "no kind" in warning.what) == (5, True)
    assert "```program" in lesson.scenes[0].notes


@pytest.mark.parametrize(
    ("start", "end", "why"),
    [
        ("\\`\\`\\`program", "\\`\\`\\`", "backslashes"),
        ("‘‘‘program", "‘‘‘", "quotation marks"),
        ("'''program", "'''", "quotation marks"),
        ("“‘program", "```", "quotation marks"),
        ("program", "", "no backticks"),
        ("program", "```", "no backticks"),
        ("``program", "``", "fewer than three"),
        ("    ```program", "    ```", "indented"),
        ("\t```program", "```", "indented"),
    ],
)
def test_the_start_of_a_block_that_is_none(start: str, end: str, why: str) -> None:
    """The cues of the scene, and of the next, are not complained of as well."""
    lesson = read(f"# One\n\n{start}\n{PROGRAM}\n{end}\n\n{CUES}\n# Two\n\n{CUES}")
    (warning,) = lesson.problems
    assert warning.warning
    assert (warning.line, warning.column) == (6, len(start) - len(start.lstrip()) + 1)
    assert "start of a 'program' block" in warning.what and why in warning.what
    assert "'```program'" in warning.mend
    assert [len(each.cues) for each in lesson.scenes] == [2, 2]


def test_a_scene_with_its_own_program_is_looked_at_again() -> None:
    lesson = read(f"# One\n\nprogram\n{PROGRAM}\n\n{CUES}\n# Two\n```program\nHALT\n```\n\n{CUES}")
    assert [(each.line, each.warning) for each in lesson.problems] == [(6, True), (24, True)]


def test_a_block_without_a_kind() -> None:
    (warning,) = read(f"# One\n\n```\n{PROGRAM}\n```\n\n{CUES}").problems
    assert warning.warning
    assert (warning.line, "no kind" in warning.what) == (6, True)


@pytest.mark.parametrize(
    "words",
    [
        "Look at the\nprogram\nonce more.",
        "The program\nis short.",
        "Write `program` here.",
        "- a list\n  of program\n  words",
        "program",
    ],
)
def test_words_that_start_no_block(words: str) -> None:
    assert read(f"# One\n\n{words}\n\n```program\n{PROGRAM}\n```\n{CUES}").problems == ()


def test_an_indented_block_in_a_list_is_told_once() -> None:
    (warning,) = read("# One\n\n1. item\n\n    ```program\n    HALT\n    ```\n").problems
    assert (warning.line, warning.column) == (8, 5)


SCENE = f"```program\n{PROGRAM}\n```\n{CUES}"


@pytest.mark.parametrize(
    ("headings", "lines", "mend"),
    [
        (("#Turns of the drum", "#More"), [4, 17], "'# Turns of the drum'"),
        (("## Turns of the drum", "## More"), [4, 17], "'# Turns of the drum'"),
        (("# Turns of the drum", "## More"), [17], "'# More'"),
        (("# Turns of the drum", "#More"), [17], "'# More'"),
    ],
)
def test_a_heading_that_starts_no_scene(
    headings: tuple[str, str], lines: list[int], mend: str
) -> None:
    first, second = headings
    lesson = read(f"{first}\n\n{SCENE}\n{second}\n\n{SCENE}")
    assert [each.line for each in lesson.problems] == lines
    assert mend in lesson.problems[0].mend
    assert [each.title for each in lesson.scenes] == ["Turns of the drum", "More"]


def test_smaller_headings_of_notes_and_numbers_at_the_start_of_a_line_are_right() -> None:
    notes = "## Before\n\nThe number\n#five is\n\n#5\n\n## Then"
    assert read(f"# One\n\n{notes}\n\n{SCENE}").problems == ()


def test_only_smaller_headings_and_no_block() -> None:
    (fault,) = read("Words.\n\n## One\n\nMore.\n").problems
    assert (fault.line, "no scene" in fault.what) == (6, True)


# The body, then line and column of the only fault, the code of the sign, what it hinders, and the
# line as it shall be.
UNSEEN = {
    "before a block": (
        "# One\n\u200b```program\nHALT\n```\n",
        5,
        1,
        "U+200B",
        "'program'",
        "```program",
    ),
    "in its marks": (
        "# One\n``\u2060`program\nHALT\n```\n",
        5,
        3,
        "U+2060",
        "'program'",
        "```program",
    ),
    "in its kind": (
        "# One\n```pro\xadgram\nHALT\n```\n",
        5,
        7,
        "U+00AD",
        "'program'",
        "```program",
    ),
    "at its end": ("# One\n```program\nHALT\n\ufeff```\n", 7, 1, "U+FEFF", "not end", "```"),
    "behind its end": (
        "# One\n```program\nHALT\n```\u200b\n\n```inputs\n3\n```\n",
        7,
        4,
        "U+200B",
        "does not end the 'program' block",
        "```",
    ),
    "before a scene": ("\u200b# One\n```program\nHALT\n```\n", 4, 1, "U+200B", "no scene", "# One"),
}


@pytest.mark.parametrize(
    ("body", "line", "column", "code", "so", "mend"), UNSEEN.values(), ids=UNSEEN
)
def test_a_sign_that_nobody_sees(
    body: str, line: int, column: int, code: str, so: str, mend: str
) -> None:
    lesson = read(body)
    (fault,) = lesson.problems
    assert (fault.line, fault.column, fault.length, fault.warning) == (line, column, 1, False)
    assert f"({code})" in fault.what and so in fault.what
    assert fault.mend == f"Take it out, so that the line is just '{mend}'."
    # The rest is read as if it were not there.
    assert [len(each.program.words) for each in lesson.scenes] == [1]


@pytest.mark.parametrize(
    "body",
    [
        # Words of other languages, pictures, and text that shows how a block is written.
        "# One \N{HEAVY BLACK HEART}\ufe0f\n```program \N{WOMAN}\u200d\N{ROCKET}\nHALT\n```\n",
        "# \u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645\n```program\nHALT\n```\n",
        "# One\n```text\n\u200b```\n```program\nHALT\n```\n",
    ],
)
def test_signs_that_nobody_sees_where_they_belong(body: str) -> None:
    assert all("nobody sees" not in each.what for each in read(body).problems)


def test_what_stands_behind_the_kind_of_a_block_is_told() -> None:
    """Two lines that a program has joined: the first cue would be lost."""
    (problem,) = read(
        f"# One\n```program\n{PROGRAM}\n```\n```cues start: Lost.\nend: Kept.\n```\n"
    ).problems
    assert problem.warning and (problem.line, problem.column, problem.length) == (11, 9, 12)
    assert "behind 'cues' in this line is not read" in problem.what


def test_what_is_to_be_hidden_from_the_class_is_told() -> None:
    body = f"# One\nNotes.\n\n<!--\n# Two\n```program\n{PROGRAM}\n```\n-->\n"
    lesson = read(body)
    (problem,) = lesson.problems
    assert [each.title for each in lesson.scenes] == ["One", "Two"]
    assert problem.warning and problem.line == 7 and "'<!--' and '-->' is shown" in problem.what
    assert read(body.replace("<!--", "").replace("-->", "")).problems == ()
