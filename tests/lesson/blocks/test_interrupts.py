"""The block of requests, their places in a run, and what the check says of them."""

from __future__ import annotations

import pytest

from app.lesson.blocks.interrupts import MOST_REQUESTS, read_interrupts
from app.lesson.entries import Wrong
from app.lesson.file.reader import read_lesson
from app.lesson.model import Lesson
from app.lesson.places import read_when
from app.lesson.timeline import Span
from app.machine.growing import grown
from app.machine.instructions import Phase
from app.machine.machine import SIXTEEN_BIT
from app.machine.requests import Request
from tests.bell import LESSON

MACHINE = grown(frozenset({"interrupts"}))
REQUESTS = """
```interrupts
in instruction 6: 65
after instruction 12: 66
```
"""


def lesson(blocks: str = REQUESTS, text: str = LESSON) -> Lesson:
    return read_lesson("bell", text + blocks)


def told(found: Lesson) -> list[str]:
    return [f"{each.what} {each.mend}" for each in found.problems]


# The block.


def test_the_lines_are_requests_in_their_order() -> None:
    text = "after instruction 12: 66\nIn instruction 6:  0x41\n\nafter instruction 6: -1\n"  # data
    found, problems = read_interrupts(MACHINE, text, 1)
    fetch = len(MACHINE.fetch)
    assert problems == []
    assert found == (Request(6, fetch, 65), Request(6, 0, 0xFFFF), Request(12, 0, 66))


@pytest.mark.parametrize(
    ("text", "what", "mend", "column"),
    [
        ("after instruction 12", "does not say what the request brings", "12: 65", 1),
        ("after 12: 65", "does not say when the request comes", "after instruction 12", 1),
        ("before instruction 2: 1", "does not say when", "in instruction 12", 1),
        ("after instruction 0: 1", "no instruction 0: they are counted from 1", "from 1 to", 1),
        ("after instruction 2: x", "'x' is not a number", "numbers such as 7", 22),
        ("after instruction 2: 1, 2", "one number, and here 2 are written", "65", 22),
        ("after instruction 2:", "one number, and here none is written", "65", 21),
        ("after instruction 2: 99999", "does not fit a word of 16 bits", "32767", 22),
        ("12: 65", "'12' does not say when", "after instruction", 1),
    ],
)
def test_slips_are_told_where_they_are(text: str, what: str, mend: str, column: int) -> None:
    found, (problem, *_) = read_interrupts(MACHINE, text, 7)
    assert found == () and not problem.warning
    assert what in problem.what and mend in problem.mend
    assert (problem.line, problem.column) == (7, column)


def test_a_machine_that_nothing_can_interrupt_says_so() -> None:
    found, (problem,) = read_interrupts(SIXTEEN_BIT, "after instruction 1: 1", 5)
    assert found == () and "with: interrupts" in problem.mend and problem.line == 4


def test_the_block_is_bounded() -> None:
    lines = "after instruction 3: 1\n" * 50_000
    found, problems = read_interrupts(MACHINE, lines, 1)
    assert found == () and len(problems) == 1 and str(MOST_REQUESTS) in problems[0].what
    _, problems = read_interrupts(MACHINE, "nothing\n" * 50_000, 1)
    assert len(problems) < 60
    found, problems = read_interrupts(MACHINE, "after instruction 3: 1\n" * MOST_REQUESTS, 1)
    assert len(found) == MOST_REQUESTS and problems == []


# In a lesson.


def test_a_scene_runs_with_its_requests() -> None:
    found = lesson()
    assert told(found) == []
    scene = found.scenes[0]
    assert [each.value for each in scene.run.requests] == [65, 66]
    assert scene.run.finish().served == 2 and scene.run.outputs(2) == (65, 66)


def test_a_scene_without_a_program_keeps_the_requests_of_the_last() -> None:
    found = lesson(
        REQUESTS + "\n# Again\n\nOnce more.\n\n# Others\n\n```interrupts\n"
        "in instruction 5: 7\n```\n"
    )
    assert [len(each.run.requests) for each in found.scenes] == [2, 2, 1]


def test_a_new_program_has_none() -> None:
    more = "\n# New\n\n```program\nENABLE bell\nHALT\nbell: RETURN FROM INTERRUPT\n```\n"
    assert lesson(REQUESTS + more).scenes[1].run.requests == ()


