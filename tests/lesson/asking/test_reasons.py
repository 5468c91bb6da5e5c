"""Every reason is true: a corpus of runs and wrong answers, each sentence held to the hardware.

The sentences are read by :mod:`tests.lesson.asking.claims`, which shares nothing with what made
them. Programs are generated (:mod:`tests.hardware.generate`), and the shipped lessons' own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import islice

import pytest

from app.lesson import timeline
from app.lesson.asking import serving
from app.lesson.asking.facts import Facts
from app.lesson.asking.happened import what_happened
from app.lesson.asking.mixups import MixUp, Reason
from app.lesson.asking.predictions import Field, Prediction
from app.lesson.asking.questions import true_answer
from app.lesson.asking.subjects import SERVING, Subject
from app.lesson.asking.wrong_answers import wrong_answers
from app.lesson.entries import Wrong
from app.lesson.file.reader import read_file
from app.lesson.header import Depth
from app.machine.growing import PARTS, grown
from app.machine.instructions import FETCHES
from app.machine.machine import MACHINES, machine_with
from app.machine.requests import Request
from app.machine.run import Run
from app.machine.source.assembler import Program, SourceWord, assemble
from app.machine.telling.narration import sentence
from app.machine.telling.reading import Reading
from app.paths import resource
from tests.hardware.generate import (
    GROWN_SHAPES,
    SHAPES,
    broken_into,
    generate,
    generate_grown,
)
from tests.hardware.rtl import Asked, at_the_start, simulate
from tests.lesson.asking.claims import (
    HALF_BITS,
    SERVING_STEPS,
    STEPS,
    FalseClaim,
    Span,
    asks_truly,
    verify,
)
from tests.lesson.asking.test_watched import WATCHED_REASONS

SEEDS = 3 * len(SHAPES)
MOST_STEPS = 120
BROKEN_INTO = GROWN_SHAPES.index(broken_into)
LONGEST_INSTRUCTION = max(STEPS.values())
# Of a memory full of instructions every one may be mistaken for another.
MOST_ANSWERS = 12
GROWN = grown(frozenset(PARTS))
# What only a grown machine can be asked.
GROWN_REASONS = {
    *("POINTER", "WORKED_WITH_POINTER", "ONLY_WHERE", "INDEX_LEFT_OUT", "OPERAND_ALONE"),
    *("INDEX_KEPT", "INDEX_NOT_IN_WORD", "CALL_ITSELF", "COMES_BACK", "CALL_KEEPS", "STILL_THERE"),
    *("GROWS_DOWN", "SHIFT_DOUBLES", "SHIFT_LOSES_SIGN", "NOT_NEGATIVE", "CARRY_STAYS"),
    *("ROUTINE_ITSELF", "SWITCHED"),
    *("CARRY_LATER", "CARRY_OF_SUM", "CARRY_OF_DIFFERENCE", "CARRY_OF_SHIFT"),
}
# Only where a request breaks in: `test_serving.py` holds them to the hardware.
OF_REQUESTS = {
    *("AT_ONCE", "AT_ONCE_OFF", "NEED_NOT_END", "INTERRUPTS_ON", "INTERRUPTS_OFF", "STATUS_KEPT"),
    *("ACCUMULATOR_NOT_KEPT", "GOES_ON_LATER", "RUNNING_ADDRESS", "ROUTINE_ADDRESS"),
    *("ROUTINE_FIRST", "KEPT_BELOW", "COUNTER_STAYS", "WHERE_IT_LIES"),
    # And these here.
    *("BROKE_IN", "NOT_THE_VECTOR", "STATUS_BACK", "CARRY_BACK"),
}
KINDS = ("ACC", "PC", "MAR", "MDR", "CIR", "status", "output", "jump")


# Two numbers that are the same, and a jump to what might be an address, come by chance too seldom.
ALIKE = "INPUT\nSTORE 9\nINPUT\nCOMPARE 9\nJUMP 6 IF EQUAL\nHALT\nSUBTRACT 9\nOUTPUT\nJUMP 10\n0\n3"


class Traced:
    """A program in the model and on the hardware."""

    def __init__(
        self,
        program: Program,
        inputs: Sequence[int],
        most: int = MOST_STEPS,
        requests: Sequence[Request] = (),
    ) -> None:
        machine = program.machine
        self.program = program
        self.inputs = tuple(inputs)
        patterns = [machine.pattern(each) for each in inputs]
        self.run = Run(machine, program.words, patterns, requests=requests)
        image = [*program.words, *[0] * (machine.memory_words - len(program.words))]
        self.second = machine.counter_moves == "second"
        # A reason may tell of the instruction after the last one that is looked at.
        self.most = most
        longest = most + LONGEST_INSTRUCTION
        parts = frozenset(machine.parts)
        given = program.words if parts else image
        asked = [Asked(each.instruction, each.step, each.value) for each in requests]
        steps = simulate(machine.name, given, self.inputs, longest, self.second, parts, asked)
        self.snapshots = [at_the_start(image, parts), *steps]

    def instructions(self) -> Iterator[tuple[int, int]]:
        """The step before each whole instruction, and its last step."""
        at = 0
        last = min(self.most, len(self.snapshots) - 1)
        while at <= last and self.snapshots[at].pc < self.program.machine.memory_words:
            snapshot = self.snapshots[at]
            code = snapshot.memory[snapshot.pc] >> HALF_BITS[self.program.machine.name]
            end = at + STEPS.get(code, 10**9)
            if end > last:
                return
            yield at, end
            at = end
            # Where a request is served, the stack pointer moves in place of a fetch.
            serves = end < last and self.snapshots[end + 1].sp != self.snapshots[end].sp
            at += SERVING_STEPS if serves else 0

    def span(self, first: int, last: int, begin: int, end: int) -> Span:
        words, name = len(self.program.words), self.program.machine.name
        moved = 2 if self.second else 4
        return Span(name, self.snapshots, self.inputs, first, last, begin, end, words, moved)

    def spans(self) -> Iterator[Span]:
        """Single steps, phases and whole instructions."""
        for begin, end in self.instructions():
            pairs = [(each, each) for each in range(begin + 1, end + 1)]
            pairs += [(begin + 1, begin + 4), (begin + 6, end), (begin + 1, end)]
            for first, last in dict.fromkeys(pairs):
                yield self.span(first, last, begin, end)


def generated(seed: int, machine: str, counter: str = "last") -> Traced:
    made = generate(machine, seed)
    origins = tuple(SourceWord(at + 1, (), False) for at in range(len(made.memory)))
    model = machine_with(MACHINES[machine], counter)
    return Traced(Program(model, "", made.memory, origins), made.inputs)


def as_said(value: object, facts: Facts, subject: Subject) -> str:
    """An answer as the claims read it: the word of an instruction as a number."""
    if isinstance(value, int) and facts.is_instruction(subject):
        return str(value)
    return facts.show(subject, value)  # type: ignore[arg-type]


def check_span(traced: Traced, span: Span, told: Counter[str]) -> None:
    facts = Facts(traced.run, traced.program, timeline.Span(span.first, span.last))
    more = [each.tag for each in facts.machine.registers if each.tag not in KINDS]
    subjects = [Subject(each) for each in (*KINDS, *more)]
    places = {span.operand, *(at for at in span.trail if 0 <= at < facts.machine.memory_words)}
    subjects += [Subject("memory", str(each)) for each in sorted(places)]
    for subject in subjects:
        try:
            right = true_answer(subject, facts)
        except Wrong:
            continue  # no jump here
        seen = {right}
        for each in islice(wrong_answers(subject, facts), MOST_ANSWERS):
            text = facts.show(subject, each.value)
            if text in seen:
                continue
            seen.add(text)
            verify(each.sentence, as_said(each.value, facts, subject), span)
            told[each.reason.name] += 1
        if subject.kind != "jump" or facts.jump:
            told[verify(what_happened(subject, facts), "", span)] += 1


@pytest.mark.parametrize("counter", FETCHES)
@pytest.mark.parametrize("machine", MACHINES)
def test_reasons_of_generated_programs(machine: str, counter: str) -> None:
    told: Counter[str] = Counter()
    alike = Traced(assemble(machine_with(MACHINES[machine], counter), ALIKE), (4, 4))
    for traced in (alike, *(generated(seed, machine, counter) for seed in range(SEEDS))):
        for span in traced.spans():
            check_span(traced, span, told)
    assert sum(told.values()) > 5000
    asked_elsewhere = {
        # Only a prediction asks for a place, a word that is fetched or an opcode.
        *("KEEPS_ITS_VALUE", "CHANGES_LATER", "CHANGED_EARLIER", "COUNTED_ALREADY"),
        *("STATUS_NOT_SET", "ADDRESS_AS_WORD", "HALVES"),
        *("AFTER_IT", "AFTER_IT_COPIED"),
        *("OPCODE", "OPCODE_OPERATION", "OPCODE_NUMBER", "SENT_BEFORE"),
    }
    missing = {each.name for each in Reason} - set(told) - asked_elsewhere - GROWN_REASONS
    missing -= OF_REQUESTS
    # What is asked of a cache or a pipeline is held to its own account: see test_watched.py.
    missing -= WATCHED_REASONS
    assert missing == set()


# Bits that count leave the word, and a negative number loses its sign.
SHIFTED = "LOAD 5\nSHIFT #4 LEFT\nNOT\nSHIFT #1 RIGHT\nHALT\n29001"
GROWN_SEEDS = 2 * len(GROWN_SHAPES)


def generated_grown(seed: int) -> Traced:
    made = generate_grown(seed)
    origins = tuple(SourceWord(at + 1, (), False) for at in range(len(made.memory)))
    counter = "second" if seed % 5 == 4 else "last"
    program = Program(machine_with(GROWN, counter), "", made.memory, origins)
    return Traced(program, made.inputs, 70)


def test_reasons_of_grown_programs() -> None:
    """Calls, indexes and shifts: every reason that belongs to them comes, and each is true."""
    told: Counter[str] = Counter()
    shifted = Traced(assemble(GROWN, SHIFTED), ())
    for traced in (shifted, *map(generated_grown, range(GROWN_SEEDS))):
        for span in traced.spans():
            check_span(traced, span, told)
    assert set(told) >= GROWN_REASONS


@pytest.mark.parametrize("first", [32767, 5])
def test_what_a_jump_if_overflow_means_is_held_to_the_run(first: int) -> None:
    """AND makes a result that fits, and leaves the mark that ADD has set (the page, 'Bit
    operations')."""
    source = f"LOAD 5\nADD #1\nAND #1\nJUMP 4 IF OVERFLOW\nHALT\n{first}"
    traced = Traced(assemble(GROWN, source), ())
    begin, end = [*traced.instructions()][3]
    span = traced.span(begin + 5, begin + 5, begin, end)
    told = sentence(Reading(GROWN, "denary"), traced.run.moment(begin + 5), 0)
    verify(told, "", span)
    assert asks_truly(span, " if the last result was too large") == (first == 5)


def test_reasons_where_requests_break_in() -> None:
    """Routines that change status and carry, and the return that brings both back."""
    told: Counter[str] = Counter()
    for seed in range(BROKEN_INTO, 20 * len(GROWN_SHAPES), 2 * len(GROWN_SHAPES)):
        made = generate_grown(seed)
        origins = tuple(SourceWord(at + 1, (), False) for at in range(len(made.memory)))
        asked = [
            Request(each.instruction, each.step, each.value & 0xFFFF) for each in made.requests
        ]
        traced = Traced(Program(GROWN, "", made.memory, origins), (), 90, asked)
        # There are no others: what requests bring are the inputs, in their order.
        traced.inputs = tuple(each.value for each in made.requests)
        for span in traced.spans():
            check_span(traced, span, told)
    assert set(told) >= {"STATUS_BACK", "CARRY_BACK", "BROKE_IN", "NOT_THE_VECTOR"}


def test_reasons_where_a_return_brings_back_that_nothing_was_compared() -> None:
    """The routine compares, and what was kept before it is that there is no status yet."""
    source = "ENABLE 4\nJUMP 2 IF LESS\nJUMP 3 IF LESS\nHALT\nCOMPARE #9\nRETURN FROM INTERRUPT"
    traced = Traced(assemble(GROWN, source), (), 90, [Request(1, 0, 0)])
    traced.inputs = (0,)
    for span in traced.spans():
        check_span(traced, span, Counter())


def test_reasons_of_a_jump_to_an_address_that_is_stored() -> None:
    told: Counter[str] = Counter()
    traced = Traced(assemble(GROWN, "JUMP way INDIRECT\nADD #1\non: HALT\nway: 2"), ())
    for span in traced.spans():
        check_span(traced, span, told)
    assert told["NOTHING_STOPS"] or told["NOT_YET_STOPPED"]


@pytest.mark.parametrize("depth", Depth)
def test_reasons_of_predictions_of_grown_programs(depth: Depth) -> None:
    told: Counter[str] = Counter()
    for seed in range(GROWN_SEEDS):
        check_predictions(generated_grown(seed), depth, told)
    assert sum(told.values()) > 1000


@pytest.mark.parametrize("counter", FETCHES)
@pytest.mark.parametrize("depth", Depth)
@pytest.mark.parametrize("machine", MACHINES)
def test_reasons_of_predictions(machine: str, depth: Depth, counter: str) -> None:
    told: Counter[str] = Counter()
    for seed in range(SEEDS):
        check_predictions(generated(seed, machine, counter), depth, told)
    assert sum(told.values()) > 2000


def check_predictions(traced: Traced, depth: Depth, told: Counter[str]) -> None:
    for begin, end in traced.instructions():
        step = begin
        while step < end and traced.run.reaches(step + 1):
            asked = Prediction(traced.program, traced.run, step, depth, "denary")
            span = traced.span(step + 1, asked.following, begin, end)
            for question in asked.questions:
                for answer in said_to(asked, question.asks):
                    marked = asked._mark(question, answer)
                    if not marked.right:
                        said = answer if question.choices else marked.said
                        told[verify(marked.explanation, said, span)] += 1
            step = asked.following


def said_to(asked: Prediction, field: Field) -> Iterator[str]:
    """Every choice, or what the mix-ups say and two numbers that nothing explains."""
    question = next(each for each in asked.questions if each.asks is field)
    if question.choices:
        yield from (each.value for each in question.choices)
        return
    subject = Subject("PC") if field is Field.NEXT else asked.subject
    for each in wrong_answers(subject, asked.facts):
        if isinstance(each.value, int):
            yield str(each.value)
    yield from ("97", "-98")


LESSONS = sorted(resource("lessons").glob("*.md"))


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_reasons_of_shipped_questions(path: object) -> None:
    """Each question of each lesson, with its choices and with all that a mix-up says."""
    lesson = read_file(path)  # type: ignore[arg-type]
    questions = 0
    for scene in lesson.scenes:
        if not scene.questions:
            continue
        inputs = [lesson.header.machine.signed(each) for each in scene.inputs]
        last = max(each.reveal_step for each in scene.questions)
        traced = Traced(scene.program, inputs, last + 20, scene.requests)
        subjects = {each.line: each.subject for each in scene.asked}
        for asked in scene.questions:
            questions += 1
            subject = subjects[asked.line]
            if subject.watched or subject.kind in SERVING:
                continue  # held to its own account: see test_watched.py and test_serving.py
            asked_of = timeline.Span(asked.step + 1, asked.reveal_step)
            # Where it is answered late, what has made the answer explains it.
            facts = Facts(traced.run, scene.program, asked_of).narrowed(subject)
            first, last = facts.span.first, facts.span.last
            begin, end = next(pair for pair in traced.instructions() if pair[0] < last <= pair[1])
            span = traced.span(first, last, begin, end)
            whole = Facts(traced.run, scene.program, asked_of)
            assert true_answer(subject, whole) == true_answer(subject, facts)
            check_span(traced, span, Counter())
            (question,) = (each for each in scene.asked if each.line == asked.line)
            if not question.because:
                verify(asked.because, "", span)
            own = {text for each in scene.asked for text, why in each.choices if why}
            for text, reason in zip(asked.choices, asked.reasons, strict=True):
                if reason and text not in own:
                    verify(reason, _plain(text, facts, subject), span)
    assert questions or lesson.slug == "01-library-lift"


# What was there before the fetch, by other names: whose address the counter still holds, and which
# instruction came before.
NOT_YET = (MixUp.COUNTER_MOVED_ON, MixUp.OTHER_INSTRUCTION)


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_each_wrong_choice_has_one_mix_up_behind_it(path: object) -> None:
    """Numbers are chosen so that no other mix-up makes the same of them: nobody is told of one that
    was not theirs. A coincidence that cannot be helped has the teacher's own reason. Nor is the
    right answer the address that the instruction names: who took that would seem to know."""
    lesson = read_file(path)  # type: ignore[arg-type]
    coincidences = []
    for scene in lesson.scenes:
        questions = {each.line: each for each in scene.asked}
        for asked in scene.questions:
            question = questions[asked.line]
            if question.subject.watched:
                continue
            own = {text for text, why in question.choices if why}
            span = timeline.Span(asked.step + 1, asked.reveal_step)
            facts = Facts(scene.run, scene.program, span).narrowed(question.subject)
            if question.subject.kind in ("ACC", "memory"):
                right = asked.choices[asked.answer]
                assert not (facts.is_direct and right == str(facts.operand)), asked.prompt
            behind: dict[str, set[str]] = {}
            kind = question.subject.kind
            of_request = kind in SERVING
            answers = (
                serving.mix_ups(kind, facts)
                if of_request
                else wrong_answers(question.subject, facts)
            )
            for each in answers:
                text = facts.show(question.subject, each.value)
                mixup = MixUp.BEFORE_FOR_AFTER if each.mixup in NOT_YET else each.mixup
                behind.setdefault(text, set()).add(mixup or "")
            for at, text in enumerate(asked.choices):
                if at != asked.answer and text not in own and len(behind.get(text, ())) != 1:
                    coincidences.append((scene.title, asked.prompt, text, behind.get(text)))
    assert coincidences == []


def _plain(text: str, facts: Facts, subject: Subject) -> str:
    """The word of an instruction that a choice writes."""
    if not facts.is_instruction(subject):
        return text
    answers = (each for each in wrong_answers(subject, facts))
    return next(str(each.value) for each in answers if facts.show(subject, each.value) == text)


# The proof of the proof: a false fact in any sentence is noticed.


def test_a_false_fact_is_noticed() -> None:
    """In every reason of one program, every number and every capital word is changed in turn."""
    import re

    noticed = changed = 0
    for seed in range(0, SEEDS, 4):
        traced = generated(seed, "8-bit")
        for span in list(traced.spans())[:120]:
            facts = Facts(traced.run, traced.program, timeline.Span(span.first, span.last))
            for kind in KINDS:
                subject = Subject(kind)
                try:
                    right = true_answer(subject, facts)
                except Wrong:
                    continue
                for each in wrong_answers(subject, facts):
                    if facts.show(subject, each.value) == right:
                        continue
                    said = as_said(each.value, facts, subject)
                    for found in re.finditer(
                        r"\d+|LESS|EQUAL|MORE|adds|accumulator", each.sentence
                    ):
                        other = spoilt(found[0])
                        sentence = (
                            each.sentence[: found.start()] + other + each.sentence[found.end() :]
                        )
                        changed += 1
                        try:
                            verify(sentence, said, span)
                        except (FalseClaim, KeyError, IndexError):
                            noticed += 1
    assert changed > 3000
    # A few sentences speak of 'the accumulator' in words that another register makes true as well.
    assert noticed / changed > 0.99, (noticed, changed)


def spoilt(word: str) -> str:
    others = {"LESS": "MORE", "EQUAL": "LESS", "MORE": "LESS", "adds": "takes away"}
    if word in others:
        return others[word]
    return str(int(word) + 1) if word.isdigit() else "program counter"
