"""The question on the board: all of its text, ready to be shown."""

from __future__ import annotations

from dataclasses import dataclass
from string import ascii_uppercase

from app.classroom.ballot import Key, Poll, State
from app.classroom.view import View


@dataclass(frozen=True, slots=True)
class Bar:
    """How many chose a choice in a round, and their share of that round in percent."""

    round: int
    count: int
    percent: float


@dataclass(frozen=True, slots=True)
class ChoiceCard:
    """One choice: its place (from 0), letter and text, and its bars, one a round, once the
    spread is shown. ``right``, and the ``reason`` why a choice is wrong, are told only once the run
    has shown it."""

    place: int
    letter: str
    text: str
    bars: tuple[Bar, ...]
    right: bool
    reason: str = ""


@dataclass(frozen=True, slots=True)
class QuestionCard:
    """What templates/board/question.html draws. ``id`` changes with everything that a page
    must notice: the question, its round and its state. ``large`` tells that the spread is looked
    at before the machine goes on, so that it may take more of the board. ``because`` says why the
    right choice is right, and ``reason`` why the wrong one is wrong that most took, once known."""

    id: str
    key: str
    prompt: str
    state: str
    round: int
    answered: int
    choices: tuple[ChoiceCard, ...]
    known: bool
    large: bool
    because: str
    reason: str


def question_card(view: View) -> QuestionCard | None:
    """The question on the board of a view; None where there is none."""
    poll = view.poll
    if poll is None:
        return None
    asked = poll.asked
    shown = poll.state is State.SHOWN
    known = answer_is_known(poll, view.scene_number, view.step)
    key = question_name(asked.key)
    return QuestionCard(
        id=f"{key}-{poll.round}-{poll.state}",
        key=key,
        prompt=asked.prompt,
        state=poll.state.value,
        round=poll.round,
        answered=poll.answered,
        choices=tuple(
            ChoiceCard(
                place=place,
                letter=ascii_uppercase[place],
                text=text,
                bars=_bars(poll, place) if shown else (),
                right=known and place == asked.answer,
                reason=asked.reasons[place] if known and asked.reasons else "",
            )
            for place, text in enumerate(asked.choices)
        ),
        known=known,
        large=shown and view.step <= asked.step and not view.settings.playing,
        because=_because(poll) if known else "",
        reason=_reason(poll) if known else "",
    )


def question_name(key: Key) -> str:
    """A question as pages name it: ``0-1``, or ``0-1v2`` for the second version of it."""
    scene, number, version = key
    return f"{scene}-{number}" + (f"v{version}" if version > 1 else "")


def answer_is_known(poll: Poll, scene: int, step: int) -> bool:
    """Whether the run has come to where it shows the answer, and nobody answers any more."""
    there = scene == poll.asked.scene and step >= poll.asked.reveal_step
    return there and poll.state is not State.OPEN


def _because(poll: Poll) -> str:
    """Why the right choice is right."""
    asked = poll.asked
    return f"{ascii_uppercase[asked.answer]}: {asked.because}" if asked.because else ""


def _reason(poll: Poll) -> str:
    """Why the wrong choice is wrong that most took in the last round."""
    asked, counts = poll.asked, poll.rounds[-1]
    wrong = [
        place
        for place, reason in enumerate(asked.reasons)
        # Where nothing is known of it, the right choice has said all that there is.
        if reason not in ("", asked.because) and counts[place] and place != asked.answer
    ]
    if not wrong:
        return ""
    most = max(wrong, key=lambda place: counts[place])
    return f"{ascii_uppercase[most]}: {asked.reasons[most]}"


def _bars(poll: Poll, place: int) -> tuple[Bar, ...]:
    return tuple(
        Bar(round, counts[place], _percent(counts[place], sum(counts)))
        for round, counts in enumerate(poll.rounds, start=1)
        if sum(counts)
    )


def _percent(count: int, whole: int) -> float:
    return round(100 * count / whole, 1)