def test_requests_that_come_too_late_or_are_never_served_are_warned_of() -> None:
    late = told(lesson(REQUESTS.replace("12", "90")))
    assert len(late) == 1 and "a request of these comes" in late[0]
    at_once = told(lesson(text=LESSON.replace("ENABLE bell", "HALT")))
    assert any("ends after 1 instruction, before" in each for each in at_once)
    off = told(lesson(text=LESSON.replace("ENABLE bell", "DISABLE")))
    assert len(off) == 1 and "No request is served" in off[0] and "ENABLE" in off[0]


def test_the_block_needs_the_part() -> None:
    (problem, *_) = lesson(text=LESSON.replace("with: interrupts", "with: stack")).faults
    assert "interrupts" in problem.mend


# Places.


def spans(place: str, found: Lesson) -> list[Span]:
    return [*found.scenes[0].timeline.spans(read_when(place, machine=MACHINE))]


def test_the_places_of_a_request_are_those_of_the_run() -> None:
    found = lesson()
    run = found.scenes[0].run
    phases = [(step, kind.phase, cycle) for step, cycle, kind, _ in run.steps()]
    serves = [step for step, phase, _ in phases if phase is Phase.INTERRUPT]
    assert spans("request served", found) == [
        Span(serves[0], serves[5]),
        Span(serves[6], serves[11]),
    ]
    assert spans("second request served", found) == spans("request served", found)[1:]
    assert spans("when a request is served", found) == spans("request served", found)
    comes = [each.first for each in spans("when a request comes", found)]
    sixth = next(step for step, _, cycle in phases if cycle == 6)
    twelfth = [step for step, phase, cycle in phases if cycle == 12 and phase is Phase.EXECUTE]
    assert comes == [sixth + len(MACHINE.fetch) - 1, twelfth[-1]]


def test_the_execute_phase_ends_before_a_request_is_served() -> None:
    found = lesson()
    (execute,) = spans("execute 6", found)
    assert execute.last + 1 == spans("request served", found)[0].first
    (whole,) = spans("instruction 6", found)
    assert whole.last == spans("request served", found)[0].last


def test_a_return_from_an_interrupt_comes_from_its_routine() -> None:
    assert len(spans("return from bell", lesson())) == 2
    assert len(spans("call of bell", lesson())) == 0


def test_what_the_word_brings_back_is_a_change() -> None:
    """COMPARE in the routine changes the status; the return changes it back."""
    text = LESSON.replace("        OUTPUT\n", "        COMPARE #255\n")
    found = lesson(text=text)
    run = found.scenes[0].run
    for tag, held in (("status", "status"), ("V", "V"), ("interrupts", "interrupts")):
        changes = [each.first for each in spans(f"when {tag} changes", found)]
        moments = [run.moment(step) for step in range(1, run.last_step + 1)]
        assert changes == [
            each.step.number  # type: ignore[union-attr]
            for each in moments
            if each.before.held(held) != each.after.held(held)
        ]


@pytest.mark.parametrize("place", ["request served", "first request comes"])
def test_places_of_requests_need_interrupts(place: str) -> None:
    with pytest.raises(Wrong) as wrong:
        read_when(place, machine=SIXTEEN_BIT)
    assert "with: interrupts" in wrong.value.mend


def test_a_slip_in_a_place_is_told() -> None:
    with pytest.raises(Wrong) as wrong:
        read_when("request servd", machine=MACHINE)
    assert "request served" in wrong.value.mend
    with pytest.raises(Wrong):
        read_when("interrupt 3", machine=MACHINE)


# Questions.


def test_questions_about_a_request_are_asked_and_answered() -> None:
    found = lesson(
        REQUESTS
        + """
```question
ask at first request comes: When will it be served?
answer at request served
ask: when the request is served
```

```question
before request served: What is kept?
ask: what is kept
choices: The status and the program counter. or The program counter alone. or Nothing of it.
```

```question
before second request served: Which address is kept?
ask: which address is kept
```
"""
    )
    assert told(found) == []
    asked = found.scenes[0].questions
    assert [each.choices[each.answer] for each in asked] == [
        "When the instruction has ended.",
        "The status and the program counter.",
        "4",
    ]
    assert all(
        all(each.reasons[at] for at in range(len(each.choices)) if at != each.answer)
        for each in asked
    )


def test_a_question_where_no_request_waits_is_warned_of() -> None:
    found = lesson(REQUESTS + "\n```question\nbefore first OUTPUT: What?\nask: what is kept\n```\n")
    assert "No request waits here" in told(found)[0]
