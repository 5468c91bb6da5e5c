"""The parts by which the 16-bit machine grows: against the specification, NumPy's integers and
worked examples of textbooks, and each way of running against the others.

That a program does the same on a machine with parts that it does not use is seen here too.
"""

from __future__ import annotations

from itertools import combinations
from random import Random

import numpy as np
import pytest

from app.machine.addressing import Operand
from app.machine.engine import advance, trace, walk
from app.machine.growing import PARTS, grown
from app.machine.instructions import INSTRUCTIONS, Instruction
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT, Machine, machine_with
from app.machine.operations import BIT_OPERATIONS, OPERATIONS, Operation
from app.machine.registers import REGISTERS
from app.machine.run import Run
from app.machine.source.assembler import Program, assemble
from app.machine.state import Ending, State
from app.machine.telling.narration import phase_sentence, sentence, stopped
from app.machine.telling.reading import Reading
from app.machine.words import Format
from tests.codes import GROWN_BY, PART_CODES, part_rows, word
from tests.machine.images import disassemble, draw

EVERY = grown(frozenset(PARTS))
BITS, INDEX, STACK, _ = (grown(frozenset({each})) for each in PARTS)
SYMBOLS = {each.symbol: each for each in (*OPERATIONS, *BIT_OPERATIONS)}
# Interrupts come with the stack: see `test_interrupts.py`.
CHOICES = [
    frozenset(each)
    for count in range(len(PARTS) + 1)
    for each in combinations(PARTS, count)
    if "stack" in each or "interrupts" not in each
]


def assembled(source: str, machine: Machine = EVERY) -> Program:
    program = assemble(machine, source)
    assert program.problems == ()
    return program


def ran(source: str, machine: Machine = EVERY) -> State:
    """The machine at the end of a program (at most 1,000 instructions)."""
    return Run(machine, assembled(source, machine).words, limit=1000).finish()


# The tables.


def test_the_parts_are_those_of_the_specification() -> None:
    assert tuple(PARTS) == GROWN_BY


SPECIFIED = [(part, *row) for part in GROWN_BY for row in part_rows(part)]


@pytest.mark.parametrize(("part", "code", "written", "effect"), SPECIFIED, ids=str)
def test_an_instruction_is_as_specified(part: str, code: int, written: str, effect: str) -> None:
    instruction = grown(frozenset({part})).by_code[code]
    assert instruction.written == written
    assert "; ".join(each.notation for each in instruction.transfers) == effect


@pytest.mark.parametrize("parts", CHOICES, ids=lambda each: "+".join(sorted(each)) or "none")
def test_a_machine_has_what_was_switched_on_and_nothing_else(parts: frozenset[str]) -> None:
    machine = grown(parts)
    assert machine is grown(parts) and set(machine.parts) == parts
    codes = {code for part in parts for code in PART_CODES[part].values()}
    assert set(machine.by_code) == {each.code for each in INSTRUCTIONS} | codes
    tags = {
        "bit operations": ["carry"],
        "index register": ["X"],
        "stack": ["SP"],
        "interrupts": ["V", "interrupts"],
    }
    more = [each.tag for each in machine.registers[len(REGISTERS) :]]
    assert more == [tag for part, brought in tags.items() if part in parts for tag in brought]
    assert bool(machine.interrupt) is ("interrupts" in parts)
    assert machine.has_adder is bool(parts & {"index register", "stack"})


def test_without_a_part_it_is_the_machine_as_it_was() -> None:
    assert grown(frozenset()) is SIXTEEN_BIT
    assert SIXTEEN_BIT.instructions == INSTRUCTIONS == EIGHT_BIT.instructions
    assert [each.notation for each in SIXTEEN_BIT.by_code[12].transfers][-1] == (
        "ACC, status <- ACC + MDR"
    )
    assert [each.notation for each in BITS.by_code[12].transfers][-1] == (
        "ACC, carry, status <- ACC + MDR"
    )


def test_an_unknown_part_is_none() -> None:
    with pytest.raises(KeyError, match="wings"):
        grown(frozenset({"stack", "wings"}))


