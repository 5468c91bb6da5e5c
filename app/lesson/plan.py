"""A lesson as a plan on paper: how long each scene takes, and where in its run its cues are."""

from __future__ import annotations

from dataclasses import dataclass

from .cues import Cue
from .model import Lesson, Scene

# What of the class's time something takes, against a cue.
_ANY_SCENE, _QUESTION, _TASK = 1, 3, 5


@dataclass(frozen=True, slots=True)
class CuePlace:
    """A cue with the step at which its picture is taken, and how often its place comes."""

    cue: Cue
    step: int
    times: int


def scene_minutes(lesson: Lesson) -> tuple[int, ...]:
    """The lesson's minutes shared among its scenes; none where the header gives no minutes.

    A scene gets its share by what is done in it: each cue counts once, each question three
    times (it is asked, talked about and shown), a task five times.
    """
    minutes = lesson.header.minutes
    if minutes is None or not lesson.scenes:
        return ()
    weights = [_weight(each) for each in lesson.scenes]
    whole = sum(weights)
    shares = [minutes * each // whole for each in weights]
    # What rounding down has left goes to the scenes that lost most, so that the sum is right.
    by_loss = sorted(
        range(len(weights)), key=lambda at: (-(minutes * weights[at] % whole), weights[at], at)
    )
    for at in by_loss[: minutes - sum(shares)]:
        shares[at] += 1
    return tuple(shares)


def _weight(scene: Scene) -> int:
    stations = len(scene.scale.stations) if scene.scale else 0
    return (
        _ANY_SCENE
        + len(scene.cues)
        + stations
        + _QUESTION * len(scene.questions)
        + (_TASK if scene.task else 0)
    )


def cue_places(scene: Scene) -> tuple[CuePlace, ...]:
    """The cues that speak, in the order of the run, each at the end of its first place: there
    its words are on the board and what they speak of has happened."""
    found = []
    for cue in scene.cues:
        spans = scene.timeline.spans(cue.when)
        if not cue.words or not spans:
            continue
        steps = range(spans[0].last, spans[0].first - 1, -1)
        step = next((each for each in steps if scene.cue_sheet.at(each) is cue), spans[0].last)
        found.append(CuePlace(cue, step, len(spans)))
    return tuple(sorted(found, key=lambda each: each.step))
