"""The header of a lesson file: a few lines of YAML between two lines of dashes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import yaml

from app.machine.problems import Problem, listed, nearest
from app.machine.run import DEFAULT_LIMIT
from app.machine.words import EIGHT_BIT, FORMATS, Format

LONGEST_LESSON = 300
LARGEST_LIMIT = 1_000_000


class Depth(StrEnum):
    """How closely the cycle is looked at: one movement a phase, or one a register transfer."""

    PHASES = "phases"
    TRANSFERS = "transfers"


@dataclass(frozen=True, slots=True)
class Header:
    """The header of a lesson file. ``minutes`` is the planned time, ``limit`` the most
    instructions that a scene's run may take."""

    title: str = ""
    format: Format = EIGHT_BIT
    depth: Depth = Depth.TRANSFERS
    age: str = ""
    minutes: int | None = None
    objectives: tuple[str, ...] = ()
    limit: int = DEFAULT_LIMIT


class _Wrong(Exception):
    """A value that cannot be used: what is wrong, and how to mend it."""

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(what, mend)
        self.what = what
        self.mend = mend


def _text(value: Any) -> str:
    if isinstance(value, str | int | float) and not isinstance(value, bool) and str(value).strip():
        return str(value).strip()
    raise _Wrong("It needs some words.", "Write them after the colon.")


def _choice(value: Any, known: list[str]) -> str:
    text = str(value).strip().casefold()
    if text in known:
        return text
    near = nearest(text, known)
    mend = f"Did you mean {near}?" if near else f"Write {listed(known)}."
    raise _Wrong(f"'{value}' is not one of the choices.", mend)


def _format(value: Any) -> Any:
    return FORMATS[_choice(value, list(FORMATS))]


def _depth(value: Any) -> Any:
    return Depth(_choice(value, [each.value for each in Depth]))


def _whole(largest: int) -> Callable[[Any], int]:
    def read(value: Any) -> int:
        if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= largest:
            return value
        raise _Wrong(
            f"'{value}' is not a number of that kind.",
            f"Write a whole number from 1 to {largest}.",
        )

    return read


def _list(value: Any) -> tuple[str, ...]:
    if isinstance(value, list) and value:
        return tuple(_text(each) for each in value)
    raise _Wrong("It needs a list.", "Write each one on a line of its own that starts with '- '.")


# What the header may say, and how each is read.
_FIELDS: dict[str, Callable[[Any], Any]] = {
    "title": _text,
    "machine": _format,
    "depth": _depth,
    "age": _text,
    "minutes": _whole(LONGEST_LESSON),
    "objectives": _list,
    "limit": _whole(LARGEST_LIMIT),
}
# The field's name in Header, where it differs.
_ATTRIBUTES = {"machine": "format"}


def read_header(text: str, first_line: int) -> tuple[dict[str, Any], list[Problem]]:
    """The fields of a header, and the problems in it.

    ``first_line`` is the line of the file (from 1) that ``text`` starts on. A field with a
    problem is left out.
    """
    problems: list[Problem] = []
    shift = first_line - 1
    try:
        node = yaml.compose(text, Loader=yaml.SafeLoader)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        reason = getattr(error, "problem", None) or "it cannot be read"
        what = f"The header cannot be read: {reason}."
        mend = "Write each line as 'name: words'; put words that hold a colon in quotes."
        return {}, [Problem(line, column, 1, what, mend).moved(shift)]
    if node is None:
        return {}, problems
    if not isinstance(node, yaml.MappingNode):
        mark = node.start_mark
        what = "The header is not made of lines like 'name: words'."
        mend = "Start with 'title: The name of the lesson'."
        return {}, [Problem(mark.line + 1, mark.column + 1, 1, what, mend).moved(shift)]
    fields: dict[str, Any] = {}
    for key, value in node.value:
        name = str(key.value) if isinstance(key, yaml.ScalarNode) else "?"

        def tell(place: yaml.Node, what: str, mend: str) -> None:
            start, end = place.start_mark, place.end_mark
            length = max(end.column - start.column, 1) if end.line == start.line else 1
            problem = Problem(start.line + 1, start.column + 1, length, what, mend)
            problems.append(problem.moved(shift))

        if name not in _FIELDS:
            near = nearest(name, _FIELDS)
            mend = f"Did you mean {near}?" if near else f"The header may have {listed(_FIELDS)}."
            tell(key, f"The header has no field called '{name}'.", mend)
        elif _ATTRIBUTES.get(name, name) in fields:
            tell(key, f"The header says '{name}' twice.", "Leave one of them out.")
        else:
            try:
                plain = _construct(value)
                fields[_ATTRIBUTES.get(name, name)] = _FIELDS[name](plain)
            except _Wrong as wrong:
                tell(value, f"The header's '{name}' cannot be used. {wrong.what}", wrong.mend)
    return fields, problems


def _construct(node: yaml.Node) -> Any:
    loader = yaml.SafeLoader("")
    try:
        return loader.construct_object(node, deep=True)
    except (yaml.YAMLError, ValueError) as error:
        raise _Wrong("Its value cannot be read.", "Write plain words or a number.") from error