def test_the_group_of_a_code_says_how_and_its_half_what() -> None:
    """The group is the left half of the code; odd codes take the number."""
    plain = {each.code: each for each in INSTRUCTIONS}
    for code, instruction in INDEX.by_code.items():
        group, work = divmod(code, 16)
        if group in (2, 3):
            ending = {2: "INDIRECT", 3: "INDEXED"}[group]
            assert instruction.written == f"{plain[work].written} {ending}"
    for instruction in EVERY.instructions:
        same = [
            each
            for each in EVERY.instructions
            if (each.name, each.ending) == (instruction.name, instruction.ending)
        ]
        if len(same) == 2:
            assert {each.operand: each.code % 2 for each in same} == {
                Operand.ADDRESS: 0,
                Operand.NUMBER: 1,
            }


@pytest.mark.parametrize(
    ("written", "trips"),
    [
        ("LOAD #n", 0),
        ("LOAD a", 1),
        ("LOAD a INDIRECT", 2),
        ("LOAD a INDEXED", 1),
        ("STORE a INDIRECT", 2),
        ("CALL a", 1),
        ("RETURN", 1),
        ("SHIFT #n LEFT", 0),
    ],
)
def test_how_often_an_instruction_goes_to_memory(written: str, trips: int) -> None:
    """0, 1 and 2 references for immediate, direct and indirect, as in W. Stallings, Computer
    Organization and Architecture, the table of addressing modes (from memory)."""
    assert by_written(written).trips == trips


def by_written(written: str) -> Instruction:
    return next(each for each in EVERY.instructions if each.written == written)


def test_jumps_calls_and_returns_are_told_apart() -> None:
    for each in EVERY.instructions:
        assert each.jumps == (each.name == "JUMP")
        assert each.calls == (each.name == "CALL")
        assert each.returns == (each.name == "RETURN")


# Operations against NumPy.

NARROW = {8: (np.uint8, np.int8), 16: (np.uint16, np.int16)}
UFUNCS = {
    "+": np.add,
    "-": np.subtract,
    "AND": np.bitwise_and,
    "OR": np.bitwise_or,
    "XOR": np.bitwise_xor,
}


def drawn_pairs() -> np.ndarray:
    edges = [0, 1, 2, 0x7FFE, 0x7FFF, 0x8000, 0x8001, 0xFFFE, 0xFFFF, 256, 255]
    drawn = np.random.default_rng(16).integers(0, 0x10000, (3000, 2))
    return np.concatenate([np.array([(a, b) for a in edges for b in edges]), drawn])


@pytest.mark.parametrize("symbol", UFUNCS)
@pytest.mark.parametrize("format", [EIGHT_BIT, SIXTEEN_BIT], ids=lambda each: each.name)
def test_an_operation_is_numpys(symbol: str, format: Format) -> None:
    """All pairs of 8-bit words, many of 16-bit ones; the carry from sums in 64 bits."""
    unsigned, _ = NARROW[format.word_bits]
    byte = np.arange(256)
    pairs = (
        np.array(np.meshgrid(byte, byte)).reshape(2, -1).T
        if format.word_bits == 8
        else drawn_pairs()
    )
    a, b = pairs.T
    operation = SYMBOLS[symbol]
    results = [operation.result(format, *pair) for pair in pairs.tolist()]
    expected = UFUNCS[symbol](a.astype(unsigned), b.astype(unsigned))
    np.testing.assert_array_equal(results, expected)
    if operation.carry:
        carries = [operation.left_over(format, *pair) for pair in pairs.tolist()]
        exact = a + b if symbol == "+" else a - b
        np.testing.assert_array_equal(carries, (exact < 0) | (exact > format.word_mask))


def test_not_is_numpys_on_every_word() -> None:
    words = np.arange(0x10000)
    results = [SYMBOLS["NOT"].result(SIXTEEN_BIT, each, 0) for each in words.tolist()]
    np.testing.assert_array_equal(results, np.invert(words.astype(np.uint16)))


