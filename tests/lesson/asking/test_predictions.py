"""Predictions: the truth against the hardware description, the mix-ups against hand-worked runs."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.lesson.asking.mixups import MixUp
from app.lesson.asking.predictions import NOTHING, Answer, Field, Prediction, Unreadable
from app.lesson.header import Depth
from app.machine.growing import PARTS, grown
from app.machine.machine import EIGHT_BIT, MACHINES, machine_with
from app.machine.requests import Request
from app.machine.run import Run
from app.machine.source.assembler import Program, SourceWord, assemble
from tests.codes import HALF_BITS, bits, code, word
from tests.hardware.generate import generate
from tests.hardware.rtl import Snapshot, signed, simulate

FERRY = """
        LOAD  fare
        ADD   bag
        STORE total
        OUTPUT
        HALT
fare:   9
bag:    4
total:  0
"""
# Steps of FERRY: LOAD 1-8, ADD 9-16, STORE 17-24, OUTPUT 25-30, HALT 31-36.


def prediction(
    source: str, step: int, depth: Depth = Depth.TRANSFERS, inputs: tuple[int, ...] = ()
) -> Prediction:
    program = assemble(EIGHT_BIT, source)
    assert not program.problems
    return Prediction(program, Run(EIGHT_BIT, program.words, inputs), step, depth, "denary")


def marked(
    source: str, step: int, depth: Depth = Depth.TRANSFERS, **said: str
) -> dict[Field, Answer]:
    answers = prediction(source, step, depth).mark(said)
    return {each.question.asks: each for each in answers}


# The truth, against a description of the machine that shares no code with it.

REGISTERS = ("pc", "mar", "mdr", "cir", "acc")
PLACES = {"pc": "PC", "mar": "MAR", "mdr": "MDR", "cir": "CIR", "acc": "ACC"}


def changed(machine: str, before: Snapshot, after: Snapshot) -> str | None:
    """The one part that differs between two snapshots; None where none or several do.

    The status beside a number is not counted; alone it may also be that of a sum whose number is
    the same as before, which is no step of the status.
    """
    found = [PLACES[name] for name in REGISTERS if getattr(before, name) != getattr(after, name)]
    if before.memory != after.memory:
        found.append("memory")
    if before.outputs != after.outputs:
        found.append("output")
    compares = after.cir >> HALF_BITS[machine] in (code("COMPARE a"), code("COMPARE #n"))
    if before.status != after.status and not found and compares:
        found.append("status")
    return found[0] if len(found) == 1 else None


def held(place: str, after: Snapshot) -> str:
    if place == "memory":
        return str(after.memory[after.mar])
    if place == "status":
        return after.status
    if place == "output":
        return str(after.outputs[-1])
    return str(getattr(after, place.lower()))


def raw_program(machine: str, words: tuple[int, ...]) -> Program:
    origins = tuple(SourceWord(at + 1, (), False) for at in range(len(words)))
    return Program(MACHINES[machine], "", words, origins)


@pytest.mark.parametrize("machine", MACHINES)
def test_what_the_hardware_does_is_right(machine: str) -> None:
    seen: set[tuple[str, Field]] = set()
    for seed in range(24):
        made = generate(machine, seed)
        steps = simulate(machine, made.memory, made.inputs, 80)
        format = MACHINES[machine]
        inputs = tuple(format.pattern(each) for each in made.inputs)
        run = Run(format, made.memory, inputs)
        for at, (before, after) in enumerate(pairwise(steps), start=1):
            asked = Prediction(
                raw_program(machine, made.memory), run, at, Depth.TRANSFERS, "denary"
            )
            place = changed(machine, before, after)
            for question in asked.questions:
                if question.asks is Field.PLACE and place:
                    truth = place
                elif (
                    question.asks is Field.VALUE
                    and place
                    and place
                    in (
                        *PLACES.values(),
                        "memory",
                        "status",
                        "output",
                    )
                ):
                    truth = held(place, after)
                    if not question.choices and place in ("ACC", "MDR", "memory"):
                        truth = str(signed(int(truth), format.word_bits))
                elif question.asks is Field.NEXT:
                    truth = str(after.pc)
                else:
                    continue
                answer = asked._mark(question, truth)
                assert answer.right, (made.shape, seed, at, question.text, truth, answer.truth)
                seen.add((place or "", question.asks))
    assert {each for each, asks in seen if asks is Field.PLACE} >= {*PLACES.values(), "memory"}


# The mix-ups, each where a pupil would meet it.


def test_address_for_contents_in_a_load() -> None:
    """LOAD fare is LOAD 5; what is stored at 5 is 9."""
    answer = marked(FERRY, 7, place="ACC", value="5", next="1")[Field.VALUE]
    assert (answer.said, answer.truth) == ("5", "9")
    assert answer.mixup is MixUp.ADDRESS_FOR_CONTENTS


def test_address_for_contents_in_a_sum() -> None:
    """ADD bag is ADD 6: 9 + 6 is 15, but 9 + 4 is 13."""
    answer = marked(FERRY, 15, place="ACC", value="15", next="2")[Field.VALUE]
    assert answer.mixup is MixUp.ADDRESS_FOR_CONTENTS
    assert "stored there, 4" in answer.explanation


def test_contents_for_address() -> None:
    answer = marked(FERRY, 5, place="MAR", value="9")[Field.VALUE]
    assert answer.truth == "5"
    assert answer.mixup is MixUp.CONTENTS_FOR_ADDRESS


def test_before_for_after() -> None:
    answers = marked(FERRY, 15, place="ACC", value="9", next="2")
    assert answers[Field.VALUE].mixup is MixUp.BEFORE_FOR_AFTER
    assert answers[Field.PLACE].right and answers[Field.NEXT].right


@pytest.mark.parametrize("said", ["1", "3"])
def test_counter_already_moved_on(said: str) -> None:
    """ADD stands at address 1; the counter has been at 2 since the fetch."""
    answer = marked(FERRY, 15, place="ACC", value="13", next=said)[Field.NEXT]
    assert answer.truth == "2"
    assert answer.mixup is MixUp.COUNTER_MOVED_ON


def test_counter_has_not_moved_on_yet() -> None:
    answer = marked(FERRY, 8, place="MAR", value="2")[Field.VALUE]
    assert answer.truth == "1"
    assert answer.mixup is MixUp.COUNTER_MOVED_ON


def test_source_for_target() -> None:
    answer = marked(FERRY, 0, place="PC", value="0")[Field.PLACE]
    assert answer.mixup is MixUp.SOURCE_FOR_TARGET
    assert "memory address register" in answer.explanation


def test_a_later_step() -> None:
    answer = marked(FERRY, 0, place="CIR", value="0")[Field.PLACE]
    assert answer.mixup is MixUp.LATER_STEP


def test_other_operation() -> None:
    answer = marked(FERRY, 15, place="ACC", value="5", next="2")[Field.VALUE]
    assert answer.mixup is MixUp.OPERATION
    assert "adds" in answer.explanation


def test_the_number_added_for_the_sum() -> None:
    answer = marked(FERRY, 15, place="ACC", value="4", next="2")[Field.VALUE]
    assert answer.mixup is MixUp.PART_FOR_RESULT


def test_word_too_small() -> None:
    """100 + 100 is 200, which eight bits of two's complement read as -56."""
    source = "LOAD much\nADD much\nHALT\nmuch: 100"
    answer = marked(source, 15, place="ACC", value="200", next="2")[Field.VALUE]
    assert (answer.said, answer.truth) == ("200", "\N{MINUS SIGN}56")
    assert answer.mixup is MixUp.WORD_TOO_SMALL
    assert marked(source, 15, place="ACC", value="0b1100_1000", next="2")[Field.VALUE].right  # data
    down = "LOAD low\nSUBTRACT more\nHALT\nlow: -100\nmore: 100"
    answer = marked(down, 15, place="ACC", value="-200", next="2")[Field.VALUE]
    assert answer.truth == "56"
    assert answer.mixup is MixUp.WORD_TOO_SMALL


