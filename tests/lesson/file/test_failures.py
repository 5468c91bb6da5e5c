"""A reader that fails by a fault of its own: one sentence, once, and all else is there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from app import create_app
from app.authoring import check
from app.lesson.file import failures, head, reader
from app.lesson.file.shelf import Shelf
from app.lesson.writing.manuscript import Manuscript

GOOD = "---\ntitle: {}\n---\n\n# A scene\n\n```program\nHALT\n```\n"
SAID = "Chalkcycle failed to read this file (ZeroDivisionError), by a fault of its own."
# What comes of a file may be long, and may do things to a terminal.
WORDS = "\x1b[31m" * 500


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for title in ("Good", "Odd"):
        (tmp_path / f"{title.lower()}.md").write_text(GOOD.format(title))
    return tmp_path


def fails(*_: Any) -> Any:
    raise ZeroDivisionError(WORDS)


@pytest.fixture
def odd(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = reader.make_scene

    def make_scene(draft: Any, header: Any, *rest: Any) -> Any:
        return (fails if header.title == "Odd" else plain)(draft, header, *rest)

    monkeypatch.setattr(reader, "make_scene", make_scene)


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Callable[[], str]:
    """What has been printed for whoever mends it. A test that wants no failure has none."""

    def printed() -> str:
        failures.told.clear()
        return capsys.readouterr().err

    return printed


def test_the_list_has_the_others_and_says_why(
    folder: Path, odd: None, told: Callable[[], str]
) -> None:
    shelf = Shelf(folder)
    good, failed = shelf.lessons()
    assert good.can_be_taught and [each.what for each in failed.faults] == [SAID]
    page = create_app(folder).test_client().get("/").text
    assert "Good" in page and "ZeroDivisionError" in page
    # Read again or changed back, the same version of it is told of once.
    Shelf(folder).lessons()
    assert told().count("Traceback") == 1
    # Another version is another one.
    (folder / "odd.md").write_text(GOOD.format("Odd") + "\nMore.\n")
    shelf.lessons()
    assert told().count("Traceback") == 1


def test_what_is_printed_is_bounded_and_harmless(
    folder: Path, odd: None, told: Callable[[], str]
) -> None:
    Shelf(folder).lessons()
    printed = told()
    assert "test_failures.py" in printed and "'odd'" in printed
    assert len(printed) < 8_000 and "\x1b" not in printed


def test_its_text_can_still_be_mended(folder: Path, odd: None, told: Callable[[], str]) -> None:
    client = create_app(folder, own=folder).test_client()
    page = client.get("/lessons/odd/write")
    assert page.status_code == 200
    assert "title: Odd" in page.text and "ZeroDivisionError" in page.text
    # Typed on, it is read again.
    version = int(page.text.split('data-version="')[1].split('"')[0])
    said = {"version": version, "text": GOOD.format("Mended")}
    answer = client.post("/lessons/odd/write/now", json=said)
    assert answer.status_code == 200
    assert answer.json and "ZeroDivisionError" not in answer.json["problems"]
    assert told().count("Traceback") == 1


def test_the_check_tells_it_and_goes_on(folder: Path, odd: None, told: Callable[[], str]) -> None:
    found = CliRunner().invoke(check, [str(folder)])
    assert found.exit_code == 1
    assert f"odd.md:1:1: {SAID}" in found.output
    assert "2 lessons checked: 1 fault, 0 warnings." in found.output
    told()


def test_a_change_by_pointing_is_refused(odd: None, told: Callable[[], str]) -> None:
    lesson = Manuscript("odd", GOOD.format("Odd")).lesson
    assert [each.what for each in lesson.faults] == [SAID]
    assert lesson.source == GOOD.format("Odd")
    told()


def test_of_a_syllabus_all_lessons_are_there(
    folder: Path, monkeypatch: pytest.MonkeyPatch, told: Callable[[], str]
) -> None:
    (folder / "syllabus.yaml").write_text("words: decimal\n")
    monkeypatch.setattr(head, "read_header", fails)
    shelf = Shelf(folder)
    assert shelf.habits().title == ""
    lessons = shelf.lessons()
    assert all(each.can_be_taught for each in lessons)
    assert [SAID in each.what for lesson in lessons for each in lesson.problems] == [True, True]
    client = create_app(folder, own=folder).test_client()
    for page in ("/", "/lessons/odd/write", "/explore/"):
        assert client.get(page).status_code == 200
    found = CliRunner().invoke(check, [str(folder)])
    assert f"syllabus.yaml:1:1: {SAID}" in found.output
    assert told().count("Traceback") == 1
