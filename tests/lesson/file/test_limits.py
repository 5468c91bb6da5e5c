"""How long and how many: each limit of a lesson file is told with a sentence, at its place, and
what is just within it is right."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from app.lesson.blocks.cues import LONGEST_CUE
from app.lesson.blocks.question import LONGEST_CHOICE, LONGEST_QUESTION
from app.lesson.blocks.task import LONGEST_GOAL
from app.lesson.file import prose
from app.lesson.file.head import (
    LONGEST_HEADER,
    LONGEST_SENTENCE,
    LONGEST_TERM,
    LONGEST_TITLE,
    MOST_LISTED,
)
from app.lesson.file.reader import LONGEST_SCENE_TITLE, MOST_LINES, MOST_TOLD_ALIKE, read_lesson
from app.lesson.file.scenes import MOST_PROBLEMS
from app.lesson.model import Lesson
from app.machine.source.assembler import LONGEST_LABEL, MOST_LABELS
from app.machine.source.problems import MOST_FAULTS
from app.paths import resource

HEAD = "---\ntitle: A\nmachine: 16-bit\n---\n"
PROGRAM = f"{HEAD}# One\n```program\nLOAD #1\nHALT\n```\n"


def header(words: str) -> str:
    return f"---\n{words}\n---\n# One\nWords.\n"


def items(count: int) -> str:
    return "".join(f"\n  - t{each}" for each in range(count))


def labels(count: int) -> str:
    names = "".join(f"a{each}:\n" for each in range(count))
    return f"{HEAD}# One\n```program\nLOAD #1\nHALT\n{names}0\n```\n"


def question(prompt: str, choice: str = "2") -> str:
    asks = f"before end: {prompt}\nask: the accumulator\nchoices: 1 or 3 or {choice}"
    return f"{PROGRAM}```question\n{asks}\n```\n"


# What makes a lesson of a size, the size that is right, and the line and part of the sentence of
# what is wrong with one more.
LIMITS: dict[str, tuple[Callable[[int], str], int, int, str]] = {
    "title": (lambda size: header(f"title: {'a' * size}"), LONGEST_TITLE, 2, "letters, too many"),
    "age": (lambda size: header(f"title: A\nage: {'a' * size}"), LONGEST_TERM, 3, "letters"),
    "objective": (
        lambda size: header(f"title: A\nobjectives:\n  - {'a' * size}"),
        LONGEST_SENTENCE,
        4,
        "letters",
    ),
    "objectives": (
        lambda size: header(f"title: A\nobjectives:{items(size)}"),
        MOST_LISTED,
        4,
        "41 of them",
    ),
    "terms": (lambda size: header(f"title: A\nterms:{items(size)}"), MOST_LISTED, 4, "41 of them"),
    "header": (
        lambda size: header(f"title: A\n#{'a' * (size - 10)}"),
        LONGEST_HEADER,
        1,
        "characters long",
    ),
    "lines": (
        lambda size: f"{HEAD}# One\nWords.\n{chr(10) * (size - 7)}",
        MOST_LINES,
        1,
        "5001 lines",
    ),
    "name of a scene": (
        lambda size: f"{HEAD}# {'a' * size}\nWords.\n",
        LONGEST_SCENE_TITLE,
        5,
        "121 letters",
    ),
    "label": (
        lambda size: f"{HEAD}# One\n```program\nLOAD #1\nHALT\n{'a' * size}: 0\n```\n",
        LONGEST_LABEL,
        9,
        "41 letters",
    ),
    "labels": (labels, MOST_LABELS, 9 + MOST_LABELS, f"more than {MOST_LABELS} labels"),
    "cue": (
        lambda size: f"{PROGRAM}```cues\nstart: {'a' * size} [pause]\n```\n",
        LONGEST_CUE,
        11,
        "601 letters",
    ),
    "question": (lambda size: question("a" * size), LONGEST_QUESTION, 11, "401 letters"),
    "choice": (lambda size: question("a", "a" * size), LONGEST_CHOICE, 13, "81 letters"),
    "goal": (
        lambda size: f"{PROGRAM}```task\ngoal: {'a' * size}\ngives 1\n```\n",
        LONGEST_GOAL,
        11,
        "601 letters",
    ),
}


@pytest.mark.parametrize(("make", "most", "line", "said"), LIMITS.values(), ids=LIMITS)
def test_limit(make: Callable[[int], str], most: int, line: int, said: str) -> None:
    assert read_lesson("right", make(most)).faults == ()
    (fault,) = read_lesson("wrong", make(most + 1)).faults
    assert (fault.line, said in fault.what, bool(fault.mend)) == (line, True, True), fault


def told(lesson: Lesson) -> int:
    return len(lesson.problems)


@pytest.mark.parametrize("kind", ["inputs", "task"])
def test_of_many_bad_numbers_on_one_line_some_are_told(kind: str) -> None:
    line = "x " * 12_000
    block = f"goal: a\ngives {line}" if kind == "task" else line
    lesson = read_lesson("many", f"{PROGRAM}```{kind}\n{block}\n```\n")
    assert MOST_FAULTS < told(lesson) <= MOST_FAULTS + 3
    assert "the rest was not read" in lesson.faults[MOST_FAULTS].what


@pytest.mark.parametrize("kind", ["inputs", "task"])
def test_numbers_that_are_shown_as_others_are_no_faults_however_many(kind: str) -> None:
    line = "40000 " * 60
    block = f"goal: a\ngives {line}" if kind == "task" else line
    lesson = read_lesson("many", f"{PROGRAM}```{kind}\n{block}\n```\n")
    assert lesson.faults == () and MOST_FAULTS <= told(lesson) <= MOST_FAULTS + 3


def test_the_problems_of_a_file_are_so_many_at_most() -> None:
    block = "```inputs\n" + "x\n" * 30 + "```\n"
    lesson = read_lesson("many", HEAD + "".join(f"# {at}\n{block}" for at in range(50)))
    assert told(lesson) == MOST_PROBLEMS + 1
    assert "not all of it was read" in lesson.problems[0].what


@pytest.mark.parametrize(
    ("value", "what"),
    [
        (r'"\UFFFFFFFF"', "no character of this number"),
        (r'"\U00110000"', "no character of this number"),
        (r'"\ud800"', "half of a character"),
        (r'"a\udc00\ud800"', "half of a character"),
        ("[" * 400 + "]" * 400, "lists stand in lists"),
        ("{a: " * 400 + "b" + "}" * 400, "lists stand in lists"),
        ('"\\0\\a"', "nobody sees (U+0000)"),
        ('"b\\x1b[31m"', "nobody sees (U+001B)"),
        ('"\\t\\r\\n"', "needs some words"),
    ],
)
def test_a_title_that_no_page_can_show(value: str, what: str) -> None:
    lesson = read_lesson("name", f"---\ntitle: {value}\n---\n# One\nWords.\n")
    (fault,) = lesson.faults
    assert (fault.line, what in fault.what) == (2, True), fault
    assert lesson.header.title == "name"


def test_a_title_is_one_line_of_whole_characters() -> None:
    title = r'"a\r\nb\t\ud83d\ude00\u2028c"'
    lesson = read_lesson("name", f"---\ntitle: {title}\n---\n# One\nWords.\n")
    assert lesson.problems == ()
    assert lesson.header.title == "a b \N{GRINNING FACE} c"


@pytest.mark.parametrize(
    "again",
    # In the middle and last one a line that only looks empty, and one that only looks like a
    # quotation: Markdown takes them for neither.
    ["> #\na\n", "> #\n\N{NO-BREAK SPACE}\n", "> #\n1>\n", "> > > #\na\n", "> |a|\n> |-|\na\n"],
)
def test_notes_that_take_too_long_are_shown_as_they_are_written(again: str) -> None:
    """Markdown looks each of these through to the next empty line for what belongs to it. So the
    work is counted, and what is too much of it is not done."""
    few, many = (f"{PROGRAM}\n*First*.\n\n{again * times}" for times in (50, 1500))
    assert read_lesson("few", few).problems == ()
    lesson = read_lesson("many", many)
    (warning,) = lesson.problems
    assert warning.warning and "take too long to be read" in warning.what
    assert PROGRAM.count("\n") + 3 < warning.line <= many.count("\n") + 1
    # Its scene is there with its program, and every letter of its notes.
    (scene,) = lesson.scenes
    assert scene.title == "One" and len(scene.program.words) == 2
    assert scene.notes.count("&gt;") == again.count(">") * 1500
    # Set apart they are what they were.
    apart = "".join(f"{each}\n\n" for each in [again] * 300)
    assert read_lesson("apart", f"{PROGRAM}\n{apart}").problems == ()


@pytest.mark.parametrize("kind", ["notes", "homework"])
def test_brackets_that_take_too_long_are_shown_as_they_are_written(kind: str) -> None:
    """Each may start a link with an address in it, which is looked through to its end."""
    brackets = '"[![|<a@b.c>]('
    text = brackets * 4000 if kind == "notes" else f"```homework\n{brackets * 4000}\n```"
    lesson = read_lesson("brackets", f"{PROGRAM}\n{text}\n")
    (warning,) = lesson.problems
    assert warning.warning and f"The {kind} take" in warning.what and "brackets" in warning.mend
    assert warning.line == PROGRAM.count("\n") + (2 if kind == "notes" else 3)
    shown = lesson.scenes[0].notes if kind == "notes" else lesson.scenes[0].homework
    assert shown.count("](") == 4000


def test_a_table_that_takes_too_long_is_shown_as_it_is_written() -> None:
    """A row of it has all the cells of its head, though only one is written."""
    head = "|" * 200 + "\n" + "|-" * 199 + "|\n"
    few, many = (read_lesson("table", f"{PROGRAM}\n{head}" + "a\n" * rows) for rows in (20, 400))
    assert few.problems == () and "<table>" in few.scenes[0].notes
    (warning,) = many.problems
    assert warning.warning and "smaller tables" in warning.mend
    assert warning.line == PROGRAM.count("\n") + 2 and "<table>" not in many.scenes[0].notes


def test_all_the_notes_and_homework_of_a_file_are_counted_together() -> None:
    """What stands right under the lines of a scene is read by itself, and so is homework: sixty
    scenes with a table each took twelve seconds."""
    table = "|" * 60 + "\n" + "|-" * 59 + "|\n" + "a\n" * 60
    for scene in (f"minutes: 8\n{table}", f"\n```homework\n{table}```\n"):
        text = PROGRAM + "".join(f"\n# S{at}\n{scene}" for at in range(30))
        few = read_lesson("few", text[: text.index("# S3")])
        assert few.problems == () and "<table>" in few.scenes[1].notes + few.scenes[1].homework
        lesson = read_lesson("many", text)
        assert lesson.faults == () and any(
            "too long to be read" in str(each) for each in lesson.problems
        )
        made = [each.notes + each.homework for each in lesson.scenes]
        assert sum("<table>" in each for each in made) < 20 and "a\na" in made[-1]


def test_what_is_too_much_work_is_far_from_what_any_lesson_needs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(prose, "MOST_CALLS", prose.MOST_CALLS // 50)
    for path in resource("lessons").glob("*.md"):
        problems = read_lesson(path.stem, path.read_text(encoding="utf-8")).problems
        assert not any("too long to be read" in each.what for each in problems)


def test_pictures_that_will_not_be_seen() -> None:
    seen = "![a dot](data:image/png;base64,iVBORw0KGgo=)"
    notes = f"Look:\n![the <gate>](gate.png)\n\n- ![](https://x.example/a.png)\n\n{seen}\n"
    lesson = read_lesson("pictures", f"{HEAD}# One\n{notes}")
    assert lesson.faults == ()
    assert [(each.line, each.warning) for each in lesson.problems] == [(7, True), (9, True)]
    assert all("will not be seen" in each.what for each in lesson.problems)
    shown = lesson.scenes[0].notes
    assert "[the &lt;gate&gt;]" in shown and "[a picture]" in shown
    assert shown.count("<img") == 1 and 'src="data:image/png' in shown


def test_of_very_many_pictures_some_are_told() -> None:
    lesson = read_lesson("pictures", f"{HEAD}# One\n" + "![a](b.png)\n\n" * 200)
    assert told(lesson) == MOST_TOLD_ALIKE


@pytest.mark.parametrize("count", [MOST_PROBLEMS, MOST_PROBLEMS + 1, 3 * MOST_PROBLEMS])
def test_no_number_of_warnings_hides_a_lesson(count: int) -> None:
    """A block without a kind is text, and told; what comes after it is read all the same."""
    text = "```\nwords\n```\n\n"
    scene = "# One\n```program\nLOAD #1\nHALT\n```\n"
    lesson = read_lesson("many", f"{HEAD}{scene}{text * count}# Two\nWords.\n")
    assert lesson.faults == () and [each.title for each in lesson.scenes] == ["One", "Two"]
    before = read_lesson("many", f"{HEAD}{text * count}{scene}")
    assert before.faults == () and before.scenes[0].program.words
    assert MOST_PROBLEMS <= told(lesson) <= MOST_PROBLEMS + 1


@pytest.mark.parametrize(
    "slip", ["# Two\n```program\nLAOD #1\n```\n", "```frob\n```\n", "```cues\nstart: No end.\n"]
)
@pytest.mark.parametrize("warnings", ["```\nwords\n```\n\n", "```cues\n```\n"])
def test_no_number_of_warnings_hides_a_fault(slip: str, warnings: str) -> None:
    (alone,) = read_lesson("one", f"{PROGRAM}{slip}").faults
    lesson = read_lesson("many", f"{PROGRAM}{warnings * (MOST_PROBLEMS + 50)}{slip}")
    assert alone.what.partition(" line ")[0] in [
        each.what.partition(" line ")[0] for each in lesson.faults
    ]


@pytest.mark.parametrize("count", [0, 1, MOST_PROBLEMS + 5])
@pytest.mark.parametrize("text", ["```\nwords\n```\n\n", "![a](b.png)\n\n", "program\nHALT\n\n"])
def test_a_lesson_without_a_scene_has_a_fault(text: str, count: int) -> None:
    lesson = read_lesson("none", f"{HEAD}{text * count}")
    assert [each.what for each in lesson.faults] == ["The lesson has no scene."]
    assert not lesson.can_be_taught
