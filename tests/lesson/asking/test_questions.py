"""Questions: the answers are held to a machine of their own, written here from the description
of the machine alone (one instruction at a time, with Python's integers), never to the engine."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.lesson.asking.facts import Facts, Value
from app.lesson.asking.questions import AskedQuestion
from app.lesson.asking.subjects import Subject
from app.lesson.file.reader import read_lesson
from app.lesson.places import read_when
from app.lesson.timeline import Spans
from app.machine.run import Moment, Run
from app.machine.state import State
from app.machine.words import Format
from tests.codes import CODES, word

FARES = """\
        LOAD  fare
again:  ADD   bag
        STORE total
        OUTPUT
        COMPARE #15
        JUMP again IF LESS
        SUBTRACT bag
        HALT
fare:   9
bag:    4
total:  0
"""
# In FARES the line of the file that the first question block's text starts on.
FIRST_QUESTION = 21


WRITTEN = {code: written for written, code in CODES.items()}


def lesson(*questions: str, program: str = FARES, inputs: str = "", machine: str = "8-bit"):
    blocks = [("program", program.rstrip("\n"))] + ([("inputs", inputs)] if inputs else [])
    blocks += [("question", each) for each in questions]
    fenced = "".join(f"```{kind}\n{text}\n```\n" for kind, text in blocks)
    return read_lesson("ask", f"---\ntitle: Ask\nmachine: {machine}\n---\n\n# One\n{fenced}")


def asked(when: str, ask: str, extra: str = "", **more: str) -> AskedQuestion:
    found = lesson(f"before {when}: Well?\nask: {ask}\n{extra}".rstrip(), **more)
    # Here answers are looked at, whether or not they could be seen.
    assert [each for each in found.problems if "is in sight" not in each.what] == []
    (question,) = found.scenes[0].questions
    return question


def right(when: str, ask: str, **more: str) -> str:
    question = asked(when, ask, **more)
    return question.choices[question.answer]


def wrong(when: str, ask: str, **more: str) -> dict[str, str]:
    question = asked(when, ask, **more)
    pairs = dict(zip(question.choices, question.reasons, strict=True))
    del pairs[question.choices[question.answer]]
    return pairs


# A machine of the tests' own.


@dataclass
class Naive:
    """Signed values throughout; ``status`` is -1, 0 or 1, or None before the first
    comparison."""

    machine: Format
    memory: list[int]
    inputs: list[int]
    pc: int = 0
    acc: int = 0
    status: int | None = None
    outputs: list[int] = field(default_factory=list)
    jumped: bool | None = None
    stopped: bool = False

    def wrap(self, value: int) -> int:
        size = 2**self.machine.word_bits
        value %= size
        return value - size if value >= size // 2 else value

    def step(self) -> None:
        """One whole instruction."""
        half = 2 ** (self.machine.word_bits // 2)
        word = self.memory[self.pc] % 2**self.machine.word_bits
        code, operand = divmod(word, half)
        self.pc += 1
        self.jumped = None
        written = WRITTEN[code]
        value = operand if "#n" in written else self.memory[operand]
        match written.split()[0]:
            case "HALT":
                self.stopped = True
            case "LOAD":
                self.acc = value
            case "STORE":
                self.memory[operand] = self.acc
            case "ADD" | "SUBTRACT" as name:
                self.acc = self.wrap(self.acc + value if name == "ADD" else self.acc - value)
                self.status = (self.acc > 0) - (self.acc < 0)
            case "COMPARE":
                self.status = (self.acc > value) - (self.acc < value)
            case "JUMP":
                wanted = written.partition(" IF ")[2]
                self.jumped = not wanted or self.said == wanted
                if self.jumped:
                    self.pc = operand
            case "INPUT":
                self.acc = self.inputs.pop(0)
            case "OUTPUT":
                self.outputs.append(self.acc)

    @property
    def said(self) -> str:
        """The status in words."""
        if self.status is None:
            return "no comparison yet"
        return ("EQUAL", "MORE", "LESS")[self.status]


def written(value: int) -> str:
    return f"−{-value}" if value < 0 else str(value)


PROGRAMS = {
    "fares": (FARES, ""),
    "down": ("INPUT\nagain: OUTPUT\nSUBTRACT #1\nJUMP again IF MORE\nHALT", "3"),
    "below": ("x: LOAD #3\nSUBTRACT seven\nSTORE x\nOUTPUT\nCOMPARE seven\nHALT\nseven: 7", ""),
    "over": ("LOAD big\nADD big\nOUTPUT\nJUMP end IF LESS\nLOAD #1\nend: HALT\nbig: 100", ""),
    "two": ("INPUT\nSTORE x\nINPUT\nSUBTRACT x\nOUTPUT\nHALT\nx: 0", "-5, 7"),
}


@pytest.mark.parametrize("machine", ["8-bit", "16-bit"])
@pytest.mark.parametrize("name", PROGRAMS)
def test_answers_after_every_instruction_of_a_run(name: str, machine: str) -> None:
    program, inputs = PROGRAMS[name]
    scene = lesson(program=program, inputs=inputs, machine=machine).scenes[0]
    format = scene.program.machine
    memory = [format.signed(each) for each in scene.program.words]
    naive = Naive(
        format,
        memory + [0] * (format.memory_words - len(memory)),
        [int(each) for each in inputs.split(",") if each],
    )
    cell = len(scene.program.words) - 1
    number = 0
    more = {"program": program, "inputs": inputs, "machine": machine}
    while not naive.stopped and number < 30:
        number += 1
        naive.step()
        here = f"execute {number}"
        assert right(here, "the accumulator", **more) == written(naive.acc)
        assert right(here, "the next address", **more) == str(naive.pc)
        assert right(here, "the status", **more) == naive.said
        sent = ", ".join(written(each) for each in naive.outputs) or "nothing yet"
        assert right(here, "the output so far", **more) == sent
        stored = right(here, f"what is stored at address {cell}", **more)
        assert stored == written(naive.memory[cell])
        assert right(f"instruction {number}", "ACC", **more) == written(naive.acc)
        if naive.jumped is not None:
            way = right(here, "which way the jump goes", **more)
            start = "It jumps to" if naive.jumped else "It does not jump and goes on to"
            assert re.fullmatch(rf"{start} address {naive.pc}( \(\w+\))?\.", way)


@pytest.mark.parametrize("name", PROGRAMS)
def test_every_question_is_a_fair_one(name: str) -> None:
    """3 to 5 different choices, one right, a sentence for each of the others."""
    program, inputs = PROGRAMS[name]
    asks = ("ACC", "PC", "MAR", "MDR", "CIR", "status", "the output so far", "what is at 2")
    for phase in ("fetch", "decode", "execute", "step"):
        questions = [f"before {phase} {n}: Q?\nask: {ask}" for ask in asks for n in range(1, 8)]
        found = lesson(*questions, program=program, inputs=inputs)
        assert found.faults == ()
        for each in found.scenes[0].questions:
            assert 3 <= len(each.choices) <= 5
            assert len(set(each.choices)) == len(each.choices) == len(each.reasons)
            for at, reason in enumerate(each.reasons):
                assert (reason == "") == (at == each.answer)
                assert reason == "" or re.fullmatch(r"[A-Z0-9].+\.", reason)


def test_the_order_is_the_same_every_time_and_the_right_one_moves() -> None:
    places = [f"execute {n}" for n in range(1, 13)]
    first = [asked(each, "the accumulator") for each in places]
    assert first == [asked(each, "the accumulator") for each in places]
    assert len({each.answer for each in first}) >= 3


def test_when_it_is_asked_and_when_the_truth_is_on_the_board() -> None:
    """Step 17 to 20 of FARES are the fetch of STORE, 21 its decode, 22 to 24 its execute."""
    question = asked("execute of STORE", "what is stored in total")
    assert (question.step, question.reveal_step) == (21, 24)
    question = asked("fetch 3", "the next address")
    assert (question.step, question.reveal_step) == (16, 20)
    question = asked("instruction 3", "the accumulator")
    assert (question.step, question.reveal_step) == (16, 24)


def test_of_a_place_that_comes_more_than_once_the_first_is_meant() -> None:
    assert right("ADD", "the accumulator") == "13"
    assert right("second ADD", "the accumulator") == "17"
    found = lesson("before each ADD: Well?\nask: ACC")
    questions = found.scenes[0].questions
    assert [each.choices[each.answer] for each in questions] == ["13", "17"]
    assert [each.number for each in questions] == [1, 2]


def test_questions_are_numbered_in_the_order_of_the_run() -> None:
    found = lesson("before end: B\nask: ACC", "before fetch 1: A\nask: PC")
    assert [(each.number, each.prompt) for each in found.scenes[0].questions] == [
        (1, "A"),
        (2, "B"),
    ]


# Misconceptions, worked out by hand. In FARES bag is at address 9 and fare at 8.


def test_adding() -> None:
    assert wrong("ADD", "the accumulator") == {
        # 9 + 9, the address of bag
        "18": "This works with the address, 9. ADD works with the number that is stored there, 4.",
        "9": "The accumulator held 9 before; the question is what it holds afterwards.",
        "4": "The number 4 is only the second of the two; the question is what 9 + 4 makes.",
    }


def test_taking_away() -> None:
    """17 - 4 is 13: the other way round -13, with the address 8, without change 17."""
    found = wrong("SUBTRACT", "the accumulator")
    assert found == {
        "−13": "This takes the two numbers the wrong way round: SUBTRACT works out 17 − 4.",
        "8": "This works with the address, 9. SUBTRACT works with the number that is stored there,"
        " 4.",
        "17": "The accumulator held 17 before; the question is what it holds afterwards.",
    }


def test_a_sum_that_does_not_fit() -> None:
    """100 + 100 is 200, and 200 - 256 is -56."""
    program, _ = PROGRAMS["over"]
    assert right("ADD", "the accumulator", program=program) == "−56"
    found = wrong("ADD", "the accumulator", program=program)
    assert found["200"] == (
        "The full result, 200, does not fit a word of 8 bits, so it wraps round to −56."
    )


def test_a_number_taken_for_an_address() -> None:
    program = "LOAD #3\nADD #1\nHALT\n40"
    assert wrong("LOAD", "the accumulator", program=program)["40"] == (
        "After #, 3 is the number itself. It is not an address, so what is stored at address 3 does"
        " not count."
    )


def test_who_kept_the_old_value_is_not_told_of_an_address() -> None:
    """LOAD #3 with 40 at address 3 and 40 in the accumulator: both mix-ups answer 40."""
    program = "LOAD 3\nLOAD #3\nHALT\n40"
    reasons = wrong("second LOAD", "the accumulator", program=program)
    assert reasons["40"].startswith("The accumulator held 40 before")


