"""Asking the class: states, rounds, one answer a pupil; and what the machine's moves do to it."""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Callable

import pytest

from app.classroom.ballot import MOST_ROUNDS, Asked, Refused, State
from app.classroom.session import Session
from app.classroom.view import View
from app.lesson.file.reader import read_lesson
from tests.asking import ASKING, REVEAL_STEP, RIGHT, STEP

QUESTION = (0, 1, 1)


class Record:
    """Writes down what it is told, and can be told to fail."""

    def __init__(self) -> None:
        self.questions: list[Asked] = []
        self.answers: list[tuple[int, str, int]] = []
        self.broken = False

    def asked(self, question: Asked) -> None:
        self._fail()
        self.questions.append(question)

    def answered(self, question: Asked, round: int, pupil: str, choice: int) -> None:
        self._fail()
        self.answers.append((round, pupil, choice))

    def _fail(self) -> None:
        if self.broken:
            raise OSError("the disk is full")


@pytest.fixture
def record() -> Record:
    return Record()


@pytest.fixture
def views() -> list[View]:
    return []


@pytest.fixture
def session(record: Record, views: list[View]) -> Session:
    lesson = read_lesson("asking", ASKING)
    assert not lesson.faults
    made = Session("name", lesson, views.append, record=record, most_names=30)
    made.go_to_step(STEP)
    return made


def answer(session: Session, pupil: str, choice: int, round: int = 1) -> None:
    session.ballot.answer(pupil, QUESTION, round, choice)


def test_the_question_is_where_the_lesson_asks_it(session: Session) -> None:
    first, second = session.questions
    assert (first.step, first.reveal_step) == (STEP, REVEAL_STEP)
    assert first.choices[first.answer] == RIGHT
    assert second.step >= REVEAL_STEP
    assert session.question_here() == first


def test_opening_tells_the_board_and_is_recorded(
    session: Session, record: Record, views: list[View]
) -> None:
    session.open_question(1)
    assert [each.key for each in record.questions] == [QUESTION]
    poll = views[-1].poll
    assert poll and poll.state is State.OPEN and poll.rounds == ((0, 0, 0),)


def test_opening_goes_to_the_place_of_the_question(session: Session) -> None:
    session.restart()
    session.open_question(1)
    assert session.view().step == STEP
    session.go_to_step(REVEAL_STEP)
    session.open_question(1)
    assert session.view().step == STEP


def test_one_answer_a_pupil_that_can_be_changed(session: Session, record: Record) -> None:
    session.open_question(1)
    for choice in (0, 2, 1):
        answer(session, "one", choice)
    answer(session, "two", 1)
    assert session.ballot.poll and session.ballot.poll.rounds == ((0, 2, 0),)
    assert session.ballot.answer_of("one") == 1
    assert record.answers == [(1, "one", 0), (1, "one", 2), (1, "one", 1), (1, "two", 1)]


def test_the_same_answer_once_more_is_not_written_again(session: Session, record: Record) -> None:
    """The whole class waits while the disk is waited for."""
    session.open_question(1)
    for _ in range(5):
        answer(session, "one", 2)
    assert record.answers == [(1, "one", 2)]
    session.ballot.close()
    session.ballot.ask_again()
    answer(session, "one", 2, round=2)
    assert record.answers == [(1, "one", 2), (2, "one", 2)]


def test_answers_do_not_wake_the_board(session: Session, views: list[View]) -> None:
    session.open_question(1)
    told = len(views)
    answer(session, "one", 0)
    assert len(views) == told


def test_both_rounds_are_kept(session: Session) -> None:
    session.open_question(1)
    answer(session, "one", 0)
    answer(session, "two", 0)
    session.ballot.close()
    session.ballot.ask_again()
    answer(session, "one", 2, round=2)
    session.ballot.show()
    poll = session.ballot.poll
    assert poll and poll.rounds == ((2, 0, 0), (0, 0, 1))
    assert (poll.round, poll.answered) == (2, 1)


def test_a_double_press_starts_one_round(session: Session) -> None:
    session.open_question(1)
    answer(session, "one", 0)
    session.ballot.close()
    session.ballot.ask_again()
    session.ballot.ask_again()
    poll = session.ballot.poll
    assert poll and poll.state is State.OPEN and poll.rounds == ((1, 0, 0), (0, 0, 0))


def test_reopening_goes_on_with_the_round(session: Session) -> None:
    session.open_question(1)
    answer(session, "one", 0)
    session.ballot.close()
    session.ballot.reopen()
    answer(session, "late", 1)
    session.ballot.put_away()
    session.open_question(1)
    poll = session.ballot.poll
    assert poll and poll.state is State.OPEN and poll.rounds == ((1, 1, 0),)


def refused(
    session: Session, choice: int = 0, round: int = 1, key: tuple[int, int] = QUESTION
) -> str:
    before = session.ballot.everything
    with pytest.raises(Refused) as caught:
        session.ballot.answer("pupil", key, round, choice)
    assert session.ballot.everything == before
    return str(caught.value)


