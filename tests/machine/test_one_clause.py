"""An instruction, an operation and a register are each one clause: whatever reads the machine
carries them out, tells them, draws them, asks about them and prints them.

The truth comes from NumPy (``bitwise_and``, ``invert``) and from a hand-worked run.
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from app.board.drawing import Form, drawing, route_name
from app.board.frames import make_frame
from app.classroom.view import Settings, View, Went
from app.lesson.asking.facts import Facts
from app.lesson.asking.mixups import MixUp
from app.lesson.asking.predictions import Field, Prediction
from app.lesson.asking.questions import true_answer
from app.lesson.asking.subjects import Subject, read_subject
from app.lesson.asking.wrong_answers import wrong_answers
from app.lesson.entries import Wrong
from app.lesson.header import Depth, Header
from app.lesson.model import Lesson, Scene
from app.lesson.paper.trace import Rows, trace_table, usual_columns
from app.lesson.timeline import Span
from app.machine import machine
from app.machine.addressing import DIRECT, IMPLIED, Mode, Operand
from app.machine.engine import advance, trace, walk
from app.machine.instructions import INSTRUCTIONS, define
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT, Machine
from app.machine.run import Run
from app.machine.source.assembler import Program, assemble
from app.machine.state import Ending, State
from app.machine.telling.narration import sentence
from app.machine.telling.reading import Reading
from app.machine.telling.watched import wait_sentence
from app.machine.watching import pipeline
from app.machine.watching.pipeline import PipelineShape
from tests.machine.grown import GROWN
from tests.machine.images import disassemble
from tests.machine.watching import clockwork
from tests.machine.watching.clockwork import Carried

SOURCE = """
        LOAD  mask
        WITHOUT word
        WITHOUT #8
        LOAD  three TO SPARE
        ADD   #4 TO SPARE
        HALT
