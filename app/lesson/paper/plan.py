"""A lesson as a plan on paper: how long each scene takes, and where in its run its cues are."""

from __future__ import annotations

import re
from dataclasses import dataclass

from app.lesson.blocks.cues import Cue
from app.lesson.model import Lesson, Scene

# In the HTML of notes: the minutes that they start with.
_SAID = re.compile(r"\s*<p>(?:<strong>)?(\d{1,3}) minutes?\.")
_HOMEWORK = re.compile(r"<p><strong>Homework\b.*?</p>", re.DOTALL)
# A sentence in brackets of its own: that is where notes have the answer, for the teacher.
_ANSWER = re.compile(r"(?<=[.?!])\s*\([^()]*\)")
# What of the class's time something takes, against a cue.
_ANY_SCENE, _QUESTION, _TASK = 1, 3, 5


@dataclass(frozen=True, slots=True)
class CuePlace:
    """A cue with the step at which its picture is taken, and how often its place comes."""

    cue: Cue
    step: int
    times: int


@dataclass(frozen=True, slots=True)
class Minutes:
    """How long a scene takes: as its notes say, or else (not ``said``) by its share."""

    count: int
    said: bool

    @property
    def words(self) -> str:
        return f"{'' if self.said else 'about '}{self.count} min"


def scene_minutes(lesson: Lesson) -> tuple[Minutes | None, ...]:
    """The minutes of each scene; None where nobody can know.

    Notes may start with them, as in '**8 minutes.** Ask first'. What those leave of the lesson's
    minutes is shared among the other scenes by what is done there: each cue counts once, each
    question three times (it is asked, talked about and shown), a task five times.
    """
    said = [_SAID.match(each.notes) for each in lesson.scenes]
    found = [Minutes(int(each[1]), True) if each else None for each in said]
    if lesson.header.minutes is None:
        return tuple(found)
    open_scenes = [at for at, each in enumerate(found) if each is None]
    left = max(lesson.header.minutes - sum(each.count for each in found if each), 0)
    weights = [_weight(lesson.scenes[at]) for at in open_scenes]
    for at, count in zip(open_scenes, _shares(left, weights), strict=True):
        found[at] = Minutes(count, False)
    return tuple(found)


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
        + _QUESTION * len(scene.questions)
        + (_TASK if scene.task else 0)
    )


def homework(scene: Scene) -> tuple[str, ...]:
    """The paragraphs (HTML) of the notes that start with a bold 'Homework', without the answers."""
    return tuple(_ANSWER.sub("", each) for each in _HOMEWORK.findall(scene.notes))


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
