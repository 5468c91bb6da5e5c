"""What a cue does besides showing words, written in square brackets at the end of its line.

``[show output]``, ``[hide MAR and MDR]``, ``[pause]``, ``[speed 0.5]``, ``[base binary]``, and
several set apart by commas: ``[show output, the data bus, pause]``. A file may still say
``reveal`` for ``show``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from app.lesson.entries import Entry, Piece, Wrong, choose, read_entries
from app.lesson.parts import find_parts, part_name, split_names
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.source.problems import Problem, listed, nearest
from app.machine.words import EVERY_BASE

# How many times the usual pace: the choices of the board.
SPEEDS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0)

_VERBS = ("show", "hide", "pause", "speed", "base")
# What a verb was called before, and is called now.
_OLD_VERBS = {"reveal": "show"}
_ALL_VERBS = "|".join((*_VERBS, *_OLD_VERBS))
_AT_END = re.compile(r"\[([^\[\]]*)\]$")
# What looks like actions, wherever it stands.
_ANYWHERE = re.compile(rf"\[\s*(?:{_ALL_VERBS})\b[^\[\]]*\]?", re.IGNORECASE)
# The same in brackets of another kind.
_OTHER_BRACKETS = re.compile(
    rf"[({{［【](\s*(?:{_ALL_VERBS})\b[^\[\](){{}}［］【】]*)[)}}］】]$", re.IGNORECASE
)
_NOT_OPENED = re.compile(rf"\b(?:{_ALL_VERBS})\b.*", re.IGNORECASE)
_EXAMPLE = "Write [show output], [hide output], [pause] or [speed 0.5]."


@dataclass(frozen=True, slots=True)
class Actions:
    """What a cue does: parts that come on stage or leave it (as the drawing names them),
    whether playing pauses, and the speed (times the usual pace) and the number base if it sets
    one."""

    show: frozenset[str] = frozenset()
    hide: frozenset[str] = frozenset()
    pause: bool = False
    speed: float | None = None
    base: str | None = None

    def __bool__(self) -> bool:
        return bool(self.show or self.hide or self.pause or self.speed or self.base)


NO_ACTIONS = Actions()


def actions_in(brackets: str, machine: Machine = EIGHT_BIT) -> Actions:
    """The actions that stand in brackets, without them; none for an empty text. Raises
    :class:`WrongAction`."""
    if not brackets:
        return NO_ACTIONS
    return read_actions(read_entries(f"start: [{brackets}]", 1)[0], machine)


def in_brackets(actions: Actions, machine: Machine) -> str:
    """Actions as they stand in the brackets of a cue, with the names of a machine's parts."""
    said = []
    for verb, parts in (("show", actions.show), ("hide", actions.hide)):
        names = sorted(part_name(each, machine) for each in parts)
        said += [f"{verb} {', '.join(names)}"] if names else []
    said += ["pause"] if actions.pause else []
    said += [f"speed {actions.speed:g}"] if actions.speed else []
    said += [f"base {actions.base}"] if actions.base else []
    return ", ".join(said)


def without_actions(words: str) -> str:
    """The words of a cue without the brackets at their end."""
    return _AT_END.sub("", words).rstrip()


def stray_actions(entry: Entry) -> Iterator[Problem]:
    """Warnings for brackets that surely hold actions but are read as words of the cue."""
    end = _AT_END.search(entry.text)
    words = entry.text[: end.start()] if end else entry.text
    for stray in _ANYWHERE.finditer(words):
        if stray[0].endswith("]"):
            what = f"'{stray[0]}' does not stand at the end of the cue, so it is only words."
            mend = "Write all actions in one pair of brackets, with nothing after them."
        else:
            what = "This bracket is not closed, so what is in it is only words."
            mend = "Write ']' at the end."
        yield entry.piece(*stray.span()).problem(what, mend, warning=True)
    closed = words.endswith("]") and "[" not in words
    stray_end = _NOT_OPENED.search(words, words.rfind("]", 0, -1) + 1) if closed else None
    if stray_end:
        what = "There is no '[' before this, so it is only words."
        mend = f"Write '[{stray_end[0]}'."
        yield entry.piece(*stray_end.span()).problem(what, mend, warning=True)