mask:   15
word:   0x00F5
three:  3
"""
# Steps: LOAD 1-8, WITHOUT 9-16, WITHOUT # 17-22, LOAD TO SPARE 23-30, ADD TO SPARE 31-36,
# HALT 37-42.
WITHOUT_STEP, WITHOUT_NUMBER_STEP, LOAD_Y_STEP, ADD_Y_STEP = 16, 22, 30, 36


@pytest.fixture
def program() -> Program:
    found = assemble(GROWN, SOURCE)
    assert found.problems == ()
    return found


@pytest.fixture
def run(program: Program) -> Run:
    return Run(GROWN, program.words)


def scene_of(program: Program) -> Scene:
    return Scene("Grown", 1, "", program, (), 100)


def test_it_is_assembled_and_written_back(program: Program) -> None:
    assert [GROWN.split(each)[0] for each in program.words[:5]] == [14, 16, 17, 79, 77]
    again = assemble(GROWN, disassemble(GROWN, program.words))
    assert again.problems == () and again.words == program.words


@pytest.mark.parametrize(
    ("line", "what", "mend"),
    [
        ("WITHOUT", "WITHOUT needs something after it", "'WITHOUT a' or 'WITHOUT #n'"),
        ("ADD #4 TO SPAR", "'TO SPAR' cannot come after '#4'", "TO SPARE"),
        ("LOAD #4 TO SPARE", "something left over at the end", ""),
        ("WITHOUTT 4", "no instruction called 'WITHOUTT'", "WITHOUT?"),
        ("without: 4", "'without' is an instruction", "without_1"),
    ],
)
def test_slips_are_told_from_the_same_tables(line: str, what: str, mend: str) -> None:
    (problem,) = assemble(GROWN, line).problems
    assert what in problem.what
    assert mend in problem.mend


def test_a_machine_without_it_does_not_know_it() -> None:
    (problem, *_) = assemble(SIXTEEN_BIT, "WITHOUT 4\n").problems
    assert "no instruction called 'WITHOUT'" in problem.what
    state = State.start(SIXTEEN_BIT, (SIXTEEN_BIT.join(17, 6),))
    advance(SIXTEEN_BIT, state, (), [], 10, 100)
    assert state.ending is Ending.UNKNOWN_CODE


def test_a_gap_between_two_codes_ends_each_way_of_running_alike() -> None:
    for code in (18, 76, 78, 80, 255):
        image = (GROWN.join(15, 1), GROWN.join(code, 3))
        states = [State.start(GROWN, image) for _ in range(3)]
        advance(GROWN, states[0], (), [], 10, 100)
        traced = list(trace(GROWN, states[1], (), [], 10, 100))
        walked = []
        while states[2].ending is None:
            walked += [tuple(each) for each in walk(GROWN, states[2], (), [])]
        assert states[0] == states[1] == states[2]
        assert states[0].ending is Ending.UNKNOWN_CODE
        assert traced == walked and len(traced) == 11


def test_the_operation_is_that_of_numpy() -> None:
    rng = np.random.default_rng(16)
    pairs = rng.integers(0, 0x10000, (2000, 2), dtype=np.uint16)
    expected = np.bitwise_and(pairs[:, 0], np.invert(pairs[:, 1]))
    signs = np.sign(expected.view(np.int16).astype(int))
    for (a, b), result, sign in zip(pairs.tolist(), expected.tolist(), signs, strict=True):
        state = State.start(GROWN, (GROWN.join(14, 3), GROWN.join(16, 4), 0, a, b))
        advance(GROWN, state, (), [], 2, 100)
        assert state.acc == result
        assert state.status == ("LESS", "EQUAL", "MORE")[sign + 1]


def test_all_ways_of_running_come_to_the_same(program: Program, run: Run) -> None:
    states = [State.start(GROWN, program.words) for _ in range(3)]
    advance(GROWN, states[0], (), [], 100, 1000)
    traced = list(trace(GROWN, states[1], (), [], 100, 1000))
    walked = []
    while states[2].ending is None:
        walked += [tuple(each) for each in walk(GROWN, states[2], (), [])]
    assert states[0] == states[1] == states[2] == run.finish()
    assert traced == walked
    # 15 without the bits of 0x00F5 is 10, and that without those of 8 is 2; Y is 3 and then 7.
    assert (states[0].acc, states[0].others) == (2, {"Y": 7})
    assert run.moment(LOAD_Y_STEP).after.others == {"Y": 3}
    # A state that was looked at is not changed by what comes after it.
    assert run.moment(LOAD_Y_STEP - 1).after.others == {"Y": 0}


def test_it_is_told(run: Run) -> None:
    def told(step: int) -> str:
        return sentence(Reading(GROWN, "denary"), run.moment(step), 100)

    assert told(WITHOUT_STEP) == (
        "The ALU takes out of 15 the bits that 245 has too; the result, 10, goes to the"
        " accumulator, and the status becomes MORE."
    )
    assert told(LOAD_Y_STEP) == "The number 3 is copied to the spare register."
    assert told(ADD_Y_STEP).startswith("The ALU adds 3 and 4; the result, 7, goes to the spare")


@pytest.mark.parametrize("form", Form)
def test_it_is_drawn_and_every_value_has_a_way(form: Form, program: Program, run: Run) -> None:
    routes = {each.name for each in drawing(form, GROWN).routes()}
    for step in range(1, run.last_step + 1):
        made = run.moment(step).step
        assert made
        for beat in made.kind.transfer.beats():
            for leg in beat:
                assert route_name(leg, 0) in routes, leg


def test_it_moves_on_the_board(program: Program, run: Run) -> None:
    lesson = Lesson("grown", Header("Grown", GROWN), (scene_of(program),))
    settings = Settings(Depth.TRANSFERS)
    moment = run.moment(ADD_Y_STEP)
    frame = make_frame(View(lesson, 0, settings, ADD_Y_STEP, moment, None, Went.ON))
    boxes = {each.place: each.value for each in frame.registers}
    assert (boxes["Y"].was, boxes["Y"].now, boxes["Y"].changed) == ("3", "7", True)
    assert (boxes["status"].was, boxes["status"].now) == ("MORE", "MORE")
    assert [(each.source, each.target, each.value) for each in frame.moving] == [
        ("Y", "ALU", "3"),
        ("CU", "ALU", "4"),
        ("ALU", "Y", "7"),
        ("ALU", "status", "MORE"),
    ]
    assert frame.working == ("3 + 4 = 7",)
    assert frame.notation == "Y, status ← Y + operand"
    assert {"Y", "ALU", "status"} <= frame.lit


def test_it_is_predicted_and_marked(program: Program, run: Run) -> None:
    asked = Prediction(program, run, ADD_Y_STEP - 1, Depth.TRANSFERS, "denary")
    place = next(each for each in asked.questions if each.asks is Field.PLACE)
    assert ("Y", "Spare register") in [(each.value, each.label) for each in place.choices]
    right = asked.mark({"place": "Y", "value": "7", "next": "5"})
    assert all(each.right for each in right)
    # The status changes as well, and who says so is right.
    assert asked.mark({"place": "status", "value": "MORE", "next": "5"})[0].right
    wrong = asked.mark({"place": "ACC", "value": "3", "next": "5"})
    assert wrong[1].mixup is MixUp.BEFORE_FOR_AFTER
    assert "The spare register held 3 before" in wrong[1].explanation
    wrong = asked.mark({"place": "Y", "value": "-1", "next": "5"})
    assert wrong[1].mixup is MixUp.OPERATION


def test_it_is_asked(program: Program, run: Run) -> None:
    facts = Facts(run, program, Span(WITHOUT_STEP - 2, WITHOUT_STEP))
    subject = Subject("ACC")
    assert true_answer(subject, facts) == "10"
    found = {each.value: each for each in wrong_answers(subject, facts)}
    # Added instead: 15 + 245. With the address, 7: 15 without 7.
    assert found[260].mixup is MixUp.OPERATION
    assert found[8].mixup is MixUp.ADDRESS_FOR_CONTENTS
    assert "WITHOUT works with the number that is stored there, 245" in found[8].sentence


def test_it_stands_in_a_table(program: Program, run: Run) -> None:
    columns = usual_columns(run, program, Rows.INSTRUCTIONS)
    assert [each.title for each in columns] == ["PC", "ACC", "Y"]
    table = trace_table(run, program, columns)
    assert [row.values[1:] for row in table.rows] == [
        ("15", "0"),
        ("10", "0"),
        ("2", "0"),
        ("2", "3"),
        ("2", "7"),
        ("2", "7"),
    ]


def test_it_goes_through_a_pipeline() -> None:
    """Five stages and two memories, against the second account, which is told here by hand what
    each instruction reads and leaves: both ADDs wait for the register."""
    program = assemble(GROWN, "LOAD 4 TO SPARE\nADD #1 TO SPARE\nADD #2 TO SPARE\nHALT\n5")
    spare = frozenset({"spare"})
    done = [
        Carried(0, "LOAD", [("read", 4)], leaves=spare),
        Carried(1, "ADD", for_work=spare, leaves=spare | {"status"}),
        Carried(2, "ADD", for_work=spare, leaves=spare | {"status"}),
        Carried(3, "HALT"),
    ]
    starts, _ = clockwork.pipeline(done, 5, 2)
    account = pipeline.follow(Run(GROWN, program.words), PipelineShape(5, 2))
    assert [list(each.starts) for each in account.rows] == starts
    assert account.ticks == 10
    row = account.row(2)
    told, _ = wait_sentence(Reading(GROWN, "denary"), account, row, row.waits[-1])
    assert told == "ADD waits: LOAD has not yet written the spare register."


def test_an_address_is_made_with_it() -> None:
    """A mode of its own: 3 and 1 make 4, where 1 stands; who leaves the register out answers 7."""
    mode = Mode(Operand.ADDRESS, ("MAR <- operand + Y", "MDR <- memory[MAR]"), "MDR", "address a")
    load = define(30, "LOAD BY SPARE", mode, "ACC <- {value}", "load", GROWN.registers)
    made = Machine("16-bit", 16, (*GROWN.instructions, load), GROWN.registers)
    program = assemble(made, "LOAD 4 TO SPARE\nLOAD 3 BY SPARE\nHALT\n7\n1")
    assert program.problems == ()
    run = Run(made, program.words)
    (at,) = [each[0] for each in run.steps() if each[2].transfer.right == "Y"]
    told = sentence(Reading(made, "denary"), run.moment(at), 0)
    assert told == (
        "The operand 3 and the spare register's 1 are added: their sum, 4, is the address and goes"
        " to the memory address register."
    )
    facts = Facts(run, program, Span(at, run.after_instruction(at)))
    assert true_answer(Subject("ACC"), facts) == "1"
    found = {each.value: each.mixup for each in wrong_answers(Subject("ACC"), facts)}
    assert found[7] is MixUp.INDEX_ADDED


def test_it_is_asked_for_by_its_name() -> None:
    assert read_subject("the spare register", GROWN) == Subject("Y")
    with pytest.raises(Wrong):
        read_subject("the spare register")


def test_a_clause_in_the_table_is_for_the_machines_that_have_room(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As a contributor would write it: in the tables themselves."""
    new = define(16, "DOUBLE", DIRECT, "ACC, status <- {value} + {value}", "double {value}")
    monkeypatch.setattr(machine, "INSTRUCTIONS", (*INSTRUCTIONS, new))
    assert new in machine._shipped("16-bit", 16).instructions
    assert machine._shipped("8-bit", 8).instructions == EIGHT_BIT.instructions