LOOP = "LOAD #2\nagain: SUBTRACT #1\nJUMP again IF MORE\nHALT"
# Steps: LOAD 1-6, SUBTRACT 7-12, JUMP 13-18 (taken), SUBTRACT 19-24, JUMP 25-30 (not taken).


def test_a_jump_that_is_taken() -> None:
    answers = marked(LOOP, 17, next="3")
    assert [*answers] == [Field.NEXT]
    assert answers[Field.NEXT].truth == "1"
    assert answers[Field.NEXT].mixup is MixUp.JUMP_TAKEN


def test_a_jump_that_is_not_taken() -> None:
    answer = marked(LOOP, 29, next="1")[Field.NEXT]
    assert answer.truth == "3"
    assert answer.mixup is MixUp.JUMP_TAKEN
    assert "EQUAL" in answer.explanation


def test_a_jump_before_the_first_comparison() -> None:
    answer = marked("JUMP 3 IF EQUAL\nHALT\nHALT\nHALT", 5, next="3")[Field.NEXT]
    assert answer.truth == "1"
    assert answer.mixup is MixUp.JUMP_TAKEN
    assert answer.explanation.startswith("There has been no comparison yet, and this jump needs")


def test_halves_mixed_up_in_decoding() -> None:
    """LOAD 5, read the wrong way round, is what has the opcode five and LOAD's as its operand."""
    wrong = f"JUMP {code('LOAD a')} IF EQUAL"
    assert bits(wrong).split() == bits("LOAD 5").split()[::-1]
    asked = prediction(FERRY, 4)
    (question,) = asked.questions
    assert {each.label for each in question.choices} >= {"LOAD fare", wrong}
    (answer,) = asked.mark({"value": str(word(wrong))})
    assert answer.mixup is MixUp.HALVES
    (answer,) = asked.mark({"value": str(word("LOAD 5"))})
    assert answer.right


