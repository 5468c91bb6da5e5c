"""The machine as hardware: registers, one memory, one ALU and a timed control unit.

Its only source is ``machine.md`` beside it, so that it can disagree with ``app/machine``; it
shares no code with it. The style is that of standard textbooks on register-transfer design (for
example Mano, *Computer System Architecture*, chapters 4 and 5, from memory): a sequence counter
gives the timing signals T0 to T9, the opcode is decoded to one signal for each code, and each
register transfer is permitted by a timing signal and a decoded code. One tick of the clock makes
one transfer, which is one *step*:

    T0      MAR <- PC
    T1      MDR <- memory[MAR]
    T2      CIR <- MDR
    T3      PC <- PC + 1
            (where the counter moves second, this is T1, and the two above it T2 and T3)
    T4      opcode, operand <- CIR
    T5-T9   the instruction's own row; the counter then goes back to T0

Where a request is served, T0 makes the first transfer of it in place of the fetch, T10 to T14 the
others, and the counter goes back to T0 (so does Mano with his flip-flop R, section 5-7).

A part that the machine is not built with has no codes, so that nothing is ever decoded to it.
"""

from collections.abc import Sequence
from enum import IntEnum
from functools import cache
from typing import Literal, NamedTuple

import pyrtl  # type: ignore[import-untyped]
from pyrtl import conditional_assignment, otherwise, select

WORD_BITS = {"8-bit": 8, "16-bit": 16}


class Code(IntEnum):
    """The sixteen opcodes; a name ending in NUMBER takes its operand as a number (``#n``)."""

    HALT = 0
    INPUT = 1
    OUTPUT = 2
    JUMP = 3
    JUMP_IF_LESS = 4
    JUMP_IF_EQUAL = 5
    JUMP_IF_MORE = 6
    STORE = 7
    COMPARE = 8
    COMPARE_NUMBER = 9
    SUBTRACT = 10
    SUBTRACT_NUMBER = 11
    ADD = 12
    ADD_NUMBER = 13
    LOAD = 14
    LOAD_NUMBER = 15


class BitCode(IntEnum):
    """The codes of the bit operations."""

    AND = 16
    AND_NUMBER = 17
    OR = 18
    OR_NUMBER = 19
    XOR = 20
    XOR_NUMBER = 21
    NOT = 22
    SHIFT_NUMBER_LEFT = 24
    SHIFT_NUMBER_RIGHT = 25
    SHIFT_NUMBER_RIGHT_SIGNED = 26
    ROTATE_NUMBER_LEFT = 28
    ROTATE_NUMBER_RIGHT = 29
    JUMP_IF_CARRY = 30
    JUMP_IF_OVERFLOW = 31


class IndexCode(IntEnum):
    """The codes of the index register."""

    JUMP_INDIRECT = 35
    STORE_INDIRECT = 39
    COMPARE_INDIRECT = 40
    SUBTRACT_INDIRECT = 42
    ADD_INDIRECT = 44
    LOAD_INDIRECT = 46
    JUMP_INDEXED = 51
    STORE_INDEXED = 55
    COMPARE_INDEXED = 56
    SUBTRACT_INDEXED = 58
    ADD_INDEXED = 60
    LOAD_INDEXED = 62
    STORE_FROM_INDEX = 71
    COMPARE_WITH_INDEX = 72
    COMPARE_NUMBER_WITH_INDEX = 73
    SUBTRACT_NUMBER_FROM_INDEX = 75
    ADD_NUMBER_TO_INDEX = 77
    LOAD_TO_INDEX = 78
    LOAD_NUMBER_TO_INDEX = 79


class StackCode(IntEnum):
    """The codes of the stack."""

    CALL = 80
    RETURN = 81
    PUSH = 82
    POP = 83
    STORE_NUMBER_TO_STACK = 87
    LOAD_NUMBER_FROM_STACK = 95