def test_a_store_does_not_empty_the_accumulator() -> None:
    found = wrong("STORE", "the accumulator")
    assert found["0"] == "STORE makes a copy: the accumulator keeps its 13."


def test_the_counter() -> None:
    found = wrong("fetch 2", "the next address")
    assert found["1"].startswith("The program counter held 1 before")
    found = wrong("first jump taken", "the next address")
    # ADD has made 13, COMPARE #15 looks at it, and at 17 the second time.
    assert found["6"].startswith("13 is less than 15, so the status is LESS, and that is what")
    assert found["6"].endswith("it goes on at 1, not at 6.")
    found = wrong("jump not taken", "the next address")
    assert found["1"].startswith("17 is more than 15, so the status is MORE, and this jump needs")


def test_a_jump() -> None:
    question = asked("first JUMP", "which way the jump goes")
    assert question.choices[question.answer] == "It jumps to address 1 (again)."
    assert "It does not jump and goes on to address 6." in question.choices
    # Of a jump back it is thought that it starts again.
    assert "It jumps to address 0." in question.choices
    assert "It goes both ways, one after the other." in question.choices
    assert question.because == (
        "13 is less than 15, so the status is LESS. That is what this jump needs, so it jumps to"
        " address 1 (again)."
    )
    question = asked("jump not taken", "which way the jump goes")
    assert "The machine stops here." in question.choices
    assert question.because == (
        "17 is more than 15, so the status is MORE. This jump needs LESS, so it goes on to address"
        " 6."
    )


