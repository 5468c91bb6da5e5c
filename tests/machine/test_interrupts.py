"""Interrupts: against the interrupt cycle of the textbooks, the specification, and each way of
running against the others. Step for step the hardware judges them: see ``tests/hardware``.
"""

from __future__ import annotations

import re
from itertools import pairwise
from random import Random

import pytest

from app.machine.engine import advance, trace, walk
from app.machine.growing import PARTS, grown, key_of, machine_of
from app.machine.instructions import Phase
from app.machine.machine import SIXTEEN_BIT, machine_with
from app.machine.operations import Status
from app.machine.requests import Request, brought_back, in_order, kept
from app.machine.run import Run
from app.machine.source.assembler import assemble
from app.machine.state import Ending, State
from app.machine.telling.narration import arrival, sentence
from app.machine.telling.reading import Reading
from tests.codes import PAGE

EVERY = grown(frozenset(PARTS))
MACHINE = grown(frozenset({"interrupts"}))

# A program that counts, and a routine that sends on what a request brings.
BELL = """
        ENABLE bell
loop:   ADD #1
        JUMP loop
bell:   PUSH
        INPUT
        OUTPUT
        POP
        RETURN FROM INTERRUPT
"""


def run_of(source: str, *requests: Request, limit: int = 60, machine=MACHINE, inputs=()) -> Run:  # type: ignore[no-untyped-def]
    program = assemble(machine, source)
    assert program.problems == ()
    return Run(machine, program.words, inputs, limit, requests)


def served_at(run: Run) -> list[int]:
    """The instructions after which requests are served."""
    return [each[1] for each in run.steps() if each[2].transfer.notation == "PC <- V"]


# The parts.


def test_interrupts_bring_the_stack_that_they_need() -> None:
    assert MACHINE is grown(frozenset({"stack", "interrupts"}))
    assert MACHINE.parts == ("stack", "interrupts")
    assert machine_of(key_of(MACHINE)) is MACHINE
    assert machine_of("16-bit_interrupts") is None


def test_what_serves_a_request_is_as_specified() -> None:
    (steps,) = re.findall(r"^`(SP <- SP - 1` ; .*)`$", PAGE, re.MULTILINE)
    assert [each.notation for each in MACHINE.interrupt] == steps.split("` ; `")
    assert SIXTEEN_BIT.interrupt == () and Phase.INTERRUPT not in SIXTEEN_BIT.phases
    assert MACHINE.phases == tuple(Phase)


# M. Morris Mano, Computer System Architecture (3rd edition), section 5-7, figure 5-14, a
# demonstration of the interrupt cycle (from memory): the instruction at 255 is carried out when
# the flag is set; it ends, the return address 256 is stored, interrupts are off, and the next
# instruction is the first of the routine. All of it 246 lower here, for our memory ends at 255; we
# keep the return address on the stack, and he keeps it in word 0.
def test_the_interrupt_cycle_of_the_textbook() -> None:
    source = "ENABLE 120\nJUMP 9\n" + "0\n" * 7 + "ADD #1\nHALT\n"
    run = run_of(source, Request(3, 2, 0))
    phases = [(each[1], each[2].phase) for each in run.steps()]
    assert phases.index((3, Phase.INTERRUPT)) == phases.index((4, Phase.FETCH)) - 6
    before = run.moment(phases.index((3, Phase.INTERRUPT))).after
    after = run.moment(phases.index((4, Phase.FETCH))).after
    assert (before.pc, before.others["interrupts"]) == (10, 1)
    assert (after.pc, after.others["interrupts"]) == (120, 0)
    assert after.memory[after.others["SP"]] & 0xFF == 10


