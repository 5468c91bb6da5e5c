"""Words and habits of a syllabus: in a lesson's header, and in one file for a folder."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner

from app.authoring import check
from app.lesson.file.habits import SYLLABUS
from app.lesson.file.reader import read_file, read_lesson
from app.lesson.file.shelf import Shelf
from app.lesson.header import Header
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT, machine_with
from app.machine.source.problems import Problem
from app.machine.telling.wording import USUAL

BODY = "# One\n```program\nLOAD #1\nHALT\n```\n"


def header(lines: str, folder: dict[str, object] | None = None) -> Header:
    found = read_lesson("w", f"---\ntitle: W\n{lines}---\n{BODY}", folder)
    assert found.problems == ()
    return found.header


def test_without_a_word_everything_is_as_usual() -> None:
    assert header("").wording == USUAL
    assert header("").machine is EIGHT_BIT
    assert header("words: denary, CIR, MDR, ACC, central processing unit\n").wording == USUAL
    assert header("counter moves: last\n").machine is EIGHT_BIT


def test_the_check_speaks_the_words_of_the_course() -> None:
    """Its own words, and not the author's: those stand in quotes."""
    asks = "\n".join(
        f"```question\nbefore {place}: What?\nask: {ask}\n```"
        for place, ask in (("LOAD", "instruction registr"), ("fetch 9", "the output"))
    )
    source = "---\ntitle: W\n{}---\n# One CIR\n```program\nLOAD #1\nOUTPUT\nHALT\n```\n" + asks
    usual, said = (
        read_lesson("w", source.format(lines)).problems for lines in ("", "words: IR, MBR\n")
    )
    assert "Did you mean 'the current instruction register'?" in [each.mend for each in usual]
    assert "Did you mean 'the instruction register'?" in [each.mend for each in said]
    # What is suggested can be written.
    mended = source.format("words: IR\n").replace("registr\n", "register\n")
    assert not read_lesson("w", mended).faults
    problem = Problem(1, 1, 1, "The CIR of the lesson's 'CIR' is 'the CIR'.", "Use the CIR.")
    say = read_lesson("w", source.format("words: IR\n")).header.wording.say
    assert problem.told(say).what == "The IR of the lesson's 'CIR' is 'the CIR'."
    assert problem.told(say).mend == "Use the IR."


@pytest.mark.parametrize(
    ("lines", "usual", "said"),
    [
        ("words: decimal", "denary", "decimal"),
        ("words: [decimal, IR]", "CIR <- MDR", "IR <- MDR"),
        ("words:\n  - instruction register (IR)\n  - MBR", "CIR <- MDR", "IR <- MBR"),
        ("words: Instruction Register", "Current instruction", "Instruction"),
        ("words: memory buffer register", "Memory data register", "Memory buffer register"),
        ("words: AC", "ACC, status <- ACC + MDR", "AC, status <- AC + MDR"),
        ("words: accumulator (AC)", "the accumulator", "the accumulator"),
        ("words: IAS", "Registers", "Immediate access store"),
        ("words: processor", "Central processing unit", "Processor"),
        ("words: CPU", "the central processing unit", "the CPU"),
        (
            "words: arithmetic logic unit",
            "the arithmetic and logic unit",
            "the arithmetic logic unit",
        ),
    ],
)
def test_the_words_of_a_course(lines: str, usual: str, said: str) -> None:
    assert header(f"{lines}\n").wording.say(usual) == said


@pytest.mark.parametrize(
    ("lines", "what", "mend"),
    [
        ("words: decimul", "'decimul' is not one of the terms", "Did you mean 'decimal'?"),
        ("words: zzz", "'zzz' is not one of the terms", "The terms are denary, decimal,"),
        ("words: IR, CIR", "names of the same thing", "Leave one of them out."),
        ("words:\n  decimal: yes", "It needs a list of terms.", "'decimal, IR, MBR'"),
        ("counter moves: third", "'third' is not a place in the fetch", "Write last or second."),
        ("machine: 16-bit\nwith: 3rd Stack", "'3rd Stack' is not a part", "mean 'stack'"),
        ("count: Hitz", "'Hitz' is not something that can be counted", "Write "),
        ("words: \u202eRI", r"'\u202eRI' is not one of the terms", "The terms are"),
        ("counter move: last", "no field called 'counter move'", "Did you mean counter moves?"),
    ],
)
def test_what_cannot_be_chosen_is_told(lines: str, what: str, mend: str) -> None:
    found = read_lesson("w", f"---\ntitle: W\n{lines}\n---\n{BODY}")
    (fault,) = found.faults
    assert what in fault.what and mend in fault.mend
    assert 3 <= fault.line <= 4