def test_a_jump_that_always_jumps() -> None:
    program = "LOAD #2\nJUMP on\nHALT\non: OUTPUT\nHALT"
    found = wrong("jump taken", "which way the jump goes", program=program)
    assert found == {
        "It does not jump and goes on to address 2.": "A JUMP without an IF always jumps.",
        "The machine stops here.": (
            "A jump does not stop the machine: it goes on at address 3 (on)."
        ),
        "It jumps to address 0.": "A jump goes to the address in its operand, and that is 3.",
    }


def test_what_is_copied_from_memory_and_to_it() -> None:
    assert asked("execute 1", "the accumulator").because == (
        "9 is stored at address 8 (fare), and LOAD copies it to the accumulator."
    )
    assert asked("first execute of STORE", "what is stored in total").because == (
        "13 is in the accumulator, and STORE copies it to address 10 (total)."
    )


def test_the_status_of_a_sum_is_told_with_what_it_is_compared_with() -> None:
    assert asked("first execute of ADD", "the status").because == (
        "The ALU adds 9 and 4; the result, 13, goes to the accumulator. 13 is more than 0, so the"
        " status becomes MORE."
    )


def test_what_comparing_is_taken_for() -> None:
    program = "LOAD #9\nCOMPARE #5\nHALT"
    found = wrong("execute of COMPARE", "the accumulator", program=program)
    assert found["4"].startswith("COMPARE does not take 5 away from the accumulator")
    assert found["5"].startswith("COMPARE does not copy 5 to the accumulator")