class InterruptCode(IntEnum):
    """The codes of the interrupts."""

    ENABLE = 96
    DISABLE = 97
    RETURN_FROM_INTERRUPT = 98


PART_CODES: dict[str, type[IntEnum]] = {
    "bit operations": BitCode,
    "index register": IndexCode,
    "stack": StackCode,
    "interrupts": InterruptCode,
}


class Status(IntEnum):
    """How the status register is coded. NONE is 0 because registers start at 0: there has been no
    comparison yet."""

    NONE = 0
    LESS = 1
    EQUAL = 2
    MORE = 3


class Clock(IntEnum):
    """Whether the clock runs in this cycle and, if it does not, why."""

    RUNNING = 0
    HALTED = 1
    UNKNOWN_CODE = 2
    OFF_MEMORY = 3
    WAITING = 4
    NO_ADDRESS = 5
    STACK_EMPTY = 6
    STACK_FULL = 7


Ended = Literal[
    "",
    "halted",
    "off_memory",
    "unknown_code",
    "waiting",
    "limit",
    "no_address",
    "stack_empty",
    "stack_full",
]

STATUS_NAME = {status: status.name if status else "" for status in Status}
ENDED_NAME: dict[int, Ended] = {
    Clock.RUNNING: "",
    Clock.HALTED: "halted",
    Clock.UNKNOWN_CODE: "unknown_code",
    Clock.OFF_MEMORY: "off_memory",
    Clock.WAITING: "waiting",
    Clock.NO_ADDRESS: "no_address",
    Clock.STACK_EMPTY: "stack_empty",
    Clock.STACK_FULL: "stack_full",
}


class Asked(NamedTuple):
    """A request from outside: in which instruction it comes (counted from 1), after which step of
    it (0: with its last), and the word that it brings, signed or a bit pattern."""

    instruction: int
    step: int
    value: int


class Snapshot(NamedTuple):
    """The machine just after one step.

    Registers and memory are unsigned bit patterns; ``status`` is empty before the first
    comparison; ``outputs`` are signed numbers, all of those so far. ``overflow`` is the
    overflow mark. ``carry``, ``x``, ``sp``, ``v`` and ``interrupts`` are 0 on a machine without
    them. ``ended`` is empty
    in every snapshot of a run but the last. ``memory`` and ``outputs`` are the same objects from
    one snapshot to the next until a step changes them.
    """

    pc: int
    mar: int
    mdr: int
    cir: int
    acc: int
    status: str
    overflow: bool
    memory: tuple[int, ...]
    outputs: tuple[int, ...]
    ended: Ended
    carry: int = 0
    x: int = 0
    sp: int = 0
    v: int = 0
    interrupts: int = 0


def at_the_start(memory: Sequence[int], parts: frozenset[str] = frozenset()) -> Snapshot:
    """The machine with its whole memory, before the first step."""
    sp = len(memory) if "stack" in parts else 0
    return Snapshot(0, 0, 0, 0, 0, "", False, tuple(memory), (), "", sp=sp)


