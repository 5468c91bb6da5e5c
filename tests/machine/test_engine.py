"""The cycle: against the textbooks' fetch, against NumPy's integers, and against itself.

The engine runs in three ways (``advance``, ``trace`` and ``walk``); what is proved of one holds
for the others because they are shown here to agree step for step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from random import Random

import numpy as np
import pytest

from app.machine.engine import Step, advance, trace, walk
from app.machine.instructions import FETCH, Phase
from app.machine.machine import EIGHT_BIT, MACHINES, SIXTEEN_BIT
from app.machine.operations import Status
from app.machine.source.assembler import assemble
from app.machine.state import Ending, State
from app.machine.words import Format
from tests.codes import code, word
from tests.machine.images import draw

BOTH = pytest.mark.parametrize("format", MACHINES.values(), ids=MACHINES)
NARROW = {8: np.int8, 16: np.int16}
# Codes of the published table: the second value from memory, or in the instruction itself.
SUMS = ("ADD", "SUBTRACT", "COMPARE")
FROM_MEMORY = {name: code(f"{name} a") for name in SUMS}
IN_THE_INSTRUCTION = {name: code(f"{name} #n") for name in SUMS}


def assembled(format: Format, source: str) -> State:
    program = assemble(format, source)
    assert program.problems == ()
    return State.start(format, program.words)


def fields_of(state: State) -> dict[str, object]:
    """The fields of a state that nothing will change any more."""
    return {each.name: getattr(state, each.name) for each in fields(state)}


def run(state: State, format: Format = EIGHT_BIT, inputs: tuple[int, ...] = ()) -> list[int]:
    """Run to the end (at most 1,000 instructions); the outputs, as bit patterns."""
    outputs: list[int] = []
    advance(format, state, inputs, outputs, 1000, 1000 * format.longest)
    return outputs


def walk_on(
    format: Format, state: State, inputs: tuple[int, ...], outputs: list[int], cycles: int
) -> list[tuple[Step, State]]:
    """Every step of the next instructions, each with the state after it."""
    made = []
    while state.cycles < cycles and state.ending is None:
        for step in walk(format, state, inputs, outputs):
            made.append((step, state.copy()))
    return made


# Fetch.


@BOTH
def test_fetch_does_what_the_textbook_says(format: Format) -> None:
    """M. Morris Mano, Computer System Architecture, 3rd edition, section 5-5, from memory:
    T0: AR <- PC; T1: IR <- M[AR], PC <- PC + 1. Our MAR is his AR and our CIR his IR; between
    memory and CIR the word rests in MDR (Stallings' MBR), where his goes over the bus directly.
    """
    rng = Random(1)
    for _ in range(200):
        image = tuple(rng.randint(0, format.word_mask) for _ in range(format.memory_words))
        pc = rng.randrange(format.memory_words)
        state = State(list(image), pc=pc, mar=1, mdr=2, cir=3, acc=4, status=Status.MORE)
        before = fields_of(state.copy())
        steps = walk(format, state, (), [])
        registers = []
        for _ in FETCH:
            assert next(steps).kind.phase is Phase.FETCH
            registers.append((state.mar, state.mdr, state.cir, state.pc))
        word = image[pc]
        assert registers == [
            (pc, 2, 3, pc),
            (pc, word, 3, pc),
            (pc, word, word, pc),
            (pc, word, word, pc + 1),
        ]
        # A fetch changes nothing else.
        fetched = {"pc": pc + 1, "mar": pc, "mdr": word, "cir": word, "steps": 4}
        assert fields_of(state) == before | fetched


# Arithmetic and comparison.


Pairs = list[tuple[int, int]]


def worked_out(format: Format, code: int, pairs: Pairs) -> list[State]:
    """The state after LOAD a and the instruction of this code on b, for pairs of bit patterns."""
    states = []
    for a, b in pairs:
        # The operand: the address of b, or b itself.
        operand = 4 if code in FROM_MEMORY.values() else b
        image = [word("LOAD 3", format.name), format.join(code, operand), 0, a, b]
        state = State(image + [0] * (format.memory_words - len(image)))
        advance(format, state, (), [], 2, 100)
        states.append(state)
    return states


def check_against_numpy(format: Format, operation: str, code: int, pairs: Pairs) -> None:
    narrow = NARROW[format.word_bits]
    # astype drops the high bits: the bit pattern is read as two's complement, as C does.
    a, b = np.array(pairs).astype(narrow).T
    wide_a, wide_b = a.astype(np.int64), b.astype(np.int64)
    if operation == "COMPARE":
        acc, overflow = a, np.zeros(len(a), bool)
        compared = np.sign(wide_a - wide_b)  # exact: 64 bits are plenty
    else:
        acc = a + b if operation == "ADD" else a - b
        overflow = acc != (wide_a + wide_b if operation == "ADD" else wide_a - wide_b)
        compared = np.sign(acc)
    assert acc.dtype == narrow
    states = worked_out(format, code, pairs)
    signs = {"LESS": -1, "EQUAL": 0, "MORE": 1}
    np.testing.assert_array_equal(np.array([each.acc for each in states]).astype(narrow), acc)
    np.testing.assert_array_equal([signs[each.status] for each in states], compared)
    np.testing.assert_array_equal([each.overflow for each in states], overflow)


@pytest.mark.parametrize(("operation", "code"), FROM_MEMORY.items())
def test_all_pairs_of_8_bit_words_as_numpy_does(operation: str, code: int) -> None:
    pairs = [(a, b) for a in range(256) for b in range(256)]
    check_against_numpy(EIGHT_BIT, operation, code, pairs)


@pytest.mark.parametrize(("operation", "code"), FROM_MEMORY.items())
def test_pairs_of_16_bit_words_as_numpy_does(operation: str, code: int) -> None:
    edges = [0, 1, 2, 0x7FFE, 0x7FFF, 0x8000, 0x8001, 0xFFFE, 0xFFFF, 256, 255]
    rng = Random(16)
    drawn = [(rng.randint(0, 0xFFFF), rng.randint(0, 0xFFFF)) for _ in range(5000)]
    pairs = [(a, b) for a in edges for b in edges] + drawn
    check_against_numpy(SIXTEEN_BIT, operation, code, pairs)


@pytest.mark.parametrize(("operation", "code"), IN_THE_INSTRUCTION.items())
def test_numbers_in_the_instruction_as_numpy_does(operation: str, code: int) -> None:
    """Every accumulator with every number that a half of the word holds, unsigned."""
    pairs = [(a, n) for a in range(256) for n in range(16)]
    check_against_numpy(EIGHT_BIT, operation, code, pairs)
    pairs = [(a, n) for a in (0, 1, 0x7FFF, 0x8000, 0x80FF, 0xFFFF) for n in range(256)]
    check_against_numpy(SIXTEEN_BIT, operation, code, pairs)


@BOTH
def test_walking_works_out_the_same_sums(format: Format) -> None:
    """The edges, a step at a time: what advance is compared with NumPy for holds for walk."""
    top = 1 << (format.word_bits - 1)
    edges = [0, 1, 2, top - 2, top - 1, top, top + 1, 2 * top - 2, 2 * top - 1]
    for operation in FROM_MEMORY.values():
        for a in edges:
            for b in edges:
                image = (word("LOAD 3", format.name), format.join(operation, 4), 0, a, b)
                fast, slow = State.start(format, image), State.start(format, image)
                advance(format, fast, (), [], 2, 100)
                walk_on(format, slow, (), [], 2)
                assert slow == fast


def test_overflow_stays_until_the_next_sum() -> None:
    source = "LOAD x\nADD #1\n{}\nHALT\nx: 127"
    stays = ["LOAD #1", "COMPARE #9", "STORE 9", "OUTPUT", "JUMP 3"]
    goes = ["ADD #1", "SUBTRACT #0"]
    for between in stays + goes:
        state = assembled(EIGHT_BIT, source.format(between))
        run(state)
        assert state.overflow is (between in stays), between


# Status and jumps.


@pytest.mark.parametrize("status", [None, *Status])
@pytest.mark.parametrize("condition", Status)
def test_a_jump_with_a_condition(condition: Status, status: Status | None) -> None:
    """Not taken, it is a step all the same: without a value, and PC stays where it was."""
    state = assembled(EIGHT_BIT, f"JUMP 9 IF {condition}")
    state.status = status
    made = walk_on(EIGHT_BIT, state, (), [], 1)
    (_, before), (jump, after) = made[-2:]
    assert len(made) == 6
    assert (jump.value, after.pc) == ((9, 9) if status is condition else (None, 1))
    # Nothing but PC moved, and the step was counted.
    assert fields_of(after) == fields_of(before) | {"pc": after.pc, "steps": 6, "cycles": 1}


def test_a_jump_without_condition() -> None:
    for status in (None, *Status):
        state = assembled(EIGHT_BIT, "JUMP 9")
        state.status = status
        assert walk_on(EIGHT_BIT, state, (), [], 1)[-1][0].value == state.pc == 9


@pytest.mark.parametrize(
    "instruction", ["LOAD #9", "LOAD 9", "STORE 9", "INPUT", "OUTPUT", "JUMP 9"]
)
def test_the_status_is_left_alone_by(instruction: str) -> None:
    """Only COMPARE, ADD and SUBTRACT set it."""
    state = assembled(EIGHT_BIT, f"{instruction}\nHALT")
    state.status = Status.MORE
    advance(EIGHT_BIT, state, (7,), [], 1, 100)
    assert state.status is Status.MORE


def test_comparing_leaves_the_accumulator_alone() -> None:
    state = assembled(EIGHT_BIT, "LOAD #9\nCOMPARE #12\nHALT")
    run(state)
    assert (state.acc, state.status) == (9, Status.LESS)


# Memory, input and output.


def test_storing_changes_one_word() -> None:
    state = assembled(EIGHT_BIT, "LOAD #9\nSTORE 12\nHALT")
    image = state.memory.copy()
    run(state)
    assert {at: word for at, word in enumerate(state.memory) if word != image[at]} == {12: 9}


def test_a_program_may_rewrite_itself() -> None:
    """LOAD #1 becomes LOAD #2 and so on, until adding to it makes another instruction of it."""
    state = assembled(
        EIGHT_BIT,
        """
again:  LOAD  #13
        OUTPUT
        LOAD  again
        ADD   #1
        STORE again
        JUMP  again
        """,
    )
    # After LOAD #15, all ones, comes all noughts: HALT, and that is where it stops.
    outputs: list[int] = []
    advance(EIGHT_BIT, state, (), outputs, 6 * 3, 1000)
    assert outputs == [13, 14, 15]
    assert state.memory[0] == word("HALT")


def test_inputs_arrive_in_order_and_then_the_machine_waits() -> None:
    state = assembled(EIGHT_BIT, "again: INPUT\nOUTPUT\nJUMP again")
    assert run(state, inputs=(3, 0x80, 5)) == [3, 0x80, 5]
    assert (state.ending, state.taken, state.sent) == (Ending.WAITING, 3, 3)
    # It stands in the middle of the INPUT: fetched and decoded, but not carried out.
    assert (state.cycles, state.steps) == (9, 3 * (6 + 6 + 6) + 5)
    assert state.acc == 5


# Endings.


@pytest.mark.parametrize(
    ("format", "image", "ending", "cycles", "steps"),
    [
        (EIGHT_BIT, [0x00], Ending.HALTED, 1, 6),
        (EIGHT_BIT, [0x0F], Ending.HALTED, 1, 6),  # HALT whatever its right half
        (EIGHT_BIT, [word("INPUT")], Ending.WAITING, 0, 5),
        (EIGHT_BIT, [word("LOAD #0")] * 16, Ending.OFF_MEMORY, 16, 96),
        (EIGHT_BIT, [word("JUMP 15"), *[0] * 14, word("LOAD #0")], Ending.OFF_MEMORY, 2, 12),
        (SIXTEEN_BIT, [word("LOAD #0", "16-bit"), 0x1000], Ending.UNKNOWN_CODE, 1, 11),
        (SIXTEEN_BIT, [0xFFFF], Ending.UNKNOWN_CODE, 0, 5),
        (SIXTEEN_BIT, [word("LOAD #0", "16-bit")] * 256, Ending.OFF_MEMORY, 256, 1536),
        (EIGHT_BIT, [word("JUMP 0")], None, 50, 300),  # goes round until it is stopped from outside
    ],
)
def test_how_a_run_ends(
    format: Format, image: list[int], ending: Ending | None, cycles: int, steps: int
) -> None:
    """By each of the three ways, with the same counts."""
    states = [State.start(format, tuple(image)) for _ in range(3)]
    advance(format, states[0], (), [], max(cycles, 1) if ending is None else 1000, 10_000)
    traced = list(trace(format, states[1], (), [], cycles if ending is None else 1000, 10_000))
    walked = walk_on(format, states[2], (), [], cycles if ending is None else 1000)
    assert len(traced) == len(walked) == steps
    for state in states:
        assert (state.ending, state.cycles, state.steps) == (ending, cycles, steps)


@pytest.mark.parametrize("last_step", [0, 1, 5, 6, 7, 12, 13])
def test_only_whole_instructions_are_run(last_step: int) -> None:
    """An instruction is begun while fewer steps than asked for are made, and then finished."""
    state = State.start(EIGHT_BIT, (word("JUMP 0"),))
    advance(EIGHT_BIT, state, (), [], 1000, last_step)
    assert state.steps == -(-last_step // 6) * 6


@pytest.mark.parametrize("image", [[0] * 17, [256], [-1]])
def test_an_image_that_does_not_fit_is_refused(image: list[int]) -> None:
    with pytest.raises(ValueError, match="fit"):
        State.start(EIGHT_BIT, tuple(image))


def test_memory_after_the_image_is_empty() -> None:
    assert State.start(EIGHT_BIT, (1, 2)).memory == [1, 2, *[0] * 14]


# The three ways of running agree.


@BOTH
def test_advance_trace_and_walk_agree_step_for_step(format: Format) -> None:
    endings = set()
    for seed in range(250):
        image, inputs = draw(format, seed)
        most = 60
        states = [State.start(format, image) for _ in range(4)]
        outputs: list[list[int]] = [[], [], [], []]
        advance(format, states[0], inputs, outputs[0], most, most * format.longest)
        traced = list(trace(format, states[1], inputs, outputs[1], most, most * format.longest))
        walked = walk_on(format, states[2], inputs, outputs[2], most)
        # And advance again, an instruction at a time, beside the walk.
        boundaries = {state.steps: state for _, state in walked}
        while states[3].ending is None and states[3].cycles < most:
            advance(format, states[3], inputs, outputs[3], states[3].cycles + 1, 10_000)
            if states[3].ending in (None, Ending.HALTED):
                assert states[3] == boundaries[states[3].steps], seed
        assert traced == [tuple(step) for step, _ in walked], seed
        assert states[0] == states[1] == states[2] == states[3], seed
        assert outputs[0] == outputs[1] == outputs[2] == outputs[3], seed
        endings.add(states[0].ending)
    # The drawn programs are worth the trouble only if they end in every way there is here.
    expected = {None, Ending.HALTED, Ending.OFF_MEMORY, Ending.WAITING}
    assert endings == expected | ({Ending.UNKNOWN_CODE} if format is SIXTEEN_BIT else set())


# For each target, the fields of the state that a transfer to it may change, besides the counts.
MAY_CHANGE = {
    "PC": {"pc"},
    "MAR": {"mar"},
    "MDR": {"mdr"},
    "CIR": {"cir"},
    "ACC": {"acc", "status", "overflow", "taken"},
    "status": {"status"},
    "memory[MAR]": {"memory"},
    "output": {"sent"},
    "clock": {"ending"},
    "opcode, operand": {"ending"},
}
# Where the value of a step is to be found in the state after it.
FOUND_IN: dict[str, Callable[[State], object]] = {
    "PC": lambda state: state.pc,
    "MAR": lambda state: state.mar,
    "MDR": lambda state: state.mdr,
    "CIR": lambda state: state.cir,
    "ACC": lambda state: state.acc,
    "status": lambda state: state.status,
    "memory[MAR]": lambda state: state.memory[state.mar],
    "output": lambda state: state.acc,
    "clock": lambda state: None,
    "opcode, operand": lambda state: state.cir,
}


@BOTH
def test_a_step_changes_its_target_and_nothing_else(format: Format) -> None:
    targets = set()
    for seed in range(60):
        image, inputs = draw(format, seed)
        state = State.start(format, image)
        before = fields_of(state.copy())
        for number, (step, after) in enumerate(walk_on(format, state, inputs, [], 30), start=1):
            target = step.kind.transfer.target
            now = fields_of(after)
            changed = {name for name in now if now[name] != before[name]}
            assert changed <= MAY_CHANGE[target] | {"steps", "cycles"}
            assert step.number == number == after.steps
            not_taken = step.value is None and step.kind.transfer.condition is not None
            assert not_taken or step.value == FOUND_IN[target](after)
            assert not not_taken or not changed - {"steps", "cycles"}
            before = now
            targets.add(target)
    assert targets == set(MAY_CHANGE)


@BOTH
def test_registers_never_hold_more_than_their_bits(format: Format) -> None:
    for seed in range(60):
        image, inputs = draw(format, seed)
        for _, state in walk_on(format, State.start(format, image), inputs, [], 30):
            for pattern in (state.mdr, state.cir, state.acc, state.memory[state.mar]):
                assert 0 <= pattern <= format.word_mask
            assert 0 <= state.mar < format.memory_words
            assert 0 <= state.pc <= format.memory_words
