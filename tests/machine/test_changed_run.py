"""What if: a run that was changed at a step, held to a run that was so from the start."""

from __future__ import annotations

import pytest

from app.machine.machine import EIGHT_BIT
from app.machine.run import Run
from app.machine.source.assembler import assemble
from app.machine.state import Ending, State

# The sum of inputs until nought comes.
PROGRAM = assemble(
    EIGHT_BIT,
    """
again:  INPUT
        COMPARE #0
        JUMP done IF EQUAL
        ADD total
        STORE total
        JUMP again
done:   LOAD total
        OUTPUT
        HALT
total:  0
""",
)
TOTAL = PROGRAM.address_of("total")
assert TOTAL is not None


def sums(*inputs: int) -> Run:
    return Run(EIGHT_BIT, PROGRAM.words, inputs)


def output(run: Run) -> tuple[int, ...]:
    return run.outputs(run.finish().sent)


def set_total(value: int):  # type: ignore[no-untyped-def]
    def change(state: State) -> None:
        state.memory[TOTAL] = value

    return change


def nothing(state: State) -> None:
    """Changes nothing."""


def test_a_run_in_which_nothing_changes_is_the_same_at_every_step() -> None:
    run = sums(3, 4, 0)
    for step in range(run.last_step + 1):
        other = run.changed(step, nothing)
        assert other.last_step == run.last_step
        for at in range(step, run.last_step + 1):
            assert other.moment(at) == run.moment(at), (step, at)
            assert other.after_phase(at) == run.after_phase(at)
            assert other.after_instruction(at) == run.after_instruction(at)
            assert other.place(at) == run.place(at)
        assert output(other) == (7,)


def test_a_word_changed_at_the_start_is_that_of_another_program() -> None:
    words = [*PROGRAM.words]
    words[TOTAL] = 20
    other = sums(3, 4, 0).changed(0, set_total(20))
    told = [each[:] for each in other.steps()]
    assert told == [each[:] for each in Run(EIGHT_BIT, words, (3, 4, 0)).steps()]
    assert output(other) == (27,)


def test_a_word_changed_on_the_way() -> None:
    run = sums(3, 4, 0)
    # After the first STORE, wherever in the next instruction: 100 + 4.
    stored = next(at for at in range(run.last_step) if run.moment(at).after.memory[TOTAL] == 3)
    for step in range(stored, stored + 6):
        other = run.changed(step, set_total(100))
        assert other.moment(step).after.memory[TOTAL] == 100
        assert output(other) == (104,)
    assert output(run) == (7,)


def test_a_register_changed_in_the_middle_of_an_instruction() -> None:
    run = sums(3, 0)

    def other_instruction(state: State) -> None:
        state.cir = EIGHT_BIT.join(halt.code, 0)

    halt = next(each for each in EIGHT_BIT.instructions if each.name == "HALT")
    # The first instruction has been fetched, and is decoded as another one.
    fetched = len(EIGHT_BIT.fetch)
    other = run.changed(fetched, other_instruction)
    assert other.finish().ending is Ending.HALTED
    assert other.finish().taken == 0
    assert [each[0] for each in other.steps()] == [*range(1, other.last_step + 1)]


def test_other_inputs_for_a_machine_that_waits() -> None:
    run = sums(3)
    assert run.finish().ending is Ending.WAITING
    other = run.changed(run.last_step, nothing, (5, 0))
    assert other.finish().ending is Ending.HALTED
    assert output(other) == (8,)


def test_a_step_that_the_run_does_not_have() -> None:
    with pytest.raises(IndexError):
        sums(0).changed(1000, nothing)


def test_two_changes_in_one_instruction_are_both_made() -> None:
    """20 and 4 make 24, whatever is changed after that: nothing is worked out anew."""
    program = assemble(EIGHT_BIT, "LOAD #9\nADD #4\nOUTPUT\nHALT")

    def set_acc(state: State) -> None:
        state.acc = 20

    def set_word(state: State) -> None:
        state.memory[12] = 3

    run = Run(EIGHT_BIT, program.words)
    decoded, added = 11, 12  # steps of ADD #4
    once = run.changed(decoded, set_acc)
    twice = once.changed(added, set_word)
    assert once.moment(added).after.acc == twice.moment(added).after.acc == 24
    assert twice.moment(added).after.memory[12] == 3
    assert output(once) == output(twice) == (24,)
    # Three at the same step, one after another.
    again = run.changed(decoded, set_acc).changed(decoded, set_word).changed(added, set_word)
    assert output(again) == (24,)
