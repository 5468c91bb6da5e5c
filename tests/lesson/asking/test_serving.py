"""What is asked about a request, held to the hardware: it is followed with the request and without
it, and where the two part the request is served.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from functools import cache

import pytest

from app.lesson.asking import serving
from app.lesson.asking.facts import Facts
from app.lesson.asking.mixups import MixUp
from app.lesson.asking.predictions import Field, Prediction
from app.lesson.asking.questions import AskedQuestion
from app.lesson.asking.subjects import REQUEST_WORDS, SERVING, Subject, read_subject
from app.lesson.asking.wrong_answers import near_answers, wrong_answers
from app.lesson.entries import Wrong
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.timeline import Span
from app.machine.growing import grown
from app.machine.machine import SIXTEEN_BIT
from app.machine.requests import Request
from app.machine.run import Run
from app.machine.source.assembler import assemble
from app.machine.source.problems import Problem
from tests.codes import word
from tests.hardware.rtl import Asked, Snapshot, at_the_start, simulate
from tests.lesson.asking.claims import STEPS, kept_in, show, signed

MACHINE = grown(frozenset({"interrupts"}))
PARTS = frozenset(MACHINE.parts)
SOURCE = """
        ENABLE bell
        LOAD #20
loop:   SUBTRACT #3
        COMPARE #7
        JUMP loop IF MORE
        DISABLE
        STORE rest
        ENABLE bell
        OUTPUT
        HALT
bell:   PUSH
        INPUT
        OUTPUT
        POP
        RETURN FROM INTERRUPT