@pytest.mark.parametrize("count", range(16))
def test_shifts_and_rotations_are_those_of_numpys_bits(count: int) -> None:
    """The bits themselves are moved (``numpy.roll``), and NumPy's own shifts agree."""
    words = np.concatenate([np.arange(256) * 257, drawn_pairs()[:400, 0]])
    rows = ((words[:, None] >> np.arange(15, -1, -1)) & 1).astype(int)
    place = np.arange(16)
    value = 1 << np.arange(15, -1, -1)
    sign = rows[:, :1]
    right, left = np.roll(rows, count, axis=1), np.roll(rows, -count, axis=1)
    expected = {
        "shifted left by": np.where(place < 16 - count, left, 0) @ value,
        "shifted right by": np.where(place >= count, right, 0) @ value,
        "shifted right signed by": np.where(place >= count, right, sign) @ value,
        "rotated left by": left @ value,
        "rotated right by": right @ value,
    }
    unsigned, signed = words.astype(np.uint16), words.astype(np.uint16).view(np.int16)
    np.testing.assert_array_equal(expected["shifted left by"], unsigned << count)
    np.testing.assert_array_equal(expected["shifted right by"], unsigned >> count)
    arithmetic = (signed >> count).view(np.uint16)
    np.testing.assert_array_equal(expected["shifted right signed by"], arithmetic)
    for symbol, results in expected.items():
        operation = SYMBOLS[symbol]
        made = [operation.result(SIXTEEN_BIT, each, count) for each in words.tolist()]
        np.testing.assert_array_equal(made, results, symbol)
        # The bit that left last: the one at this place of the row.
        last = count - 1 if "left" in symbol else 16 - count
        gone = rows[:, last] if count else np.zeros(len(rows), int)
        carries = [operation.left_over(SIXTEEN_BIT, each, count) for each in words.tolist()]
        np.testing.assert_array_equal(carries, gone, symbol)


def test_only_the_right_four_bits_of_a_count_are_looked_at() -> None:
    for each in BIT_OPERATIONS:
        if each.carry:
            by_three = each.result(SIXTEEN_BIT, 4660, 3)
            assert each.result(SIXTEEN_BIT, 4660, 5 * 16 + 3) == by_three


@pytest.mark.parametrize("written", ["AND", "OR", "XOR", "ADD", "SUBTRACT"])
def test_the_engine_does_what_the_operation_says(written: str) -> None:
    """From memory and in the instruction, with result, status, carry and overflow."""
    symbol = {"ADD": "+", "SUBTRACT": "-"}.get(written, written)
    operation = SYMBOLS[symbol]
    load, hold = word("LOAD 3", "16-bit"), word(f"{written} 4", "16-bit")
    for a, b in drawn_pairs()[:600].tolist():
        number = word(f"{written} #{b % 256}", "16-bit")
        for image, right in (((load, hold, 0, a, b), b), ((load, number, 0, a, b), b % 256)):
            state = State.start(EVERY, image)
            advance(EVERY, state, (), [], 2, 100)
            result = operation.result(EVERY, a, right)
            sign = np.sign(EVERY.signed(result))
            assert state.acc == result
            assert state.status == ("LESS", "EQUAL", "MORE")[sign + 1]
            carry = operation.left_over(EVERY, a, right) if operation.carry else 0
            assert state.others["carry"] == carry


# Worked examples.


@pytest.mark.parametrize(
    ("operation", "before", "count", "after", "carry"),
    [
        # 53 shifted left by 2 is 212, and 212 shifted right by 3 is 26.
        ("shifted left by", 53, 2, 212, 0),
        ("shifted right by", 0b1101_0100, 3, 0b0001_1010, 1),  # data
        # An arithmetic shift divides by two and rounds down, so that -1 stays -1.
        ("shifted right signed by", -3, 1, -2, 1),
        ("shifted right signed by", -105, 1, -53, 1),
        ("shifted right signed by", -1, 7, -1, 1),
        # A byte turned round by one place: here both halves of the word hold it, so that each gets
        # from the other what it gives.
        ("rotated left by", 0b1001_0111 * 257, 1, 0b0010_1111 * 257, 1),  # data
        ("rotated right by", 0b1001_0111 * 257, 1, 0b1100_1011 * 257, 1),  # data
    ],
)
def test_published_shifts(operation: str, before: int, count: int, after: int, carry: int) -> None:
    """Examples as they stand in general articles on bitwise operations and arithmetic shifts, of
    8 bits there; the signed ones are extended to 16."""
    found: Operation = SYMBOLS[operation]
    pattern = EVERY.pattern(before)
    assert found.result(EVERY, pattern, count) == EVERY.pattern(after)
    assert found.left_over(EVERY, pattern, count) == carry