def test_fetch_as_one_phase() -> None:
    asked = prediction(FERRY, 8, Depth.PHASES)
    assert [each.asks for each in asked.questions] == [Field.VALUE, Field.NEXT]
    fetched, following = asked.mark({"value": str(word("ADD 6")), "next": "1"})
    assert fetched.right
    assert following.mixup is MixUp.BEFORE_FOR_AFTER
    # The word after the one that is fetched: the counter was taken to have moved on.
    fetched, following = asked.mark({"value": str(word("STORE 7")), "next": "2"})
    assert fetched.mixup is MixUp.COUNTER_MOVED_ON
    assert following.right


def test_execute_as_one_phase() -> None:
    answers = marked(FERRY, 13, Depth.PHASES, place="memory", value="13", next="2")
    assert answers[Field.PLACE].mixup is MixUp.SOURCE_FOR_TARGET
    assert answers[Field.VALUE].right and answers[Field.NEXT].right


def test_store_changes_memory() -> None:
    answers = marked(FERRY, 23, place="ACC", value="7", next="3")
    assert answers[Field.PLACE].truth == "A word of main memory"
    assert answers[Field.VALUE].truth == "13"
    assert answers[Field.VALUE].mixup is MixUp.ADDRESS_FOR_CONTENTS


def test_halt_asks_only_what_changes() -> None:
    asked = prediction(FERRY, 35)
    assert [each.asks for each in asked.questions] == [Field.PLACE]
    assert asked.mark({"place": NOTHING})[0].right


@pytest.mark.parametrize("text", ["13", "0b1101", "0xD", " 1_3 ", "0000 1101"])
def test_a_number_in_any_base(text: str) -> None:
    program = assemble(EIGHT_BIT, FERRY)
    base = "binary" if " " in text.strip() else "denary"
    asked = Prediction(program, Run(EIGHT_BIT, program.words), 15, Depth.TRANSFERS, base)
    answers = asked.mark({"place": "ACC", "value": text, "next": "2" if base == "denary" else "10"})
    assert all(each.right for each in answers)


