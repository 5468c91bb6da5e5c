"""The list of lessons, and what is answered for a lesson that cannot be taught."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from app import create_app
from app.lesson.file.reader import read_lesson
from app.lesson.file.shelf import Shelf
from app.lesson.model import Lesson
from tests.asking import ASKING, same_origin, write_lesson

NO_SCENE = "---\ntitle: Nothing\nmachine: 8-bit\n---\n" + "```\nwords\n```\n\n" * 250


@pytest.mark.parametrize("told", [True, False])
def test_a_lesson_without_scenes_is_no_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, told: bool
) -> None:
    """Also if the reader had found no fault in it."""
    (tmp_path / "nothing.md").write_text(NO_SCENE, encoding="utf-8")
    web = create_app(tmp_path)
    client = web.test_client()
    assert "cannot be taught yet" in client.get("/").text
    if not told:

        def untold(shelf: Shelf, slug: str) -> Lesson:
            return replace(read_lesson(slug, NO_SCENE), problems=())

        monkeypatch.setattr(Shelf, "lesson", untold)
    answer = client.post("/lessons/nothing/teach", headers=same_origin())
    assert answer.status_code == 303 and answer.location.endswith("/problems")
    addresses = [
        each.rule.replace("<slug>", "nothing").replace("<int:number>", "1")
        for each in web.url_map.iter_rules()
        if "GET" in (each.methods or ()) and "<slug>" in each.rule
    ]
    assert len(addresses) > 8
    for each in addresses:
        assert client.get(each).status_code < 500, each


def test_the_list_has_an_order_pictures_and_what_was_taught_last(tmp_path: Path) -> None:
    for name in ("01-one", "02-two", "03-three"):
        text = ASKING.replace("Ferry tickets", f"Tickets {name}")
        (tmp_path / f"{name}.md").write_text(text, encoding="utf-8")
    web = create_app(tmp_path)
    client = web.test_client()
    page = client.get("/").text
    assert page.count('<svg class="picture"') == 3 and "Taught last" not in page
    assert re.findall(r'<span class="number">(\d)</span><h2>Tickets (\S+)</h2>', page) == [
        ("1", "01-one"),
        ("2", "02-two"),
        ("3", "03-three"),
    ]
    client.post("/lessons/02-two/teach")
    page = client.get("/").text
    (told,) = re.findall(r'<p class="taught">(.*?)</p>', page)
    assert "Tickets 02-two" in told and "Next comes" in told and "Tickets 03-three" in told
    assert re.findall(r'id="lesson-(\S+)" class="latest"', page) == ["02-two"]


def test_lessons_of_one_title_are_told_apart_by_their_files(tmp_path: Path) -> None:
    for name, title in (("a", "Ferry tickets"), ("b", "FERRY tickets"), ("c", "Another")):
        text = ASKING.replace("Ferry tickets", title)
        (tmp_path / f"{name}.md").write_text(text, encoding="utf-8")
    page = create_app(tmp_path).test_client().get("/").text
    assert re.findall(r"· file (\S+)</p>", page) == ["a.md", "b.md"]


def test_a_picture_is_drawn_once_for_a_version(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[str] = []
    monkeypatch.setattr(
        "app.web.teach.lessons.shelf_picture", lambda lesson: drawn.append(lesson.slug)
    )
    client = create_app(write_lesson(tmp_path)).test_client()
    for _ in range(3):
        client.get("/")
    assert drawn == ["asking"]
    (tmp_path / "asking.md").write_text(ASKING + "\nMore.\n", encoding="utf-8")
    client.get("/")
    assert drawn == ["asking", "asking"]


def test_a_folder_that_became_a_loop_is_told_as_that(tmp_path: Path) -> None:
    (tmp_path / "lessons").mkdir()
    folder = write_lesson(tmp_path / "lessons")
    client = create_app(folder).test_client()
    assert "missing" not in client.get("/").text
    folder.rename(tmp_path / "before")
    folder.symlink_to(folder)
    page = client.get("/").text
    assert f"The folder &#39;{folder}&#39; cannot be opened: " in page
    assert "There is no lesson" not in page
    # The teacher's own, beside lessons that came with Chalkcycle, is told of above those.
    page = create_app(tmp_path / "before", own=folder).test_client().get("/").text
    (told,) = re.findall(r'<p class="broken">(Some lessons are missing here.*?)</p>', page)
    assert f"&#39;{folder}&#39; cannot be opened: " in told and page.count(">Teach<") == 1
