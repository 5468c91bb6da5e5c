"""How the buttons beside the board of a lesson that is being written move it."""

from __future__ import annotations

from collections.abc import Callable

from .session import Session

# By the names of the controls.
WAYS: dict[str, Callable[[Session], None]] = {
    "back": Session.back,
    "forward": Session.step_on,
    "instruction": Session.forward_instruction,
    "restart": Session.restart,
    "scene-back": lambda session: session.change_scene(-1),
    "scene-on": lambda session: session.change_scene(1),
}