@pytest.mark.parametrize(
    ("status", "carry", "overflow", "counter", "word"),
    [
        # The right half is the counter; of the left half the bits are -, -, -, -, overflow, carry
        # and two for the comparison. Each worked out from `machine.md` by hand.
        (Status.EQUAL, 0, False, 0, 0),
        (Status.LESS, 0, False, 1, 257),
        (Status.MORE, 0, False, 255, 767),
        (None, 0, False, 10, 778),
        (Status.EQUAL, 1, False, 0, 1024),
        (Status.EQUAL, 0, True, 0, 2048),
        (Status.MORE, 1, True, 7, 3591),
    ],
)
def test_the_word_that_is_kept(
    status: Status | None, carry: int, overflow: bool, counter: int, word: int
) -> None:
    assert kept(EVERY, status, carry, overflow, counter) == word
    # The four bits at the left are not looked at.
    for more in (0, 0x1000, 0xF000):
        assert brought_back(EVERY, word | more) == (status, carry, overflow, counter)


# When a request is served.


@pytest.mark.parametrize("step", range(7))
def test_a_request_in_the_middle_waits_until_the_instruction_has_ended(step: int) -> None:
    assert served_at(run_of(BELL, Request(4, step, 9))) == [4]


def test_requests_wait_while_one_is_served_and_are_served_in_their_order() -> None:
    run = run_of(BELL, Request(4, 2, 11), Request(4, 5, 22), Request(6, 1, 33))
    # The routine has five instructions, and its last one lets the next request in.
    assert served_at(run) == [4, 9, 14]
    run.finish()
    assert run.outputs(5) == (11, 22, 33)


def test_a_request_waits_until_interrupts_are_on() -> None:
    source = "ADD #1\nADD #1\nENABLE 4\nHALT\nDISABLE\nHALT"
    run = run_of(source, Request(1, 1, 5))
    assert served_at(run) == [3]
    assert run.finish().ending is Ending.HALTED
    assert served_at(run_of("DISABLE\nADD #1\nHALT", Request(1, 1, 5))) == []


def test_after_halt_nothing_is_served() -> None:
    run = run_of("ENABLE 3\nHALT", Request(2, 4, 5))
    assert (run.finish().ending, run.finish().served) == (Ending.HALTED, 0)


def test_where_there_is_no_next_instruction_nothing_is_served() -> None:
    source = "ENABLE 2\nJUMP 255\n" + "ADD #1\n" * 254
    run = run_of(source, Request(3, 1, 5))
    # The program fills memory, so there is no room for a stack, and none is asked for.
    assert (run.finish().ending, run.finish().served) == (Ending.OFF_MEMORY, 0)


def test_a_full_stack_ends_the_run_before_the_request_is_served() -> None:
    run = run_of("ENABLE 2\nJUMP 1\n" + "0\n" * 254, Request(2, 3, 5))
    end = run.finish()
    assert (end.ending, end.served, end.cycles) == (Ending.STACK_FULL, 0, 2)
    assert run.moment(run.last_step).step.kind.phase is Phase.EXECUTE  # type: ignore[union-attr]


def test_what_was_interrupted_goes_on_as_if_nothing_had_been() -> None:
    """A program whose routine keeps the accumulator gives the same, whenever requests come."""
    source = """
            ENABLE bell
            LOAD #9
    loop:   OUTPUT
            SUBTRACT #2
            COMPARE #3
            JUMP loop IF MORE
            HALT
    bell:   PUSH
            LOAD #0
            SUBTRACT #1
            POP
            RETURN FROM INTERRUPT
    """
    quiet = run_of(source)
    end = quiet.finish()
    sent = quiet.outputs(9)
    for number in range(1, end.cycles):
        for step in range(6):
            run = run_of(source, Request(number, step, 0))
            final = run.finish()
            assert run.outputs(9) == sent and final.served == 1
            assert (final.acc, final.status, final.pc) == (end.acc, end.status, end.pc)


# Inputs.


