"""What is told of a question once its answer is known: why it is right, and why others are not."""

from __future__ import annotations

from string import ascii_uppercase

from app.board.question_card import QuestionCard, question_card
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson
from tests.asking import ASKING, REVEAL_STEP, RIGHT, STEP


def card_of(session: Session) -> QuestionCard:
    card = question_card(session.view())
    assert card
    return card


def asked_and_answered(choice: str) -> Session:
    """The first question, answered by one pupil, its spread on the board."""
    session = Session("name", read_lesson("asking", ASKING))
    session.go_to_step(STEP)
    session.open_question(1)
    poll = session.ballot.poll
    assert poll
    session.ballot.answer("pupil", poll.asked.key, 1, poll.asked.choices.index(choice))
    session.ballot.close()
    session.ballot.show()
    return session


def test_nothing_is_told_before_the_run_has_shown_it() -> None:
    card = card_of(asked_and_answered("9"))
    assert not card.known and card.because == card.reason == ""
    assert {each.reason for each in card.choices} == {""}


def test_why_it_is_right_and_why_the_choice_of_most_is_not() -> None:
    session = asked_and_answered("9")
    session.go_to_step(REVEAL_STEP)
    card = card_of(session)
    letters = {each.text: each.letter for each in card.choices}
    assert card.because.startswith(f"{letters[RIGHT]}: The ALU adds 9 and 4; the result, 13,")
    assert card.reason.startswith(f"{letters['9']}: The accumulator held 9 before")
    reasons = {each.text: each.reason for each in card.choices}
    assert reasons[RIGHT] == "" and reasons["9"] == card.reason.partition(": ")[2]


def test_where_no_mix_up_is_known_it_is_not_said_twice() -> None:
    """6 is no usual answer to 9 + 4: what happened says all that there is."""
    session = asked_and_answered("6")
    session.go_to_step(REVEAL_STEP)
    card = card_of(session)
    assert card.because and card.reason == ""
    assert next(each.reason for each in card.choices if each.text == "6") in card.because
    assert card.because[0] in ascii_uppercase