# W. Stallings, Computer Organization and Architecture, problems on addressing modes (from memory):
# a one-address machine with an accumulator, where word 20 contains 40, word 30 contains 50, word 40
# contains 60 and word 50 contains 70.
STALLINGS = {20: 40, 30: 50, 40: 60, 50: 70}
# M. Morris Mano, Computer System Architecture, 3rd edition, section 8-5, 'Numerical example': the
# address field is 500, the index register 100; 500 holds 800, 600 holds 900, 800 holds 300. All of
# it divided by ten here, for our memory ends at 255.
MANO = {50: 80, 60: 90, 80: 30}


@pytest.mark.parametrize(
    ("memory", "line", "acc"),
    [
        (STALLINGS, "LOAD #20", 20),
        (STALLINGS, "LOAD 20", 40),
        (STALLINGS, "LOAD 20 INDIRECT", 60),
        (STALLINGS, "LOAD #30", 30),
        (STALLINGS, "LOAD 30", 50),
        (STALLINGS, "LOAD 30 INDIRECT", 70),
        (MANO, "LOAD #50", 50),
        (MANO, "LOAD 50", 80),
        (MANO, "LOAD 50 INDIRECT", 30),
        (MANO, "LOAD 50 INDEXED", 90),
    ],
)
def test_published_addressing(memory: dict[int, int], line: str, acc: int) -> None:
    program = assembled(f"LOAD #10 TO INDEX\n{line}\nHALT", INDEX)
    image = [*program.words, *[0] * 90]
    for address, contents in memory.items():
        image[address] = contents
    end = Run(INDEX, image).finish()
    assert (end.acc, end.ending) == (acc, Ending.HALTED)


def test_a_subroutine_nests_as_in_the_textbooks() -> None:
    """Stallings' figure of nested procedures (from memory): a main program calls one, which calls
    another twice; the addresses to come back to lie on the stack, the latest on top."""
    run = Run(STACK, assembled(NESTED, STACK).words)
    stacks = []
    for number in range(run.last_step + 1):
        moment = run.moment(number)
        # A pointer that moves down comes to a word that is written only two steps later.
        if not moment.step or moment.step.kind.transfer.target in ("memory[MAR]", "PC"):
            after = moment.after
            stack = tuple(after.memory[after.others["SP"] :])
            if not stacks or stacks[-1] != stack:
                stacks.append(stack)
    main, first, second = (1,), (3, 1), (4, 1)
    assert stacks[:4] == [(), main, first, main]
    assert stacks[4:] == [second, main, ()]


NESTED = """
        CALL  one       ; comes back to 1
        HALT
one:    CALL  two       ; comes back to 3
        CALL  two       ; comes back to 4
        RETURN
two:    RETURN
"""


# Addresses that are worked out, and the stack.