def test_what_a_register_holds_after_the_fetch() -> None:
    assert right("fetch 2", "the current instruction register") == "ADD bag"
    assert right("step 2", "the memory data register") == "LOAD fare"
    assert right("execute 1", "the memory data register") == "9"
    assert right("execute 1", "the memory address register") == "8"
    assert "STORE total" in wrong("fetch 2", "CIR")


def test_the_output_so_far() -> None:
    found = wrong("second OUTPUT", "the output so far")
    assert right("second OUTPUT", "the output so far") == "13, 17"
    assert {"13", "17"} <= set(found)
    assert right("fetch 1", "the output so far") == "nothing yet"


def test_a_status_that_is_left_from_before() -> None:
    """SUBTRACT leaves LESS; the first jump asks for MORE and leaves it as it is."""
    program = "LOAD #2\nSUBTRACT #3\nJUMP end IF MORE\nJUMP end IF LESS\nOUTPUT\nend: HALT"
    found = wrong("jump not taken", "which way the jump goes", program=program)
    assert found["It jumps to address 5 (end)."] == (
        "The result, −1, is less than 0, so the status is LESS, and this jump needs MORE."
    )
    found = wrong("jump taken", "which way the jump goes", program=program)
    assert found["It does not jump and goes on to address 4."] == (
        "JUMP does not set the status: it is still LESS, because SUBTRACT made −1, and that is what"
        " this jump needs."
    )
    assert found["The machine stops here."] == (
        "Not yet: first the machine goes on at address 5 (end). The HALT there stops it."
    )
    found = wrong(
        "jump not taken",
        "which way the jump goes",
        program="INPUT\nJUMP end IF LESS\nOUTPUT\nend: HALT",
        inputs="-3",
    )
    assert found["It jumps to address 3 (end)."] == (
        "INPUT does not set the status: there has been no comparison yet, and this jump needs LESS."
    )


def test_the_same_instruction_at_two_places() -> None:
    """The second OUTPUT may be meant as well as the first."""
    program = "LOAD #5\nOUTPUT\nLOAD 5\nOUTPUT\nHALT\n3"
    found = wrong("fetch 3", "the current instruction register", program=program)
    assert found["OUTPUT"] == (
        "This one stands at addresses 1 and 3. The program counter held 2, so the fetch takes the"
        " word there."
    )


def test_what_stood_there_at_the_start() -> None:
    """The 0 at address 2 is HALT until the word of LOAD #7, as a signed number, is stored there."""
    program = f"LOAD 5\nSTORE 2\n0\nOUTPUT\nHALT\n{word('LOAD #7') - 256}"
    assert right("fetch 3", "the current instruction register", program=program) == "LOAD #7"
    found = wrong("fetch 3", "the current instruction register", program=program)
    assert found["HALT"].startswith("This one stood at address 2 at the start.")


def test_one_instruction_too_far() -> None:
    program = "LOAD 4\nADD 5\nOUTPUT\nHALT\n9\n6"
    found = wrong("LOAD", "the accumulator", program=program)
    assert found["15"] == (
        "That comes later: the accumulator becomes 15 in the next instruction, ADD."
    )


# Choices by hand.


