"""Where a session is, as plain data that can be kept, and read again after a restart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from app.lesson.blocks.actions import SPEEDS
from app.lesson.header import Depth
from app.lesson.parts import EVERY_PART
from app.machine.words import EVERY_BASE

from .ballot import MOST_ROUNDS, Answers, Asked, Key, State
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
    settings = _dict(kept, "settings")
    poll = _dict(kept, "poll")
    # One that was kept without its version is the first of its place.
    place: Key | None = (
        _whole(poll, "scene", -1),
        _whole(poll, "number", -1),
        _whole(poll, "version", 1),
    )
    number = _whole(poll, "round", 1)
    state = _one_of(poll.get("state"), tuple(State), None)
    if place not in asked or not 1 <= number <= MOST_ROUNDS or state is None:
        place, number, state = None, 1, State.CLOSED
    return Bookmark(
        scene=_whole(kept, "scene"),
        step=_whole(kept, "step"),
        settings=Settings(
            depth=_one_of(settings.get("depth"), tuple(Depth), depth),
            base=_one_of(settings.get("base"), EVERY_BASE, "denary"),
            speed=_one_of(settings.get("speed"), SPEEDS, 1.0),
            movement=settings.get("movement") is not False,
            blank=settings.get("blank") is True,
        ),
        by_hand=tuple(
            (part, shown)
            for part, shown in _dict(kept, "by_hand").items()
            if part in EVERY_PART and isinstance(shown, bool)
        ),
        poll=place,
        poll_state=state,
        poll_round=number,
        asked=asked,
        said=_whole(kept, "said"),
        chosen=tuple(_chosen(kept.get("chosen"))),
        was_changed=kept.get("was_changed") is True,
    )


# Any value may stand anywhere: each is read by itself, and costs no other.


def _whole(kept: Mapping[str, Any], name: str, otherwise: int = 0) -> int:
    """A number counted from 0 that any course could have."""
    value = kept.get(name)
    # True is a number to Python.
    return value if type(value) is int and 0 <= value < 2**31 else otherwise


def _dict(kept: Mapping[str, Any], name: str) -> dict[str, Any]:
    value = kept.get(name)
    return value if isinstance(value, dict) else {}


def _chosen(kept: object) -> Iterator[Chosen]:
    known: dict[str, tuple[Any, ...]] = {"depth": tuple(Depth), "speed": SPEEDS, "base": EVERY_BASE}
    for each in kept if isinstance(kept, list | tuple) else ():
        if not isinstance(each, list | tuple) or len(each) != 3:
            continue
        name, *pair = each
        of_setting = known.get(name, ()) if isinstance(name, str) else ()
        there, value = (_one_of(one, of_setting, None) for one in pair)
        if there is not None and value is not None:
            yield name, there, value


def _one_of(value: Any, known: tuple[Any, ...], otherwise: Any) -> Any:
    return next((each for each in known if each == value), otherwise)