def test_the_word_of_a_request_comes_before_other_inputs_once_it_is_served() -> None:
    source = "INPUT\nOUTPUT\nENABLE 6\nINPUT\nOUTPUT\nHALT\nINPUT\nOUTPUT\nRETURN FROM INTERRUPT"
    run = run_of(source, Request(1, 1, 99), inputs=(1, 2))
    run.finish()
    assert run.outputs(9) == (1, 99, 2)


def test_a_request_that_waits_is_no_input() -> None:
    run = run_of("INPUT", Request(0, 0, 99))
    assert run.finish().ending is Ending.WAITING


def test_requests_are_put_in_the_order_in_which_they_come() -> None:
    asked = [Request(3, 0, 1), Request(3, 2, 2), Request(1, 5, 3), Request(3, 2, 4)]
    assert [each.value for each in in_order(asked)] == [3, 2, 4, 1]


# All ways of running.


@pytest.mark.parametrize("counter", ["last", "second"])
def test_advance_trace_and_walk_come_to_the_same(counter: str) -> None:
    machine = machine_with(EVERY, counter)
    program = assemble(machine, BELL)
    served = 0
    for seed in range(150):
        rng = Random(seed)
        asked = in_order(
            Request(rng.randint(0, 40), rng.randint(0, 9), rng.randint(0, 0xFFFF))
            for _ in range(rng.randint(0, 5))
        )
        states = [State.start(machine, program.words) for _ in range(3)]
        outputs: list[list[int]] = [[], [], []]
        advance(machine, states[0], (), outputs[0], 60, 1000, asked)
        traced = list(trace(machine, states[1], (), outputs[1], 60, 1000, asked))
        walked = []
        while states[2].ending is None and states[2].cycles < 60:
            walked += [tuple(each) for each in walk(machine, states[2], (), outputs[2], asked)]
        assert states[0] == states[1] == states[2], seed
        assert traced == walked and outputs[0] == outputs[1] == outputs[2]
        served += states[0].served
    assert served > 150


def test_any_step_of_a_long_run_is_entered_with_its_requests() -> None:
    asked = [Request(number, number % 6, number) for number in range(5, 3000, 37)]
    run = run_of(BELL, *asked, limit=3000)
    steps = list(run.steps())
    assert run.last_step == len(steps) and run.finish().served > 60
    for number in [1, *Random(7).sample(range(1, len(steps)), 60), len(steps)]:
        assert tuple(run.moment(number).step) == steps[number - 1]  # type: ignore[arg-type]
    ends = [one for one, other in pairwise(steps) if one[1] != other[1]]
    for each in ends[:400:11]:
        assert run.before_instruction(each[0] + 1) == each[0]
        assert run.after_instruction(each[0]) > each[0]


def test_phases_are_counted_with_those_that_serve() -> None:
    """By the steps themselves: a phase begins where the phase or the instruction is another."""
    run = run_of(BELL, Request(4, 2, 1), Request(20, 2, 2))
    steps = list(run.steps())
    groups = {(each[1], each[2].phase) for each in steps}
    assert run.phases == len(groups) and len({each[1] for each in steps}) * 3 + 2 == len(groups)
    step, pressed = 0, 0
    while (following := run.after_phase(step)) != step:
        step, pressed = following, pressed + 1
    assert (step, pressed) == (len(steps), len(groups))
    # By any step, in the middle of a phase too.
    begun = [len({(one[1], one[2].phase) for one in steps[:at]}) for at in range(len(steps) + 1)]
    assert [run.phases_by(at) for at in range(len(steps) + 1)] == begun


def test_a_request_that_is_made_at_a_step_leaves_what_was_before() -> None:
    run = run_of(BELL)
    for step in range(1, 40):
        asked = Request(*run.place(step), 77)
        other = run.changed(step, lambda state: None, requests=[asked])
        whole = run_of(BELL, asked)
        for later in range(step, 90):
            if later > step:
                assert other.moment(later) == whole.moment(later)
        for before in range(step + 1):
            assert run.moment(before).after == whole.moment(before).after