def test_choices_by_hand() -> None:
    question = asked("ADD", "the accumulator", "choices: 13 or 9 or 18 or 0x63")  # data
    assert set(question.choices) == {"13", "9", "18", "99"}
    reasons = dict(zip(question.choices, question.reasons, strict=True))
    assert reasons["18"].startswith("This works with the address, 9")
    assert reasons["99"].startswith("The ALU adds 9 and 4; the result, 13, goes to")
    assert reasons["13"] == ""
    question = asked("second OUTPUT", "the output so far", "choices: 13,17 or 17, 13 or 17")
    assert question.choices[question.answer] == "13, 17"
    question = asked("COMPARE", "the status", "choices: less, more, equal")
    assert question.choices[question.answer] == "LESS"
    question = asked("SUBTRACT", "ACC", "choices: 13 or -13 or −4")
    assert set(question.choices) == {"13", "−13", "−4"}


def test_choices_with_the_reasons_of_the_teacher() -> None:
    choices = "choices: 13 or 9 because the bag, or 'extra', was forgotten or 18, 99 because of 9"
    question = asked("ADD", "the accumulator", choices)
    reasons = dict(zip(question.choices, question.reasons, strict=True))
    assert set(reasons) == {"13", "9", "18", "99"}
    assert reasons["9"] == "The bag, or 'extra', was forgotten."
    assert reasons["18"].startswith("This works with the address, 9")
    assert reasons["99"] == "Of 9."
    assert reasons["13"] == ""


def test_the_teachers_own_reason_for_the_right_answer() -> None:
    question = asked("ADD", "ACC", "because: the fare and one bag are added", inputs="")
    assert question.because == "The fare and one bag are added."
    assert question.reasons[question.answer] == ""
    (fault,) = lesson(f"before ADD: A\nask: ACC\nbecause: {'so ' * 120}").faults
    assert "reason has" in fault.what


def test_what_is_sent_is_explained_by_what_made_it() -> None:
    question = asked("second OUTPUT", "the output so far")
    assert question.because.startswith("The ALU adds 13 and 4; the result, 17, goes to")
    assert question.because.endswith(
        "The accumulator's 17 is sent to the output. What was sent before stays: 13."
    )


def test_of_a_status_that_is_not_on_stage_nothing_is_said() -> None:
    block = "before ADD: Well?\nask: the accumulator\nchoices: 13 or 9 or 77"
    with_it = lesson(block).scenes[0].questions[0]
    source = lesson(block).source.replace("title: Ask", "title: Ask\nshow: everything but status")
    without = read_lesson("ask", source).scenes[0].questions[0]
    assert with_it.because.endswith("goes to the accumulator, and the status becomes MORE.")
    assert without.because.endswith("goes to the accumulator.")
    assert not any("status" in each for each in without.reasons)
    # Who asks for the status is told.
    asks = source.replace("ask: the accumulator\nchoices: 13 or 9 or 77", "ask: the status")
    assert "status becomes MORE" in read_lesson("ask", asks).scenes[0].questions[0].because


def test_the_right_answer_is_explained() -> None:
    question = asked("ADD", "the accumulator")
    assert question.because.startswith("The ALU adds 9 and 4; the result, 13, goes to")
    assert asked("STORE", "the accumulator").because == (
        "STORE total does not change it, so the accumulator still holds 13."
    )
    assert asked("decode of STORE", "what is stored in total").because == (
        "STORE total has not been executed yet, so address 10 (total) still holds 0."
    )


def test_not_executed_yet_is_said_only_of_what_it_would_change() -> None:
    question = asked("fetch of OUTPUT", "what is stored in total")
    assert question.because == "OUTPUT does not change it, so address 10 (total) still holds 13."
    # Nor does every wrong answer carry the same sentence.
    reasons = [each for at, each in enumerate(question.reasons) if at != question.answer]
    assert len(set(reasons)) > 1 and not any("executed" in each for each in reasons)


@pytest.mark.parametrize("said", ["no comparison yet", "None", "a dash", "–", "-"])
def test_no_status_as_a_choice_by_hand(said: str) -> None:
    question = asked("LOAD", "the status", f"choices: equal or {said} or more")
    assert set(question.choices) == {"EQUAL", "no comparison yet", "MORE"}
    assert question.choices[question.answer] == "no comparison yet"
    assert set(question.reasons) == {"", "Nothing has been compared yet, so there is no status."}


