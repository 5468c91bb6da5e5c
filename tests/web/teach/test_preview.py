"""A lesson that is being written: the preview follows the file, the class does not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app

GOOD = """---
title: The tide gauge
machine: 8-bit
---

# High water

Note the mark on the wall.

```program
        LOAD  #{number}
        OUTPUT
        HALT
```
"""
BAD = GOOD.replace("OUTPUT", "OUTPTU")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "tide.md"
    path.write_text(GOOD.format(number=3), encoding="utf-8")
    return path


@pytest.fixture
def writer(file: Path) -> FlaskClient:
    return create_app(file.parent).test_client()


def place(page: str) -> dict[str, str]:
    """What the page would send to ask for what is new: its hidden fields."""
    fields = re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', page)
    return {"machine": "8-bit"} | dict(fields)


def ask(writer: FlaskClient, where: dict[str, str], **more: str):  # type: ignore[no-untyped-def]
    return writer.get("/lessons/tide/preview/now", query_string=where | more)


def test_nothing_comes_until_the_file_changes(writer: FlaskClient, file: Path) -> None:
    where = place(writer.get("/lessons/tide/preview").text)
    assert ask(writer, where).status_code == 204
    file.write_text(GOOD.format(number=7), encoding="utf-8")
    answer = ask(writer, where)
    assert answer.status_code == 200
    assert "LOAD #7" in answer.text
    assert ask(writer, place(answer.text)).status_code == 204


def test_a_new_version_comes_at_the_same_step(writer: FlaskClient, file: Path) -> None:
    where = place(writer.get("/lessons/tide/preview").text)
    for _ in range(6):
        where = place(ask(writer, where, way="forward").text)
    assert where["step"] == "6"
    file.write_text(GOOD.format(number=7), encoding="utf-8")
    answer = ask(writer, where)
    assert place(answer.text)["step"] == "6"
    assert "7 goes to the accumulator" in answer.text


def test_a_step_that_is_no_more_becomes_the_last(writer: FlaskClient, file: Path) -> None:
    where = place(writer.get("/lessons/tide/preview?step=18").text)
    assert where["step"] == "18"
    shorter = GOOD.replace("        OUTPUT\n", "").format(number=3)
    file.write_text(shorter, encoding="utf-8")
    # LOAD and HALT take six steps each.
    assert place(ask(writer, where).text)["step"] == "12"


def test_a_fault_is_shown_and_the_board_stays(writer: FlaskClient, file: Path) -> None:
    where = place(writer.get("/lessons/tide/preview").text)
    file.write_text(BAD.format(number=7), encoding="utf-8")
    text = ask(writer, where).text
    assert "LOAD #3" in text and "LOAD #7" not in text
    assert "Did you mean OUTPUT?" in text
    assert re.search(r"<mark>OUTPTU</mark>", text)


def test_a_file_that_was_never_good_shows_what_to_mend(writer: FlaskClient, file: Path) -> None:
    file.write_text(BAD.format(number=7), encoding="utf-8")
    page = writer.get("/lessons/tide/preview")
    assert page.status_code == 200
    assert "Did you mean OUTPUT?" in page.text


def test_another_machine_starts_the_page_again(writer: FlaskClient, file: Path) -> None:
    where = place(writer.get("/lessons/tide/preview").text)
    file.write_text(GOOD.format(number=3).replace("8-bit", "16-bit"), encoding="utf-8")
    assert ask(writer, where).headers["HX-Refresh"] == "true"


def test_the_class_keeps_its_version_until_the_teacher_takes_the_new(
    writer: FlaskClient, file: Path
) -> None:
    board = writer.post("/lessons/tide/teach").location
    writer.post(f"{board}/step", data={"step": "6"})
    assert "new version" not in writer.get(f"{board}/teacher").text

    file.write_text(BAD.format(number=7), encoding="utf-8")
    assert "saved with 1 fault." in writer.get(f"{board}/teacher").text
    refused = writer.post(f"{board}/new-version")
    assert refused.status_code == 409 and "has faults" in refused.text
    away = file.rename(file.with_suffix(".away"))
    refused = writer.post(f"{board}/new-version")
    assert refused.status_code == 409 and "is away" in refused.text
    assert "faults" not in refused.text
    away.rename(file)
    assert "LOAD #3" in writer.get(board).text

    file.write_text(GOOD.format(number=7), encoding="utf-8")
    assert "new version" in writer.get(f"{board}/teacher").text
    assert "LOAD #3" in writer.get(board).text
    assert writer.post(f"{board}/new-version").status_code == 204
    page = writer.get(board).text
    assert "LOAD #7" in page and 'data-step="6"' in page
    assert "new version" not in writer.get(f"{board}/teacher").text


def test_every_save_in_a_wrong_encoding_is_noticed(writer: FlaskClient, file: Path) -> None:
    where = place(writer.get("/lessons/tide/preview").text)
    text = GOOD.format(number=3)
    for words in ("Note the café.", "Note the fête.", "Note.\n\nThe café."):
        file.write_bytes(text.replace("Note the mark on the wall.", words).encode("latin-1"))
        answer = ask(writer, where)
        assert answer.status_code == 200
        assert f"Line {8 if words.startswith('Note the') else 10}, column 1" in answer.text
        assert "LOAD #3" in answer.text
        where = place(answer.text)
        assert ask(writer, where).status_code == 204


def test_a_file_that_is_too_large_is_noticed_when_it_changes(
    writer: FlaskClient, file: Path
) -> None:
    where = place(writer.get("/lessons/tide/preview").text)
    for size in (300_000, 300_001):
        file.write_bytes(b"x" * size)
        answer = ask(writer, where)
        assert f"{size} bytes" in answer.text
        where = place(answer.text)


def test_a_file_that_is_away_is_waited_for(writer: FlaskClient, file: Path) -> None:
    where = place(writer.get("/lessons/tide/preview?step=6").text)
    text = file.read_text(encoding="utf-8")
    file.unlink()
    answer = ask(writer, where)
    assert answer.status_code == 200
    assert "The file is not there. This page waits for it" in answer.text
    assert "Nothing is wrong" not in answer.text and "no such lesson" not in answer.text
    where = place(answer.text)
    assert (where["step"], "LOAD #3" in answer.text) == ("6", True)
    assert ask(writer, where).status_code == 204
    assert place(ask(writer, where, way="forward").text)["step"] == "7"
    assert "This page waits" in writer.get("/lessons/tide/preview").text

    file.write_text(text, encoding="utf-8")
    answer = ask(writer, where)
    assert "Nothing is wrong with this lesson" in answer.text
    assert "not there" not in answer.text


def test_a_lesson_that_never_was_is_none(writer: FlaskClient) -> None:
    assert writer.get("/lessons/none/preview").status_code == 404
    assert writer.get("/lessons/none/preview/now").status_code == 404
