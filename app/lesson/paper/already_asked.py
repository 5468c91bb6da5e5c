"""What the table of a question on paper must not tell: the answer to an earlier question.

On the board the answer has been seen by then. On a sheet both stand one above the other, so where
a value is what an earlier question asks for, the table says 'answer 1' in its place. The pupil
puts in what they found, and can still work out the rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.lesson.asking.subjects import Subject
from app.machine.state import State

# What holds numbers: the same number may turn up in another of these.
_NUMBERS = ("ACC", "MDR", "memory", "output")


@dataclass(frozen=True, slots=True)
class Earlier:
    """A question that stands before on the same sheet: its right answer, how many outputs there
    were when it was asked, and the machine once the answer is known."""

    number: int
    subject: Subject
    answer: str
    sent_before: int
    after: State

    @property
    def words(self) -> str:
        return f"answer {self.number}"

    @property
    def place(self) -> str:
        """The place that holds the answer. Which way a jump goes is to be seen in the PC."""
        return "PC" if self.subject.kind == "jump" else self.subject.kind


def instead(key: str, text: str, state: State, earlier: Sequence[Earlier]) -> str:
    """What stands in place of the value of a register; empty where it tells no answer."""
    for each in reversed(earlier):
        if each.place == key:
            return each.words if state.held(key) == each.after.held(key) else ""
        if key in _NUMBERS and each.place in _NUMBERS and text == each.answer:
            return each.words
        if (key, each.place) == ("MDR", "CIR") and state.mdr == each.after.cir:
            return each.words
    return ""


def outputs_before(count: int) -> list[str]:
    """What stands in place of so many numbers that were sent out before those that are printed."""
    return [f"\N{HORIZONTAL ELLIPSIS} ({count:,} before)"] if count else []


def instead_of_outputs(numbers: Sequence[str], earlier: Sequence[Earlier], before: int = 0) -> str:
    """What stands in place of the last numbers that were sent out, ``before`` which so many others
    were sent; empty where it is the same."""
    known = next((each for each in reversed(earlier) if each.place == "output"), None)
    told, first = outputs_before(before), before
    if known and known.after.sent >= before:
        # That answer stands for all that had been sent by then.
        told, first = [known.words], known.after.sent
    shown = told[:]
    for at, number in enumerate(numbers[first - before :], start=first):
        answers = (
            each.words
            for each in reversed(earlier)
            if each.place in _NUMBERS and at >= each.sent_before and number == each.answer
        )
        shown.append(next(answers, number))
    return ", ".join(shown) if shown != [*outputs_before(before), *numbers] else ""


def names_instruction(state: State, earlier: Iterable[Earlier]) -> bool:
    """Whether to name the instruction that is carried out would tell an answer."""
    return any(each.place == "CIR" and each.after.cir == state.cir for each in earlier)