def test_before_the_first_comparison() -> None:
    assert right("LOAD", "the status") == "no comparison yet"
    assert set(wrong("LOAD", "the status")) == {"LESS", "EQUAL", "MORE"}
    # The first that compares: that there is nothing yet is one of the wrong answers.
    assert right("first ADD", "the status") == "MORE"
    assert set(wrong("first ADD", "the status")) == {"LESS", "EQUAL", "no comparison yet"}
    assert "no comparison yet" not in wrong("COMPARE", "the status")
    early = {"program": "JUMP end IF EQUAL\nend: HALT"}
    assert right("jump not taken", "which way the jump goes", **early).startswith("It does not")
    reasons = wrong("jump not taken", "which way the jump goes", **early).values()
    assert "There has been no comparison yet, and this jump needs EQUAL." in reasons


@pytest.mark.parametrize("because", [" because ", ", because ", ",because ", " because: "])
def test_a_reason_of_a_choice_is_never_a_choice(because: str) -> None:
    question = asked("ADD", "ACC", f"choices: 13 or 9{because}it was, or is, left, or 4, or 18")
    reasons = dict(zip(question.choices, question.reasons, strict=True))
    assert set(reasons) == {"13", "9", "4", "18"}
    assert reasons["9"] == "It was, or is, left."


@pytest.mark.parametrize(
    "choice", ["9 becuase it was", "9 (it was)", "9 ; a comment", "9.", "9 or", "−9 x"]
)
def test_more_than_a_number_as_a_choice_is_told(choice: str) -> None:
    block = f"before ADD: A\nask: ACC\nchoices: 13 or 18 or {choice}"
    (warning,) = lesson(block).problems
    assert warning.warning and f"All of '{choice}' is one choice" in warning.what
    assert "numbers alone; a reason comes after 'because'" in warning.mend
    number = choice.split()[0].rstrip(".")
    assert lesson(block.replace(choice, number)).problems == ()


def test_more_than_a_list_of_numbers_as_a_choice_is_told() -> None:
    block = "ask at start: A\nanswer at end\nask: the output so far\nchoices: 13, 17 or 13; 17 or 4"
    (warning,) = lesson(block).problems
    assert "All of '13; 17' is one choice" in warning.what


def test_thousands_set_apart_are_several_choices() -> None:
    (warning,) = lesson("before ADD: A\nask: ACC\nchoices: 13 or 1,000 or 18").problems
    assert "'1,000' is read as 2 numbers" in warning.what and warning.column == 16


def test_a_list_of_choices_and_words_of_a_reason_are_no_thousands() -> None:
    assert lesson("before ADD: A\nask: ACC\nchoices: 13,100,200").problems == ()
    asked = "ask at start: A\nanswer at end\nask: the output so far\nchoices: 13, 17 or 13 because"
    assert lesson(f"{asked} 12,345 is too long or 4").problems == ()


def test_choices_without_the_truth_are_not_used() -> None:
    found = lesson("before ADD: Well?\nask: the accumulator\nchoices: 12 or 9 or 18")
    (warning,) = found.problems
    assert warning.warning
    assert (warning.line, warning.column) == (FIRST_QUESTION + 2, 10)
    assert "None of the choices is right: in the run it is 13." in warning.what
    (question,) = found.scenes[0].questions
    assert question.choices[question.answer] == "13"
    assert "12" not in question.choices


# Faults and warnings.