@pytest.mark.parametrize(
    ("source", "acc"),
    [
        # A list walked by the index, X counting down past nothing: X is a signed number.
        ("LOAD #0 TO INDEX\nSUBTRACT #1 FROM INDEX\nLOAD 5 INDEXED\nHALT\n77\n88", 77),
        ("LOAD #1 TO INDEX\nLOAD 4 INDEXED\nHALT\n0\n77\n88", 88),
        # Pushed last, popped first.
        ("LOAD #1\nPUSH\nLOAD #2\nPUSH\nLOAD #3\nPOP\nPOP\nHALT", 1),
        ("LOAD #1\nPUSH\nLOAD #2\nPUSH\nLOAD #1 FROM STACK\nHALT", 1),
        ("LOAD #1\nPUSH\nLOAD #2\nSTORE #0 TO STACK\nLOAD #9\nPOP\nHALT", 2),
        # A jump table, and a jump through a word.
        ("LOAD #1 TO INDEX\nJUMP 2 INDEXED\nLOAD #7\nLOAD #8\nHALT", 8),
        ("JUMP 3 INDIRECT\nLOAD #7\nHALT\n2", 0),
        ("LOAD #9\nSTORE 4 INDIRECT\nLOAD 5\nHALT\n5\n0", 9),
        ("LOAD 4 TO INDEX\nSTORE 5 FROM INDEX\nLOAD 5\nHALT\n-3\n0", -3),
    ],
)
def test_small_programs_worked_by_hand(source: str, acc: int) -> None:
    end = ran(source)
    assert (EVERY.signed(end.acc), end.ending) == (acc, Ending.HALTED)


def test_a_subroutine_that_calls_itself() -> None:
    """The sum of 1 to 10 is 55, as Gauss knew; each call has its own number on the stack."""
    source = """
            LOAD  #10
            CALL  sum
            OUTPUT
            HALT
    sum:    PUSH
            SUBTRACT #1
            JUMP  done IF EQUAL
            CALL  sum
    done:   STORE rest
            POP
            ADD   rest
            RETURN
    rest:   0
    """
    run = Run(EVERY, assembled(source).words)
    end = run.finish()
    assert run.outputs(1) == (55,)
    assert (end.ending, end.others["SP"]) == (Ending.HALTED, 256)
    lowest = min(run.moment(step).after.others["SP"] for step in range(run.last_step + 1))
    # Ten numbers and ten addresses to come back to.
    assert lowest == 256 - 20


@pytest.mark.parametrize(
    ("source", "ending", "said"),
    [
        ("LOAD 1 INDIRECT\n300", Ending.NO_ADDRESS, "300 was read as an address, and memory has"),
        ("LOAD 1 INDIRECT\n-1", Ending.NO_ADDRESS, "\N{MINUS SIGN}1 was read as an address"),
        ("JUMP 1 INDIRECT\n256", Ending.NO_ADDRESS, "256 was read as an address"),
        (
            "LOAD #6 TO INDEX\nADD 250 INDEXED",
            Ending.NO_ADDRESS,
            "250 and 6 make 256, and memory has no such address: the last address is 255.",
        ),
        (
            "SUBTRACT #3 FROM INDEX\nLOAD 2 INDEXED",
            Ending.NO_ADDRESS,
            "2 and \N{MINUS SIGN}3 make \N{MINUS SIGN}1",
        ),
        ("LOAD #0 FROM STACK", Ending.NO_ADDRESS, "256 and 0 make 256"),
        ("RETURN", Ending.STACK_EMPTY, "The stack is empty"),
        ("PUSH\nPOP\nPOP", Ending.STACK_EMPTY, "one too many"),
        ("again: CALL again", Ending.STACK_FULL, "grown down to the words of the program"),
    ],
)
def test_what_cannot_be_done_is_explained(source: str, ending: Ending, said: str) -> None:
    run = Run(EVERY, assembled(source).words)
    end = run.finish()
    assert end.ending is ending
    reading = Reading(EVERY, "denary")
    assert said in stopped(reading, end, 100)
    assert said in sentence(reading, run.moment(run.last_step), 100)


# In denary: 20 + 250 is 270, and 25600 + 25600 is 51200.
@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("LOAD #250 TO INDEX\nLOAD 20 INDEXED", "14 and 00FA make 270 in denary, and memory has"),
        ("LOAD 3\nADD 3\nHALT\n0x6400", "In full it is 51200 in denary and does not fit"),
        ("0x7700", "No instruction has the opcode 119 in denary."),
        ("JUMP 255", "has run past the last address, FF."),
    ],
)
def test_a_number_of_another_base_than_those_beside_it_says_so(source: str, said: str) -> None:
    image = [*assembled(source).words]
    image += [0] * (255 - len(image)) + [word("LOAD #0", "16-bit")]
    run = Run(EVERY, image)
    told = [
        sentence(Reading(EVERY, "hexadecimal"), run.moment(step), 100)
        for step in range(run.last_step + 1)
    ]
    assert any(said in each for each in told)