# The carry goes with the status: the hardware (`machine.md`, 'Interrupts') keeps and brings back
# all the marks in one word, as the textbooks do with a status register.

KEEPS_CARRY = """
        ENABLE bell
        LOAD  minus
        ADD   minus
        HALT
bell:   ADD   #1
        RETURN FROM INTERRUPT
minus:  -1
"""


def test_a_return_says_that_it_brings_the_carry_back() -> None:
    run = run_of(KEEPS_CARRY, Request(3, 0, 5), machine=EVERY)
    (back,) = [each[0] for each in run.steps() if each[2].transfer.restores]
    moment = run.moment(back)
    assert moment.step
    transfer = moment.step.kind.transfer
    assert set(transfer.targets) == {"PC", "carry", "status"}
    assert transfer.notation == "status, carry, PC <- MDR"
    legs = {(leg.source, leg.target, leg.carries) for beat in transfer.beats() for leg in beat}
    assert legs == {("MDR", each, each) for each in ("PC", "carry", "status")}
    told = sentence(Reading(EVERY, "denary"), moment, 0)
    assert (moment.before.others["carry"], moment.after.others["carry"]) == (0, 1)
    assert "the carry 1" in told
    assert "the carry" not in sentence(Reading(EVERY, "denary"), moment, 0, {"carry"})


def test_what_is_kept_says_so_of_the_carry() -> None:
    run = run_of(KEEPS_CARRY, Request(3, 0, 5), machine=EVERY)
    (keeps,) = [each[0] for each in run.steps() if each[2].transfer.keeps]
    moment = run.moment(keeps)
    assert moment.step
    transfer = moment.step.kind.transfer
    assert transfer.notation == "MDR <- status, carry, PC"
    legs = {(leg.source, leg.target, leg.carries) for beat in transfer.beats() for leg in beat}
    assert legs == {(each, "MDR", each) for each in ("PC", "carry", "status")}
    assert "the carry 1" in sentence(Reading(EVERY, "denary"), moment, 0)


def test_a_machine_without_a_carry_says_nothing_of_one() -> None:
    kinds = [*MACHINE.interrupt, *(one for each in MACHINE.instructions for one in each.transfers)]
    for each in kinds:
        if each.keeps or each.restores:
            assert "carry" not in each.notation + each.words(True)
            assert "carry" not in {leg.carries for beat in each.beats() for leg in beat}


def test_each_request_is_told_when_it_comes() -> None:
    source = "ENABLE 3\nADD #1\nHALT\nRETURN FROM INTERRUPT"
    for steps, told in (
        ((1,), ["A request comes."]),
        ((1, 4), ["A request comes.", "Another request comes."]),
        ((4, 4), ["2 requests come at once."]),
        ((1, 4, 4), ["A request comes.", "2 requests come at once."]),
    ):
        run = run_of(source, *(Request(1, step, 0) for step in steps))
        found = [arrival(run, step) for step in range(run.last_step + 1)]
        assert [each for each in found if each] == told


@pytest.mark.parametrize("in_routine", ["COMPARE #9", "LOAD #2"])
def test_what_a_routine_compared_is_not_told_as_no_comparison(in_routine: str) -> None:
    """RETURN brings back that there is no status; nobody may say that nothing was compared."""
    run = run_of(
        f"ENABLE bell\nLOAD #1\nJUMP bell IF LESS\nHALT\nbell: {in_routine}\nRETURN FROM INTERRUPT",
        Request(2, 0, 65),
    )
    moments = [run.moment(step) for step in range(1, run.last_step + 1)]
    (jump,) = (each for each in moments if each.step and each.step.kind.transfer.condition)
    assert jump.before.served == 1 and jump.before.status is None
    said = sentence(Reading(MACHINE, "denary"), jump, 60)
    assert said.startswith("There is no status yet, so there is no jump")
