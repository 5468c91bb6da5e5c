"""How the board shows a run, and what the controls change in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from app.lesson.blocks.actions import SPEEDS
from app.lesson.header import Depth
from app.machine.words import BASES, EVERY_BASE


@dataclass(frozen=True, slots=True)
class Settings:
    """How the board shows the run. ``speed`` multiplies the pace of movement and of play;
    ``characters`` is whether the base of characters is offered beside the others.

    Raises ValueError for a base that is not one of EVERY_BASE or a speed that is not one of SPEEDS.
    """

    depth: Depth
    base: str = "denary"
    speed: float = 1.0
    movement: bool = True
    playing: bool = False
    blank: bool = False
    characters: bool = False

    def __post_init__(self) -> None:
        if self.base not in EVERY_BASE:
            raise ValueError(f"no number base is called '{self.base}'")
        if self.speed not in SPEEDS:
            raise ValueError(f"no speed of {self.speed}")


def _speed(settings: Settings, by: int) -> Settings:
    at = min(max(SPEEDS.index(settings.speed) + by, 0), len(SPEEDS) - 1)
    return replace(settings, speed=SPEEDS[at])


def _depth(settings: Settings) -> Settings:
    phases = settings.depth is Depth.PHASES
    return replace(settings, depth=Depth.TRANSFERS if phases else Depth.PHASES)


def _base(settings: Settings) -> Settings:
    bases = EVERY_BASE if settings.characters else BASES
    at = bases.index(settings.base) if settings.base in bases else -1
    return replace(settings, base=bases[(at + 1) % len(bases)])


# What a press changes, by the names of the controls.
CHANGES: dict[str, Callable[[Settings], Settings]] = {
    "faster": lambda settings: _speed(settings, 1),
    "slower": lambda settings: _speed(settings, -1),
    "movement": lambda settings: replace(settings, movement=not settings.movement),
    "depth": _depth,
    "base": _base,
    "blank": lambda settings: replace(settings, blank=not settings.blank),
}
