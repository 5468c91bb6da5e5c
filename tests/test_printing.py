"""The file that the command ``replay`` writes of each lesson that ships."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.lesson.file.reader import read_file
from tests.replay_file import LARGEST, write_replay
from tests.server import ROOT


@pytest.mark.parametrize(
    "lesson", sorted((ROOT / "lessons").glob("*.md")), ids=lambda each: each.stem
)
def test_shipped_lessons_fit(lesson: Path, tmp_path: Path) -> None:
    copy = tmp_path / lesson.name
    copy.write_bytes(lesson.read_bytes())
    made, said = write_replay(copy)
    assert made.stat().st_size < LARGEST
    # Whole, but for runs that no class steps through to their end.
    for scene in re.findall(r"scene '([^']*)' only the first", said):
        (found,) = [each for each in read_file(lesson).scenes if each.title == scene]
        assert found.run.reaches(1001)
        assert int(re.search(r"only the first ([\d,]+)", said)[1].replace(",", "")) > 1000
