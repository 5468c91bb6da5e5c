"""A question as the teacher writes it.

::

    before first ADD: What will the accumulator hold now?
    ask: the accumulator
    choices: 13 or 9 because the bag was forgotten or 6
    because: the fare and one bag are added

It may be asked at one place and answered at another, long after it::

    ask at start: What will the display show in the end?
    answer at end
    ask: the output so far
"""

from __future__ import annotations

import re
from itertools import islice

from app.lesson.asking.facts import NO_COMPARISON, NOTHING_SENT
from app.lesson.asking.questions import Question
from app.lesson.asking.subjects import Subject, read_subject
from app.lesson.entries import (
    Entry,
    Piece,
    Wrong,
    carried_on,
    read_entries,
    seem_one_number,
    too_many,
)
from app.lesson.places import When, read_when
from app.lesson.unseen import without_unseen
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.operations import NO_STATUS, Status
from app.machine.source.problems import MOST_FAULTS, Problem, capital, nearest
from app.machine.words import parse_number, show_signed

FEWEST_CHOICES = 3
MOST_CHOICES = 5
LONGEST_QUESTION = 400
LONGEST_CHOICE = 80
LONGEST_CHOICES = 1500  # with their reasons
LONGEST_BECAUSE = 300

# The usual letters and digits, by those that are as wide as Chinese ones.
_WIDE = {0xFEE0 + each: each for each in range(0x21, 0x7F)}

_KNOWN = ("before", "ask", "choices", "because", "ask at", "answer at")
# (One space at a place is all that is left by then.)
_OR = re.compile(r" or(?= )", re.IGNORECASE)
_OR_COMMA = re.compile(r" or(?= )|,(?! ?because\b)", re.IGNORECASE)
_BECAUSE = re.compile(r"(?:, ?| )because:? ", re.IGNORECASE)
_TO_OR = re.compile(r"\bbecause\b.*?(?= or |$)", re.IGNORECASE)
# What is asked about where a choice has commas of its own.
_WITH_COMMAS = ("output", "kept")
# How a choice may say that there is no status.
_NO_STATUS = (NO_COMPARISON, "none", "none yet", "a dash", NO_STATUS, "-")
_EXAMPLE = "Write for example 'before first ADD: What will the accumulator hold?'"


def read_question(
    text: str, first_line: int, machine: Machine = EIGHT_BIT
) -> tuple[Question | None, list[Problem]]:
    """The question of a ``question`` block."""
    problems: list[Problem] = []
    warnings: list[Problem] = []
    parts: dict[str, tuple[Piece, Piece]] = {}
    for entry in read_entries(text, first_line):
        if len(problems) >= MOST_FAULTS:
            problems.append(too_many(entry.whole))
            break
        halves = entry.at_colon() or _answer_line(entry)
        word = _key(halves[0].text) if halves else ""
        if not halves or word not in _KNOWN:
            near = nearest(word or entry.text.split()[0], _KNOWN)
            mend = f"Did you mean '{near}'?" if near and near != word else _EXAMPLE
            what = (
                "This line is neither 'before', 'ask', 'ask at', 'answer at', 'choices' nor"
                " 'because'."
            )
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
            warnings += islice(carried_on(entry, _is_line), MOST_FAULTS)
    if problems:
        return None, problems
    if "ask at" in parts:
        if "before" in parts:
            what = "The question has both 'before' and 'ask at'."
            return None, [parts["ask at"][0].problem(what, "Leave one of them out.")]
        if "answer at" not in parts:
            what = "The question says where to ask it, and not where the answer is."
            mend = "Add a line such as 'answer at end'."
            return None, [parts["ask at"][0].problem(what, mend), *warnings]
        parts["before"] = parts["ask at"]
    missing = {"before": _EXAMPLE, "ask": "Add a line such as 'ask: the accumulator'."}
    for word, mend in missing.items():
        if word not in parts:
            what = f"The question has no line that starts with '{word}'."
            return None, [Problem(first_line, 1, 1, what, mend), *warnings]
    question, wrong = _make(parts, first_line, machine)
    return question, wrong + warnings


def _make(
    parts: dict[str, tuple[Piece, Piece]], first_line: int, machine: Machine
) -> tuple[Question | None, list[Problem]]:
    before, prompt = parts["before"]
    early = "ask at" in parts
    place = _after(before, "ask at" if early else "before")
    asked = parts["ask"][1]
    given = parts["choices"][1] if "choices" in parts else None
    try:
        when = read_when(place.text, unsaid="first", machine=machine)
        if when.kind == "start" and not early:
            raise Wrong("Nothing comes before the start.", "Write 'before fetch 1' instead.")
    except Wrong as wrong:
        return None, [place.problem(wrong.what, wrong.mend)]
    try:
        subject = read_subject(asked.text, machine)
    except Wrong as wrong:
        return None, [asked.problem(wrong.what, wrong.mend)]
    if len(prompt.text) > LONGEST_QUESTION:
        what = f"The question has {len(prompt.text)} letters."
        return None, [prompt.problem(what, f"Ask it in at most {LONGEST_QUESTION}.")]
    because = parts["because"][1] if "because" in parts else None
    if because and len(because.text) > LONGEST_BECAUSE:
        what = f"The reason has {len(because.text)} letters."
        return None, [because.problem(what, f"Write it in at most {LONGEST_BECAUSE}.")]
    choices: tuple[tuple[str, str], ...] = ()
    if given:
        try:
            choices = _split(given.text, subject, machine)
        except Wrong as wrong:
            return None, [given.problem(wrong.what, wrong.mend)]
    answered: When | None = None
    if "answer at" in parts:
        said, rest = parts["answer at"]
        # With a colon after 'at' the place comes after the colon.
        answer_place = _after(said, "answer at")
        answer_place = answer_place if answer_place.text else rest
        try:
            answered = read_when(answer_place.text, unsaid="first", machine=machine)
        except Wrong as wrong:
            return None, [answer_place.problem(wrong.what, wrong.mend)]
    question = Question(
        when,
        prompt.text,
        subject,
        choices,
        place,
        asked,
        given,
        first_line,
        early,
        answered,
        _reason(because.text) if because else "",
    )
    return question, seem_one_number(_listed(given, subject), machine) if given else []