@pytest.mark.parametrize(
    ("text", "line", "column", "what", "mend"),
    [
        ("ask: ACC", 0, 1, "no line that starts with 'before'", "'before first ADD:"),
        ("before ADD: Well?", 0, 1, "no line that starts with 'ask'", "'ask: the accum"),
        ("before ADD:\nask: ACC", 0, 1, "Nothing comes after 'before ADD:'", "after the colon"),
        ("before ADDD: Well?\nask: ACC", 0, 8, "'ADDD' is not a place", "'ADD'?"),
        ("before start: Well?\nask: ACC", 0, 8, "Nothing comes before", "'before fetch 1'"),
        ("before ADD: Well?\nask: the acumulator", 1, 6, "cannot be found", "'the accumulator'?"),
        ("before ADD: Well?\nask: the weather", 1, 6, "cannot be found", "'the output so far'"),
        ("before ADD: Well?\nasks: ACC", 1, 1, "neither 'before'", "'ask'?"),
        ("before ADD: A\nbefore ADD: B\nask: ACC", 1, 1, "'before' twice", "block of its own"),
        ("before ADD: A\nask: ACC\nchoices: 1 or 2", 2, 10, "There are 2", "3 to 5"),
        ("before ADD: A\nask: ACC\nchoices: 1 or 2 or 0x1", 2, 10, "the same", "Change one"),
        # The class would see the right answer twice, and one of them would be wrong.
        *(
            (
                f"before ADD: A\nask: ACC\nchoices: 1 or 12 or {alike}",
                2,
                10,
                "the same",
                "Change one",
            )
            for alike in ("\uff11\uff12", "12.")
        ),
        (
            "before JUMP: A\nask: which way the jump goes\nchoices: a or b or c",
            2,
            10,
            "always the ways",
            "Leave out",
        ),
    ],
)
def test_faults(text: str, line: int, column: int, what: str, mend: str) -> None:
    (fault,) = lesson(text).faults
    assert (fault.line, fault.column) == (FIRST_QUESTION + line, column)
    assert what in fault.what
    assert mend in fault.mend


def test_choices_that_differ_for_the_eye_are_no_two_of_a_kind() -> None:
    """A number and the character for its digit, and letters of both sizes."""
    text = "before ADD: A\nask: ACC\nchoices: 9 or '1' or 1 or 2\u00b2 or 22"
    assert not lesson(text).faults
    assert not lesson("before ADD: A\nask: ACC\nchoices: 1 or 'a' or 'A'").faults


@pytest.mark.parametrize(
    ("text", "line", "column", "what", "mend"),
    [
        (
            "before fetch 99: Well?\nask: ACC",
            0,
            8,
            "never comes to 'fetch 99'",
            " steps; change the place",
        ),
        ("before INPUT: Well?\nask: ACC", 0, 8, "never asked", "change the place"),
        ("before ADD: Well?\nask: what is in totl", 1, 6, "no label 'totl'", "'total'"),
        ("before ADD: Well?\nask: what is at 16", 1, 6, "no address 16", "15"),
        ("before ADD: A\nask: which way the jump goes", 1, 6, "no jump here", "'before first"),
        ("before when totl changes: A\nask: ACC", 0, 8, "no label 'totl'", "'total'"),
    ],
)
def test_warnings(text: str, line: int, column: int, what: str, mend: str) -> None:
    found = lesson(text)
    (warning,) = found.problems
    assert warning.warning
    assert (warning.line, warning.column) == (FIRST_QUESTION + line, column)
    assert what in warning.what
    assert mend in warning.mend
    assert found.scenes[0].questions == ()


def test_a_place_that_comes_very_often() -> None:
    program = "LOAD #9\nagain: SUBTRACT #1\nJUMP again IF MORE\nHALT"
    found = lesson("before each SUBTRACT: Well?\nask: ACC", program=program)
    (warning,) = found.problems
    assert "comes 9 times" in warning.what
    assert len(found.scenes[0].questions) == 6


def test_a_question_in_a_scene_without_a_program() -> None:
    found = read_lesson("a", "---\ntitle: A\n---\n# One\n```question\nbefore ADD: A\nask: ACC\n```")
    (warning,) = found.problems
    assert "has no program" in warning.what
    assert found.scenes[0].questions == ()


def test_more_questions_than_a_lesson_may_have() -> None:
    (fault,) = lesson(*["before ADD: A\nask: ACC"] * 61).faults
    assert "61 questions" in fault.what


WORDS = st.integers(min_value=0, max_value=255)


@settings(deadline=None, max_examples=60)
@given(
    words=st.lists(WORDS, min_size=1, max_size=16),
    place=st.sampled_from(("fetch 2", "decode 3", "execute 4", "step 9", "end", "instruction 2")),
    ask=st.sampled_from(("ACC", "PC", "MAR", "MDR", "CIR", "status", "output", "what is at 3")),
)
def test_any_program_can_be_asked_about(words: list[int], place: str, ask: str) -> None:
    program = "\n".join(str(each) for each in words)
    found = lesson(f"before {place}: Q?\nask: {ask}", program=program, inputs="1, 2, -3")
    assert found.faults == ()
    for each in found.scenes[0].questions:
        assert 3 <= len(set(each.choices)) == len(each.choices) <= 5


