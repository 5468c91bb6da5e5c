"""Where a session is, as plain data that can be kept, and read again after a restart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from app.lesson.blocks.actions import SPEEDS
from app.lesson.header import Depth
from app.machine.words import BASES

from .ballot import Answers, Asked, Key, State
from .settings import Settings
from .view import Chosen, View


@dataclass(frozen=True, slots=True)
class Bookmark:
    """Scene and step, settings, parts shown or hidden by hand, and the question on the board.

    ``said``, ``settings`` and ``chosen`` are the ``said``, ``usual`` and ``chosen`` of a view.
    Where something was changed on the board the place is where it was changed, in the lesson, and
    ``was_changed`` says so.
    """

    scene: int
    step: int
    settings: Settings
    by_hand: tuple[tuple[str, bool], ...] = ()
    poll: Key | None = None
    poll_state: State = State.CLOSED
    poll_round: int = 1
    asked: dict[Key, tuple[Asked, list[Answers]]] = field(default_factory=dict)
    said: int = 0
    chosen: tuple[Chosen, ...] = ()
    was_changed: bool = False


def write_bookmark(view: View) -> dict[str, Any]:
    """The bookmark of a view, as JSON can hold it."""
    kept: dict[str, Any] = {
        "scene": view.scene_number,
        "step": view.what_if.left_at if view.what_if else view.step,
        "said": view.said,
        "settings": asdict(view.usual or view.settings),
        "chosen": view.chosen,
        "by_hand": dict(view.by_hand),
    }
    if view.what_if:
        kept["was_changed"] = True
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
        said=int(kept.get("said", 0)),
        chosen=tuple(_chosen(kept.get("chosen", ()))),
        was_changed=kept.get("was_changed") is True,
    )


def _chosen(kept: Iterable[Sequence[Any]]) -> Iterator[Chosen]:
    known: dict[str, tuple[Any, ...]] = {"depth": tuple(Depth), "speed": SPEEDS, "base": BASES}
    for name, there, value in kept:
        if there in known.get(name, ()) and value in known[name]:
            yield name, there, _one_of(value, known[name], value)


def _one_of(value: Any, known: tuple[Any, ...], otherwise: Any) -> Any:
    return next((each for each in known if each == value), otherwise)