# Two's complement: the leftmost bit counts -128 of eight bits, -32768 of sixteen ('Words').
# Of characters 0 is NUL (ISO/IEC 646), and the true minus sign is 2212 (ISO/IEC 10646).
@pytest.mark.parametrize(
    ("machine", "number", "base", "shown"),
    [
        ("8-bit", -128, "hexadecimal", "80"),
        ("8-bit", -103, "hexadecimal", "99"),
        ("8-bit", -1, "hexadecimal", "FF"),
        ("16-bit", -32768, "hexadecimal", "8000"),
        ("8-bit", 0, "characters", "NUL"),
        ("16-bit", 0x2212, "characters", "\N{MINUS SIGN}"),
        ("16-bit", -5, "characters", "\N{MINUS SIGN}5"),
    ],
)
def test_what_the_board_would_show_is_right(
    machine: str, number: int, base: str, shown: str
) -> None:
    program = assemble(MACHINES[machine], f"LOAD x\nHALT\nx: {number}")
    asked = Prediction(program, Run(MACHINES[machine], program.words), 7, Depth.TRANSFERS, base)
    said = {Field.PLACE: "ACC", Field.VALUE: shown, Field.NEXT: "1"}
    assert [each.right for each in asked.mark(said)] == [True, True, True]


# An empty stack has its pointer one past the last word: 256 is 0x100.
@pytest.mark.parametrize(
    ("base", "shown"),
    [("denary", "256"), ("hexadecimal", "100"), ("binary", "1 0000 0000"), ("characters", "256")],
)
def test_one_past_the_last_address_is_told_as_the_board_shows_it(base: str, shown: str) -> None:
    machine = grown(frozenset({"stack"}))
    program = assemble(machine, "PUSH\nPOP\nHALT")
    run = Run(machine, program.words)
    last = run.after_instruction(run.after_instruction(0))
    asked = Prediction(program, run, last - 1, Depth.TRANSFERS, base)
    assert asked.reading.term("SP", asked.after) == shown
    told = {
        each.question.asks: each
        for each in asked.mark({Field.PLACE: "SP", Field.VALUE: shown, Field.NEXT: "10"})
    }[Field.VALUE]
    assert told.right and told.said == told.truth == shown


def test_a_negative_number_with_a_true_minus_sign() -> None:
    source = "LOAD #1\nSUBTRACT #2\nHALT"
    answers = marked(source, 11, place="ACC", value="\N{MINUS SIGN}1", next="2")
    assert answers[Field.VALUE].right


@pytest.mark.parametrize(
    ("said", "asks"),
    [
        ({}, Field.PLACE),
        ({"place": "nowhere"}, Field.PLACE),
        ({"place": "ACC"}, Field.VALUE),
        ({"place": "ACC", "value": "many"}, Field.VALUE),
        ({"place": "ACC", "value": "13", "next": ""}, Field.NEXT),
    ],
)
def test_an_answer_that_cannot_be_read(said: dict[str, str], asks: Field) -> None:
    with pytest.raises(Unreadable) as raised:
        prediction(FERRY, 15).mark(said)
    assert raised.value.asks is asks
    assert str(raised.value).endswith(".")


def test_behind_the_last_word_of_memory_nobody_is_asked_for_an_address() -> None:
    """A memory of 16 words has the addresses 0 to 15: there is no next instruction."""
    source = "\n".join(["JUMP 15", *["0"] * 14, "LOAD #3"])
    for step, depth in ((11, Depth.TRANSFERS), (11, Depth.PHASES)):
        asked = [each.asks for each in prediction(source, step, depth).questions]
        assert asked == [Field.PLACE, Field.VALUE]


