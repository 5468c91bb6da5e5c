"""The teachers' own reasons: each must be known, word by word, and true of the run.

``reasons.txt`` has one a line: its words (a regular expression, for the whole of it), and after a
tilde what must be so, over the names of :mod:`tests.lesson.said.claims` at the place where the
question is answered, with some more of :func:`_more`. Lines ``# 04.2`` are those of ``claims.txt``.
So a reason that is written anew is held by nothing until somebody has said what would make it true.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from app.lesson.asking.questions import AskedQuestion
from tests.codes import CODES, HALF_BITS
from tests.hardware.rtl import signed

from .claims import context, place_names

_FILE = Path(__file__).with_name("reasons.txt")
_WRITTEN = {code: written for written, code in CODES.items()}
_BUILTINS = {each.__name__: each for each in (all, any, int, max, set)}


@dataclass(frozen=True)
class Known:
    """A reason in words and what makes it true; ``where`` is a lesson or a scene of it."""

    where: str
    words: re.Pattern[str]
    true: str


@dataclass(frozen=True)
class Given:
    """A reason as a lesson gives it: for a choice (empty for the right one) of a question."""

    lesson: str
    scene: int
    asked: AskedQuestion
    choice: str
    words: str


@lru_cache
def known() -> tuple[Known, ...]:
    found, where = [], ""
    for line in _FILE.read_text(encoding="utf-8").splitlines():
        if line.startswith("# "):
            where = line[2:].strip()
        elif line.strip() and not line.startswith(";"):
            words, true = line.split(" ~ ")
            found.append(Known(where, re.compile(words + r"\."), true))
    return tuple(found)


def given(slug: str) -> Iterator[Given]:
    """Every reason of a lesson that is the teacher's."""
    for number, scene in enumerate(context(slug).lesson.scenes, start=1):
        for asked in scene.questions:
            (question,) = (each for each in scene.asked if each.line == asked.line)
            reasons = [("", question.because), *question.choices]
            yield from (Given(slug, number, asked, said, why) for said, why in reasons if why)


def knows(reason: Given) -> Known | None:
    """What is known of a reason; None where nothing is."""
    places = (reason.lesson[:2], f"{reason.lesson[:2]}.{reason.scene}")
    found = [e for e in known() if e.where in places and e.words.fullmatch(reason.words)]
    return found[0] if found else None


def is_true(reason: Given, found: Known) -> bool:
    """Whether the run bears a reason out."""
    names = place_names(
        reason.lesson, reason.scene, reason.asked.step, reason.asked.reveal_step
    ) | _more(reason)
    return bool(eval(found.true, {"__builtins__": _BUILTINS, **names}))


def _more(reason: Given) -> dict[str, Any]:
    ran = context(reason.lesson).ran(reason.scene)
    last = reason.asked.reveal_step
    # The instructions that have been begun by then, and the one under way last.
    done = [each for each in ran.done if each.first <= last]
    names = [_WRITTEN[each.code].split()[0] for each in done]
    whole = [_WRITTEN[each.code].split()[0] for each in ran.done]
    now = ran.after(last)
    numbers = re.fullmatch(r"(\N{MINUS SIGN})?(\d+)", reason.choice)
    return {
        "said": numbers and (-1 if numbers[1] else 1) * int(numbers[2]),
        "done": done,
        "name": names[-1],
        "names": names[:-1] if done[-1].last > last else names,
        "first": whole.index,
        "stored": lambda address: signed(now.memory[address], ran.bits),
        "opcode_of_load": f"{CODES['LOAD #n']:0{HALF_BITS['8-bit']}b}",
    }