rest:   0
"""
PROGRAM = assemble(MACHINE, SOURCE)
assert PROGRAM.problems == ()
IMAGE = [*PROGRAM.words, *[0] * (256 - len(PROGRAM.words))]


def followed(*requests: Asked) -> list[Snapshot]:
    steps = simulate("16-bit", PROGRAM.words, (), 260, parts=PARTS, requests=requests)
    return [at_the_start(IMAGE, PARTS), *steps]


@cache
def quiet() -> list[Snapshot]:
    return followed()


@dataclass(frozen=True)
class Served:
    """A request at a step, as the hardware serves it: the steps before and after that, and where
    the instruction ends in which it comes."""

    facts: Facts
    before: Snapshot
    after: Snapshot
    waited: bool
    address: int
    was_on: bool

    @property
    def switched(self) -> bool:
        return not self.was_on and not self.waited


def served(step: int) -> Served | None:
    """A request that comes with a step; None where the hardware does not serve it."""
    begin, address, number = 0, 0, 0
    while begin + STEPS[IMAGE[quiet()[begin].pc] >> 8] < step:
        begin += STEPS[IMAGE[quiet()[begin].pc] >> 8]
        number += 1
    end = begin + STEPS[IMAGE[quiet()[begin].pc] >> 8]
    rung = followed(Asked(number + 1, step - begin, 77))
    first = next(
        (at for at, each in enumerate(rung) if each != quiet()[min(at, len(quiet()) - 1)]), 0
    )
    run = Run(MACHINE, PROGRAM.words, requests=[Request(number + 1, step - begin, 77)])
    if not first or first == len(quiet()):
        return None
    last = begin
    while last + STEPS[IMAGE[quiet()[last].pc] >> 8] < first - 1:
        last += STEPS[IMAGE[quiet()[last].pc] >> 8]
    address = quiet()[last].pc
    facts = Facts(run, PROGRAM, Span(step + 1, step + 1))
    return Served(
        facts,
        rung[first - 1],
        rung[first + 5],
        first - 1 > end,
        address,
        bool(quiet()[begin].interrupts),
    )


@cache
def every_step() -> list[tuple[int, Served]]:
    return [(each, found) for each in range(1, len(quiet())) if (found := served(each))]


def test_the_steps_are_of_both_kinds() -> None:
    waited = Counter(each.waited for _, each in every_step())
    assert waited[True] > 10 and waited[False] > 60


def test_the_truths_are_those_of_the_hardware() -> None:
    for step, each in every_step():
        when = serving.ON_AGAIN if each.waited else serving.INSTRUCTION_ENDS
        assert serving.truth("served", each.facts) == when, step
        word = each.after.memory[each.after.sp]
        status, counter = kept_in(word)
        assert serving.truth("kept address", each.facts) == counter == each.before.pc
        told = serving.happened("kept", each.facts)
        assert f"the status, {status}, and the program counter, {counter}." in told
        # What the routine would have to keep by itself is not in the word.
        assert serving.truth("kept", each.facts) == serving.STATUS_AND_COUNTER


def test_every_reason_is_true() -> None:
    told: Counter[str] = Counter()
    for _, each in every_step():
        word = each.after.memory[each.after.sp]
        status, counter = kept_in(word)
        written = PROGRAM.source.split("\n")[PROGRAM.origins[each.address].line - 1]
        written = " ".join(written.split(":")[-1].split())
        for kind in SERVING:
            truth = serving.truth(kind, each.facts)
            for wrong in serving.mix_ups(kind, each.facts):
                if wrong.value == truth:
                    continue
                told[wrong.reason.name] += 1
                if "written" in wrong.reason.words:
                    assert written in wrong.sentence
                if found := re.search(
                    r"the word (\S+)\.|kept, (\S+)\. The|same word, (\S+)\.", wrong.sentence
                ):
                    (number,) = filter(None, found.groups())
                    assert number == show(signed(word, 16))
                if "The status" in wrong.sentence:
                    assert f"The status, {status}," in wrong.sentence
                if found := re.match(r"(\d+) is where \S+ (\S+)", wrong.sentence):
                    assert int(found[1]) == wrong.value
                    lies = "lies on the stack" in wrong.sentence
                    runs = "stands" in wrong.sentence
                    place = each.address if runs else each.after.sp if lies else each.before.v
                    assert wrong.value == place
                if found := re.search(r"(?:it holds|kept in it is) (\d+)\.$", wrong.sentence):
                    assert int(found[1]) == counter
                if "goes on later at" in wrong.sentence:
                    assert re.search(rf"goes on later at {counter}\b", wrong.sentence)
                if "Interrupts are o" in wrong.sentence:
                    assert ("Interrupts are off" in wrong.sentence) is each.waited
                if "Interrupts are on:" in wrong.sentence:
                    assert each.was_on
    assert set(told) == {
        *("AT_ONCE", "AT_ONCE_OFF", "NEED_NOT_END", "INTERRUPTS_ON", "INTERRUPTS_OFF"),
        *("STATUS_KEPT", "ACCUMULATOR_NOT_KEPT", "GOES_ON_LATER"),
        *("RUNNING_ADDRESS", "ROUTINE_ADDRESS", "COUNTER_STAYS", "WHERE_IT_LIES"),
    }


def test_what_comes_before_the_first_instruction_comes_in_none() -> None:
    """On the hardware it is served when ENABLE, the first instruction, has ended; there is no
    instruction in which it came."""
    rung = followed(Asked(0, 0, 77))
    first = next(at for at, each in enumerate(rung) if each != quiet()[at])
    assert first - 1 == STEPS[IMAGE[0] >> 8] and rung[first - 1].interrupts
    run = Run(MACHINE, PROGRAM.words, requests=[Request(0, 0, 77)])
    facts = Facts(run, PROGRAM, Span(1, 1))
    assert serving.truth("served", facts) == serving.ON_AGAIN
    assert serving.happened("served", facts) == (
        "The request comes before the first instruction, and interrupts are off then, so it has to"
        " wait. They are on when ENABLE bell has ended, and then it is served."
    )
    # That 'the instruction' has ended is neither right nor wrong here.
    assert serving.INSTRUCTION_ENDS not in serving.times(facts)
    wrong = [each.value for each in serving.mix_ups("served", facts)]
    assert wrong == [serving.AT_ONCE, serving.PROGRAM_ENDS]


def test_one_that_waits_behind_another_is_not_told_that_interrupts_were_off() -> None:
    """Both come in the second instruction. On the hardware interrupts are on when it has ended: the
    first is served there, and the other when its routine has ended."""
    both = Asked(2, 1, 66), Asked(2, 3, 77)
    steps = followed(*both)
    run = Run(MACHINE, PROGRAM.words, requests=[Request(*each) for each in both])
    one, other = run.served_at(0), run.served_at(1)
    assert one and other
    assert steps[one - 1].interrupts and steps[other - 1].interrupts
    assert steps[one + 5].pc == steps[other + 5].pc == steps[one].v
    facts = Facts(run, PROGRAM, Span(other, other + 5))
    assert serving.truth("served", facts) == serving.ON_AGAIN
    assert serving.happened("served", facts) == (
        "Another request is served first, and that switches interrupts off, so this one has to"
        " wait. They are on again when RETURN FROM INTERRUPT has ended, and then it is served."
    )


def test_what_can_be_asked_of_a_request_stands_once() -> None:
    kinds = {read_subject(each, MACHINE).kind for each in REQUEST_WORDS}
    assert kinds == SERVING and len(REQUEST_WORDS) == len(kinds)
    facts = every_step()[0][1].facts
    for kind in SERVING:
        assert serving.truth(kind, facts) and serving.happened(kind, facts)
        assert facts.narrowed(Subject(kind)) is facts


def test_the_accumulator_is_not_kept_by_itself() -> None:
    """Without PUSH and POP the program goes on with another number, the status as it was."""
    spoilt = [word("ADD #0", "16-bit") if at in (10, 13) else each for at, each in enumerate(IMAGE)]
    asked = [Asked(4, 2, 77)]
    steps = simulate("16-bit", spoilt[: len(PROGRAM.words)], (), 260, parts=PARTS, requests=asked)
    assert steps[-1].outputs != followed(*asked)[-1].outputs


def test_what_serving_a_request_writes_is_not_told_of_the_next_instruction() -> None:
    """STORE writes where the stack begins, and a request that is served then writes there, too."""
    program = assemble(MACHINE, "ENABLE 4\nLOAD #7\nSTORE 255\nHALT\nRETURN FROM INTERRUPT")
    run = Run(MACHINE, program.words, requests=[Request(3, 1, 1)])
    first = run.served_at(0)
    assert first and run.moment(first + 3).after.memory[255] != 7
    facts = Facts(run, program, Span(run.before_instruction(first) + 1, first - 1))
    told = [each.sentence for each in wrong_answers(Subject("memory", "255"), facts)]
    assert told and not [each for each in told if "next instruction" in each]


# Predictions.


@pytest.mark.parametrize("depth", Depth)
def test_who_rings_in_the_middle_is_asked_when_it_is_served_and_what_is_kept(depth: Depth) -> None:
    asked_of_request = (Field.SERVED, Field.KEPT, Field.KEPT_ADDRESS)
    for step, each in every_step()[::5]:
        run = each.facts.run
        asked = Prediction(PROGRAM, run, step, depth, "denary")
        assert tuple(one.asks for one in asked.questions)[:3] == asked_of_request
        right = {
            Field.SERVED: serving.ON_AGAIN if each.waited else serving.INSTRUCTION_ENDS,
            Field.KEPT: serving.STATUS_AND_COUNTER,
            Field.KEPT_ADDRESS: str(each.before.pc),
        }
        for question in asked.questions[:3]:
            assert asked._mark(question, right[question.asks]).right
        wrong = asked._mark(asked.questions[0], serving.AT_ONCE)
        assert not wrong.right and wrong.mixup is MixUp.WHEN_SERVED and wrong.explanation
        assert not asked._mark(asked.questions[1], serving.ACCUMULATOR_TOO).right


@pytest.mark.parametrize("depth", Depth)
def test_who_rings_while_interrupts_are_switched_on_is_not_told_that_they_are_on(
    depth: Depth,
) -> None:
    """'When interrupts are on again' is right there as well, so it cannot be chosen."""
    seen = Counter[bool]()
    for step, each in every_step():
        asked = Prediction(PROGRAM, each.facts.run, step, depth, "denary")
        offered = [one.value for one in asked.questions[0].choices]
        assert (serving.ON_AGAIN in offered) is not each.switched
        assert serving.truth("served", each.facts) in offered
        told = serving.happened("served", each.facts)
        assert ("switches interrupts on" in told) is each.switched
        seen[each.switched] += 1
    assert min(seen[True], seen[False]) > 5


def test_it_is_asked_once() -> None:
    step, each = every_step()[3]
    later = Prediction(PROGRAM, each.facts.run, step + 1, Depth.TRANSFERS, "denary")
    assert Field.SERVED not in [one.asks for one in later.questions]


def test_one_that_waited_behind_another_has_not_just_come() -> None:
    run = Run(MACHINE, PROGRAM.words, requests=[Request(2, 1, 66), Request(2, 3, 77)])
    came = run.after_instruction(0) + 1
    one = run.served_at(0)
    assert one
    for step, asked_of_it in ((came, True), (one + 5, False)):
        assert len(run.waiting(step)) == 1
        asked = Prediction(PROGRAM, run, step, Depth.TRANSFERS, "denary")
        assert (Field.SERVED in [each.asks for each in asked.questions]) is asked_of_it


def test_the_steps_that_serve_a_request_can_be_predicted() -> None:
    """The right answers are those of the hardware, and every wrong one is explained."""
    run = Run(MACHINE, PROGRAM.words, requests=[Request(3, 2, 77)])
    first = run.served_at(0)
    assert first
    rung = followed(Asked(3, 2, 77))
    places = ("SP", "MAR", "MDR", "memory", "interrupts")
    for step, place in zip(range(first - 1, first + 4), places, strict=True):
        asked = Prediction(PROGRAM, run, step, Depth.TRANSFERS, "denary")
        after = rung[step + 1]
        held = {
            "SP": after.sp,
            "MAR": after.mar,
            "MDR": after.mdr,
            "memory": after.memory[after.mar],
            "interrupts": "off",
        }[place]
        for answer in asked.mark({Field.PLACE: place, Field.VALUE: str(held)}):
            assert answer.right, answer
        for choice in asked.questions[0].choices:
            marked = asked._mark(asked.questions[0], choice.value)
            assert (
                marked.right is (choice.value == place) and bool(marked.explanation) != marked.right
            )
    asked = Prediction(PROGRAM, run, first + 4, Depth.TRANSFERS, "denary")
    (answer,) = asked.mark({Field.NEXT: str(rung[first + 5].pc)})
    assert answer.right
    (answer,) = asked.mark({Field.NEXT: str(rung[first - 1].pc)})
    assert "First the routine is carried out" in answer.explanation


# What can be asked.


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("when the request is served", "served"),
        ("What is kept?", "kept"),
        ("which address is kept", "kept address"),
    ],
)
def test_subjects_are_read_where_there_are_interrupts(text: str, kind: str) -> None:
    assert read_subject(text, MACHINE).kind == kind
    with pytest.raises(Wrong):
        read_subject(text, SIXTEEN_BIT)


def test_a_slip_in_a_subject_is_told() -> None:
    with pytest.raises(Wrong) as told:
        read_subject("what is kep", MACHINE)
    assert "what is kept" in told.value.mend


def test_where_no_request_waits_or_none_is_served_there_is_no_answer() -> None:
    quiet = Facts(Run(MACHINE, PROGRAM.words), PROGRAM, Span(5, 6))
    late = Facts(Run(MACHINE, PROGRAM.words, requests=[Request(500, 1, 7)]), PROGRAM, Span(5, 6))
    off = assemble(MACHINE, "DISABLE\nADD #1\nHALT")
    never = Facts(Run(MACHINE, off.words, requests=[Request(1, 1, 7)]), off, Span(3, 4))
    for facts, said in (
        (quiet, "No request waits"),
        (late, "No request waits"),
        (never, "not served"),
    ):
        with pytest.raises(Wrong, match=said):
            serving.truth("kept", facts)


def test_near_answers_are_addresses() -> None:
    _, each = every_step()[0]
    subject = read_subject("which address is kept", MACHINE)
    assert all(0 <= value < 256 for value in near_answers(subject, each.facts))  # type: ignore[operator]
    assert [*near_answers(read_subject("what is kept", MACHINE), each.facts)] == []


@pytest.mark.parametrize(("jump", "taken"), [(5, True), (17, False)])
@pytest.mark.parametrize("asks", ["before instruction {}: W", "ask at start: W\nanswer at jump"])
def test_where_a_jump_goes_a_request_served_after_it_does_not_change(
    jump: int, taken: bool, asks: str
) -> None:
    begin = 0
    for _ in range(jump - 1):
        begin += STEPS[IMAGE[quiet()[begin].pc] >> 8]
    end = begin + STEPS[IMAGE[quiet()[begin].pc] >> 8]
    there, labels = quiet()[end].pc, {2: " (loop)"}
    rung = followed(Asked(jump, 1, 77))
    # The request is served with the end of this very jump.
    assert rung[: end + 1] == quiet()[: end + 1] and rung[end + 1 :] != quiet()[end + 1 :]
    place = asks.format(jump).replace("answer at jump", f"answer at instruction {jump}")
    asked, problems = asked_of(jump, place)
    (found,) = asked
    way = "It jumps to" if taken else "It does not jump and goes on to"
    right = f"{way} address {there}{labels.get(there, '')}."
    assert problems == [] and found.choices[found.answer] == right
    assert right.split(" to ")[1] in found.because and len(found.choices) == 4
    # It is shown before the request sends the counter elsewhere.
    assert found.reveal_step == end


@pytest.mark.parametrize(
    "place", ["before request served", "before last transfer of instruction 5"]
)
def test_where_a_request_is_served_there_is_no_jump_to_ask_about(place: str) -> None:
    for asks in (f"{place}: W", f"ask at start: W\n{place.replace('before', 'answer at')}"):
        asked, (problem,) = asked_of(5, asks)
        assert asked == () and problem.warning and problem.mend
        assert problem.what == "There is no jump here: a request is served."


def test_before_a_jump_goes_anywhere_it_is_not_said_to_be_none() -> None:
    asked, (problem,) = asked_of(5, "before fetch 5: W")
    assert asked == () and problem.what == "This ends before the JUMP has gone anywhere."


def asked_of(jump: int, place: str) -> tuple[tuple[AskedQuestion, ...], list[Problem]]:
    """What is asked of a jump in whose first step a request comes."""
    text = "---\ntitle: A\nmachine: 16-bit\nwith: interrupts\n---\n# One\n"
    text += f"```program\n{SOURCE}```\n```interrupts\nin instruction {jump}: 77\n```\n"
    text += f"```question\n{place}\nask: which way the jump goes\n```\n"
    (scene,) = read_lesson("bell", text).scenes
    return scene.questions, scene.question_problems
