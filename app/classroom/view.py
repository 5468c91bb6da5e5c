"""What is to be seen of a lesson at one moment."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.lesson.blocks.cues import Cue
from app.lesson.model import Lesson, Scene
from app.machine.run import Moment

from .ballot import Poll
from .settings import Settings


class Went(StrEnum):
    """How the cursor came to where it is: only a way on is shown as a movement."""

    ON = "on"
    BACK = "back"
    THERE = "there"


@dataclass(frozen=True, slots=True)
class View:
    """What is to be seen now. ``moment`` is None in a scene that has no program; ``hidden``
    holds the parts of the machine that are not shown, by the names of the drawing, ``by_hand``
    those that the teacher has shown or hidden. ``poll`` is the question on the board; ``notice``
    is something that the teacher must know, until the board moves."""

    lesson: Lesson
    scene_number: int
    settings: Settings
    step: int
    moment: Moment | None
    cue: Cue | None
    went: Went
    hidden: frozenset[str] = frozenset()
    by_hand: tuple[tuple[str, bool], ...] = ()
    poll: Poll | None = None
    notice: str = ""

    @property
    def scene(self) -> Scene:
        return self.lesson.scenes[self.scene_number]
