"""A question as the teacher writes it.

::

    before first ADD: What will the accumulator hold now?
    ask: the accumulator
    choices: 13 or 9 or 6
"""

from __future__ import annotations

import re

from app.lesson.asking.facts import NO_COMPARISON
from app.lesson.asking.questions import Question
from app.lesson.asking.subjects import Ask, read_ask
from app.lesson.entries import MOST_FAULTS, Piece, Wrong, read_entries, too_many
from app.lesson.places import read_when
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.operations import NO_STATUS
from app.machine.source.problems import Problem, nearest
from app.machine.words import parse_number

FEWEST_CHOICES = 3


MOST_CHOICES = 5
LONGEST_QUESTION = 400
LONGEST_CHOICE = 80


_KNOWN = ("before", "ask", "choices")


_BETWEEN = re.compile(r" or ", re.IGNORECASE)


# How a choice may say that there is no status.
_NO_STATUS = (NO_COMPARISON, "none", "none yet", "a dash", NO_STATUS, "-")
_EXAMPLE = "Write for example 'before first ADD: What will the accumulator hold?'"


def read_question(
    text: str, first_line: int, machine: Machine = EIGHT_BIT
) -> tuple[Question | None, list[Problem]]:
    """The question of a ``question`` block."""
    problems: list[Problem] = []
    parts: dict[str, tuple[Piece, Piece]] = {}
    for entry in read_entries(text, first_line):
        if len(problems) >= MOST_FAULTS:
            problems.append(too_many(entry.whole))
            break
        halves = entry.at_colon()
        word = halves[0].text.split(maxsplit=1)[0].casefold() if halves and halves[0].text else ""
        if not halves or word not in _KNOWN:
            near = nearest(word or entry.text.split()[0], _KNOWN)
            mend = f"Did you mean '{near}'?" if near and near != word else _EXAMPLE
            what = "This line is neither 'before', 'ask' nor 'choices'."
            problems.append((halves[0] if halves else entry.whole).problem(what, mend))
        elif word in parts:
            what = f"The question says '{word}' twice."
            mend = "Leave one out; a second question is a block of its own."
            problems.append(halves[0].problem(what, mend))
        elif not halves[1].text:
            what = f"Nothing comes after '{halves[0].text}:'."
            problems.append(halves[0].problem(what, "Write it after the colon."))
        else:
            parts[word] = halves
    if problems:
        return None, problems
    missing = {"before": _EXAMPLE, "ask": "Add a line such as 'ask: the accumulator'."}
    for word, mend in missing.items():
        if word not in parts:
            what = f"The question has no line that starts with '{word}'."
            return None, [Problem(first_line, 1, 1, what, mend)]
    return _make(parts, first_line, machine)


def _make(
    parts: dict[str, tuple[Piece, Piece]], first_line: int, machine: Machine
) -> tuple[Question | None, list[Problem]]:
    before, prompt = parts["before"]
    shift = len(before.text) - len(before.text[len("before") :].lstrip())
    place = Piece(before.text[shift:], before.line, before.column + shift)
    asked = parts["ask"][1]
    given = parts["choices"][1] if "choices" in parts else None
    try:
        when = read_when(place.text, unsaid="first", machine=machine)
        if when.kind == "start":
            raise Wrong("Nothing comes before the start.", "Write 'before fetch 1' instead.")
    except Wrong as wrong:
        return None, [place.problem(wrong.what, wrong.mend)]
    try:
        ask = read_ask(asked.text)
    except Wrong as wrong:
        return None, [asked.problem(wrong.what, wrong.mend)]
    if len(prompt.text) > LONGEST_QUESTION:
        what = f"The question has {len(prompt.text)} letters."
        return None, [prompt.problem(what, f"Ask it in at most {LONGEST_QUESTION}.")]
    choices: tuple[str, ...] = ()
    if given:
        try:
            choices = _split(given.text, ask)
        except Wrong as wrong:
            return None, [given.problem(wrong.what, wrong.mend)]
    question = Question(when, prompt.text, ask, choices, place, asked, given, first_line)
    return question, []


def _split(text: str, ask: Ask) -> tuple[str, ...]:
    """The choices given by hand, each written as a computed one is."""
    if ask.kind == "jump":
        raise Wrong(
            "The choices of a jump are always the ways it can go.", "Leave out the 'choices' line."
        )
    words = " ".join(text.split())
    # A list of outputs has commas of its own, so 'or' stands between choices.
    parts = _BETWEEN.split(words) if ask.kind == "output" else re.split(r" or |,", words)
    found = [_plain(each, ask) for each in parts if each.strip()]
    if len(set(found)) != len(found):
        raise Wrong("Two of the choices are the same.", "Change one of them.")
    if not FEWEST_CHOICES <= len(found) <= MOST_CHOICES:
        raise Wrong(
            f"There {'is' if len(found) == 1 else 'are'} {len(found)} here.",
            f"Write {FEWEST_CHOICES} to {MOST_CHOICES} choices with 'or' between them, as in"
            " '13 or 9 or 6'.",
        )
    longest = max(found, key=len)
    if len(longest) > LONGEST_CHOICE:
        raise Wrong(
            f"'{longest}' has {len(longest)} letters.", f"A choice may have {LONGEST_CHOICE}."
        )
    return tuple(found)


def _plain(text: str, ask: Ask) -> str:
    """A choice in the spelling of the computed ones, so that the two can be compared."""
    words = " ".join(text.split())
    if ask.kind == "status":
        none = words.casefold() in _NO_STATUS
        return NO_COMPARISON if none else words.upper()
    if ask.kind == "output":
        return ", ".join(_number(each) for each in words.split(",") if each.strip())
    return _number(words)


def _number(text: str) -> str:
    try:
        value = parse_number(text.strip().replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        return " ".join(text.split())
    return f"\N{MINUS SIGN}{-value}" if value < 0 else str(value)
