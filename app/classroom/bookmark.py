"""Where a session is, as plain data that can be kept, and read again after a restart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from app.lesson.blocks.actions import SPEEDS
from app.lesson.header import Depth
from app.machine.words import BASES

from .ballot import Answers, Asked, Key, State
from .settings import Settings
from .view import View


@dataclass(frozen=True, slots=True)
class Bookmark:
    """Scene and step, settings, parts shown or hidden by hand, and the question on the board."""

    scene: int
    step: int
    settings: Settings
    by_hand: tuple[tuple[str, bool], ...] = ()
    poll: Key | None = None
    poll_state: State = State.CLOSED
    poll_round: int = 1
    asked: dict[Key, tuple[Asked, list[Answers]]] = field(default_factory=dict)


def write_bookmark(view: View) -> dict[str, Any]:
    """The bookmark of a view, as JSON can hold it."""
    kept: dict[str, Any] = {
        "scene": view.scene_number,
        "step": view.step,
        "settings": asdict(view.settings),
        "by_hand": dict(view.by_hand),
    }
    if view.poll:
        kept["poll"] = {
            "number": view.poll.asked.number,
            "scene": view.poll.asked.scene,
            "version": view.poll.asked.version,
            "state": view.poll.state.value,
            "round": view.poll.round,
        }
    return kept


def read_bookmark(
    kept: Mapping[str, Any], depth: Depth, asked: dict[Key, tuple[Asked, list[Answers]]]
) -> Bookmark:
    """The bookmark that was kept; what another version wrote and this one cannot use is left out.

    ``depth`` is that of the lesson, ``asked`` what was asked in it. Where nothing of it can be
    used the class is at the start, with what was asked.
    """
    try:
        return _read(kept, depth, asked)
    except (AttributeError, KeyError, TypeError, ValueError):
        return Bookmark(0, 0, Settings(depth), asked=asked)


def _read(
    kept: Mapping[str, Any], depth: Depth, asked: dict[Key, tuple[Asked, list[Answers]]]
) -> Bookmark:
    settings = kept.get("settings", {})
    poll = kept.get("poll")
    return Bookmark(
        scene=int(kept.get("scene", 0)),
        step=int(kept.get("step", 0)),
        settings=Settings(
            depth=_one_of(settings.get("depth"), tuple(Depth), depth),
            base=_one_of(settings.get("base"), BASES, "denary"),
            speed=_one_of(settings.get("speed"), SPEEDS, 1.0),
            movement=settings.get("movement") is not False,
            blank=settings.get("blank") is True,
        ),
        by_hand=tuple((str(part), bool(shown)) for part, shown in kept.get("by_hand", {}).items()),
        poll=(poll["scene"], poll["number"], poll.get("version", 1)) if poll else None,
        poll_state=State(poll["state"]) if poll else State.CLOSED,
        poll_round=int(poll["round"]) if poll else 1,
        asked=asked,
    )


def _one_of(value: Any, known: tuple[Any, ...], otherwise: Any) -> Any:
    return next((each for each in known if each == value), otherwise)