def test_the_stack_may_come_as_near_as_the_program_leaves_room() -> None:
    end = ran("again: CALL again\n0\n0", STACK)
    # Three words of program: the lowest word of the stack is at 3.
    assert (end.others["SP"], end.floor, end.ending) == (3, 3, Ending.STACK_FULL)


# All ways of running.


def images(seed: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    rng = Random(seed)
    codes = [each.code for each in EVERY.instructions if not each.halts]
    image = tuple(
        EVERY.join(rng.choice(codes), rng.choice((rng.randrange(256), rng.randrange(20))))
        for _ in range(rng.randint(10, 60))
    )
    return image, tuple(rng.randint(0, 0xFFFF) for _ in range(rng.randint(0, 4)))


@pytest.mark.parametrize("counter", ["last", "second"])
def test_advance_trace_and_walk_come_to_the_same(counter: str) -> None:
    machine = machine_with(EVERY, counter)
    endings = set()
    for seed in range(300):
        image, inputs = images(seed)
        states = [State.start(machine, image) for _ in range(3)]
        outputs: list[list[int]] = [[], [], []]
        advance(machine, states[0], inputs, outputs[0], 60, 1000)
        traced = list(trace(machine, states[1], inputs, outputs[1], 60, 1000))
        walked = []
        while states[2].ending is None and states[2].cycles < 60:
            walked += [tuple(each) for each in walk(machine, states[2], inputs, outputs[2])]
        assert states[0] == states[1] == states[2], seed
        assert traced == walked and outputs[0] == outputs[1] == outputs[2]
        endings.add(states[0].ending)
    assert {Ending.NO_ADDRESS, Ending.STACK_EMPTY} <= endings


def test_a_program_that_uses_no_part_runs_the_same_with_it() -> None:
    """Every step, and every register that both have."""
    for seed in range(60):
        image, inputs = draw(SIXTEEN_BIT, seed)
        plain, more = State.start(SIXTEEN_BIT, image), State.start(EVERY, image)
        steps = list(trace(SIXTEEN_BIT, plain, inputs, [], 60, 1000))
        if plain.ending is Ending.UNKNOWN_CODE:
            continue
        others = list(trace(EVERY, more, inputs, [], 60, 1000))
        assert [(each[0], each[1], each[3]) for each in steps] == [
            (each[0], each[1], each[3]) for each in others
        ]
        assert more.others["X"] == 0 and more.others["SP"] == 256
        more.others = {}
        assert plain == more


# Source text.


def test_every_word_is_written_and_read_back() -> None:
    words = [EVERY.join(code, operand) for code in EVERY.by_code for operand in (0, 1, 15, 16, 255)]
    for start in range(0, len(words), 256):
        part = words[start : start + 256]
        program = assembled(disassemble(EVERY, part))
        assert list(program.words) == part


@pytest.mark.parametrize(
    ("line", "what", "mend"),
    [
        ("SHIFT #0 LEFT", "0 is not a number of places to shift by", "from 1 to 15"),
        ("ROTATE #16 RIGHT", "16 is not a number of places to rotate by", "from 1 to 15"),
        ("SHIFT #2", "SHIFT needs more words after '#2'", "LEFT, RIGHT or RIGHT SIGNED"),
        ("SHIFT #2 LEFF", "'LEFF' cannot come after '#2'", "LEFT"),
        ("LOAD 3 INDEXD", "'INDEXD' cannot come after '3'", "INDEXED"),
        ("LOAD 3 INDIRCT", "'INDIRCT' cannot come after '3'", "INDIRECT"),
        ("JUMP 3 IF CARY", "'IF CARY' is not a condition", "IF CARRY"),
        ("CALL", "CALL needs something after it", "'CALL a'"),
        ("CALL #3", "CALL needs an address", ""),
        ("RETURN 3", "RETURN stands alone", ""),
        ("RETURN FROM INTERUPT", "before FROM INTERRUPT", "RETURN FROM INTERRUPT"),
        ("DISABLE 3", "DISABLE stands alone", ""),
        ("ENABLE", "ENABLE needs something after it", "'ENABLE a'"),
        ("PUSHH", "no instruction called 'PUSHH'", "PUSH?"),
        ("push: 3", "'push' is an instruction", ""),
    ],
)
def test_slips_are_told(line: str, what: str, mend: str) -> None:
    (problem, *_) = assemble(EVERY, line).problems
    assert what in problem.what
    assert mend in problem.mend


@pytest.mark.parametrize(
    ("line", "part"), [("AND 3", "bit operations"), ("CALL 3", "stack"), ("SHIFT #1", "bit op")]
)
@pytest.mark.parametrize("machine", [EIGHT_BIT, SIXTEEN_BIT, INDEX], ids=lambda each: each.name)
def test_a_part_that_is_not_switched_on_is_named(machine: Machine, line: str, part: str) -> None:
    (problem,) = assemble(machine, line).problems
    assert f"with: {part}" in problem.mend


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("LOAD 3 INDIRECT", "index register"),
        ("LOAD #3 TO INDEX", "index register"),
        ("JUMP 3 IF CARRY", "bit operations"),
    ],
)
def test_an_ending_that_is_not_switched_on_is_named(line: str, part: str) -> None:
    (problem,) = assemble(SIXTEEN_BIT, line).problems
    assert "This machine has no" in problem.what and f"with: {part}" in problem.mend


