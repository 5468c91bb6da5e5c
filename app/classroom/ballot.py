"""Questions put to the class: asked, answered, discussed, asked again, and then seen.

A question is *open* (answers are taken), *closed*, or *shown* (its spread is on the board). It
can be opened again, for the same round or for another: the answers of every round are kept.
Which answer is right is told by the run: once the board has come to the step that shows it.

A question is known by its content. One that stands in the same place of a lesson file that has
changed, and asks something else or has another answer, is another question: the answers that
were given before stay with what was asked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from threading import RLock
from typing import Protocol

MOST_ROUNDS = 5

# The scene, counted from 0, the question in it and its version, counted from 1.
Key = tuple[int, int, int]
Answers = dict[str, int]  # by pupil, the choice, counted from 0


class State(StrEnum):
    OPEN = "open"
    CLOSED = "closed"
    SHOWN = "shown"


@dataclass(frozen=True, slots=True)
class Asked:
    """A question as it was put to the class. ``step`` is where the run stands when it is asked,
    ``reveal_step`` where the run shows the answer; ``answer`` is the place of the right choice,
    and ``because`` why it is right. ``reasons`` has for each choice why it is wrong, empty for the
    right one, and ``mixups`` the name of the mix-up behind it, empty where it has none.
    ``version`` tells questions apart that stood in the same place, one after the other."""

    scene: int
    number: int
    step: int
    reveal_step: int
    prompt: str
    choices: tuple[str, ...]
    answer: int
    reasons: tuple[str, ...] = ()
    version: int = 1
    because: str = ""
    mixups: tuple[str, ...] = ()

    @property
    def key(self) -> Key:
        return self.scene, self.number, self.version

    @property
    def outcome(self) -> tuple[object, ...]:
        """What makes an answer right or wrong: where this is asked, and what there is to choose."""
        right = self.choices[self.answer]
        return self.scene, self.step, self.reveal_step, frozenset(self.choices), right

    @property
    def content(self) -> tuple[object, ...]:
        """All that makes this question what it is, wherever in its scene it stands."""
        return self.prompt, self.choices, *self.outcome


@dataclass(frozen=True, slots=True)
class Poll:
    """The question on the board: ``rounds`` holds, for each round, how many chose each choice."""

    asked: Asked
    state: State
    rounds: tuple[tuple[int, ...], ...]

    @property
    def round(self) -> int:
        """The round, counted from 1."""
        return len(self.rounds)

    @property
    def answered(self) -> int:
        """How many have answered in this round."""
        return sum(self.rounds[-1])


@dataclass(frozen=True, slots=True)
class Spread:
    """How the answers to a question fell, when nobody needs to know whose they are: ``rounds``
    holds, for each round, how many chose each choice; none where nobody answered."""

    asked: Asked
    rounds: tuple[tuple[int, ...], ...]


class Refused(Exception):
    """What was sent is not accepted, and why, in words for who sent it."""


class Record(Protocol):
    """Where a lesson writes before it says yes. Each may raise: then nothing has changed."""

    def asked(self, question: Asked) -> None: ...

    def answered(self, question: Asked, round: int, pupil: str, choice: int) -> None: ...

    def finished(self, task: tuple[int, str], pupil: str) -> None: ...


class NoRecord:
    """For a session that nobody keeps."""

    def asked(self, question: Asked) -> None:
        """Nothing is written."""

    def answered(self, question: Asked, round: int, pupil: str, choice: int) -> None:
        """Nothing is written."""

    def finished(self, task: tuple[int, str], pupil: str) -> None:
        """Nothing is written."""


class Ballot:
    """The questions of one session. ``changed`` is called after every change that the board
    shows, and not for an answer. ``most_names`` is under how many names answers are taken
    in the whole lesson. The lock is the session's own: moving and asking take turns.
    """

    def __init__(
        self,
        lock: RLock,  # type: ignore[valid-type]
        changed: Callable[[], None],
        record: Record | None = None,
        most_names: int = 1000,
    ) -> None:
        self._lock = lock
        self._changed = changed
        self._record = record or NoRecord()
        self._most_names = most_names
        self._asked: dict[Key, Asked] = {}
        self._rounds: dict[Key, list[Answers]] = {}
        self._pupils: set[str] = set()
        self._now: Key | None = None
        self._state = State.CLOSED
        self._at = (0, 0)  # the scene and the step of the board

    @property
    def poll(self) -> Poll | None:
        """The question on the board."""
        with self._lock:
            if self._now is None:
                return None
            asked = self._asked[self._now]
            return Poll(asked, self._state, self._spread(asked))

    @property
    def everything(self) -> tuple[Poll, ...]:
        """Every question that has been asked, with its rounds, in the order of the lesson."""
        with self._lock:
            return tuple(
                Poll(asked, self._state if key == self._now else State.CLOSED, self._spread(asked))
                for key, asked in sorted(self._asked.items())
            )

    def _spread(self, asked: Asked) -> tuple[tuple[int, ...], ...]:
        spread = []
        for answers in self._rounds[asked.key]:
            counts = [0] * len(asked.choices)
            for choice in answers.values():
                counts[choice] += 1
            spread.append(tuple(counts))
        return tuple(spread)

    @property
    def pupils(self) -> set[str]:
        """Who has answered anything."""
        with self._lock:
            return set(self._pupils)

    def has_answered(self, pupil: str) -> bool:
        """Whether this pupil has answered anything."""
        return pupil in self._pupils

    # What the teacher does.

    def open(self, question: Asked) -> None:
        """Put a question to the class; where it was asked before, its last round goes on."""
        with self._lock:
            question = self._as_asked(question)
            self._record.asked(question)
            self._asked[question.key] = question
            self._rounds.setdefault(question.key, [{}])
            self._set(question.key, State.OPEN)

    def _as_asked(self, question: Asked) -> Asked:
        """The question as it was asked before; or, where it was not, with a key of its own."""
        before = [each for each in self._asked.values() if each.content == question.content]
        if before:
            return before[0]
        place = (question.scene, question.number)
        versions = [each.version for each in self._asked.values() if each.key[:2] == place]
        return replace(question, version=max(versions, default=0) + 1)

    def close(self) -> None:
        """Take no more answers."""
        self._to(State.CLOSED)

    def reopen(self) -> None:
        """Take answers in the same round again; Refused where the answer can be seen."""
        with self._lock:
            self._set(self._key_of_unknown(), State.OPEN)

    def ask_again(self) -> None:
        """Start another round; Refused where there have been too many, or where the answer can be
        seen: it would be closed at once, and empty. Of two presses the second starts none."""
        with self._lock:
            rounds = self._rounds[self._key_of_unknown()]
            if self._state is State.OPEN and not rounds[-1]:
                return  # it has just been asked
            if len(rounds) >= MOST_ROUNDS:
                raise Refused(f"A question can be asked {MOST_ROUNDS} times at most.")
            rounds.append({})
            self._set(self._key(), State.OPEN)

    def show(self) -> None:
        """Show how the answers spread. No more are taken."""
        self._to(State.SHOWN)

    def put_away(self) -> None:
        """Take the question off the board. What was answered stays."""
        with self._lock:
            if self._now is not None:
                self._set(None, State.CLOSED)

    def leave(self) -> None:
        """Take the question off the board without calling ``changed``: a move follows."""
        with self._lock:
            self._now, self._state = None, State.CLOSED

    def bring_back(self, question: Asked) -> None:
        """Show again how the answers to a question spread that was asked before, because the
        run has come to its answer. Does not call ``changed``: the move itself is shown."""
        with self._lock:
            if question.key in self._asked:
                self._now, self._state = question.key, State.SHOWN

    def still_asked(self, questions: tuple[Asked, ...]) -> bool:
        """Of a lesson that has changed: whether the question on the board, if there is one, has
        the same outcome as one of these. Else it leaves the board, without a call of
        ``changed``; what was answered stays."""
        with self._lock:
            if self._now is None:
                return True
            asked = self._asked[self._now]
            if any(each.outcome == asked.outcome for each in questions):
                return True
            self._now, self._state = None, State.CLOSED
            return False

    def moved(self, scene: int, step: int) -> None:
        """The board has moved: a question of another scene leaves it, and one whose answer can
        be seen takes no more answers. Does not call ``changed``: the move itself is shown."""
        with self._lock:
            self._at = scene, step
            if self._now is None:
                return
            asked = self._asked[self._now]
            if scene != asked.scene:
                self._now = None
            elif step >= asked.reveal_step and self._state is State.OPEN:
                self._state = State.CLOSED

    def _key_of_unknown(self) -> Key:
        """The question on the board, while the run has not come to its answer."""
        key = self._key()
        if self._at >= (key[0], self._asked[key].reveal_step):
            raise Refused(
                "The answer is on the board already. Put the question away and press Ask: the board"
                " goes back to where it is asked."
            )
        return key

    def _key(self) -> Key:
        if self._now is None:
            raise Refused("No question is on the board.")
        return self._now

    def _to(self, state: State) -> None:
        with self._lock:
            self._set(self._key(), state)

    def _set(self, key: Key | None, state: State) -> None:
        self._now, self._state = key, state
        self._changed()

    # What a pupil does.

    def answer(self, pupil: str, key: Key, round: int, choice: int) -> Asked:
        """Take an answer, or another one instead, and answer the question once it is recorded.

        Raises Refused where the question takes none, or too many names have answered.
        """
        with self._lock:
            asked = self._asked.get(key)
            if asked is None or self._now != key:
                raise Refused("This question is not on the board any more.")
            rounds = self._rounds[key]
            if self._state is not State.OPEN:
                raise Refused("The question is closed: no more answers are taken.")
            if round != len(rounds):
                raise Refused("The question was asked again meanwhile: answer it as it is now.")
            if not 0 <= choice < len(asked.choices):
                raise Refused("The question has no such answer to choose.")
            if pupil not in self._pupils and len(self._pupils) >= self._most_names:
                raise Refused(
                    "Too many names have answered in this lesson, so no new one is taken. Tell your"
                    " teacher, who can end the lesson and open it again."
                )
            if rounds[-1].get(pupil) == choice:
                return asked  # it is kept already: whoever presses again does not wait for the disk
            self._record.answered(asked, round, pupil, choice)
            rounds[-1][pupil] = choice
            self._pupils.add(pupil)
            return asked

    def answer_of(self, pupil: str) -> int | None:
        """What this pupil has answered in the round on the board."""
        with self._lock:
            return self._rounds[self._now][-1].get(pupil) if self._now else None

    def answered_now(self) -> set[str]:
        """Who has answered in the round on the board."""
        with self._lock:
            return set(self._rounds[self._now][-1]) if self._now else set()

    # Coming back.

    def restore(
        self,
        asked: dict[Key, tuple[Asked, list[Answers]]],
        now: Key | None,
        state: State,
        round: int,
    ) -> None:
        """Take up what was kept. ``round`` is that of the question ``now`` on the board."""
        with self._lock:
            for key, (question, rounds) in asked.items():
                self._asked[key] = question
                self._rounds[key] = [dict(answers) for answers in rounds] or [{}]
                for answers in rounds:
                    self._pupils.update(answers)
            if now in self._asked:
                self._now, self._state = now, state
                rounds = self._rounds[self._now]
                while len(rounds) < min(round, MOST_ROUNDS):
                    rounds.append({})
