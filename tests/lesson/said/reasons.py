"""The teachers' own reasons: each must be known, word by word, and true of the run.

``reasons.txt`` has one a line: its words (a regular expression, for the whole of it), and after a
tilde what must be so, over the names of :mod:`tests.lesson.said.claims` at the place where the
question is answered, with some more of :func:`_more`. Lines ``# 04.2`` are those of ``claims.txt``.
So a reason that is written anew is held by nothing until somebody has said what would make it true,
and :func:`idle` finds what cannot fail in it.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from app.lesson.asking.questions import AskedQuestion
from tests.codes import ALL_CODES, CODES, HALF_BITS
from tests.hardware.rtl import Snapshot, signed

from .claims import context, place_names
from .ran import Done

_FILE = Path(__file__).with_name("reasons.txt")
_WRITTEN = {code: written for written, code in ALL_CODES.items()}
_NAMES = {written.split()[0] for written in ALL_CODES}
# Instructions and runs as a whole: they are looked into, and what else they could be is not tried.
_WHOLE = {"done", "last_of", "changed", "was_then", "is_now"}
_BUILTINS = {each.__name__: each for each in (all, any, int, len, max, min, range, set, sum)}


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
    return bool(eval(found.true, _names(reason)))


def idle(reason: Given, found: Known) -> list[str]:
    """The names in what makes a reason true that do not matter: with anything else in their place
    it would still be true."""
    names = _names(reason)
    tree = ast.walk(ast.parse(found.true))
    used = sorted({each.id for each in tree if isinstance(each, ast.Name)} & {*names})
    numbers = [names[each] for each in used if type(names[each]) is int]
    return [
        name
        for name in used
        if name not in _WHOLE
        and (others := [*_others(names[name], numbers)])
        and not any(_is_false(found, names | {name: other}) for other in others)
    ]


def _is_false(found: Known, names: dict[str, Any]) -> bool:
    try:
        return not eval(found.true, names)
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError):
        return False  # it has not been worked out


def _others(value: Any, numbers: list[int]) -> Iterator[Any]:
    """What else could have been there; nothing that is a whole machine or a run."""
    if type(value) is int:
        yield from (value + 1, value - 1, value + 10**6, value - 10**6, -value, *numbers)
    elif type(value) is str:
        yield from ("", f"{value}?", f"1{value}", "INDEXED")
    elif type(value) in (list, tuple, set):
        yield from (type(value)(), type(value)([*_WRITTEN.values(), *_NAMES]))
        yield type(value)([*value][::-1])
        for more in (1, 10**6 + 3):
            yield type(value)(each + more if type(each) is int else each for each in value)
    elif callable(value):
        for at in range(5 + len(numbers)):
            yield lambda *a, at=at, **k: [*_others(value(*a, **k), numbers)][at]


def _names(reason: Given) -> dict[str, Any]:
    found = place_names(reason.lesson, reason.scene, reason.asked.step, reason.asked.reveal_step)
    return {"__builtins__": _BUILTINS, **found, **_more(reason)}


def _more(reason: Given) -> dict[str, Any]:
    ran = context(reason.lesson).ran(reason.scene)
    last = reason.asked.reveal_step
    # The instructions that have been begun by then, and the one under way last.
    done = [each for each in ran.done if each.first <= last]
    names = [_WRITTEN[each.code].split()[0] for each in done]
    whole = [_WRITTEN[each.code].split()[0] for each in ran.done]
    now = ran.after(last)

    def last_of(name: str) -> Done:
        return next(each for each in reversed(done) if _WRITTEN[each.code].split()[0] == name)

    def stack_of(state: Snapshot) -> list[int]:
        """The words on the stack, from its top."""
        return [*state.memory[state.sp :]]

    numbers = re.fullmatch(r"(\N{MINUS SIGN})?(\d+)", reason.choice)
    return {
        "said": numbers and (-1 if numbers[1] else 1) * int(numbers[2]),
        "said_words": reason.choice,
        "said_all": tuple(map(int, re.findall(r"\d+", reason.choice))),
        "done": done,
        "name": names[-1],
        # As the table writes it, and those that follow.
        "way": _WRITTEN[done[-1].code],
        "ways": [_WRITTEN[each.code] for each in done],
        "later": whole[len(done) :],
        "last_of": last_of,
        "stack_of": stack_of,
        "stack0": stack_of(ran.after(reason.asked.step)),
        "pushed": [each.was.acc for each in done if each.code == ALL_CODES["PUSH"]],
        "names": names[:-1] if done[-1].last > last else names,
        "first": whole.index,
        "stored": lambda address: signed(now.memory[address], ran.bits),
        "opcode_of_load": f"{CODES['LOAD #n']:0{HALF_BITS['8-bit']}b}",
    }
