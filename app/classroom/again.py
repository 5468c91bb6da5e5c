"""What to go over again: how many fell for each mix-up, before they talked and after.

Counts only. What fewer than LEAST answered is never told by itself: such mix-ups are counted
together, and a number under LEAST is told as that.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from app.lesson.model import Lesson

from .ballot import Asked, Spread

# The smallest group that is shown by itself. In smaller ones pupils could be told apart; the same
# least number is common practice where statistics about pupils are published.
LEAST = 5


@dataclass(frozen=True, slots=True)
class Count:
    """``fell`` of ``answers`` were the wrong choice that a mix-up leads to."""

    fell: int
    answers: int

    @property
    def can_be_told(self) -> bool:
        """Whether these are enough answers to speak of."""
        return self.answers >= LEAST

    @property
    def words(self) -> str:
        """As it is told: '7 of 30', 'none of 30', 'fewer than 5 of 30', 'too few answers'."""
        if not self.can_be_told:
            return "too few answers"
        fell = "none" if not self.fell else f"fewer than {LEAST}"
        return f"{self.fell if self.fell >= LEAST else fell} of {self.answers}"


@dataclass(frozen=True, slots=True)
class Fallen:
    """A mix-up, with how many fell for it ``before`` they talked (in first rounds) and ``after``
    (in last rounds, None where nothing was asked again). ``reason`` clears it up; it is that of
    the question ``asked``, in the lesson of the store named ``lesson``, where most fell for it."""

    mixup: str
    before: Count
    after: Count | None
    reason: str
    lesson: str
    asked: Asked


@dataclass(frozen=True, slots=True)
class Again:
    """``shown`` are the mix-ups that enough fell for, the most first. ``small`` of them are left
    out, for which ``small_fell`` fell together; ``unnamed`` are the wrong first answers that no
    usual mix-up leads to. ``answers`` are all first answers, ``questions`` the questions."""

    shown: tuple[Fallen, ...]
    small: int
    small_fell: int
    unnamed: int
    answers: int
    questions: int

    @property
    def most(self) -> int:
        """The most that fell for one, to draw the others beside."""
        rounds = (count for each in self.shown for count in (each.before, each.after) if count)
        return max((each.fell for each in rounds), default=0)


@dataclass(slots=True)
class _Sum:
    """What is added up of one mix-up. ``most`` is what fell for it in one question."""

    before: list[int]
    after: list[int]
    most: int
    reason: str
    lesson: str
    asked: Asked


def again(spreads: Iterable[tuple[str, Spread]]) -> Again:
    """What to go over again, of questions with the names of their lessons."""
    sums: dict[str, _Sum] = {}
    answers = unnamed = questions = 0
    for lesson, spread in spreads:
        if not spread.rounds:
            continue
        asked, first = spread.asked, spread.rounds[0]
        # A round that was opened and answered by nobody says nothing.
        later = next((each for each in reversed(spread.rounds[1:]) if sum(each)), None)
        mixups = asked.mixups or ("",) * len(asked.choices)
        questions += 1
        answers += sum(first)
        named = dict.fromkeys(each for each in mixups if each)
        unnamed += sum(
            count
            for at, (count, mixup) in enumerate(zip(first, mixups, strict=True))
            if not mixup and at != asked.answer
        )
        for mixup in named:
            places = [at for at, each in enumerate(mixups) if each == mixup and at != asked.answer]
            if not places:
                continue
            fell = sum(first[at] for at in places)
            likeliest = max(places, key=lambda at: first[at])
            reason = asked.reasons[likeliest] if asked.reasons else ""
            found = sums.setdefault(mixup, _Sum([0, 0], [0, 0], -1, reason, lesson, asked))
            _add(found.before, fell, sum(first))
            if later is not None:
                _add(found.after, sum(later[at] for at in places), sum(later))
            if fell > found.most:
                found.most, found.reason = fell, reason
                found.lesson, found.asked = lesson, asked
    fallen = [
        Fallen(
            mixup,
            Count(*each.before),
            Count(*each.after) if each.after[1] else None,
            each.reason,
            each.lesson,
            each.asked,
        )
        for mixup, each in sums.items()
    ]
    shown = [each for each in fallen if _is_large(each)]
    small = [each for each in fallen if not _is_large(each) and each.before.fell]
    shown.sort(key=lambda each: (-each.before.fell, each.mixup))
    return Again(
        tuple(shown),
        len(small),
        sum(each.before.fell for each in small),
        unnamed,
        answers,
        questions,
    )


def _add(count: list[int], fell: int, answers: int) -> None:
    count[0] += fell
    count[1] += answers


def _is_large(fallen: Fallen) -> bool:
    """Whether so many fell for it that it is shown by itself."""
    return max(fallen.before.fell, fallen.after.fell if fallen.after else 0) >= LEAST


def stands_at(lesson: Lesson, asked: Asked) -> tuple[int, int] | None:
    """The scene (from 0) and the step at which a lesson, as it is now, asks what was asked; None
    where it does not any more."""
    numbers = range(len(lesson.scenes))
    # The same question may be asked in several scenes: first where it was.
    for number in sorted(numbers, key=lambda each: each != asked.scene):
        for each in lesson.scenes[number].questions:
            same = each.prompt == asked.prompt and {*each.choices} == {*asked.choices}
            if same and each.choices[each.answer] == asked.choices[asked.answer]:
                return number, each.step
    return None