class HardwareMachine:
    """The circuit for one word size, with the clock and the outside world to drive it."""

    def __init__(
        self,
        word_bits: int,
        counter_second: bool = False,
        parts: frozenset[str] = frozenset(),
    ) -> None:
        self.word_bits = word_bits
        self.has_stack = "stack" in parts
        self.has_interrupts = "interrupts" in parts
        self.memory_words = 1 << (word_bits // 2)
        with pyrtl.set_working_block(pyrtl.Block()):
            self.memory = describe(word_bits, counter_second, parts)
            # (The simulation below checks what is left of it.)
            pyrtl.optimize(skip_sanity_check=True)
            blank = dict.fromkeys(range(self.memory_words), 0)
            # Compiling the circuit takes as long as some hundreds of steps, so it is done once.
            # Every run begins with these registers, and fills the one memory in full.
            simulation = pyrtl.FastSimulation(memory_value_map={self.memory: blank}, tracer=None)
            self.tick = simulation.sim_func
            self.at_first = simulation.regs
            self.cells = simulation.inspect_mem(self.memory)
            (self.name_of_cells,) = simulation.mems

    def run(
        self,
        image: Sequence[int],
        inputs: Sequence[int],
        max_steps: int,
        requests: Sequence[Asked] = (),
    ) -> list[Snapshot]:
        """Tick the clock until the machine stops, waits for an input or reaches the limit.

        A short image is filled up with zeros; its length is how many words the program has. Inputs
        may be signed or bit patterns. A machine that stops by itself
        exactly at the limit is reported as having stopped by itself. A request holds its line from
        the step at which it comes until it is served; ``requests`` are in the order in which they
        come.
        """
        mask = (1 << self.word_bits) - 1
        memory = (*image, *[0] * (self.memory_words - len(image)))
        if len(memory) != self.memory_words or not all(0 <= word <= mask for word in memory):
            raise ValueError(f"an image is {self.memory_words} words of {self.word_bits} bits")

        registers, cells = self.at_first, self.cells
        cells.update(enumerate(memory))
        # What never changes in a run: a memory is the same object throughout.
        always = {self.name_of_cells: cells}
        always |= {"program_words": len(image)} if self.has_stack else {}
        to_come = [number & mask for number in reversed(inputs)]
        outputs: tuple[int, ...] = ()
        snapshots: list[Snapshot] = []
        to_ask = list(requests)
        brought: list[int] = []
        # How many instructions have begun and ended, and how many steps the last one has had.
        begun = done = within = 0

        # A register shows, in any cycle, what the cycle before left in it: the snapshot after
        # step n is taken in cycle n, counted from 0, so the limit needs one cycle more.
        for cycle in range(max_steps + 1):
            first = to_ask[0] if to_ask else None
            has_come = first is not None and (
                done >= first.instruction
                or (begun == first.instruction and 0 < first.step <= within)
            )
            waits = brought or to_come[-1:]
            # The circuit's own function: most of the time would go to what `step` and `inspect`
            # look into at each call. It shows the registers as the cycle before has left them.
            given = registers | always
            given["input_ready"], given["input_value"] = bool(waits), waits[0] if waits else 0
            if self.has_interrupts:
                given["request"] = has_come
            shown, (registers, seen, writes) = registers, self.tick(given)
            for _, address, word in writes:
                cells[address] = word
            look = (shown | seen).__getitem__
            ended = ENDED_NAME[look("clock_state")]
            if cycle > 0:
                snapshots.append(
                    Snapshot(
                        look("PC"),
                        look("MAR"),
                        look("MDR"),
                        look("CIR"),
                        look("ACC"),
                        STATUS_NAME[look("status")],
                        bool(look("overflow")),
                        memory,
                        outputs,
                        ended or ("limit" if cycle == max_steps else ""),
                        look("shown_carry"),
                        look("shown_x"),
                        look("shown_sp"),
                        look("shown_v"),
                        look("shown_interrupts"),
                    )
                )
            if ended:
                break

            if look("memory_write"):
                memory = tuple(cells.values())  # in the order of their addresses, as it was filled
            if look("input_taken"):
                (brought if brought else to_come).pop(0 if brought else -1)
            within = 1 if look("begins") else within + 1
            begun += look("begins")
            done += look("ends")
            if look("request_taken"):
                brought.append(to_ask.pop(0).value & mask)
            if look("output_given"):
                outputs = (*outputs, signed(look("ACC"), self.word_bits))
        return snapshots


def describe(
    word_bits: int, counter_second: bool = False, parts: frozenset[str] = frozenset()
) -> pyrtl.MemBlock:
    """Describe the machine with its ``parts`` in the working block, and return its memory.
    ``counter_second`` moves the counter on in the second tick of a fetch and not in the fourth."""
    has_stack = "stack" in parts
    half_bits = word_bits // 2
    memory_words = 1 << half_bits
    memory = pyrtl.MemBlock(word_bits, addrwidth=half_bits, name="memory", asynchronous=True)

    # PC and SP have one bit more than an address, to stand after the last word.
    pc = pyrtl.Register(half_bits + 1, "PC")
    mar = pyrtl.Register(half_bits, "MAR")
    mdr = pyrtl.Register(word_bits, "MDR")
    cir = pyrtl.Register(word_bits, "CIR")
    acc = pyrtl.Register(word_bits, "ACC")
    x = pyrtl.Register(word_bits, "X")
    sp = pyrtl.Register(half_bits + 1, "SP", reset_value=memory_words if has_stack else None)
    status = pyrtl.Register(2, "status")
    overflow = pyrtl.Register(1, "mark")
    carry = pyrtl.Register(1, "carry")
    opcode = pyrtl.Register(half_bits, "opcode")
    operand = pyrtl.Register(half_bits, "operand")
    vector = pyrtl.Register(half_bits, "V")
    enabled = pyrtl.Register(1, "enabled")
    counter = pyrtl.Register(4, "counter")
    stopped = pyrtl.Register(2, "stopped")

    input_ready = pyrtl.Input(1, "input_ready")
    input_value = pyrtl.Input(word_bits, "input_value")
    request = pyrtl.Input(1, "request") if "interrupts" in parts else pyrtl.Const(0, 1)
    program_words = pyrtl.Input(half_bits + 1, "program_words") if has_stack else pyrtl.Const(0)
    # What the circuit tells the world outside during a cycle: `clock` is a Clock, the others say
    # what the transfer of this cycle does.
    clock = pyrtl.Output(3, "clock_state")
    input_taken = pyrtl.Output(1, "input_taken")
    output_given = pyrtl.Output(1, "output_given")
    memory_write = pyrtl.Output(1, "memory_write")
    # An instruction begins and ends, and a request has been served.
    begins, ends = pyrtl.Output(1, "begins"), pyrtl.Output(1, "ends")
    request_taken = pyrtl.Output(1, "request_taken")
    # These are there to be seen, on a machine that has them.
    for name, register in (("overflow", overflow), ("shown_carry", carry), ("shown_x", x)):
        shown = pyrtl.Output(len(register), name)
        shown <<= register
    for name, register in (("sp", sp), ("v", vector), ("interrupts", enabled)):
        shown = pyrtl.Output(len(register), f"shown_{name}")
        shown <<= register

    # Control unit: timing signals and decoded codes.
    known = [*Code, *(code for part in sorted(parts) for code in PART_CODES[part])]
    t = [counter == number for number in range(15)]
    is_code = {code: opcode == code for code in known}
    never = pyrtl.Const(0, 1)

    def any_of(*codes: IntEnum) -> pyrtl.WireVector:
        """Whether it is one of these, of those that the machine has."""
        found = [is_code[code] for code in codes if code in known]
        return pyrtl.rtl_any(*found) if found else never

    # How each code finds its address, and what it then does; in the order of the timing signals.
    indirect_reads = any_of(
        IndexCode.LOAD_INDIRECT,
        IndexCode.ADD_INDIRECT,
        IndexCode.SUBTRACT_INDIRECT,
        IndexCode.COMPARE_INDIRECT,
    )
    indirect = indirect_reads | any_of(IndexCode.STORE_INDIRECT)
    direct_reads = any_of(
        Code.LOAD,
        Code.ADD,
        Code.SUBTRACT,
        Code.COMPARE,
        BitCode.AND,
        BitCode.OR,
        BitCode.XOR,
        IndexCode.COMPARE_WITH_INDEX,
        IndexCode.LOAD_TO_INDEX,
    )
    indexed_reads = any_of(
        IndexCode.LOAD_INDEXED,
        IndexCode.ADD_INDEXED,
        IndexCode.SUBTRACT_INDEXED,
        IndexCode.COMPARE_INDEXED,
    )
    by_operand = (
        direct_reads
        | any_of(Code.STORE, IndexCode.STORE_FROM_INDEX, IndexCode.JUMP_INDIRECT)
        | indirect
    )
    by_index = indexed_reads | any_of(IndexCode.STORE_INDEXED)
    by_stack = any_of(StackCode.STORE_NUMBER_TO_STACK, StackCode.LOAD_NUMBER_FROM_STACK)
    grows = any_of(StackCode.CALL, StackCode.PUSH)
    returns_from_interrupt = any_of(InterruptCode.RETURN_FROM_INTERRUPT)
    shrinks = any_of(StackCode.RETURN, StackCode.POP) | returns_from_interrupt
    enables = any_of(InterruptCode.ENABLE)
    # At T0 it is decided whether a request is served before the next fetch.
    serves = t[0] & request & enabled & (pc != memory_words)
    writes_acc = any_of(Code.STORE, IndexCode.STORE_INDEXED, StackCode.STORE_NUMBER_TO_STACK)

    five_steps = indirect | any_of(StackCode.CALL) | returns_from_interrupt
    four_steps = (shrinks & ~returns_from_interrupt) | any_of(StackCode.PUSH)
    three_steps = (by_operand & ~indirect) | by_index | by_stack
    one_step = ~(five_steps | four_steps | three_steps | enables)
    last_step = (t[5] & one_step) | (t[6] & enables) | (t[7] & three_steps) | (t[8] & four_steps)
    last_step = last_step | t[9]

    jumps = (
        is_code[Code.JUMP]
        | (is_code[Code.JUMP_IF_LESS] & (status == Status.LESS))
        | (is_code[Code.JUMP_IF_EQUAL] & (status == Status.EQUAL))
        | (is_code[Code.JUMP_IF_MORE] & (status == Status.MORE))
        | (any_of(BitCode.JUMP_IF_CARRY) & carry)
        | (any_of(BitCode.JUMP_IF_OVERFLOW) & overflow)
    )

    # ALU: one bit wider than the word, so that its top bit is the true sign even when the sum or
    # difference does not fit. That makes COMPARE right under overflow.
    # An operand taken as a number is unsigned, hence extended with zeros.
    wide = word_bits + 1
    on_index = any_of(
        IndexCode.COMPARE_WITH_INDEX,
        IndexCode.COMPARE_NUMBER_WITH_INDEX,
        IndexCode.ADD_NUMBER_TO_INDEX,
        IndexCode.SUBTRACT_NUMBER_FROM_INDEX,
    )
    from_memory = direct_reads | indexed_reads | indirect_reads
    first = select(on_index, x, acc)
    second = select(from_memory, mdr, operand.zero_extended(word_bits))
    compares = any_of(
        Code.COMPARE,
        Code.COMPARE_NUMBER,
        IndexCode.COMPARE_INDIRECT,
        IndexCode.COMPARE_INDEXED,
        IndexCode.COMPARE_WITH_INDEX,
        IndexCode.COMPARE_NUMBER_WITH_INDEX,
    )
    subtracts = any_of(
        Code.SUBTRACT,
        Code.SUBTRACT_NUMBER,
        IndexCode.SUBTRACT_INDIRECT,
        IndexCode.SUBTRACT_INDEXED,
        IndexCode.SUBTRACT_NUMBER_FROM_INDEX,
    )
    adds = any_of(
        Code.ADD,
        Code.ADD_NUMBER,
        IndexCode.ADD_INDIRECT,
        IndexCode.ADD_INDEXED,
        IndexCode.ADD_NUMBER_TO_INDEX,
    )
    left = first.sign_extended(wide)
    right = select(from_memory, mdr.sign_extended(wide), operand.zero_extended(wide))
    exact = select(subtracts | compares, left - right, left + right).truncate(wide)
    number = exact.truncate(word_bits)
    too_big = exact[-1] != number[-1]
    # Without signs one bit more than a word is the carry of a sum; a difference borrows where the
    # second is the larger.
    sum_carry = (first.zero_extended(wide) + second.zero_extended(wide)).truncate(wide)[-1]
    number_carry = select(subtracts, first < second, sum_carry)

    result, result_carry = number, number_carry
    shifts = logic = never
    if "bit operations" in parts:
        # A shift is looked at in two words side by side: what leaves one is in the other.
        places = operand[:4]
        zeros = pyrtl.Const(0, word_bits)
        leftwards = pyrtl.shift_left_logical(pyrtl.concat(zeros, acc), places)
        rightwards = pyrtl.shift_right_logical(pyrtl.concat(acc, zeros), places)
        signed_right = pyrtl.shift_right_arithmetic(acc, places)
        round_left = pyrtl.shift_left_logical(pyrtl.concat(acc, acc), places)
        round_right = pyrtl.shift_right_logical(pyrtl.concat(acc, acc), places)
        to_left = any_of(BitCode.SHIFT_NUMBER_LEFT, BitCode.ROTATE_NUMBER_LEFT)
        shifts = to_left | any_of(
            BitCode.SHIFT_NUMBER_RIGHT,
            BitCode.SHIFT_NUMBER_RIGHT_SIGNED,
            BitCode.ROTATE_NUMBER_RIGHT,
        )
        logic = any_of(
            BitCode.AND,
            BitCode.AND_NUMBER,
            BitCode.OR,
            BitCode.OR_NUMBER,
            BitCode.XOR,
            BitCode.XOR_NUMBER,
            BitCode.NOT,
        )
        for signal, value in (
            (any_of(BitCode.AND, BitCode.AND_NUMBER), acc & second),
            (any_of(BitCode.OR, BitCode.OR_NUMBER), acc | second),
            (any_of(BitCode.XOR, BitCode.XOR_NUMBER), acc ^ second),
            (is_code[BitCode.NOT], ~acc),
            (is_code[BitCode.SHIFT_NUMBER_LEFT], leftwards[:word_bits]),
            (is_code[BitCode.SHIFT_NUMBER_RIGHT], rightwards[word_bits:]),
            (is_code[BitCode.SHIFT_NUMBER_RIGHT_SIGNED], signed_right),
            (is_code[BitCode.ROTATE_NUMBER_LEFT], round_left[word_bits:]),
            (is_code[BitCode.ROTATE_NUMBER_RIGHT], round_right[:word_bits]),
        ):
            result = select(signal, value, result)
        left_last = select(to_left, leftwards[word_bits], rightwards[word_bits - 1])
        result_carry = select(shifts, left_last, number_carry)

    def order(negative: pyrtl.WireVector, value: pyrtl.WireVector) -> pyrtl.WireVector:
        not_less = select(value == 0, Status.EQUAL, Status.MORE)
        return select(negative, Status.LESS, not_less)

    compared = order(exact[-1], exact)
    result_status = order(result[-1], result)
    # When the ALU works: at once on a number, and on what memory gives once it is there.
    alu_now = select(indirect_reads, t[9], select(direct_reads | indexed_reads, t[7], t[5]))
    makes = alu_now & (adds | subtracts | logic | shifts)

    # Addresses that are worked out are as wide as a word and signed: none that memory has is
    # negative or has a bit set in its left half.
    indexed_address = (operand.zero_extended(wide) + x.sign_extended(wide)).truncate(wide)
    stack_address = (operand.zero_extended(half_bits + 2) + sp).truncate(half_bits + 2)
    jumps_indexed = any_of(IndexCode.JUMP_INDEXED)
    takes_mdr = indirect | any_of(IndexCode.JUMP_INDIRECT, StackCode.RETURN)
    no_address = (
        (t[5] & (by_index | jumps_indexed) & (indexed_address[half_bits:] != 0))
        | (t[5] & by_stack & (stack_address[half_bits:] != 0))
        | (t[7] & takes_mdr & (mdr[half_bits:] != 0))
    )
    stack_empty = t[5] & shrinks & (sp == memory_words)
    stack_full = ((t[5] & grows) | serves) & (sp <= program_words)

    # The clock: held by the stop register, at a fetch from after the last word, at an INPUT that
    # has nothing to take, or at a step that cannot be done.
    off_memory = t[0] & (pc == memory_words)
    waiting = t[5] & is_code[Code.INPUT] & ~input_ready
    state = pyrtl.Const(Clock.RUNNING, 3)
    for signal, why in (
        (off_memory, Clock.OFF_MEMORY),
        (waiting, Clock.WAITING),
        (no_address, Clock.NO_ADDRESS),
        (stack_empty, Clock.STACK_EMPTY),
        (stack_full, Clock.STACK_FULL),
    ):
        state = select(signal, pyrtl.Const(why, 3), state)
    state = select(stopped != Clock.RUNNING, stopped.zero_extended(3), state)
    clock <<= state
    running = state == Clock.RUNNING

    # One address bus and one read port serve both fetch and execute.
    read = memory[mar]
    target = operand.zero_extended(half_bits + 1)

    # The word that an interrupt keeps: PC in its right half, then the comparison, carry, overflow.
    compared_as = select(
        status == Status.EQUAL,
        pyrtl.Const(0b00, 2),
        select(
            status == Status.LESS,
            pyrtl.Const(0b01, 2),
            select(status == Status.MORE, pyrtl.Const(0b10, 2), pyrtl.Const(0b11, 2)),
        ),
    )
    kept_word = pyrtl.concat(overflow, carry, compared_as, pc.truncate(half_bits))
    kept_word = kept_word.zero_extended(word_bits)
    kept_status = pyrtl.mux(
        mdr[half_bits : half_bits + 2],
        *(pyrtl.Const(each, 2) for each in (Status.EQUAL, Status.LESS, Status.MORE, Status.NONE)),
    )
    begins <<= running & t[0] & ~serves
    ends <<= running & last_step

    with conditional_assignment, running:
        after = select(last_step | t[14], 0, counter + 1)
        counter.next |= select(serves, pyrtl.Const(10, 4), after.truncate(4))

        # Serving a request, in place of a fetch
        with serves:
            sp.next |= sp - 1
        with t[10]:
            mar.next |= sp.truncate(half_bits)
        with t[11]:
            mdr.next |= kept_word
        with t[12]:
            memory[mar] |= mdr
            memory_write |= 1
        with t[13]:
            enabled.next |= 0
        with t[14]:
            pc.next |= vector.zero_extended(half_bits + 1)
            request_taken |= 1

        # Fetch
        with t[0]:
            mar.next |= pc.truncate(half_bits)
        reads, takes, moves = (t[2], t[3], t[1]) if counter_second else (t[1], t[2], t[3])
        with reads:
            mdr.next |= read
        with takes:
            cir.next |= mdr
        with moves:
            pc.next |= pc + 1

        # Decode
        with t[4]:
            opcode.next |= cir[half_bits:]
            operand.next |= cir[:half_bits]
            with ~pyrtl.rtl_any(*(cir[half_bits:] == code for code in known)):
                stopped.next |= Clock.UNKNOWN_CODE

        # Execute: what the ALU makes, then the rest, each in its own step.
        with makes:
            status.next |= result_status
            overflow.next |= select(adds | subtracts, too_big, overflow)
            keeps_carry = logic if "bit operations" in parts else ~never
            carry.next |= select(keeps_carry, carry, result_carry)
            with on_index:
                x.next |= result
            with otherwise:
                acc.next |= result
        with alu_now & compares:
            status.next |= compared
        with t[5]:
            with by_operand:
                mar.next |= operand
            with by_index:
                mar.next |= indexed_address[:half_bits]
            with by_stack:
                mar.next |= stack_address[:half_bits]
            with grows:
                sp.next |= sp - 1
            with shrinks:
                mar.next |= sp.truncate(half_bits)
            with enables:
                vector.next |= operand
            with any_of(InterruptCode.DISABLE):
                enabled.next |= 0
            with is_code[Code.HALT]:
                stopped.next |= Clock.HALTED
            with is_code[Code.LOAD_NUMBER]:
                acc.next |= operand.zero_extended(word_bits)
            with any_of(IndexCode.LOAD_NUMBER_TO_INDEX):
                x.next |= operand.zero_extended(word_bits)
            with jumps:
                pc.next |= target
            with jumps_indexed:
                pc.next |= indexed_address[:half_bits].zero_extended(half_bits + 1)
            with is_code[Code.INPUT]:
                acc.next |= input_value
                input_taken |= 1
            with is_code[Code.OUTPUT]:
                output_given |= 1
        with t[6]:
            with grows:
                mar.next |= sp.truncate(half_bits)
            with writes_acc:
                mdr.next |= acc
            with any_of(IndexCode.STORE_FROM_INDEX):
                mdr.next |= x
            with enables:
                enabled.next |= 1
            with otherwise:
                mdr.next |= read
        with t[7]:
            with any_of(
                Code.LOAD,
                IndexCode.LOAD_INDEXED,
                StackCode.LOAD_NUMBER_FROM_STACK,
                StackCode.POP,
            ):
                acc.next |= mdr
            with any_of(IndexCode.LOAD_TO_INDEX):
                x.next |= mdr
            with writes_acc | any_of(IndexCode.STORE_FROM_INDEX):
                memory[mar] |= mdr
                memory_write |= 1
            with indirect:
                mar.next |= mdr.truncate(half_bits)
            with any_of(IndexCode.JUMP_INDIRECT, StackCode.RETURN):
                pc.next |= mdr[:half_bits].zero_extended(half_bits + 1)
            with returns_from_interrupt:
                pc.next |= mdr[:half_bits].zero_extended(half_bits + 1)
                status.next |= kept_status
                overflow.next |= mdr[half_bits + 3]
                carry.next |= mdr[half_bits + 2] if "bit operations" in parts else 0
            with any_of(StackCode.CALL):
                mdr.next |= pc.zero_extended(word_bits)
            with any_of(StackCode.PUSH):
                mdr.next |= acc
        with t[8]:
            with indirect_reads:
                mdr.next |= read
            with any_of(IndexCode.STORE_INDIRECT):
                mdr.next |= acc
            with grows:
                memory[mar] |= mdr
                memory_write |= 1
            with shrinks:
                sp.next |= sp + 1
        with t[9]:
            with any_of(IndexCode.LOAD_INDIRECT):
                acc.next |= mdr
            with any_of(IndexCode.STORE_INDIRECT):
                memory[mar] |= mdr
                memory_write |= 1
            with any_of(StackCode.CALL):
                pc.next |= target
            with returns_from_interrupt:
                enabled.next |= 1

    return memory


def signed(pattern: int, bits: int) -> int:
    """The two's-complement number that a bit pattern stands for."""
    return pattern - (1 << bits) if pattern >> (bits - 1) else pattern


@cache
def hardware(
    machine: str, counter_second: bool = False, parts: frozenset[str] = frozenset()
) -> HardwareMachine:
    """The circuit of a named machine with its parts, built once."""
    return HardwareMachine(WORD_BITS[machine], counter_second, parts)


def simulate(
    machine: str,
    memory: Sequence[int],
    inputs: Sequence[int],
    max_steps: int,
    counter_second: bool = False,
    parts: frozenset[str] = frozenset(),
    requests: Sequence[Asked] = (),
) -> list[Snapshot]:
    """Run a memory image on the hardware; one snapshot after every step, the last one `ended`."""
    return hardware(machine, counter_second, parts).run(memory, inputs, max_steps, requests)