def test_what_is_refused(session: Session, record: Record) -> None:
    assert "not on the board" in refused(session)
    session.open_question(1)
    assert "no such answer" in refused(session, choice=3)
    assert "no such answer" in refused(session, choice=-1)
    assert "asked again" in refused(session, round=2)
    assert "not on the board" in refused(session, key=(0, 2))
    session.ballot.close()
    assert "closed" in refused(session)
    session.ballot.show()
    assert "closed" in refused(session)
    session.ballot.ask_again()
    assert "asked again" in refused(session, round=1)
    assert record.answers == []


def test_too_many_rounds(session: Session) -> None:
    session.open_question(1)
    for number in range(1, MOST_ROUNDS):
        answer(session, "one", 0, round=number)
        session.ballot.ask_again()
    answer(session, "one", 0, round=MOST_ROUNDS)
    with pytest.raises(Refused):
        session.ballot.ask_again()
    assert session.ballot.poll and session.ballot.poll.round == MOST_ROUNDS


def test_more_names_than_a_class_has(session: Session) -> None:
    session.open_question(1)
    for number in range(30):
        answer(session, f"pupil {number}", number % 3)
    # That is no matter of the class's size: its register has turned away whoever is too many.
    words = refused(session)
    assert "Too many names" in words and "end the lesson" in words and "--class" not in words
    # Who is in it can still change an answer, and answer the next question.
    answer(session, "pupil 0", 2)
    session.ballot.ask_again()
    answer(session, "pupil 7", 0, round=2)


def test_nothing_is_taken_that_could_not_be_recorded(session: Session, record: Record) -> None:
    session.open_question(1)
    answer(session, "one", 0)
    record.broken = True
    with pytest.raises(OSError):
        answer(session, "one", 1)
    with pytest.raises(OSError):
        answer(session, "two", 1)
    assert session.ballot.poll and session.ballot.poll.rounds == ((1, 0, 0),)
    session.ballot.put_away()
    with pytest.raises(OSError):
        session.open_question(2)
    assert session.ballot.poll is None


def test_a_question_closes_before_its_answer_is_seen(session: Session, views: list[View]) -> None:
    session.open_question(1)
    for step in range(STEP + 1, REVEAL_STEP + 1):
        session.step_on()
        poll = views[-1].poll
        assert views[-1].step == step and poll
        assert poll.state is (State.CLOSED if step == REVEAL_STEP else State.OPEN)


def test_once_its_answer_is_seen_nothing_is_asked_again(
    session: Session, views: list[View]
) -> None:
    session.open_question(1)
    answer(session, "one", 0)
    session.go_to_step(REVEAL_STEP)
    seen = len(views)
    for again in (session.ballot.ask_again, session.ballot.reopen):
        with pytest.raises(Refused, match="The answer is on the board already"):
            again()
    assert len(views) == seen and session.ballot.poll
    assert session.ballot.poll.rounds == ((1, 0, 0),)
    # From where it is asked it goes on as before.
    session.open_question(1)
    session.ballot.ask_again()
    assert session.ballot.poll.rounds == ((1, 0, 0), (0, 0, 0))


@pytest.mark.parametrize(
    "to_the_start", [Session.restart, lambda session: session.go_to_scene(0)], ids=["r", "scene"]
)
@pytest.mark.parametrize("answered", [False, True])
def test_from_the_start_a_press_asks_again_what_nobody_answered(
    session: Session, to_the_start: Callable[[Session], None], answered: bool
) -> None:
    session.open_question(1)
    if answered:
        answer(session, "one", 0)
    session.ballot.put_away()
    # Once it is put away it is not asked a second time where it was.
    assert session.question_here() is None
    to_the_start(session)
    while session.view().step < STEP:
        session.forward()
    session.forward()
    assert (session.ballot.poll is None) == answered
    if not answered:
        session.ballot.put_away()
        assert session.question_here() is None


def test_another_scene_takes_the_question_away(session: Session, views: list[View]) -> None:
    session.open_question(1)
    session.change_scene(1)
    assert views[-1].poll is None
    assert "not on the board" in refused(session)