def _listed(given: Piece, subject: Subject) -> Piece:
    """The choices with blanks for their reasons, where a comma does not end those."""
    if subject.kind not in _WITH_COMMAS:
        return given
    plain = _TO_OR.sub(lambda found: " " * len(found[0]), given.text)
    return Piece(plain, given.line, given.column)


def _answer_line(entry: Entry) -> tuple[Piece, Piece] | None:
    """A line that says where the answer is: it needs no words, and so no colon."""
    whole = entry.whole
    return (whole, whole) if _key(whole.text) == "answer at" else None


def _key(text: str) -> str:
    """The word or two that a line of a question starts with."""
    words = text.casefold().split(maxsplit=2)
    two = " ".join(words[:2])
    return two if two in _KNOWN else words[0] if words else ""


def _is_line(text: str) -> bool:
    """Whether some words start as a line of a question does."""
    before, colon, _ = text.partition(":")
    word = _key(before)
    return word == "answer at" or (bool(colon) and word in _KNOWN)


def _after(piece: Piece, key: str) -> Piece:
    """What stands after the key of a line."""
    first = re.match(key.replace(" ", r"\s+") + r"\s*", piece.text, re.IGNORECASE)
    shift = first.end() if first else 0
    return Piece(piece.text[shift:], piece.line, piece.column + shift)


def _split(text: str, subject: Subject, machine: Machine) -> tuple[tuple[str, str], ...]:
    """The choices given by hand, each written as a computed one is, and the reason after it."""
    if subject.kind == "jump":
        raise Wrong(
            "The choices of a jump are always the ways it can go.", "Leave out the 'choices' line."
        )
    text = " ".join(text.split())
    if len(text) > LONGEST_CHOICES:
        raise Wrong(
            f"The choices have {len(text)} letters.", f"Write them in at most {LONGEST_CHOICES}."
        )
    # A list of outputs has commas of its own, so 'or' stands between choices.
    between = _OR if subject.kind in _WITH_COMMAS else _OR_COMMA
    parts: list[str] = []
    start = 0
    for found in between.finditer(text):
        # An 'or' or a comma in a reason does not end it.
        if not _BECAUSE.search(text, start, found.start()) or _is_choice(
            text[found.end() :], subject, machine
        ):
            parts.append(text[start : found.start()])
            start = found.end()
    parts.append(text[start:])
    choices = [_choice(each, subject) for each in parts if each.strip()]
    if len({_looks(each) for each, _ in choices}) != len(choices):
        raise Wrong("Two of the choices are the same.", "Change one of them.")
    if not FEWEST_CHOICES <= len(choices) <= MOST_CHOICES:
        raise Wrong(
            f"There {'is' if len(choices) == 1 else 'are'} {len(choices)} here.",
            f"Write {FEWEST_CHOICES} to {MOST_CHOICES} choices with 'or' between them, as in"
            " '13 or 9 or 6'.",
        )
    longest = max((each for each, _ in choices), key=len)
    if len(longest) > LONGEST_CHOICE:
        raise Wrong(
            f"'{longest}' has {len(longest)} letters.", f"A choice may have {LONGEST_CHOICE}."
        )
    return tuple(choices)


def _is_choice(text: str, subject: Subject, machine: Machine) -> bool:
    """Whether a text starts as a choice does, and not as the words of a reason go on."""
    first = text.split()[0].strip(",.;") if text.split() else ""
    if subject.kind == "status":
        return first.upper() in [*Status] or text.strip().casefold().startswith(_NO_STATUS)
    if first.upper() in machine.names and subject.kind in ("CIR", "MDR"):
        return True
    try:
        parse_number(first)
    except ValueError:
        return subject.kind == "output" and text.strip().casefold().startswith(NOTHING_SENT)
    return True


def _looks(choice: str) -> str:
    """What the class reads of a choice: two that look alike are one."""
    return without_unseen(choice).translate(_WIDE).strip(" .")


def _choice(text: str, subject: Subject) -> tuple[str, str]:
    said, *reason = _BECAUSE.split(text.strip(), maxsplit=1)
    return _plain(said, subject), _reason(reason[0]) if reason else ""


def _reason(text: str) -> str:
    """A reason as a sentence."""
    words = " ".join(text.split()).rstrip(".,;")
    return f"{capital(words)}." if words else ""


def _plain(text: str, subject: Subject) -> str:
    """A choice in the spelling of the computed ones, so that the two can be compared."""
    words = " ".join(text.split())
    if subject.kind == "status":
        none = words.casefold() in _NO_STATUS
        return NO_COMPARISON if none else words.upper()
    if subject.kind == "output":
        return ", ".join(_number(each) for each in words.split(",") if each.strip())
    return _number(words)


def _number(text: str) -> str:
    try:
        value = parse_number(text)
    except ValueError:
        return " ".join(text.split())
    return show_signed(value)
