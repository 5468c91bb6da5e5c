"""What DEVELOPERS.md says of the folder tree is so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
FILES = [
    each.relative_to(ROOT).as_posix()
    for folder in ("app", "tests", "templates", "static")
    for each in (ROOT / folder).rglob("*.*")
    if "__pycache__" not in each.parts
]
# Names in code style that end as a file does, and the rooms of the first table.
NAMED = sorted(set(re.findall(r"`([\w/]+\.(?:py|js|html|css|md))`", TEXT)))
ROOMS = re.findall(r"^\| `(app/[\w/]+)` \|", TEXT, re.MULTILINE)


@pytest.mark.parametrize("name", NAMED)
def test_a_file_that_is_named_is_there(name: str) -> None:
    assert any(f"/{each}".endswith(f"/{name}") for each in FILES)


def test_every_room_is_in_the_table_and_has_its_tests() -> None:
    folders = {each.parent.relative_to(ROOT).as_posix() for each in (ROOT / "app").rglob("*.py")}
    assert set(ROOMS) == folders - {"app"} and len(ROOMS) > 10
    for room in ROOMS:
        tests = ROOT / room.replace("app", "tests", 1)
        assert (tests / "__init__.py").exists(), tests


def test_templates_and_static_files_have_rooms_that_there_are() -> None:
    rooms = {room.split("/")[-1] for room in ROOMS}
    for folder in ("templates", "static/js", "static/css"):
        found = {each.name for each in (ROOT / folder).iterdir() if each.is_dir()}
        assert found and found <= rooms, folder
