"""What to go over again: how many fell for each mix-up, before they talked and after.

What is shown side by side was counted over the same questions, so that it can be compared.

Counts only. What fewer than LEAST answered is never told by itself: such mix-ups are counted
together, and a number under LEAST is told as that.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from app.lesson.asking.questions import AskedQuestion
from app.lesson.at_once import worked_out_at_once
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

    def __add__(self, other: Count) -> Count:
        return Count(self.fell + other.fell, self.answers + other.answers)

    @property
    def share(self) -> float:
        """How large a part of the answers fell for it, from 0 to 1."""
        return self.fell / self.answers if self.answers else 0.0

    @property
    def percent(self) -> str:
        """The share as it is told; empty where the number is too small for that."""
        return f"{100 * self.share:.0f}%" if self.can_be_told and self.fell >= LEAST else ""

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


NOBODY = Count(0, 0)


@dataclass(frozen=True, slots=True)
class Fallen:
    """A mix-up, with how many fell for it ``before`` they talked and ``after``: the first and the
    last rounds of the same questions. Where nothing was asked again, ``after`` is None and
    ``before`` has all first answers; else ``once`` has those to the questions that were asked
    once. ``warm_up`` are the answers in warm-ups, on another day. ``reason`` clears it up; it is
    that of the question ``asked``, in the lesson of the store named ``lesson``, where most fell."""

    mixup: str
    before: Count
    after: Count | None
    reason: str
    lesson: str
    asked: Asked
    once: Count | None = None
    warm_up: Count | None = None

    @property
    def first(self) -> Count:
        """All the first answers in the lesson itself; in warm-ups where there are none."""
        if not self.before.answers and self.warm_up:
            return self.warm_up
        return self.before + self.once if self.once else self.before

    @property
    def bars(self) -> tuple[tuple[str, Count], ...]:
        """What is drawn of it, each with when that was."""
        rounds = (("before", self.before), ("after", self.after))
        apart = (("once", self.once), ("in the warm-up", self.warm_up))
        return tuple((when, each) for when, each in (*rounds, *apart) if each and each.answers)


@dataclass(frozen=True, slots=True)
class Unnamed:
    """A wrong ``choice`` of a question that no usual mix-up leads to, but many chose."""

    choice: str
    count: Count
    reason: str
    lesson: str
    asked: Asked


@dataclass(frozen=True, slots=True)
class Again:
    """``shown`` are the mix-ups that enough fell for, the largest share first. ``small`` of them
    are left out, for which ``small_fell`` fell together; ``unnamed`` are the wrong first answers
    that no usual mix-up leads to, and ``often`` those of them that enough chose. ``answers`` are
    all first answers, ``questions`` the questions."""

    shown: tuple[Fallen, ...]
    small: int
    small_fell: int
    unnamed: int
    answers: int
    questions: int
    often: tuple[Unnamed, ...] = ()


@dataclass(slots=True)
class _Sum:
    """What is added up of one mix-up. ``most`` is what fell for it in one question."""

    most: int
    reason: str
    lesson: str
    asked: Asked
    before: Count = NOBODY
    after: Count = NOBODY
    once: Count = NOBODY
    warm_up: Count = NOBODY

    def add(self, first: Count, later: Count | None, warm_up: bool) -> None:
        """Add the first answers to a question, and those when it was asked again."""
        if warm_up:
            self.warm_up += first
        elif later is None:
            self.once += first
        else:
            self.before += first
            self.after += later

    def fallen(self, mixup: str) -> Fallen:
        """What has been added up."""
        again = bool(self.after.answers)
        return Fallen(
            mixup,
            self.before if again else self.once,
            self.after if again else None,
            self.reason,
            self.lesson,
            self.asked,
            self.once if again and self.once.answers else None,
            self.warm_up if self.warm_up.answers else None,
        )


def again(spreads: Iterable[tuple[str, Spread]], warm_ups: Collection[str] = ()) -> Again:
    """What to go over again, of questions with the names of their lessons; ``warm_ups`` are the
    names of those that are warm-ups."""
    sums: dict[str, _Sum] = {}
    often: dict[tuple[object, ...], Unnamed] = {}
    answers = unnamed = questions = 0
    for lesson, spread in spreads:
        # A round that was opened and answered by nobody says nothing.
        rounds = [each for each in spread.rounds if sum(each)]
        if not rounds:
            continue
        asked, first = spread.asked, rounds[0]
        later = rounds[-1] if len(rounds) > 1 else None
        mixups = asked.mixups or ("",) * len(asked.choices)
        questions += 1
        answers += sum(first)
        for at, (count, mixup) in enumerate(zip(first, mixups, strict=True)):
            if mixup or at == asked.answer:
                continue
            unnamed += count
            key = (asked.content, asked.choices[at])
            before = often[key].count if key in often else NOBODY
            reason = asked.reasons[at] if asked.reasons else ""
            counted = before + Count(count, sum(first))
            often[key] = Unnamed(asked.choices[at], counted, reason, lesson, asked)
        for mixup in dict.fromkeys(each for each in mixups if each):
            places = [at for at, each in enumerate(mixups) if each == mixup and at != asked.answer]
            if not places:
                continue
            fell = sum(first[at] for at in places)
            likeliest = max(places, key=lambda at: first[at])
            reason = asked.reasons[likeliest] if asked.reasons else ""
            found = sums.setdefault(mixup, _Sum(-1, reason, lesson, asked))
            fell_later = Count(sum(later[at] for at in places), sum(later)) if later else None
            found.add(Count(fell, sum(first)), fell_later, lesson in warm_ups)
            if fell > found.most:
                found.most, found.reason = fell, reason
                found.lesson, found.asked = lesson, asked
    fallen = [each.fallen(mixup) for mixup, each in sums.items()]
    shown = [each for each in fallen if _is_large(each)]
    small = [each for each in fallen if not _is_large(each) and each.first.fell]
    shown.sort(key=lambda each: (-each.first.share, each.mixup))
    many = [each for each in often.values() if each.count.fell >= LEAST]
    return Again(
        tuple(shown),
        len(small),
        sum(each.first.fell for each in small),
        unnamed,
        answers,
        questions,
        tuple(sorted(many, key=lambda each: -each.count.share)),
    )


def _is_large(fallen: Fallen) -> bool:
    """Whether so many fell for it that it is shown by itself."""
    counts = (fallen.first, fallen.after, fallen.warm_up)
    return max(each.fell for each in counts if each) >= LEAST


class Standing:
    """Where a lesson, as it is now, asks what was asked: of the questions with these ``prompts``
    as many as are worked out at once. ``taken`` is what that took, in steps of a run."""

    def __init__(self, lesson: Lesson, prompts: Collection[str]) -> None:
        self._places: dict[object, list[tuple[int, int]]] = {}
        self.taken = 0
        numbers = {id(each): number for number, each in enumerate(lesson.scenes)}
        written = (
            scene for scene in lesson.scenes if any(each.prompt in prompts for each in scene.asked)
        )
        for scene in worked_out_at_once(written):
            for each in scene.questions:
                place = numbers[id(scene)], each.step
                self._places.setdefault(_content(each), []).append(place)
            self.taken += scene.taken

    def of(self, asked: Asked) -> tuple[int, int] | None:
        """The scene (from 0) and the step; None where it is not asked any more. The same question
        may be asked in several scenes: first where it was."""
        places = self._places.get(_content(asked), [])
        return min(places, key=lambda each: each[0] != asked.scene, default=None)


def _content(asked: Asked | AskedQuestion) -> object:
    return asked.prompt, frozenset(asked.choices), asked.choices[asked.answer]
