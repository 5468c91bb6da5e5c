"""What is to be seen of a lesson at one moment."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from app.lesson.blocks.cues import Cue
from app.lesson.blocks.scale import Scale
from app.lesson.header import Depth
from app.lesson.model import Lesson, Scene
from app.machine.run import Moment, Run
from app.machine.watching.cache import CacheAccount, CacheShape, Look, follow

from .ballot import Poll
from .inside import (
    NO_MACHINE,
    NO_STEP_YET,
    NOT_ON_STAGE,
    NOTHING_TO_OPEN,
    SIGNALS,
    Inside,
    looked_at,
    worked,
)
from .pace import moving_steps
from .settings import Settings
from .what_if import WhatIf

# The accounts of runs in which something was changed: every page of a step asks for the same one.
_follow = lru_cache(maxsize=2)(follow)

# The name of a setting, what the lesson says there, and what the teacher set in its place.
Chosen = tuple[str, str | float, str | float]


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
    is something that the teacher must know, until the board moves.

    ``said`` counts which of several cues at the start stands there. ``settings`` are those that
    count here; ``usual`` those that the teacher set where no cue set any, ``chosen`` those set
    against the lesson: the name, what the lesson says, and what the teacher set in its place.
    With ``what_if`` the run is another one than the scene's. ``whole_phase`` tells that one press
    goes over all the steps of the phase that ends here, so that all of them move and are told.
    ``finished`` counts who has done the scene's task. ``opened`` is the part of the machine that is
    looked into, where one is."""

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
    said: int = 0
    usual: Settings | None = None
    chosen: tuple[Chosen, ...] = ()
    what_if: WhatIf | None = None
    whole_phase: bool = False
    finished: int = 0
    opened: Inside | None = None

    @property
    def scene(self) -> Scene:
        return self.lesson.scenes[self.scene_number]

    @property
    def run(self) -> Run:
        """What is run: the scene's program, or what it would do if something were changed."""
        return self.what_if.run if self.what_if else self.scene.run

    def done(self, number: int) -> Moment:
        """A step as it was carried out: what was changed just after it was not so yet."""
        changed = self.what_if
        while changed and changed.step != number:
            changed = changed.earlier
        if changed is None:
            return self.run.moment(number)
        run: Run = changed.earlier.run if changed.earlier else self.scene.run
        return run.moment(number)

    @property
    def depth_shown(self) -> Depth:
        """Whether one step or a whole phase moves and is told here."""
        return Depth.PHASES if self.whole_phase else self.settings.depth

    @property
    def shows_machine(self) -> bool:
        """Whether the machine is on the board, and no pipeline or other picture in its place."""
        scene = self.scene
        there = self.moment is not None and bool(scene.program.words)
        return there and not scene.pipeline and not scene.compare

    @property
    def inside(self) -> Inside | None:
        """What is open, where that can be shown at this step."""
        if self.opened is None or not self.shows_machine or self.opened.shown_in in self.hidden:
            return None
        there = looked_at(self.run, self.moment, self.depth_shown, self.opened)
        return self.opened if there else None

    @property
    def cannot_open(self) -> str:
        """Why what is to be open cannot be shown at this step; empty where it can."""
        if self.opened is None or self.inside:
            return ""
        if not self.shows_machine:
            return NO_MACHINE
        if self.opened.shown_in in self.hidden:
            return NOT_ON_STAGE
        return NO_STEP_YET if self.opened.part == SIGNALS else NOTHING_TO_OPEN

    @property
    def alu_moment(self) -> Moment | None:
        """The step shown here in which the ALU works and can be looked into."""
        found = worked(self.run, self.moment, self.depth_shown)
        return self.done(found.step.number) if found and found.step and self.what_if else found

    @property
    def zoomed(self) -> Fraction | None:
        """How many times as wide the view of a zoom was at the station before; None where the
        scene has no zoom."""
        scale: Scale | None = self.scene.scale
        if scale is None:
            return None
        before, now = scale.stations[max(self.step - 1, 0)], scale.stations[self.step]
        return before.length / now.length

    @property
    def cache(self) -> CacheAccount | None:
        """What a cache makes of the run; None where none is on the board."""
        shape: CacheShape | None = self.scene.cache
        if shape is None or not self.scene.program.words:
            return None
        if self.what_if is None:
            return self.scene.cached(shape)
        if self.what_if.cache is not None and self.what_if.run is self.scene.run:
            return self.scene.cached(self.what_if.cache)
        # With all that lay in it when something was changed.
        return _follow(self.what_if.run, self.what_if.cache or shape)

    @property
    def looks(self) -> tuple[Look, ...]:
        """What came of the trips to memory of these steps, where a cache is on the board."""
        account = self.cache
        steps = moving_steps(self.moment, self.depth_shown) if account and self.moment else ()
        found = (account.look(each.number) for each in steps if account)
        return tuple(each for each in found if each)
