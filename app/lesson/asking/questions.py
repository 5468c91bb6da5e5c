"""Questions asked at a place in the run, their answers and wrong answers computed from it.

A question is asked before a place of :mod:`app.lesson.places`, about something of
:mod:`app.lesson.asking.subjects`. Where no choices are given they are the well-known misconceptions
of :mod:`app.lesson.asking.wrong_answers`. Choices given by hand must hold the true answer, so a
question can never teach something wrong.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from hashlib import sha256

from app.lesson.entries import Piece, Wrong
from app.lesson.places import When
from app.lesson.timeline import Span, Timeline
from app.machine.operations import Status
from app.machine.source.assembler import Program
from app.machine.source.problems import Problem
from app.machine.telling.wording import USUAL, Wording

from . import serving
from .facts import Facts
from .happened import what_happened
from .mixups import Misconception
from .subjects import SERVING, Subject
from .watched import Watched, answer
from .wrong_answers import going_on, jumping, near_answers, wrong_answers

USUAL_CHOICES = 4
_NUMBER = r"[-\N{MINUS SIGN}]?[0-9]+(?:\.[0-9]+)?"
_NUMBERS = re.compile(rf"{_NUMBER}(?:, {_NUMBER})*+")
# How many a lesson may have, how often one may be asked in a run, and how often all of a scene
# together (each is asked once, whatever the number).
MOST_QUESTIONS = 60
MOST_TIMES = 6
MOST_ASKED = 150


@dataclass(frozen=True, slots=True)
class Question:
    """A question as the teacher wrote it. ``place`` and ``asked`` are its words in the file;
    ``choices`` those given by hand, each with the teacher's own reason why it is wrong (empty for
    none); none where they are to be computed. ``because`` is the teacher's own reason why the
    right answer is right, empty for what the run says. An ``early`` one is asked at ``when``,
    others just before it; the answer is what is so at ``answered``, at ``when`` where that is
    None."""

    when: When
    prompt: str
    subject: Subject
    choices: tuple[tuple[str, str], ...]
    place: Piece
    asked: Piece
    given: Piece | None
    line: int
    early: bool = False
    answered: When | None = None
    because: str = ""


@dataclass(frozen=True, slots=True)
class AskedQuestion:
    """A question at one place of a run.

    It is asked when the cursor is at ``step``; after ``reveal_step`` the truth is on the board.
    ``answer`` is the place of the right one among the ``choices``, and ``because`` why it is right.
    ``reasons`` has for each choice why it is wrong, in a sentence, empty for the right one;
    ``mixups`` the name of the mix-up behind it, empty where it has none. ``number`` counts the
    questions of the scene from 1, in the order of the run. One that is answered ``late`` is
    asked at one place and answered at another, with all that happens between them.
    """

    number: int
    step: int
    reveal_step: int
    prompt: str
    choices: tuple[str, ...]
    answer: int
    reasons: tuple[str, ...]
    mixups: tuple[str, ...]
    because: str
    line: int
    late: bool = False


def ask_all(
    questions: Iterable[Question],
    timeline: Timeline,
    program: Program,
    wording: Wording = USUAL,
    hidden: Callable[[int], Collection[str]] = lambda _: frozenset(),
    base: Callable[[int], str] = lambda _: "denary",
    watched: Callable[[], Watched] = Watched,
    by_turns: bool = False,
) -> tuple[tuple[AskedQuestion, ...], list[Problem]]:
    """Every question at its places in the run, and warnings for what cannot be asked.

    Reasons that are not the teacher's own are told in the ``wording`` of the course. ``hidden``
    says which parts are not on stage at a step: they do not speak of them; ``base`` in which base
    the values of a question at a step are shown. ``watched`` gives what watches the run, for
    questions about that, and is asked for no others; ``by_turns`` says whether the steps are not
    those of the machine.

    A question whose place never comes or whose answer does not exist is left out.
    """
    found: list[AskedQuestion] = []
    problems: list[Problem] = []
    every = tuple(questions)
    most = max(min(MOST_TIMES, MOST_ASKED // max(len(every), 1)), 1)
    for question in every:
        spans = timeline.spans(question.when)
        for span in spans[:most]:
            step = span.last if question.early else span.first - 1
            if step < 0:
                continue
            there = _answer_span(question, step, span, timeline)
            if there is None:
                what = "The run does not come to the answer of this question after it is asked."
                mend = "Choose a later place after 'answer at', or ask earlier."
                problems.append(question.place.problem(what, mend, warning=True))
                break
            try:
                if question.subject.watched:
                    asked = _ask_watched(question, there, watched(), problems, wording.say)
                elif by_turns:
                    what = "Here the steps are not those of the machine, so this cannot be asked."
                    raise Wrong(what, "Ask 'the ticks' or 'how many times faster', or elsewhere.")
                else:
                    facts = Facts(timeline.run, program, there, base(step))
                    asked = _ask(question, facts, problems, wording.say, hidden(there.last))
                if question.answered is not None:
                    # Where the answer can be seen already it is asked all the same: until the run
                    # goes on nobody has been told that it is the answer.
                    shown = max(asked.reveal_step, step + 1)
                    asked = replace(asked, step=step, reveal_step=shown, late=True)
                found.append(asked)
            except Wrong as wrong:
                problems.append(question.asked.problem(wrong.what, wrong.mend, warning=True))
                break
        if len(spans) > most:
            what = f"This place comes {len(spans):,} times."
            times = f"the first {most} times" if most > 1 else "the first time"
            mend = f"The question is asked {times}; write 'first' for one."
            problems.append(question.place.problem(what, mend, warning=True))
    found.sort(key=lambda each: each.step)
    numbered = (replace(each, number=at) for at, each in enumerate(found, start=1))
    return tuple(numbered), list(dict.fromkeys(problems))


def known_mixups(question: Question, timeline: Timeline, program: Program) -> dict[str, str]:
    """All the wrong answers that usual mix-ups give where a question is asked first, the likelier
    first, with the name of the mix-up behind each (empty where it has none): more than it offers
    to choose from. Nothing where it cannot be asked."""
    spans = timeline.spans(question.when)
    if (
        not spans
        or (answer := _answer_span(question, spans[0].first - 1, spans[0], timeline)) is None
    ):
        return {}
    facts = Facts(timeline.run, program, answer)
    try:
        right = true_answer(question.subject, facts)
    except Wrong:
        return {}
    explaining = facts.narrowed(question.subject)
    found: dict[str, str] = {}
    for text, each in _mix_ups(question.subject, explaining, right):
        found.setdefault(text, each.mixup or "")
    return found


def _answer_span(question: Question, step: int, span: Span, timeline: Timeline) -> Span | None:
    """Where the answer is: the first of its places that ends after the question was asked."""
    if question.answered is None:
        return span
    places = timeline.spans(question.answered)
    # The start of the run is no step of it, so nothing is answered there.
    at = max(bisect_right(places.lasts, step), bisect_right(places.firsts, 0))
    return places[at] if at < len(places) else None


def _ask(
    question: Question,
    facts: Facts,
    problems: list[Problem],
    say: Callable[[str], str],
    hidden: Collection[str],
) -> AskedQuestion:
    right = true_answer(question.subject, facts)
    explaining = facts.narrowed(question.subject)
    of_request = question.subject.kind in SERVING
    happened = say(
        serving.happened(question.subject.kind, explaining)
        if of_request
        else what_happened(question.subject, explaining, hidden)
    )
    choices = {_in_base(each, question.subject, facts): why for each, why in question.choices}
    mix_ups = partial(_mix_ups, question.subject, explaining, right)
    given = [each for each in mix_ups() if each[0] in choices] if choices else []
    most = max(len(choices), USUAL_CHOICES - 1)
    computed = _explained(given if right in choices else mix_ups(), say, most)
    if not of_request:
        computed |= _as_meant(choices, given)
    near = partial(_near_texts, question, facts)
    wrong = _wrong(question, choices, right, computed, problems, near)
    return _asked(question, right, wrong, happened, facts.span, _shown_by(question.subject, facts))


def _near_texts(question: Question, facts: Facts) -> Iterator[str]:
    """Other numbers near by, for where the mix-ups give too few."""
    for value in near_answers(question.subject, facts):
        yield facts.show(question.subject, value)


def _ask_watched(
    question: Question,
    span: Span,
    watched: Watched,
    problems: list[Problem],
    say: Callable[[str], str],
) -> AskedQuestion:
    """A question about what watches the run."""
    found = answer(question.subject, watched, span.first, span.last)
    computed: dict[str, Explained] = {}
    for each in found.wrong:
        text = str(each.value)
        if text != found.right:
            computed.setdefault(text, Explained(say(each.sentence), each.mixup or ""))
    choices = dict(question.choices)
    near = partial(_near, found.right)
    wrong = _wrong(question, choices, found.right, computed, problems, near)
    shown = span.last if found.step is None else found.step
    return _asked(question, found.right, wrong, say(found.because), span, shown)


def _near(right: str) -> Iterator[str]:
    """Numbers near a number; nothing for other words."""
    if right.isdigit():
        for by in (1, -1, 2, 3):
            if int(right) + by >= 0:
                yield str(int(right) + by)


def _wrong(
    question: Question,
    given: dict[str, str],
    right: str,
    computed: dict[str, Explained],
    problems: list[Problem],
    near: Callable[[], Iterator[str]],
) -> dict[str, Explained | None]:
    """The wrong choices: those given by hand, or those of the mix-ups."""
    if given and right not in given:
        what = f"None of the choices is right: in the run it is {right.removesuffix('.')}."
        mend = "Add it to the choices; until then they are computed."
        piece = question.given or question.asked
        problems.append(piece.problem(what, mend, warning=True))
        given = {}
    if given.get(right):
        what = f"'{right}' is right in the run, and a reason why it is wrong stands after it."
        piece = question.given or question.asked
        problems.append(piece.problem(what, "Leave the 'because' out.", warning=True))
    wrong: dict[str, Explained | None]
    problems += _numbers_and_more(question, given, right)
    if given:
        # A reason of the teacher's own is said in place of the usual one; the mix-up is the same.
        none = Explained("")
        wrong = {
            each: Explained(own, computed.get(each, none).mixup) if own else computed.get(each)
            for each, own in given.items()
        }
        del wrong[right]
        return wrong
    wrong = dict(list(computed.items())[: USUAL_CHOICES - 1])
    for text in near():
        if len(wrong) >= USUAL_CHOICES - 1:
            break
        if text != right:
            wrong.setdefault(text, None)
    return wrong


def _numbers_and_more(question: Question, given: Iterable[str], right: str) -> Iterator[Problem]:
    """Choices that start as numbers, where the right one is nothing else, and go on: a reason after
    another word than 'because', a comment, an 'or' too many."""
    piece = question.given or question.asked
    for each in given if _NUMBERS.fullmatch(right) else ():
        found = _NUMBERS.match(each)
        if found and found[0] != each:
            what = f"All of '{each}' is one choice for the class."
            mend = "Write numbers alone; a reason comes after 'because'."
            yield piece.problem(what, mend, warning=True)


def _asked(
    question: Question,
    right: str,
    wrong: dict[str, Explained | None],
    happened: str,
    span: Span,
    reveal_step: int,
) -> AskedQuestion:
    choices = _mixed([right, *wrong], f"{question.prompt}|{span.first}")
    # Where no mix-up gives a choice, what really happened is the best that can be said.
    said = {text: found or Explained(happened) for text, found in wrong.items()}
    none = Explained("")
    return AskedQuestion(
        number=0,
        step=span.first - 1,
        reveal_step=reveal_step,
        prompt=question.prompt,
        choices=choices,
        answer=choices.index(right),
        reasons=tuple(said.get(each, none).reason for each in choices),
        mixups=tuple(said.get(each, none).mixup for each in choices),
        because=question.because or happened,
        line=question.line,
    )


def _in_base(text: str, subject: Subject, facts: Facts) -> str:
    """A choice as it is written in a lesson, as the board shows it here."""
    if facts.reading.base == "denary":
        return text
    try:
        numbers = [int(each.replace("\N{MINUS SIGN}", "-")) for each in text.split(", ")]
    except ValueError:
        return text
    patterns = tuple(map(facts.machine.pattern, numbers))
    return facts.show(subject, patterns if subject.kind == "output" else numbers[0])


def _shown_by(subject: Subject, facts: Facts) -> int:
    """The step of the span from which on the board shows the answer: the last one where nothing
    changes, for then only the end tells."""
    first, last = facts.span.first, facts.span.last
    if subject.kind == "jump":
        return min(last, facts.finish.steps)  # a request that is served then goes elsewhere
    if subject.kind in SERVING:
        return last
    right = facts.held(subject, facts.after)
    step = last
    while step > first and facts.held(subject, facts.run.moment(step - 1).after) == right:
        step -= 1
    changed = facts.held(subject, facts.run.moment(step - 1).after) != right
    return step if changed else last


@dataclass(frozen=True, slots=True)
class Explained:
    """Why a choice is wrong, and the name of the mix-up behind it, empty where it has none."""

    reason: str
    mixup: str = ""


def _mix_ups(subject: Subject, facts: Facts, right: str) -> Iterator[tuple[str, Misconception]]:
    """What mix-ups would answer, the likelier first, as a choice shows it; one answer may come more
    than once. A long program has hundreds of them, so nobody looks at more than are needed."""
    of_request = subject.kind in SERVING
    answers = serving.mix_ups(subject.kind, facts) if of_request else wrong_answers(subject, facts)
    for each in answers:
        text = facts.show(subject, each.value)
        if text != right:
            yield text, each


def _explained(
    mix_ups: Iterable[tuple[str, Misconception]], say: Callable[[str], str], most: int
) -> dict[str, Explained]:
    """The first wrong answers that differ, at most so many, each with the mix-up behind it."""
    found: dict[str, Explained] = {}
    for text, each in mix_ups:
        if text not in found:
            found[text] = Explained(say(each.sentence), each.mixup or "")
            if len(found) == most:
                break
    return found


def _as_meant(
    choices: dict[str, str], mix_ups: Iterable[tuple[str, Misconception]]
) -> dict[str, Explained]:
    """The choices with a reason of the teacher's own that more than one mix-up gives: each with
    the mix-up whose sentence has most words in common with that reason."""
    meant: dict[str, tuple[int, Explained]] = {}
    for text, each in mix_ups:
        own = choices[text]
        if own and each.mixup:
            alike = len(_words(own) & (_words(each.sentence) | _words(each.mixup)))
            if text not in meant or alike > meant[text][0]:
                meant[text] = alike, Explained(own, each.mixup)
    return {text: explained for text, (_, explained) in meant.items()}


def _words(text: str) -> set[str]:
    return set(re.findall(r"[a-z]+", text.casefold()))


def _mixed(choices: list[str], seed: str) -> tuple[str, ...]:
    """The choices in an order that looks like chance and is the same every time."""
    return tuple(sorted(choices, key=lambda each: sha256(f"{seed}|{each}".encode()).digest()))


def true_answer(subject: Subject, facts: Facts) -> str:
    """What the run says, as a text.

    Raises Wrong where there is no answer: no such word in memory, or no jump here.
    """
    if subject.kind == "jump":
        return _way(facts)
    if subject.kind in SERVING:
        return facts.show(subject, serving.truth(subject.kind, facts))
    return facts.show(subject, facts.held(subject, facts.after))


def _way(facts: Facts) -> str:
    jump, instruction = facts.jump, facts.instruction
    mend = "Ask at a jump, as in 'before first JUMP: Where does it go on?'"
    if facts.serves and facts.span.first > facts.finish.steps:
        raise Wrong("There is no jump here: a request is served.", mend)
    if jump is None and instruction is not None and instruction.jumps:
        raise Wrong(f"This ends before the {instruction.name} has gone anywhere.", mend)
    if jump is None or instruction is None or not instruction.jumps:
        name = facts.instruction.name if facts.instruction else "This"
        raise Wrong(f"There is no jump here: the instruction is {name}.", mend)
    assert not isinstance(jump.value, Status)
    return going_on(facts) if jump.value is None else jumping(facts, jump.value)
