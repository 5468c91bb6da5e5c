"""Questions asked at a place in the run, their answers and wrong answers computed from it.

A question is asked before a place of :mod:`app.lesson.places`, about something of
:mod:`app.lesson.asking.subjects`. Where no choices are given they are the well-known misconceptions
of :mod:`app.lesson.asking.wrong_answers`. Choices given by hand must hold the true answer, so a
question can never teach something wrong.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import chain

from app.lesson.entries import Piece, Wrong
from app.lesson.places import When
from app.lesson.timeline import Timeline
from app.machine.source.assembler import Program
from app.machine.source.problems import Problem

from .facts import NO_COMPARISON, Facts
from .subjects import Ask
from .wrong_answers import candidates, going_on, jumping, near_numbers

USUAL_CHOICES = 4
# How many a lesson may have, and how often one may be asked in a run.
MOST_QUESTIONS = 60
MOST_TIMES = 6

# The reason behind a choice given by hand that no misconception explains.
OTHERWISE = "The run shows otherwise."


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
