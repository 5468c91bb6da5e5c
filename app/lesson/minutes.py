"""How long each scene of a lesson takes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from .model import Scene

# In the HTML of notes: the minutes that they start with.
_SAID = re.compile(r"\s*<p>(?:<strong>)?(\d{1,3}) minutes?\.")
# What of the class's time something takes, against a cue.
_ANY_SCENE, _QUESTION, _TASK = 1, 3, 5


@dataclass(frozen=True, slots=True)
class Minutes:
    """How long a scene takes: as its notes say, or else (not ``said``) by its share."""

    count: int
    said: bool

    @property
    def words(self) -> str:
        return f"{'' if self.said else 'about '}{self.count} min"


def scene_minutes(whole: int | None, scenes: Sequence[Scene]) -> tuple[Minutes | None, ...]:
    """The minutes of each scene; None where nobody can know. ``whole`` are those of the lesson.

    A scene has a line 'minutes: 8', or its notes start with '**8 minutes.**'. What those leave of
    the lesson's minutes is shared among the other scenes by what is done there: each cue counts
    once, each question three times (it is asked, talked about and shown), a task five times.
    """
    said = [_said(each) for each in scenes]
    found = [Minutes(each, True) if each else None for each in said]
    if whole is None:
        return tuple(found)
    open_scenes = [at for at, each in enumerate(found) if each is None]
    left = max(whole - sum(each.count for each in found if each), 0)
    weights = [_weight(scenes[at]) for at in open_scenes]
    for at, count in zip(open_scenes, _shares(left, weights), strict=True):
        found[at] = Minutes(count, False)
    return tuple(found)


def _said(scene: Scene) -> int | None:
    if scene.minutes is not None:
        return scene.minutes
    in_notes = _SAID.match(scene.notes)
    return int(in_notes[1]) if in_notes else None


def _shares(whole: int, weights: list[int]) -> list[int]:
    """A whole number shared out by weights, in whole numbers that make it up again."""
    total = sum(weights)
    shares = [whole * each // total for each in weights]
    # What rounding down has left goes to those that lost most.
    by_loss = sorted(range(len(weights)), key=lambda at: (-(whole * weights[at] % total), at))
    for at in by_loss[: whole - sum(shares)]:
        shares[at] += 1
    return shares


def _weight(scene: Scene) -> int:
    stations = len(scene.scale.stations) if scene.scale else 0
    return (
        _ANY_SCENE
        + len(scene.cues)
        + stations
        + _QUESTION * len(scene.asked)
        + (_TASK if scene.task else 0)
    )