# What is told.


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("LOAD 3 INDIRECT", "what is stored at the address that is stored at address 3"),
        ("STORE 3 INDEXED", "copy the accumulator to address 3 plus the index"),
        ("CALL 3", "put the address to come back to on the stack, and go on from address 3"),
        ("SHIFT #2 LEFT", "shift the accumulator left by 2"),
        ("LOAD #1 FROM STACK", "copy word 1 of the stack (the top is word 0) to the accumulator"),
    ],
)
def test_the_meaning(line: str, said: str) -> None:
    (word_of_line,) = assembled(line).words
    assert said in Reading(EVERY, "denary").meaning(word_of_line)


def test_the_sentences_of_a_shift_with_and_without_status_and_carry() -> None:
    run = Run(BITS, assembled("LOAD #3\nSHIFT #1 RIGHT\nJUMP 4 IF CARRY\n0\nHALT", BITS).words)
    reading = Reading(BITS, "denary")
    moment = run.moment(12)
    said = "The ALU shifts the bits of 3 right by 1, and zeros come in; the result, 1, goes to the"
    assert sentence(reading, moment, 9) == (
        f"{said} accumulator, the carry becomes 1, and the status becomes MORE."
    )
    assert sentence(reading, moment, 9, {"carry"}) == (
        f"{said} accumulator, and the status becomes MORE."
    )
    assert sentence(reading, moment, 9, {"status"}) == (
        f"{said} accumulator, and the carry becomes 1."
    )
    assert sentence(reading, moment, 9, {"status", "carry"}) == f"{said} accumulator."
    assert sentence(reading, run.moment(18), 9) == (
        "The carry is 1, so it jumps: the program counter becomes 4."
    )
    jump = phase_sentence(reading, run.moment(18), run.moment(17).after, 9)
    assert jump == "Execute: the carry is 1, so it jumps: the program counter becomes 4."


@pytest.mark.parametrize("instruction", EVERY.instructions, ids=lambda each: each.written)
def test_every_transfer_has_a_sentence_and_moves_something(instruction: Instruction) -> None:
    for transfer in instruction.transfers:
        assert transfer.said.endswith(".")
        if transfer.halts:
            continue
        beats = transfer.beats()
        assert beats and all(beats)
        written = [leg.target for leg in beats[-1]]
        assert transfer.target_place in written
        # What is set beside the result goes there too.
        assert len(written) == len(transfer.targets) or transfer.condition or len(written) == 1