@pytest.mark.parametrize("depth", Depth)
def test_a_program_that_writes_itself_a_comparison_is_asked_about_the_status(depth: Depth) -> None:
    """127 and 32 make COMPARE #15. As a number that is -97, less than 15."""
    source = "LOAD a\nADD b\nSTORE x\nx: OUTPUT\nHALT\na: 127\nb: 32"
    program = assemble(EIGHT_BIT, source)
    run = Run(EIGHT_BIT, program.words)
    step = run.after_instruction(24) - 1  # the step before the fourth instruction's last
    assert run.moment(step + 1).after.cir == word("COMPARE #15")
    asked = Prediction(program, run, step, depth, "denary", unseen=frozenset({"status"}))
    said = {Field.PLACE: "status", Field.VALUE: "LESS", Field.NEXT: "4"}
    assert [each.right for each in asked.mark(said)] == [True, True, True]


def test_a_fetch_is_asked_about_from_its_middle_on() -> None:
    """Where the depth is changed there and the counter has moved on: what is fetched is the word
    that it pointed at before."""
    machine = machine_with(EIGHT_BIT, "second")
    program = assemble(machine, "LOAD #1\nADD #2\nOUTPUT\nHALT")
    run = Run(machine, program.words)
    assert run.moment(2).after.pc == 1
    asked = Prediction(program, run, 2, Depth.PHASES, "denary")
    said = {Field.VALUE: str(program.words[1]), Field.NEXT: "9"}
    word_asked, counter = asked.mark(said)
    assert "at address 1, after it. The address of this one, 0, was" in word_asked.explanation
    for choice in asked.questions[0].choices:
        marked = asked._mark(asked.questions[0], choice.value)
        assert "address 2, after it" not in marked.explanation
        assert "instruction at address 1 is" not in marked.explanation
    assert not counter.right


def test_no_step_to_predict() -> None:
    for depth in Depth:
        with pytest.raises(IndexError):
            prediction(FERRY, 36, depth)


def said_anything() -> st.SearchStrategy[str]:
    number = st.integers(-300, 300).map(str)
    return number | st.text(max_size=90) | st.sampled_from(["ACC", "PC", "memory", "MORE", NOTHING])


def walks() -> Iterator[tuple[str, int, Depth]]:
    for seed in range(3):
        for depth in Depth:
            yield "8-bit", seed, depth
            yield "16-bit", seed, depth


@pytest.mark.parametrize(("machine", "seed", "depth"), [*walks()])
@given(data=st.data())
@settings(max_examples=15, deadline=None)
def test_anything_said_is_marked_or_refused(
    machine: str, seed: int, depth: Depth, data: st.DataObject
) -> None:
    made = generate(machine, seed)
    format = MACHINES[machine]
    run = Run(format, made.memory, [format.pattern(each) for each in made.inputs], 200)
    step = data.draw(st.integers(0, max(run.last_step - 1, 0)))
    if not run.reaches(step + 1):
        return
    base = data.draw(st.sampled_from(("binary", "denary", "hexadecimal")))
    asked = Prediction(raw_program(machine, made.memory), run, step, depth, base)
    said = {}
    for question in asked.questions:
        choices = [each.value for each in question.choices]
        said[question.asks.value] = data.draw(
            st.sampled_from(choices) if choices else said_anything()
        )
    try:
        answers = asked.mark(said)
    except Unreadable:
        return
    for answer in answers:
        assert answer.right == (answer.explanation == "")
        assert answer.truth
        # Where there are choices the right one is among them.
        if answer.question.choices:
            assert answer.truth in [each.label for each in answer.question.choices]


# What is said of a wrong opcode, and of an answer that no mix-up gives.


def opcode_answer(source: str, step: int, said: str) -> Answer:
    """The answer to a decoding, said as the label of one of its choices."""
    asked = prediction(source, step)
    (question,) = asked.questions
    value = next(each.value for each in question.choices if each.label == said)
    (answer,) = asked.mark({"value": value})
    return answer