def test_what_works_on_one_number_twice_is_explained_so() -> None:
    """DOUBLE 2, where 5 is stored: with the address it would be 4."""
    new = define(16, "DOUBLE", DIRECT, "ACC, status <- {value} + {value}", "double {value}")
    doubling = Machine("16-bit", 16, (*INSTRUCTIONS, new))
    program = assemble(doubling, "DOUBLE 2\nHALT\n5")
    facts = Facts(Run(doubling, program.words), program, Span(6, 8))
    assert true_answer(Subject("ACC"), facts) == "10"
    found = {each.value: each.mixup for each in wrong_answers(Subject("ACC"), facts)}
    assert found[4] is MixUp.ADDRESS_FOR_CONTENTS
    assert MixUp.PART_FOR_RESULT not in found.values()


# What is missing is said.


@pytest.mark.parametrize(
    ("transfers", "missing"),
    [
        ("Z <- MDR", "nothing is called 'Z'"),
        ("ACC <- ACC OR MDR", "nothing is called"),
        ("PC <- MDR", "'MDR' holds a word, and 'PC' an address"),
        ("CIR <- ACC", "no line leads from 'ACC' to 'CIR'"),
    ],
)
def test_a_transfer_without_a_part_is_refused(transfers: str, missing: str) -> None:
    with pytest.raises(ValueError, match=re.escape(missing)):
        define(99, "NEW", DIRECT, transfers, "do something new")


def test_two_instructions_may_not_share_a_code_or_a_form() -> None:
    twice = define(0, "PAUSE", IMPLIED, "clock <- stopped", "pause")
    with pytest.raises(ValueError, match="code 0"):
        Machine("16-bit", 16, (*INSTRUCTIONS, twice))
    same = define(99, "HALT", IMPLIED, "clock <- stopped", "stop")
    with pytest.raises(ValueError, match="written HALT"):
        Machine("16-bit", 16, (*INSTRUCTIONS, same))
    with pytest.raises(ValueError, match="do not fit"):
        Machine("8-bit", 8, (*INSTRUCTIONS, define(16, "X", IMPLIED, "output <- ACC", "x")))
