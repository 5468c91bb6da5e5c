"""Questions asked at a place in the run, their answers and wrong answers computed from it.

::

    before first ADD: What will the accumulator hold now?
    ask: the accumulator
    choices: 13 or 9 or 6

``before`` takes a place of :mod:`app.lesson.places` (the first one, where the place comes more
than once and nothing else is said); ``ask`` one of :mod:`app.lesson.asks`. The choices may be left
out: then they are the well-known misconceptions of :mod:`app.lesson.mistakes`. Choices given by
hand must hold the true answer, so a question can never teach something wrong.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import chain

from app.machine.assembler import Program
from app.machine.problems import Problem, nearest
from app.machine.transfers import NO_STATUS
from app.machine.words import parse_number

from .asks import NO_COMPARISON, Ask, Facts, read_ask
from .lines import MOST_FAULTS, Piece, Wrong, read_entries, too_many
from .mistakes import candidates, going_on, jumping, near_numbers
from .places import When, read_when
from .timeline import Timeline

FEWEST_CHOICES = 3
USUAL_CHOICES = 4
MOST_CHOICES = 5
# How many a lesson may have, and how often one may be asked in a run.
MOST_QUESTIONS = 60
MOST_TIMES = 6

# The reason behind a choice given by hand that no misconception explains.
OTHERWISE = "The run shows otherwise."

_KNOWN = ("before", "ask", "choices")
_BETWEEN = re.compile(r"\s+or\s+", re.IGNORECASE)
# How a choice may say that there is no status.
_NO_STATUS = (NO_COMPARISON, "none", "none yet", "a dash", NO_STATUS, "-")
_EXAMPLE = "Write for example 'before first ADD: What will the accumulator hold?'"


@dataclass(frozen=True, slots=True)
class Question:
    """A question as the teacher wrote it. ``place`` and ``asked`` are its words in the file;
    ``choices`` those given by hand, none where they are to be computed."""

    when: When
    prompt: str
    ask: Ask
    choices: tuple[str, ...]
    place: Piece
    asked: Piece
    given: Piece | None
    line: int


@dataclass(frozen=True, slots=True)
class AskedQuestion:
    """A question at one place of a run.

    It is asked when the cursor is at ``step``; after ``reveal_step`` the truth is on the board.
    ``answer`` is the place of the right one among the ``choices``; ``reasons`` has for each
    choice the confusion behind it in a sentence, empty for the right one. ``number`` counts the
    questions of the scene from 1, in the order of the run.
    """

    number: int
    step: int
    reveal_step: int
    prompt: str
    choices: tuple[str, ...]
    answer: int
    reasons: tuple[str, ...]
    line: int


def read_question(text: str, first_line: int) -> tuple[Question | None, list[Problem]]:
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
    return _make(parts, first_line)


def _make(
    parts: dict[str, tuple[Piece, Piece]], first_line: int
) -> tuple[Question | None, list[Problem]]:
    before, prompt = parts["before"]
    shift = len(before.text) - len(before.text[len("before") :].lstrip())
    place = Piece(before.text[shift:], before.line, before.column + shift)
    asked = parts["ask"][1]
    given = parts["choices"][1] if "choices" in parts else None
    try:
        when = read_when(place.text, unsaid="first")
        if when.kind == "start":
            raise Wrong("Nothing comes before the start.", "Write 'before fetch 1' instead.")
    except Wrong as wrong:
        return None, [place.problem(wrong.what, wrong.mend)]
    try:
        ask = read_ask(asked.text)
    except Wrong as wrong:
        return None, [asked.problem(wrong.what, wrong.mend)]
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
    # A list of outputs has commas of its own, so 'or' stands between choices.
    parts = _BETWEEN.split(text) if ask.kind == "output" else re.split(r"\s+or\s+|,", text)
    found = [_plain(each, ask) for each in parts if each.strip()]
    if len(set(found)) != len(found):
        raise Wrong("Two of the choices are the same.", "Change one of them.")
    if not FEWEST_CHOICES <= len(found) <= MOST_CHOICES:
        raise Wrong(
            f"There {'is' if len(found) == 1 else 'are'} {len(found)} here.",
            f"Write {FEWEST_CHOICES} to {MOST_CHOICES} choices with 'or' between them, as in"
            " '13 or 9 or 6'.",
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


def ask_all(
    questions: Iterable[Question], timeline: Timeline, program: Program
) -> tuple[tuple[AskedQuestion, ...], list[Problem]]:
    """Every question at its places in the run, and warnings for what cannot be asked.

    A question whose place never comes or whose answer does not exist is left out.
    """
    found: list[AskedQuestion] = []
    problems: list[Problem] = []
    for question in questions:
        spans = timeline.spans(question.when)
        for span in spans[:MOST_TIMES]:
            if span.first < 1:
                continue
            try:
                found.append(_ask(question, Facts(timeline.run, program, span), problems))
            except Wrong as wrong:
                problems.append(question.asked.problem(wrong.what, wrong.mend, warning=True))
                break
        if len(spans) > MOST_TIMES:
            what = f"This place comes {len(spans):,} times."
            mend = f"The question is asked the first {MOST_TIMES} times; write 'first' for one."
            problems.append(question.place.problem(what, mend, warning=True))
    found.sort(key=lambda each: each.step)
    numbered = (replace(each, number=at) for at, each in enumerate(found, start=1))
    return tuple(numbered), list(dict.fromkeys(problems))


def _ask(question: Question, facts: Facts, problems: list[Problem]) -> AskedQuestion:
    right = true_answer(question.ask, facts)
    reasons = _reasons(question.ask, facts, right)
    if question.choices and right not in question.choices:
        what = f"None of the choices is right: in the run it is {right}."
        mend = "Add it to the choices; until then they are computed."
        piece = question.given or question.asked
        problems.append(piece.problem(what, mend, warning=True))
    if question.choices and right in question.choices:
        wrong = {each: reasons.get(each, OTHERWISE) for each in question.choices}
        del wrong[right]
    else:
        wrong = dict(list(reasons.items())[: USUAL_CHOICES - 1])
    choices = _mixed([right, *wrong], f"{question.prompt}|{facts.span.first}")
    return AskedQuestion(
        number=0,
        step=facts.span.first - 1,
        reveal_step=facts.span.last,
        prompt=question.prompt,
        choices=choices,
        answer=choices.index(right),
        reasons=tuple(wrong.get(each, "") for each in choices),
        line=question.line,
    )


def _reasons(ask: Ask, facts: Facts, right: str) -> dict[str, str]:
    """Distinct wrong answers, the likelier first, each with the confusion behind it."""
    found: dict[str, str] = {}
    for text, reason in chain(candidates(ask, facts), near_numbers(ask, facts)):
        if text != right:
            found.setdefault(text, reason)
    return found


def _mixed(choices: list[str], seed: str) -> tuple[str, ...]:
    """The choices in an order that looks like chance and is the same every time."""
    return tuple(sorted(choices, key=lambda each: sha256(f"{seed}|{each}".encode()).digest()))


def true_answer(ask: Ask, facts: Facts) -> str:
    """What the run says, as a text in denary.

    Raises Wrong where there is no answer: no such word in memory, or no jump here.
    """
    after = facts.after
    match ask.kind:
        case "ACC":
            return facts.number(after.acc)
        case "PC":
            return str(after.pc)
        case "MAR":
            return str(after.mar)
        case "MDR":
            if facts.mdr_is_instruction:
                return facts.written(after.mdr)
            return facts.number(after.mdr)
        case "CIR":
            return facts.written(after.cir)
        case "status":
            return after.status.value if after.status else NO_COMPARISON
        case "output":
            return facts.outputs(facts.run.outputs(after.sent))
        case "memory":
            return facts.number(after.memory[facts.address(ask.target)])
        case _:
            return _way(facts)


def _way(facts: Facts) -> str:
    jump = facts.jump
    if jump is None:
        name = facts.instruction.name if facts.instruction else "This"
        raise Wrong(
            f"There is no jump here: the instruction is {name}.",
            "Ask at a jump, as in 'before first JUMP: Where does it go on?'",
        )
    return going_on(facts) if jump.value is None else jumping(facts, facts.operand)