def other_brackets(entry: Entry, machine: Machine = EIGHT_BIT) -> Iterator[Problem]:
    """A warning for actions at the end of a cue that stand in brackets of another kind."""
    found = _OTHER_BRACKETS.search(entry.text)
    if not found:
        return
    try:
        read_actions(replace(entry, text=f"{entry.text[: found.start()]}[{found[1]}]"), machine)
    except WrongAction:
        return
    what = f"'{found[0]}' does not stand in square brackets, so it is only words."
    mend = f"Write '[{found[1].strip()}]'."
    yield entry.piece(*found.span()).problem(what, mend, warning=True)


def old_words(entry: Entry) -> list[Problem]:
    """Warnings for verbs in the brackets that are called something else now; they still work."""
    brackets = _AT_END.search(entry.text)
    found = []
    for first, last in split_names(brackets[1]) if brackets else ():
        start = brackets.start(1) + first if brackets else 0
        verb = entry.text[start : start + last - first].split()[0]
        if new := _OLD_VERBS.get(verb.casefold()):
            what = f"'{verb}' is now called '{new}'. It still works."
            piece = entry.piece(start, start + len(verb))
            found.append(piece.problem(what, f"Write '{new}'.", warning=True))
    return found


def read_actions(entry: Entry, machine: Machine = EIGHT_BIT) -> Actions:
    """The actions at the end of a cue's line; none where there are no brackets. ``machine`` is the
    one whose parts may be named.

    Raises :class:`WrongAction` for the first that cannot be used.
    """
    brackets = _AT_END.search(entry.text)
    if not brackets:
        return NO_ACTIONS
    start = brackets.start(1)
    show: set[str] = set()
    hide: set[str] = set()
    pause, speed, base, verb = False, None, None, ""
    ranges = split_names(brackets[1])
    if not ranges:
        raise WrongAction(entry.piece(start - 1, brackets.end()), "Nothing is in the brackets.")
    for first, last in ranges:
        piece = entry.piece(start + first, start + last)
        said, _, rest = piece.text.partition(" ")
        first_word = _OLD_VERBS.get(said.casefold(), said.casefold())
        if first_word in _VERBS:
            verb, rest = first_word, rest.strip()
        elif verb in ("show", "hide"):
            rest = piece.text  # one more part for the verb before it
        else:
            raise WrongAction(piece, f"A cue cannot '{piece.text}'.", _mend(said))
        try:
            if verb == "pause":
                _expect_nothing(rest)
                pause = True
            elif verb == "speed":
                speed = _speed(rest)
            elif verb == "base":
                base = choose(rest, EVERY_BASE, "a number base")
            else:
                (show if verb == "show" else hide).update(_parts(rest, verb, machine))
        except Wrong as wrong:
            mend = wrong.mend
            if rest:
                piece = entry.piece(start + last - len(rest), start + last)
            if first_word not in _VERBS and nearest(said, _VERBS):
                mend = _mend(said)  # 'pasue' after 'show output' is no part
            raise WrongAction(piece, wrong.what, mend) from wrong
        if verb in ("pause", "speed", "base"):
            verb = ""
    both = show & hide
    if both:
        what = f"This cue both shows and hides {listed(sorted(both))}."
        raise WrongAction(entry.piece(start, brackets.end(1)), what, "Leave one of them out.")
    return Actions(frozenset(show), frozenset(hide), pause, speed, base)


class WrongAction(Wrong):
    """Wrong, at some words of the line."""

    def __init__(self, piece: Piece, what: str, mend: str = _EXAMPLE) -> None:
        super().__init__(what, mend)
        self.piece = piece


def _mend(verb: str) -> str:
    near = nearest(verb, _VERBS)
    if near:
        return f"Did you mean '{near}'?"
    return f"{_EXAMPLE} Words of the cue itself may stand in round brackets."


def _expect_nothing(rest: str) -> None:
    if rest:
        raise Wrong(f"There is something after 'pause': '{rest}'.", "Write just [pause].")


def _speed(text: str) -> float:
    try:
        speed = float(text.rstrip("x\N{MULTIPLICATION SIGN} "))
    except ValueError:
        speed = 0.0
    if speed not in SPEEDS:
        raise Wrong(
            f"There is no speed '{text}'.",
            f"Write {listed(f'{each:g}' for each in SPEEDS)}, where 1 is the usual pace.",
        )
    return speed


def _parts(name: str, verb: str, machine: Machine) -> tuple[str, ...]:
    if not name:
        raise Wrong(f"It does not say what to {verb}.", f"Write a part, as in '{verb} output'.")
    if found := find_parts(name, machine):
        return found
    mend = "Write [hide everything]." if verb == "show" else "Leave it out."
    raise Wrong(f"A cue cannot {verb} '{name}'.", mend)