@pytest.mark.parametrize(
    "ask", ["the interrupt flag", "the status", "the CIR", "the MDR", "the accumulator", "the PC"]
)
def test_every_question_has_another_choice_at_every_step(ask: str) -> None:
    """Also where nothing changes what is asked about, and while a request is served."""
    program = (
        "ENABLE serve\nagain: SUBTRACT #1\nJUMP again IF MORE\nHALT\nserve: RETURN FROM INTERRUPT"
    )
    head = "---\ntitle: T\nmachine: 16-bit\nwith: interrupts\n---\n# One\n"
    blocks = f"```program\n{program}\n```\n```interrupts\nafter instruction 2: 1\n```\n"
    asked = "".join(
        f"```question\nbefore step {step}: W\nask: {ask}\n```\n" for step in range(1, 60)
    )
    lesson = read_lesson("t", f"{head}{blocks}{asked}")
    questions = lesson.scenes[0].questions
    assert len(questions) > 30
    assert all(len({*each.choices}) == len(each.choices) > 1 for each in questions)


def test_how_far_a_reason_looks_back_is_no_work_for_each_moment(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nothing has set the status that a jump looks at, for thousands of steps: to see that for
    every question took six seconds."""
    made = 0
    moments = Run._moments

    def counted(self: Run, start: State) -> list[Moment]:
        nonlocal made
        made += 1
        return moments(self, start)

    monkeypatch.setattr(Run, "_moments", counted)
    loads = "LOAD c\n" * 100
    program = f"{loads}late: JUMP late IF LESS\nJUMP late IF MORE\n{loads}JUMP late\nc: 3\n"
    ask = "```question\nbefore each execute at late: W\nask: which way the jump goes\n```\n"
    text = f"---\ntitle: T\nmachine: 16-bit\n---\n# One\n```program\n{program}```\n{ask * 10}"
    (scene,) = read_lesson("t", text).scenes
    assert len(scene.questions) == 60 and made < 30 * len(scene.questions)


def test_where_a_question_is_answered_is_found_without_going_through_all_places(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    looked = 0
    get = Spans.__getitem__

    def counted(self: Spans, at: int | slice) -> object:
        nonlocal looked
        looked += 1
        return get(self, at)

    ask = "```question\nask at each fetch at late: W\nanswer at each jump taken\nask: the PC\n```\n"
    program = "LOAD n\nagain: SUBTRACT #1\nJUMP again IF MORE\nlate: ADD #1\nJUMP late\nn: 2000\n"
    text = f"---\ntitle: T\nmachine: 16-bit\n---\n# One\n```program\n{program}```\n{ask * 10}"
    (scene,) = read_lesson("t", text).scenes
    assert len(scene.timeline.spans(read_when("each jump taken"))) > 3000
    scene.let_go()
    monkeypatch.setattr(Spans, "__getitem__", counted)
    questions = scene.questions
    # It is the first that comes after the question was asked.
    places = scene.timeline.spans(read_when("each jump taken")).firsts
    assert len(questions) == 60 and looked < 20 * 60
    for each in questions:
        assert each.reveal_step == next(at for at in places if at > each.step)


@pytest.mark.parametrize(
    ("choices", "most"), [("", 10), ("choices: JUMP 2 or ADD #1 or ADD #2 because it is next", 200)]
)
def test_of_a_long_program_no_more_mix_ups_are_looked_at_than_are_told(
    choices: str, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All other instructions of a program were put into words for each of its questions: a lesson
    of 10 kB with 300 of these took two seconds to be read."""
    shown = 0
    show = Facts.show

    def counted(self: Facts, subject: Subject, value: Value) -> str:
        nonlocal shown
        shown += 1
        return show(self, subject, value)

    monkeypatch.setattr(Facts, "show", counted)
    program = "".join(f"ADD #{at}\n" for at in range(1, 240)) + "HALT"
    question = asked(
        "first ADD", "the current instruction register", choices, program=program, machine="16-bit"
    )
    assert len(question.choices) == 3 + (not choices)
    assert shown <= most
