"""A lesson as a plan on paper: where in the run of each scene its cues are, and its homework."""

from __future__ import annotations

import re
from dataclasses import dataclass

from app.lesson.blocks.cues import Cue
from app.lesson.model import Scene

_HOMEWORK = re.compile(r"<p><strong>Homework\b.*?</p>", re.DOTALL)
_TAG = re.compile(r"(<[^>]*>)")


@dataclass(frozen=True, slots=True)
class CuePlace:
    """A cue with the step at which its picture is taken, and how often its place comes; of
    several at the start, ``said`` counts them from 0."""

    cue: Cue
    step: int
    times: int
    said: int = 0


def homework(scene: Scene) -> tuple[str, ...]:
    """The homework (HTML) without the answers: the paragraphs of the notes that start with a bold
    'Homework', and that of a block of its own."""
    block = f"<p><strong>Homework.</strong></p>\n{scene.homework}" if scene.homework else ""
    found = [*_HOMEWORK.findall(scene.notes), *([block] if block else [])]
    return tuple(map(_without_brackets, found))


def _without_brackets(html: str) -> str:
    """The text outside brackets, which is where notes have the answer, for the teacher; tags stay.
    A bracket right after a word, ``f(3)``, is part of it; one never closed ends with its block."""
    kept, depth = [], 0
    for piece in _TAG.split(html):
        if piece.startswith("<"):
            depth = 0 if piece in ("</p>", "</li>") else depth
            kept.append(piece)
            continue
        before = ""
        for sign in piece:
            if sign == "(" and (depth or not before.isalnum()):
                depth += 1
            elif depth:
                depth -= sign == ")"
            else:
                kept.append(sign)
            before = sign
    return "".join(kept)


def cue_places(scene: Scene) -> tuple[CuePlace, ...]:
    """The cues that speak, in the order of the run, each at the end of its first place: there
    its words are on the board and what they speak of has happened."""
    found = []
    for cue in scene.cues:
        spans = scene.timeline.spans(cue.when)
        if not cue.words or not spans:
            continue
        step = scene.cue_sheet.stop(cue, spans[0])
        said = scene.cue_sheet.number_at_start(cue)
        found.append(CuePlace(cue, step, len(spans), said))
    return tuple(sorted(found, key=lambda each: each.step))