@pytest.mark.parametrize(
    ("source", "said", "mixup"),
    [
        ("LOAD 5\nHALT", "LOAD #5", MixUp.NUMBER_OR_ADDRESS),
        ("ADD #5\nHALT", "ADD 5", MixUp.NUMBER_OR_ADDRESS),
        ("ADD 5\nHALT", "SUBTRACT 5", MixUp.OPERATION),
        ("LOAD 15\nHALT", "ADD #15", None),
        ("STORE 15\nHALT", "COMPARE 15", None),
    ],
)
def test_a_wrong_opcode_is_named_only_where_it_is_a_known_mix_up(
    source: str, said: str, mixup: MixUp | None
) -> None:
    answer = opcode_answer(source, 4, said)
    assert not answer.right
    assert answer.mixup is mixup
    assert "Look the opcode up again" in answer.explanation


@pytest.mark.parametrize(
    ("step", "said", "reason"),
    [
        (3, {"place": "MDR", "value": "7"}, "The program counter moves on by one, to 1"),
        (1, {"place": "ACC", "value": str(word("LOAD 5"))}, "Memory is told to read"),
        (15, {"place": "output", "value": "99", "next": "2"}, "The ALU adds 9 and 4; the result"),
        (35, {"place": "ACC"}, "The control unit stops the clock"),
    ],
)
def test_a_wrong_answer_gets_the_reason(step: int, said: dict[str, str], reason: str) -> None:
    answers = marked(FERRY, step, **said)
    assert reason in answers[Field.PLACE].explanation
    assert "This time it is" not in answers[Field.PLACE].explanation


def test_what_was_in_the_register_before_is_said_of_that_register_alone() -> None:
    """LOAD fare leaves the number 9 in the memory data register, and itself in CIR alone."""
    load = str(word("LOAD 5"))
    into_mdr = marked(FERRY, 9, place="MDR", value=load)[Field.VALUE]
    into_cir = marked(FERRY, 10, place="CIR", value=load)[Field.VALUE]
    before = "This one was in the register before"
    assert not into_mdr.right and before not in into_mdr.explanation
    assert before in into_cir.explanation


def test_the_reason_of_the_next_address() -> None:
    answers = marked(FERRY, 15, place="ACC", value="13", next="9")
    assert "moved on in the fetch" in answers[Field.NEXT].explanation
    assert "it jumps" in marked(LOOP, 17, next="9")[Field.NEXT].explanation


def test_the_reason_of_a_whole_phase() -> None:
    answers = marked(FERRY, 13, Depth.PHASES, place="output", value="13", next="2")
    assert "add what is stored at address 6" in answers[Field.PLACE].explanation


def test_the_reason_where_the_run_ends_with_the_step() -> None:
    """Where the run goes no further is told by the board; here the step itself is."""
    program = assemble(EIGHT_BIT, "again: ADD #1\nJUMP again")
    run = Run(EIGHT_BIT, program.words, (), 1)
    answers = Prediction(program, run, 5, Depth.TRANSFERS, "denary").mark(
        {"place": "output", "value": "9", "next": "1"}
    )
    assert "The ALU adds 0 and 1" in answers[0].explanation


def test_the_instruction_is_shown_with_its_operand() -> None:
    assert prediction(FERRY, 5).instruction == "LOAD fare"
    assert prediction(FERRY, 25).instruction == ""


# -1 + -1 carries; the routine's -2 + 1 does not, and the RETURN brings the carry back (the page,
# 'Interrupts').
def test_that_a_return_brings_the_carry_back_is_right() -> None:
    machine = grown(frozenset(PARTS))
    source = "ENABLE 4\nLOAD 6\nADD 6\nHALT\nADD #1\nRETURN FROM INTERRUPT\n-1"
    program = assemble(machine, source)
    run = Run(machine, program.words, requests=[Request(3, 0, 5)])
    (back,) = [each[0] for each in run.steps() if each[2].transfer.restores]
    asked = Prediction(program, run, run.before_phase(back), Depth.PHASES, "denary")
    said = {Field.PLACE: "carry", Field.VALUE: "on", Field.NEXT: "3"}
    marks = {each.question.asks: each.right for each in asked.mark(said)}
    assert marks == dict.fromkeys(said, True)