def test_the_counter_moves_second() -> None:
    machine = header("machine: 16-bit\ncounter moves: second\n").machine
    assert machine is machine_with(SIXTEEN_BIT, "second")
    assert [each.notation for each in machine.fetch] == [
        "MAR <- PC",
        "PC <- PC + 1",
        "MDR <- memory[MAR]",
        "CIR <- MDR",
    ]
    assert (machine.name, machine.counter_moves) == ("16-bit", "second")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "a.md").write_text(f"---\ntitle: A\n---\n{BODY}", "utf-8")
    own = "words: MDR, AC\ncounter moves: last\n"
    (tmp_path / "b.md").write_text(f"---\ntitle: B\n{own}---\n{BODY}", "utf-8")
    return tmp_path


def test_a_folder_speaks_for_its_lessons(folder: Path) -> None:
    shelf = Shelf(folder)
    assert shelf.lessons()[0].header.wording == USUAL
    text = "words: decimal, MBR\ncounter moves: second\n"
    (folder / SYLLABUS).write_text(text, "utf-8")
    one, other = shelf.lessons()
    assert one.header.wording.say("denary MDR ACC") == "decimal MBR ACC"
    assert one.header.machine is machine_with(EIGHT_BIT, "second")
    # A lesson's own header goes before it, term by term.
    assert other.header.wording.say("denary MDR ACC") == "decimal MDR AC"
    assert other.header.machine is EIGHT_BIT
    assert one.problems == other.problems == ()
    (folder / SYLLABUS).unlink()
    assert shelf.lessons()[0].header.wording == USUAL


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        (b"# ours\nwords: decimul\n", 2, "'decimul' is not one of the terms"),
        (b"title: Ours\n", 1, "no field called 'title'"),
        (b"words decimal", 1, "not made of lines"),
        (b"words: \xff", 1, "not UTF-8"),
        (b"#" * 20_000, 1, "more than 16384 bytes"),
    ],
)
def test_a_folder_that_cannot_speak(folder: Path, text: bytes, line: int, what: str) -> None:
    """The check tells it where it is, and every lesson that it is not heard."""
    file = folder / SYLLABUS
    file.write_bytes(text)
    lesson = read_file(folder / "a.md")
    (warning,) = lesson.problems
    assert warning.warning and lesson.header.wording == USUAL
    assert f"Line {line} of '{SYLLABUS}' cannot be used." in warning.what and what in warning.what
    found = CliRunner().invoke(check, [str(folder)])
    assert found.exit_code == 1
    first = found.stdout.splitlines()[0]
    assert first.startswith(f"{file}:{line}:") and what in first
    # It has no header, and needs no title.
    assert "header" not in first and "title: " not in first
    assert found.stdout.endswith("2 lessons checked: 1 fault, 2 warnings.\n")


def test_the_file_of_a_folder_is_checked_once(folder: Path) -> None:
    (folder / SYLLABUS).write_text("words: zzz\n", "utf-8")
    found = CliRunner().invoke(check, [str(folder / "a.md"), str(folder / "b.md")])
    assert found.stdout.count(f"{folder / SYLLABUS}:1:") == 1
    assert found.stdout.endswith("2 lessons checked: 1 fault, 2 warnings.\n")


def test_an_empty_syllabus_says_nothing(folder: Path) -> None:
    (folder / SYLLABUS).write_text("# nothing yet\n", "utf-8")
    found = CliRunner().invoke(check, [str(folder)])
    assert found.exit_code == 0
    assert found.stdout.endswith("\n2 lessons checked: 0 faults, 0 warnings.\n")