def test_run_to_the_answer_stops_there(
    session: Session, views: list[View], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.classroom.session.rest_seconds", lambda *arguments: 0.0)
    session.open_question(1)
    session.ballot.show()
    session.run_to_answer()
    wait_until_paused(session)
    view = session.view()
    assert view.step == REVEAL_STEP and not view.settings.playing
    # Every step on the way was shown as a movement.
    assert [each.step for each in views if each.went == "on"] == [14, 15, 16]


def wait_until_paused(session: Session) -> None:
    for _ in range(4000):
        if not session.view().settings.playing:
            return
        time.sleep(0.005)
    raise AssertionError("it plays on and on")


def test_one_key_goes_through_it_all(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.classroom.session.rest_seconds", lambda *arguments: 0.0)
    states = []
    for _ in range(5):
        session.next_in_question()
        wait_until_paused(session)
        poll = session.ballot.poll
        states.append((poll.state.value if poll else "none", session.view().step))
    assert states == [
        ("open", STEP),
        ("closed", STEP),
        ("shown", STEP),
        ("shown", REVEAL_STEP),
        ("none", REVEAL_STEP),
    ]


def test_the_key_tells_where_a_question_comes_where_none_is(session: Session) -> None:
    session.restart()
    session.next_in_question()
    assert session.ballot.poll is None and session.view().step == 0
    assert session.view().notice == (
        # Step 13 of the run, as the board counts: LOAD has eight steps.
        "The next question of this scene comes at instruction 2, step 5."
    )
    session.forward()
    assert session.view().notice == ""


def test_any_order_of_presses_and_answers_counts_right(session: Session) -> None:
    """Against a count kept by hand, over many random orders (the same ones in every run)."""
    chance = random.Random(7)
    held: dict[tuple[int, str], int] = {}
    session.open_question(1)
    rounds = 1
    for _ in range(3000):
        poll = session.ballot.poll
        assert poll
        match chance.randrange(12):
            case 0:
                session.ballot.close()
            case 1:
                session.ballot.reopen()
            case 2:
                session.ballot.show()
            case 3 if rounds < MOST_ROUNDS and chance.random() < 0.05:
                session.ballot.ask_again()
                rounds += 1
            case _:
                pupil, choice = f"p{chance.randrange(30)}", chance.randrange(3)
                try:
                    answer(session, pupil, choice, rounds)
                except Refused:
                    assert poll.state is not State.OPEN
                else:
                    assert poll.state is State.OPEN
                    held[rounds, pupil] = choice
    counts = Counter((round, choice) for (round, _), choice in held.items())
    poll = session.ballot.poll
    assert poll and poll.rounds == tuple(
        tuple(counts[round, choice] for choice in range(3)) for round in range(1, rounds + 1)
    )


def changed_lesson() -> str:
    """The lesson with another bag, so that the accumulator comes to hold 9 + 5."""
    changed = ASKING.replace("bag:    4", "bag:    5")
    return changed.replace("13 or 9 or 6", "13 or 14 or 6").replace("13 or 9 or 4", "14 or 9 or 4")


def test_a_question_is_known_by_its_content(session: Session, record: Record) -> None:
    """Its file is changed while it is on the board: what was asked is not marked by the new run."""
    session.open_question(1)
    answer(session, "one", 0)
    session.ballot.close()
    changed = read_lesson("asking", changed_lesson())
    session.take(changed)
    assert "was put away" in session.view().notice
    # Of two presses the second takes nothing, and leaves what was told.
    session.take(changed)
    view = session.view()
    assert view.poll is None and "Ask it again" in view.notice
    assert session.question_here() and session.question_here().prompt == session.questions[0].prompt

    session.open_question(1)
    poll = session.ballot.poll
    assert poll and poll.answered == 0
    assert poll.asked.choices[poll.asked.answer] == "14" and poll.asked.key == (0, 1, 2)
    assert "not on the board" in refused(session)
    session.ballot.answer("one", poll.asked.key, 1, poll.asked.answer)
    before, after = session.ballot.everything
    assert (before.rounds, before.asked.choices[before.asked.answer]) == (((1, 0, 0),), "13")
    assert after.answered == 1 and [each.version for each in record.questions] == [1, 2]
    # And back: it is the first question again, with its answers.
    session.take(read_lesson("asking", ASKING))
    session.open_question(1)
    assert session.ballot.poll and session.ballot.poll.asked.key == QUESTION
    assert session.ballot.poll.answered == 1


def test_a_question_that_is_the_same_stays_on_the_board(session: Session) -> None:
    session.open_question(1)
    answer(session, "one", 0)
    session.take(read_lesson("asking", ASKING.replace("# No bag", "# Without a bag")))
    view = session.view()
    assert view.poll and view.poll.answered == 1 and not view.notice


def test_words_that_come_with_the_answer_are_seen_before_it_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("app.classroom.session.rest_seconds", lambda *arguments: 0.0)
    lesson = read_lesson(
        "t",
        "---\ntitle: T\nmachine: 8-bit\n---\n# One\n```program\nLOAD #5\nOUTPUT\nHALT\n```\n"
        "```question\nbefore execute of LOAD: What?\nask: the accumulator\n```\n"
        "```cues\nexecute of LOAD: There is the 5.\n```\n",
    )
    (asked,) = lesson.scenes[0].questions
    session = Session("t", lesson)
    seen = []
    while session.view().step <= asked.reveal_step:
        session.forward()
        wait_until_paused(session)
        view = session.view()
        seen.append((view.step, view.poll is not None))
    there = asked.reveal_step
    assert seen[-4:] == [(asked.step, True), (there, True), (there, False), (there + 1, False)]
    assert session.lesson.scenes[0].cue_sheet.at(there)
