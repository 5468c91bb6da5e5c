"""A lesson as a plan on paper: where in the run of each scene its cues are, and its homework."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from app.lesson.blocks.cues import Cue
from app.lesson.model import Scene

_HOMEWORK = re.compile(r"<p><strong>Homework\b.*?</p>", re.DOTALL)
_TAG = re.compile(r"(<[^>]*>)")
# Round brackets, also as wide as the signs of some scripts.
_OPEN = ("(", "\N{FULLWIDTH LEFT PARENTHESIS}")
_CLOSED = (")", "\N{FULLWIDTH RIGHT PARENTHESIS}")


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
    A bracket right after a word, ``f(3)``, is part of it. One may go over paragraphs and lists; one
    never closed ends with its block."""
    signs: list[str] = []
    for piece in _TAG.split(html):
        signs += [piece] if piece.startswith("<") else piece
    closes = _pairs(signs)
    kept = []
    before, end = "", 0
    for at, sign in enumerate(signs):
        if at >= end and sign in _OPEN and not before.isalnum():
            end = closes.get(at) or next(_ends_of_blocks(signs, at), len(signs))
        if at >= end or sign.startswith("<"):
            kept.append(sign)
        before = sign
    return "".join(kept)


def _pairs(signs: Sequence[str]) -> dict[int, int]:
    """Where each bracket is over (its closing one and one more), by its place."""
    found: dict[int, int] = {}
    opened: list[int] = []
    for at, sign in enumerate(signs):
        if sign in _OPEN:
            opened.append(at)
        elif sign in _CLOSED and opened:
            found[opened.pop()] = at + 1
    return found


def _ends_of_blocks(signs: Sequence[str], start: int) -> Iterator[int]:
    return (at for at in range(start, len(signs)) if signs[at] in ("</p>", "</li>"))


def cue_places(scene: Scene, drawn: bool = True) -> tuple[CuePlace, ...]:
    """The cues that speak, in the order of the run, each at the end of its first place: there
    its words are on the board and what they speak of has happened. For one that is not ``drawn``
    it is not looked for where in that place another stands."""
    found = []
    for cue in scene.cues:
        spans = scene.timeline.spans(cue.when)
        if not cue.words or not spans:
            continue
        step = scene.cue_sheet.stop(cue, spans[0]) if drawn else spans[0].last
        said = scene.cue_sheet.number_at_start(cue)
        found.append(CuePlace(cue, step, len(spans), said))
    return tuple(sorted(found, key=lambda each: each.step))