def _loop(file: Path) -> None:
    file.symlink_to(file)


def _through_a_file(file: Path) -> None:
    file.symlink_to(file.with_name("lesson.md") / "inside")


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such files")
@pytest.mark.parametrize(
    ("make", "what"),
    [
        (_loop, "The file cannot be opened"),
        (_through_a_file, "The file cannot be opened"),
        (os.mkfifo, "no file but a pipe, a device or a folder"),
        (Path.mkdir, "no file but a pipe, a device or a folder"),
        (lambda file: file.symlink_to("/dev/zero"), "no file but a pipe, a device or a folder"),
    ],
)
def test_what_is_no_file_is_told_by_the_check_as_by_the_server(
    tmp_path: Path, make: Callable[[Path], None], what: str
) -> None:
    """It is one fault of the folder's own; every lesson is taught without it, and says so."""
    (tmp_path / "lesson.md").write_text(f"---\ntitle: W\n---\n{BODY}", "utf-8")
    make(tmp_path / SYLLABUS)
    found = CliRunner().invoke(check, [str(tmp_path)])
    assert found.exit_code == 1 and f"{tmp_path / SYLLABUS}:1:1: " in found.stdout
    assert found.stdout.count(what) == 2
    shelf = Shelf(tmp_path)
    (lesson,) = shelf.lessons()
    (warning,) = lesson.problems
    assert what in warning.what and str(warning) in found.stdout and lesson.can_be_taught
    assert shelf.habits().wording == USUAL


@pytest.mark.parametrize("fault", ["c: [", "c: *d", 'c: "\\UFFFFFFFF"', "c: " + "[" * 20])
def test_a_syllabus_with_a_fault_is_looked_through_once_for_all_lessons(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: str
) -> None:
    """It was looked through to its fault for each of them, and the list waited for it."""
    for number in range(10):
        (tmp_path / f"{number}.md").write_text(f"---\ntitle: W\n---\n{BODY}", "utf-8")
    (tmp_path / SYLLABUS).write_text(f"words: decimal\nb{tmp_path.name}: c\n{fault}\n", "utf-8")
    parsed = []
    parse = yaml.parse

    def counted(text: str, **how: Any) -> Any:
        parsed.append(text)
        return parse(text, **how)

    monkeypatch.setattr(yaml, "parse", counted)
    lessons = Shelf(tmp_path).lessons()
    assert len({each.problems for each in lessons}) == 1 and lessons[0].problems
    assert sum("decimal" in each for each in parsed) <= 1


def test_a_syllabus_that_is_too_long_is_told_at_its_first_line(tmp_path: Path) -> None:
    (tmp_path / "lesson.md").write_text(f"---\ntitle: W\n---\n{BODY}", "utf-8")
    (tmp_path / SYLLABUS).write_text("#" * 16_100, "utf-8")
    assert f"{tmp_path / SYLLABUS}:1:1: " in CliRunner().invoke(check, [str(tmp_path)]).stdout


def test_a_syllabus_that_leads_nowhere_is_none(tmp_path: Path) -> None:
    (tmp_path / "lesson.md").write_text(f"---\ntitle: W\n---\n{BODY}", "utf-8")
    (tmp_path / SYLLABUS).symlink_to(tmp_path / "nowhere")
    (lesson,) = Shelf(tmp_path).lessons()
    assert lesson.problems == ()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such names")
def test_a_folders_name_does_nothing_to_a_terminal(tmp_path: Path) -> None:
    folder = tmp_path / "a\x1b[31m\nb"
    folder.mkdir()
    (folder / "lesson.md").write_text(f"---\ntitle: W\n---\n{BODY}", "utf-8")
    (folder / SYLLABUS).write_text("words: zzz\n", "utf-8")
    found = CliRunner().invoke(check, [str(folder)])
    assert f"a\\x1b[31m\\nb/{SYLLABUS}:1:" in found.stdout and "\x1b" not in found.stdout
