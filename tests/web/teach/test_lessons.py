"""The list of lessons, and what is answered for a lesson that cannot be taught."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from app import create_app
from app.lesson.file.reader import read_lesson
from app.lesson.file.shelf import Shelf
from app.lesson.model import Lesson
from tests.asking import same_origin

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
