"""The hardware against values worked by hand, so that it is trusted before it judges."""

from collections import Counter

import pytest

from tests.codes import CODES, HALF_BITS
from tests.codes import PART_CODES as PUBLISHED
from tests.codes import word as word_of
from tests.hardware.generate import SHAPES, generate, generate_grown
from tests.hardware.rtl import PART_CODES, WORD_BITS, Code, Snapshot, simulate

MACHINES = tuple(WORD_BITS)


def word(machine: str, code: Code, operand: int = 0) -> int:
    """An instruction word."""
    return code << (WORD_BITS[machine] // 2) | operand


def registers(snapshot: Snapshot) -> tuple[int, int, int, int, int, str]:
    """PC, MAR, MDR, CIR, ACC and status."""
    return snapshot[:6]


def test_sum_step_by_step() -> None:
    """9 + 4, every register after every step of LOAD and ADD."""
    load, add = word_of("LOAD 4"), word_of("ADD 5")
    steps = simulate("8-bit", [load, add, word_of("OUTPUT"), 0x00, 9, 4], [], 100)
    assert [registers(step) for step in steps[:16]] == [
        # PC, MAR, MDR, CIR, ACC, status
        (0, 0, 0x00, 0x00, 0, ""),  # MAR <- PC
        (0, 0, load, 0x00, 0, ""),  # MDR <- memory[MAR]
        (0, 0, load, load, 0, ""),  # CIR <- MDR
        (1, 0, load, load, 0, ""),  # PC <- PC + 1
        (1, 0, load, load, 0, ""),  # opcode, operand <- CIR
        (1, 4, load, load, 0, ""),  # MAR <- operand
        (1, 4, 9, load, 0, ""),  # MDR <- memory[MAR]
        (1, 4, 9, load, 9, ""),  # ACC <- MDR
        (1, 1, 9, load, 9, ""),
        (1, 1, add, load, 9, ""),
        (1, 1, add, add, 9, ""),
        (2, 1, add, add, 9, ""),
        (2, 1, add, add, 9, ""),
        (2, 5, add, add, 9, ""),  # MAR <- operand
        (2, 5, 4, add, 9, ""),  # MDR <- memory[MAR]
        (2, 5, 4, add, 13, "MORE"),  # ACC <- ACC + MDR
    ]
    # OUTPUT and HALT take six steps each; the output is there after the sixth.
    assert len(steps) == 8 + 8 + 6 + 6
    assert (steps[20].outputs, steps[21].outputs) == ((), (13,))
    assert registers(steps[-1]) == (4, 3, 0x00, 0x00, 13, "MORE")
    assert [step.ended for step in steps] == [""] * 27 + ["halted"]


def test_countdown_loop() -> None:
    """LOAD #3; OUTPUT; SUBTRACT #1; JUMP 1 IF MORE; HALT."""
    loop = ("LOAD #3", "OUTPUT", "SUBTRACT #1", "JUMP 1 IF MORE", "HALT")
    steps = simulate("8-bit", [word_of(each) for each in loop], [], 1000)
    assert len(steps) == 6 + 3 * (6 + 6 + 6) + 6
    assert steps[-1].outputs == (3, 2, 1)
    assert registers(steps[-1]) == (5, 4, 0x00, 0x00, 0, "EQUAL")
    # After LOAD, OUTPUT and SUBTRACT the jump's one execute step moves PC from 4 to 1.
    assert [step.pc for step in steps[22:24]] == [4, 1]


def test_the_codes_are_those_of_the_published_table() -> None:
    """Spelled the hardware's way: a number operand is told by the name, a condition too."""
    spelled = {
        written.replace(" a", "").replace(" #n", "_NUMBER").replace(" ", "_"): code
        for written, code in CODES.items()
    }
    assert {each.name: each.value for each in Code} == spelled
    assert {machine: bits // 2 for machine, bits in WORD_BITS.items()} == HALF_BITS


@pytest.mark.parametrize("part", PART_CODES)
def test_the_codes_of_a_part_are_those_of_the_published_table(part: str) -> None:
    spelled = {
        written.replace(" a", "").replace(" #n", "_NUMBER").replace(" ", "_"): code
        for written, code in PUBLISHED[part].items()
    }
    assert {each.name: each.value for each in PART_CODES[part]} == spelled


@pytest.mark.parametrize("machine", MACHINES)
def test_empty_memory_halts(machine: str) -> None:
    steps = simulate(machine, [], [], 100)
    assert [step.ended for step in steps] == ["", "", "", "", "", "halted"]
    assert registers(steps[-1]) == (1, 0, 0, 0, 0, "")


@pytest.mark.parametrize(
    ("machine", "left", "right", "status"),
    [
        ("8-bit", 100, -100 & 0xFF, "MORE"),  # the difference is 200
        ("8-bit", -100 & 0xFF, 100, "LESS"),
        ("8-bit", 0x80, 0x7F, "LESS"),  # -128 and 127
        ("8-bit", 0x7F, 0x80, "MORE"),
        ("8-bit", 0x80, 0x80, "EQUAL"),
        ("8-bit", 0xFF, 0x00, "LESS"),
        ("16-bit", 0x7530, 0x8AD0, "MORE"),  # 30000 and -30000
        ("16-bit", 0x8AD0, 0x7530, "LESS"),
        ("16-bit", 0x8000, 0x7FFF, "LESS"),
        ("16-bit", 0x00FF, 0xFFFF, "MORE"),
    ],
)
def test_compare_is_signed_under_overflow(machine: str, left: int, right: int, status: str) -> None:
    program = [word(machine, Code.LOAD, 3), word(machine, Code.COMPARE, 4), 0, left, right]
    end = simulate(machine, program, [], 100)[-1]
    assert (end.acc, end.mdr, end.status) == (left, 0, status)


@pytest.mark.parametrize(
    ("machine", "code", "left", "right", "acc", "status", "overflow"),
    [
        ("8-bit", Code.ADD, 100, 100, -56 & 0xFF, "LESS", True),  # 100 + 100 wraps to -56
        ("8-bit", Code.ADD, 0x80, 0x80, 0x00, "EQUAL", True),  # -128 + -128 wraps to 0
        ("8-bit", Code.ADD, 0xFF, 0x01, 0x00, "EQUAL", False),  # -1 + 1
        ("8-bit", Code.SUBTRACT, 0x80, 0x01, 0x7F, "MORE", True),  # -128 - 1 wraps to 127
        ("8-bit", Code.SUBTRACT, 0x00, 0x80, 0x80, "LESS", True),  # 0 - -128 wraps to -128
        ("8-bit", Code.SUBTRACT, 5, 7, -2 & 0xFF, "LESS", False),
        ("16-bit", Code.ADD, 0x7FFF, 0x0001, 0x8000, "LESS", True),
        ("16-bit", Code.ADD, 0x0064, 0x0064, 0x00C8, "MORE", False),
        ("16-bit", Code.SUBTRACT, 0x8000, 0x7FFF, 0x0001, "MORE", True),
    ],
)
def test_arithmetic_wraps(
    machine: str, code: Code, left: int, right: int, acc: int, status: str, overflow: bool
) -> None:
    program = [word(machine, Code.LOAD, 3), word(machine, code, 4), 0, left, right]
    steps = simulate(machine, program, [], 100)
    assert (steps[15].acc, steps[15].status) == (acc, status)
    # The mark stays as that step has left it.
    assert [step.overflow for step in steps] == [False] * 15 + [overflow] * (len(steps) - 15)


@pytest.mark.parametrize("machine", MACHINES)
def test_number_operand_is_unsigned(machine: str) -> None:
    """The largest operand is positive; from 0 the status goes LESS, LESS, then EQUAL."""
    largest = (1 << WORD_BITS[machine] // 2) - 1
    program = [
        word(machine, Code.COMPARE_NUMBER, largest),
        word(machine, Code.SUBTRACT_NUMBER, largest),
        word(machine, Code.ADD_NUMBER, largest),
        word(machine, Code.LOAD_NUMBER, largest),
    ]
    steps = simulate(machine, program, [], 100)
    executed = [steps[end] for end in (5, 11, 17, 23)]
    assert [step.status for step in executed] == ["LESS", "LESS", "EQUAL", "EQUAL"]
    assert [step.acc for step in executed] == [0, (1 << WORD_BITS[machine]) - largest, 0, largest]


def test_store_changes_memory_in_its_last_step_and_may_rewrite_code() -> None:
    """LOAD #7; STORE 2; the SUBTRACT at 2 becomes HALT (with a 7 nobody reads)."""
    program = ("LOAD #7", "STORE 2", "SUBTRACT #1")
    load, store, subtract = (word_of(each, "16-bit") for each in program)
    steps = simulate("16-bit", [load, store, subtract], [], 100)
    assert [registers(step) for step in steps[11:14]] == [
        (2, 2, store, store, 7, ""),  # MAR <- operand
        (2, 2, 7, store, 7, ""),  # MDR <- ACC
        (2, 2, 7, store, 7, ""),  # memory[MAR] <- MDR
    ]
    assert [step.memory[2] for step in steps[11:14]] == [subtract, subtract, 7]
    assert steps[13].memory == (load, store, 7, *[0] * 253)
    assert len(steps) == 6 + 8 + 6
    assert (steps[-1].ended, steps[-1].cir) == ("halted", 7)


@pytest.mark.parametrize(
    ("code", "jumps_when"),
    [
        (Code.JUMP, {"LESS", "EQUAL", "MORE"}),
        (Code.JUMP_IF_LESS, {"LESS"}),
        (Code.JUMP_IF_EQUAL, {"EQUAL"}),
        (Code.JUMP_IF_MORE, {"MORE"}),
    ],
)
@pytest.mark.parametrize(("acc", "status"), [(4, "LESS"), (5, "EQUAL"), (6, "MORE")])
def test_jump_takes_one_step_either_way(
    code: Code, jumps_when: set[str], acc: int, status: str
) -> None:
    """LOAD #acc; COMPARE #5; the jump, to 9; HALT in both places."""
    program = [word_of(f"LOAD #{acc}"), word_of("COMPARE #5"), word("8-bit", code, 9)]
    steps = simulate("8-bit", program, [], 100)
    assert len(steps) == 6 * 4
    assert steps[17].status == status
    assert steps[17].pc == (9 if status in jumps_when else 3)
    assert registers(steps[17])[1:] == registers(steps[16])[1:]


@pytest.mark.parametrize("ending", ["LESS", "EQUAL", "MORE"])
def test_no_conditional_jump_before_the_first_comparison(ending: str) -> None:
    """LOAD # and INPUT compare nothing; neither JUMP does."""
    program = ["LOAD #0", f"JUMP 9 IF {ending}", "INPUT", f"JUMP 9 IF {ending}", "HALT"]
    steps = simulate("8-bit", [word_of(each) for each in program], [0], 100)
    assert [steps[end].pc for end in (11, 23)] == [2, 4]
    assert {step.status for step in steps} == {""}
    assert (steps[-1].pc, steps[-1].ended) == (5, "halted")


def test_off_memory_after_the_last_word() -> None:
    """JUMP 15, where an OUTPUT stands: PC comes to 16 and no fetch follows."""
    steps = simulate("8-bit", [word_of("JUMP 15"), *[0] * 14, word_of("OUTPUT")], [], 100)
    assert len(steps) == 12
    assert (steps[-1].pc, steps[-1].mar, steps[-1].ended) == (16, 15, "off_memory")
    assert steps[-1].outputs == (0,)


def test_off_memory_on_the_larger_machine() -> None:
    image = [word_of("JUMP 255", "16-bit"), *[0] * 254, word_of("LOAD #1", "16-bit")]
    steps = simulate("16-bit", image, [], 100)
    assert len(steps) == 12
    assert (steps[-1].pc, steps[-1].mar, steps[-1].ended) == (256, 255, "off_memory")


def test_last_word_may_halt_or_jump() -> None:
    """PC stands past the last word meanwhile, which is no fault until a fetch begins there."""
    halts = simulate("8-bit", [word_of("JUMP 15")], [], 100)
    assert (len(halts), halts[-1].pc, halts[-1].ended) == (12, 16, "halted")
    jumps = simulate("8-bit", [word_of("JUMP 15"), *[0] * 14, word_of("JUMP 3")], [], 100)
    assert [step.pc for step in jumps[9:12]] == [16, 16, 3]
    assert (len(jumps), jumps[-1].ended) == (18, "halted")


def test_waits_for_an_input() -> None:
    """INPUT; OUTPUT; JUMP 0, with one input: the second INPUT is decoded, then nothing."""
    steps = simulate("8-bit", [word_of(each) for each in ("INPUT", "OUTPUT", "JUMP 0")], [-5], 100)
    assert len(steps) == 6 + 6 + 6 + 5
    assert registers(steps[5]) == (1, 0, word_of("INPUT"), word_of("INPUT"), -5 & 0xFF, "")
    assert registers(steps[-1]) == (1, 0, word_of("INPUT"), word_of("INPUT"), -5 & 0xFF, "")
    assert (steps[-1].outputs, steps[-1].ended) == ((-5,), "waiting")


def test_inputs_come_in_order_as_numbers_or_patterns() -> None:
    program = [word_of(each, "16-bit") for each in ("INPUT", "OUTPUT", "JUMP 0")]
    steps = simulate("16-bit", program, [1, -2, 0xFFFD, -32768], 1000)
    assert steps[-1].outputs == (1, -2, -3, -32768)


def test_load_and_input_leave_the_status() -> None:
    """SUBTRACT #1 makes it LESS; LOAD #, LOAD and INPUT bring positive numbers."""
    program = [word_of(each) for each in ("SUBTRACT #1", "LOAD #5", "LOAD 0", "INPUT", "HALT")]
    steps = simulate("8-bit", program, [3], 100)
    assert [steps[end].acc for end in (5, 11, 19, 25)] == [0xFF, 5, program[0], 3]
    assert {step.status for step in steps[5:]} == {"LESS"}


@pytest.mark.parametrize("unknown", [0x1000, 0x1105, 0xFF00])
def test_unknown_code_stops_after_decode(unknown: int) -> None:
    steps = simulate("16-bit", [word_of("LOAD #3", "16-bit"), unknown], [], 100)
    assert len(steps) == 6 + 5
    assert registers(steps[-1]) == (2, 1, unknown, unknown, 3, "")
    assert steps[-1].ended == "unknown_code"


def test_limit() -> None:
    """JUMP 0 for ever; and a machine that halts just at the limit has halted."""
    forever = simulate("8-bit", [word_of("JUMP 0")], [], 100)
    assert [step.ended for step in forever] == [""] * 99 + ["limit"]
    assert simulate("8-bit", [], [], 6)[-1].ended == "halted"
    assert simulate("8-bit", [], [], 5)[-1].ended == "limit"
    assert simulate("8-bit", [], [], 0) == []


@pytest.mark.parametrize("image", [[0] * 17, [256], [-1]])
def test_refuses_what_is_no_image(image: list[int]) -> None:
    with pytest.raises(ValueError, match="16 words of 8 bits"):
        simulate("8-bit", image, [], 10)


@pytest.mark.parametrize("machine", MACHINES)
def test_runs_leave_nothing_behind(machine: str) -> None:
    """Runs share one compiled circuit, so a run must not depend on those before it."""
    programs = [generate(machine, seed) for seed in range(2 * len(SHAPES))]
    first = [simulate(machine, program.memory, program.inputs, 300) for program in programs]
    for program, steps in reversed(list(zip(programs, first, strict=True))):
        assert generate(machine, programs.index(program)) == program
        assert simulate(machine, program.memory, program.inputs, 300) == steps


@pytest.mark.parametrize("machine", MACHINES)
def test_generated_programs_are_worth_running(machine: str) -> None:
    """Nearly all pass five instructions; together they use every code and end in every way."""
    endings: Counter[str] = Counter()
    executed: Counter[int] = Counter()
    overflows = rewritten = short = 0
    for seed in range(160):
        program = generate(machine, seed)
        steps = simulate(machine, program.memory, program.inputs, 400)
        endings[steps[-1].ended] += 1
        executed.update({step.cir >> WORD_BITS[machine] // 2 for step in steps})
        overflows += any(step.overflow for step in steps)
        rewritten += steps[-1].memory != program.memory
        short += len(steps) <= 5 * 8
    assert set(Code) <= set(executed)
    stops = {"halted", "off_memory", "waiting", "limit"}
    assert set(endings) == (stops | {"unknown_code"} if machine == "16-bit" else stops)
    assert short < 160 * 0.2
    assert overflows > 16
    assert rewritten > 16


# The parts of the larger machine, worked by hand.

EVERY_PART = frozenset(PART_CODES)


def grown(*lines: str, steps: int = 100) -> list[Snapshot]:
    """The run of a program on the machine with every part."""
    image = [int(each) if each.lstrip("-").isdigit() else word_of(each, "16-bit") for each in lines]
    return simulate("16-bit", image, [], steps, parts=EVERY_PART)


def test_a_call_and_its_return_step_by_step() -> None:
    """CALL 2 at 0: back at 1, the address 1 at 255 meanwhile, and there still afterwards."""
    steps = grown("CALL 2", "HALT", "RETURN")
    called = [(each.sp, each.mar, each.mdr, each.pc) for each in steps[5:10]]
    call = word_of("CALL 2", "16-bit")
    assert called == [
        (255, 0, call, 1),  # SP <- SP - 1
        (255, 255, call, 1),  # MAR <- SP
        (255, 255, 1, 1),  # MDR <- PC
        (255, 255, 1, 1),  # memory[MAR] <- MDR
        (255, 255, 1, 2),  # PC <- operand
    ]
    assert [each.memory[255] for each in steps[7:9]] == [0, 1]
    returned = [(each.sp, each.mar, each.mdr, each.pc) for each in steps[15:19]]
    back = word_of("RETURN", "16-bit")
    assert returned == [(255, 255, back, 3), (255, 255, 1, 3), (255, 255, 1, 1), (256, 255, 1, 1)]
    assert (steps[-1].ended, steps[-1].pc, steps[-1].memory[255]) == ("halted", 2, 1)


def test_indirect_and_indexed_step_by_step() -> None:
    steps = grown("LOAD #1 TO INDEX", "LOAD 4 INDEXED", "ADD 4 INDIRECT", "HALT", "6", "30", "12")
    assert [(each.mar, each.mdr) for each in steps[11:13]] == [(5, steps[10].mdr), (5, 30)]
    assert (steps[13].acc, steps[13].x, len(steps)) == (30, 1, 6 + 8 + 10 + 6)
    assert [(each.mar, each.mdr) for each in steps[19:23]] == [
        (4, steps[18].mdr),
        (4, 6),
        (6, 6),
        (6, 12),
    ]
    assert (steps[-1].acc, steps[-1].status) == (42, "MORE")


@pytest.mark.parametrize(
    ("line", "acc", "carry", "status"),
    [
        ("SHIFT #1 LEFT", -14, 1, "LESS"),  # -7 is 1111 1111 1111 1001
        ("SHIFT #1 RIGHT", 32764, 1, "MORE"),
        ("SHIFT #1 RIGHT SIGNED", -4, 1, "LESS"),
        ("SHIFT #2 RIGHT SIGNED", -2, 0, "LESS"),
        ("SHIFT #15 RIGHT", 1, 1, "MORE"),
        ("SHIFT #15 LEFT", -32768, 0, "LESS"),
        ("ROTATE #1 LEFT", -13, 1, "LESS"),
        ("ROTATE #1 RIGHT", -4, 1, "LESS"),
        ("ROTATE #4 RIGHT", -24577, 1, "LESS"),  # 1001 1111 1111 1111
        ("AND #12", 8, 0, "MORE"),
        ("OR #6", -1, 0, "LESS"),
        ("XOR #1", -8, 0, "LESS"),
        ("NOT", 6, 0, "MORE"),
        ("ADD #7", 0, 1, "EQUAL"),
        ("ADD #6", -1, 0, "LESS"),
        ("SUBTRACT #7", -14, 0, "LESS"),
    ],
)
def test_bits_worked_by_hand(line: str, acc: int, carry: int, status: str) -> None:
    """LOAD what is at 3, which is -7, then the operation."""
    end = grown("LOAD 3", line, "HALT", str(-7 & 0xFFFF))[-1]
    assert (end.acc, end.carry, end.status, end.overflow) == (acc & 0xFFFF, carry, status, False)


def test_a_borrow_is_a_carry() -> None:
    end = grown("LOAD #3", "SUBTRACT #4", "JUMP 4 IF CARRY", "OUTPUT", "HALT")[-1]
    assert (end.acc, end.carry, end.outputs) == (0xFFFF, 1, ())


@pytest.mark.parametrize(
    ("lines", "ended", "steps"),
    [
        (("LOAD 1 INDIRECT", "256"), "no_address", 7),
        (("LOAD 1 INDIRECT", "65535"), "no_address", 7),
        (("JUMP 1 INDIRECT", "300"), "no_address", 7),
        (("LOAD #1 TO INDEX", "LOAD 255 INDEXED"), "no_address", 11),
        (("SUBTRACT #1 FROM INDEX", "LOAD 0 INDEXED"), "no_address", 11),
        (("LOAD #0 FROM STACK",), "no_address", 5),
        (("RETURN",), "stack_empty", 5),
        (("POP",), "stack_empty", 5),
    ],
)
def test_what_cannot_be_done_is_not_done(lines: tuple[str, ...], ended: str, steps: int) -> None:
    found = grown(*lines)
    assert (found[-1].ended, len(found)) == (ended, steps)


def test_the_stack_stops_above_the_program() -> None:
    """254 words of program: room for two."""
    image = [word_of("PUSH", "16-bit")] * 3 + [0] * 251
    found = simulate("16-bit", image, [], 100, parts=EVERY_PART)
    assert (found[-1].ended, found[-1].sp, len(found)) == ("stack_full", 254, 9 + 9 + 5)


def test_grown_programs_are_worth_running() -> None:
    """Together they use every code of every part."""
    executed: Counter[int] = Counter()
    for seed in range(140):
        program = generate_grown(seed)
        steps = simulate(program.machine, program.memory, program.inputs, 200, parts=program.parts)
        executed.update({step.cir >> 8 for step in steps})
    codes = {code for part in PART_CODES.values() for code in part}
    assert codes <= set(executed)
