"""The lines right under the heading of a scene: ``minutes: 8``, ``press: cue``, ``depth: phases``.

They say of one scene what the header says of the lesson, in the same words, and as there a ``#``
starts a comment. The first other line ends them, so that notes may start with any words and a
colon.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from app.lesson.blocks.cache import read_cache
from app.lesson.entries import Piece, Wrong, choose
from app.lesson.header import Depth, Press
from app.lesson.unseen import first_unseen, stands_here, without_unseen
from app.machine.source.problems import OTHER_COLONS, Problem, like_a_colon, nearest
from app.machine.words import parse_number

from .head import says_something

LONGEST_SCENE = 300  # minutes

_LINE = re.compile(r"\s*([^\W\d_]+)\s*:\s*(\S.*)")
_COLONS = re.compile(f"[{OTHER_COLONS}]")
# The same without its colon, or with another sign in its place.
_LINE_WITHOUT_COLON = re.compile(r"\s*([^\W\d_]+)(?: ?[^\w\s])? *+(\w.*)")
# Looked for by itself: a pattern of the whole line would try it anew at every space.
_REMARK = re.compile(r"\s#")


def _minutes(text: str) -> int:
    try:
        number = parse_number(text)
    except ValueError:
        number = 0
    if 1 <= number <= LONGEST_SCENE:
        return number
    raise Wrong(
        f"'{text}' is not a number of minutes.",
        f"Write a whole number from 1 to {LONGEST_SCENE}, as in 'minutes: 8'.",
    )


_FIELDS: dict[str, Callable[[str], Any]] = {
    "minutes": _minutes,
    "press": lambda text: Press(choose(text, Press, "something that a press can do")),
    "depth": lambda text: Depth(choose(text, Depth, "a depth")),
    "cache": read_cache,
}


def _meant(line: str, number: int) -> Problem | None:
    """What is wrong in a line that says nothing of the scene, and for every eye does."""
    plain = _COLONS.sub(":", without_unseen(line))
    found = _LINE.fullmatch(plain) if plain != line else None
    if not found or found[1].casefold() not in _FIELDS:
        return None
    colon = _COLONS.search(line)
    if colon:
        at, what = colon.start(), like_a_colon(colon[0])
    else:
        at, code = first_unseen(line)
        what = stands_here(code)
    return Problem(number, at + 1, 1, what, f"Write the line anew: '{found[1]}: {found[2]}'.")


def _value(line: re.Match[str]) -> str:
    """What a line says, without its remark."""
    return _REMARK.split(line[2], maxsplit=1)[0].rstrip()


def _is_sentence(words: str) -> bool:
    """Whether what comes after a colon is a sentence, and no slip in what is said of a scene."""
    return len(words.split()) > 3 and not words[0].isdigit() and ":" not in words


def is_of_header(line: str) -> bool:
    """Whether a line is one of a header beyond doubt."""
    found = _LINE.fullmatch(line)
    return bool((found and found[1] == "title") or below_header(line))


def below_header(line: str) -> Problem | None:
    """What is wrong with a line below the header and above the first scene, that would say
    something of the lesson in the header. Its place is for the caller to say."""
    found = _LINE.fullmatch(line)
    if not found or not says_something(found[1], _value(found)):
        return None
    what = "This line stands below the header, so it says nothing of the lesson."
    mend = "Move it up, above the '---' that ends the header."
    return Problem(1, found.start(1) + 1, len(found[1]), what, mend, warning=True)


def said_in_notes(text: str) -> tuple[str, str] | None:
    """What is wrong with a line of the notes, and how to mend it, that could say something of the
    scene and does not: it has no colon, or does not stand right under the heading."""
    found = _LINE.fullmatch(text) or _LINE_WITHOUT_COLON.fullmatch(text)
    name = found[1].casefold() if found else ""
    if not found or name not in _FIELDS:
        return None
    value = _value(found)
    try:
        _FIELDS[name](value)
    except Wrong:
        return None
    what = f"This line is taken for notes, so it says nothing of the '{name}' of the scene."
    return what, f"Write '{name}: {value}' right under the heading."


def read_scene_lines(
    lines: Sequence[str], first_line: int
) -> tuple[int, dict[str, Any], list[Problem]]:
    """How many of these lines (the first paragraph of a scene) are such lines, what they say by
    the names of the fields of a scene, and the problems in them.

    ``first_line`` is the line of the file of the first of them.
    """
    said: dict[str, Any] = {}
    problems: list[Problem] = []
    for count, line in enumerate(lines):
        number = first_line + count
        found = _LINE.fullmatch(line)
        if not found:
            meant = _meant(line, number)
            if meant is None:
                return count, said, problems
            problems.append(meant)
            continue
        key = Piece(found[1], number, found.start(1) + 1)
        value = Piece(_value(found), number, found.start(2) + 1)
        name = key.text.casefold()
        if name not in _FIELDS and says_something(key.text, value.text):
            what = f"'{key.text}' is taken for a word of the notes: it belongs in the header."
            here = " Or, for this scene alone, write a 'show' block." if name == "show" else ""
            problems.append(key.problem(what, f"Move the line up there.{here}", warning=True))
            return count, said, problems
        if name not in _FIELDS:
            near = nearest(name, _FIELDS)
            if near and len(value.text.split()) == 1:
                what = f"'{key.text}' is taken for a word of the notes."
                problems.append(key.problem(what, f"Did you mean '{near}'?", warning=True))
            return count, said, problems
        if name in said:
            what = f"The scene says '{name}' twice."
            problems.append(key.problem(what, "Leave one of them out."))
            continue
        try:
            said[name] = _FIELDS[name](value.text)
        except Wrong as wrong:
            if _is_sentence(value.text):
                what = f"'{key.text}' is taken for a word of the notes."
                mend = f"If it is to say something of the scene: {wrong.mend}"
                problems.append(key.problem(what, mend, warning=True))
                return count, said, problems
            problems.append(value.problem(wrong.what, wrong.mend))
    return len(lines), said, problems
