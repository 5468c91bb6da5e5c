"""How the board shows a run: what each control changes, and what cannot be set."""

from __future__ import annotations

from dataclasses import asdict

import pytest

from app.board.controls import CONTROLS
from app.classroom.settings import CHANGES, Settings
from app.lesson.header import Depth

START = Settings(Depth.TRANSFERS)


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("faster", {"speed": 2.0}),
        ("slower", {"speed": 0.5}),
        ("movement", {"movement": False}),
        ("depth", {"depth": Depth.PHASES}),
        ("base", {"base": "hexadecimal"}),
        ("blank", {"blank": True}),
    ],
)
def test_a_control_changes_one_thing(name: str, changed: dict[str, object]) -> None:
    assert asdict(CHANGES[name](START)) == asdict(START) | changed


@pytest.mark.parametrize(("name", "presses"), [("movement", 2), ("depth", 2), ("base", 3)])
def test_pressed_often_enough_all_is_as_before(name: str, presses: int) -> None:
    settings = START
    for press in range(presses):
        assert press == 0 or settings != START
        settings = CHANGES[name](settings)
    assert settings == START


@pytest.mark.parametrize(("name", "last"), [("faster", 8.0), ("slower", 0.25)])
def test_there_is_a_fastest_and_a_slowest(name: str, last: float) -> None:
    settings = START
    for _ in range(9):
        settings = CHANGES[name](settings)
    assert settings.speed == last


def test_every_change_has_its_control() -> None:
    assert set(CHANGES) == {
        each.action for each in CONTROLS if each.group == "show" and each.action
    }


@pytest.mark.parametrize("wrong", [{"base": "roman"}, {"speed": 3.0}])
def test_what_cannot_be_set(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="no "):
        Settings(Depth.PHASES, **wrong)  # type: ignore[arg-type]
