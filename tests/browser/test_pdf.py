"""Sheets as they come out of the printer: PDF files made by the command, their text read back with
pypdf (which shares nothing with what made them) and compared with an interpreter of the tests."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from app.lesson.file.reader import read_lesson
from app.lesson.paper.versions import make_versions
from app.web.paper.sheets import DOCUMENTS
from tests.lesson.model import Row, model_of
from tests.server import ROOT
from tests.web.paper.paper_lesson import ASKING

# In points: 72 to an inch.
SIZES = {"a4": (595.3, 841.9), "letter": (612, 792)}


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("paper") / "gate.md"
    file.write_text(ASKING, "utf-8")
    return file


def print_files(lesson: Path, folder: Path, *options: str) -> dict[str, PdfReader]:
    """What the command writes, by the kind of document."""
    done = subprocess.run(
        [sys.executable, "-m", "app", "print", str(lesson), "-o", str(folder), *options],
        cwd=ROOT,
        env=os.environ | {"PYTHONUTF8": "1"},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    files = {each.stem.removeprefix("gate-"): each for each in folder.glob("*.pdf")}
    assert set(done.stdout.split()) >= {str(each) for each in files.values()}
    return {name: PdfReader(file) for name, file in files.items()}


@pytest.fixture(scope="module")
def printed(lesson: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, PdfReader]:
    """Everything, on A4, with three versions of the worksheets at the second level."""
    folder = tmp_path_factory.mktemp("a4")
    return print_files(lesson, folder, "--versions", "3", "--level", "2", "--seed", "x")


def lines(reader: PdfReader) -> list[list[str]]:
    """The lines of each page, as they stand on it."""
    return [
        [line.strip() for line in page.extract_text(extraction_mode="layout").split("\n")]
        for page in reader.pages
    ]


def test_everything_is_printed_on_the_paper_asked_for(
    printed: dict[str, PdfReader], lesson: Path, tmp_path: Path
) -> None:
    assert set(printed) == set(DOCUMENTS)
    letter = print_files(lesson, tmp_path, "--only", "card", "--paper", "letter")
    for reader, size in [(printed["card"], "a4"), (letter["card"], "letter")]:
        (page,) = reader.pages
        assert (page.mediabox.width, page.mediabox.height) == pytest.approx(SIZES[size], abs=1.5)


def expected(number: int) -> list[tuple[str, list[Row]]]:
    """The versions of a scene of the lesson, each with what another interpreter does."""
    scene = read_lesson("gate", ASKING).scenes[number - 1]
    found = []
    for version in make_versions(scene, 3, "x"):
        words, inputs = version.scene.program.words, list(version.scene.inputs)
        source = scene.program.source.replace(
            "many:   5", f"many: {words[6] if len(words) > 6 else 0}"
        )
        found.append((version.letter, model_of(source, inputs).run()))
    return found


def rows_of(pages: list[list[str]]) -> list[tuple[int, str]]:
    """The rows of tables in the order of the pages: number and the rest of the line."""
    found = []
    for page in pages:
        for line in page:
            row = re.fullmatch(r"(\d+)\s+(\d+\s+[A-Z]{3,}.*)", line)
            if row:
                found.append((int(row[1]), re.sub(r"\s+", " ", row[2])))
    return found


def test_the_answers_say_what_the_run_does(printed: dict[str, PdfReader]) -> None:
    rows = iter(rows_of(lines(printed["answers"])))
    for number in (2, 3):
        for _letter, model in expected(number):
            for count, truth in enumerate(model, start=1):
                at, text = next(rows)
                values = [str(truth.pc), str(truth.acc), truth.status]
                if number == 2:
                    values.append(str(truth.memory[11]))
                values += [truth.output] if truth.output else []
                assert at == count
                assert text.startswith(f"{truth.address} ")
                assert text.endswith(" ".join(values)), (text, values)
    assert next(rows, None) is None, "no row stands twice, as one split over two pages would"


def test_worksheets_have_blanks_where_the_answers_are(printed: dict[str, PdfReader]) -> None:
    pages = lines(printed["worksheets"])
    rows = iter(rows_of(pages))
    for number in (2, 3):
        for _letter, model in expected(number):
            for count, truth in enumerate(model, start=1):
                at, text = next(rows)
                assert at == count and text.startswith(f"{truth.address} ")
                # The first row is done; of the others the instruction alone is there.
                assert bool(re.search(r"(LESS|EQUAL|MORE|–)( \d+)?$", text)) == (
                    count == 1 or "IF MORE" in text
                ), text
    assert next(rows, None) is None
    text = "\n".join("\n".join(page) for page in pages)
    for letter in "ABC":
        assert text.count(f"Version {letter} ") == 2
    assert "Name" in text and "Class" in text


def test_every_page_of_a_table_says_what_it_is(printed: dict[str, PdfReader]) -> None:
    count = len(printed["worksheets"].pages)
    for number, page in enumerate(lines(printed["worksheets"]), start=1):
        text = "\n".join(page)
        assert f"{number} / {count}" in text
        assert re.search(r"(Open or shut|Counting down) · version [ABC]", text)
        assert re.search(r"No\.\s+Instruction\s+PC\s+ACC\s+status", text)


def test_quiz_card_and_plan(printed: dict[str, PdfReader]) -> None:
    text = {
        name: re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))
        for name, reader in printed.items()
    }
    for name in ("quiz", "quiz-answers"):
        assert "What will the status be?" in text[name]
        assert "In instruction 4, COMPARE first" in text[name]
    assert "✓" in text["quiz-answers"] and "✓" not in text["quiz"]
    for written in ("LOAD a", "JUMP a IF EQUAL", "OUTPUT", "MAR ← PC", "program counter"):
        assert written in text["card"]
    for words in ("about", "The gate is open.", "what the last comparison found", "Ask:"):
        assert words in text["plan"]


def test_answers_to_the_quiz_stand_with_their_program(tmp_path: Path) -> None:
    """A scene with three questions: the third one is not on a page of its own."""
    lesson = ROOT / "lessons" / "09-village-hall.md"
    (reader,) = print_files(lesson, tmp_path, "--only", "quiz-answers").values()
    for page in reader.pages:
        assert "Program" in page.extract_text()


def test_the_reference_card_is_one_page(printed: dict[str, PdfReader]) -> None:
    assert len(printed["card"].pages) == 1
