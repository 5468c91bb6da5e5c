"""The machine as hardware: registers, one memory, one ALU and a timed control unit.

Its only source is ``machine.md`` beside it, so that it can disagree with ``app/machine``; it
shares no code with it. The style is that of standard textbooks on register-transfer design (for
example Mano, *Computer System Architecture*, chapters 4 and 5, from memory): a sequence counter
gives the timing signals T0 to T7, the opcode is decoded to one signal for each code, and each
register transfer is permitted by a timing signal and a decoded code. One tick of the clock makes
one transfer, which is one *step*:

    T0      MAR <- PC
    T1      MDR <- memory[MAR]
    T2      CIR <- MDR
    T3      PC <- PC + 1
            (where the counter moves second, this is T1, and the two above it T2 and T3)
    T4      opcode, operand <- CIR
    T5-T7   the instruction's own row; the counter then goes back to T0
"""

from collections.abc import Sequence
from copy import copy
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


Ended = Literal["", "halted", "off_memory", "unknown_code", "waiting", "limit"]

STATUS_NAME = {status: status.name if status else "" for status in Status}
ENDED_NAME: dict[int, Ended] = {
    Clock.RUNNING: "",
    Clock.HALTED: "halted",
    Clock.UNKNOWN_CODE: "unknown_code",
    Clock.OFF_MEMORY: "off_memory",
    Clock.WAITING: "waiting",
}


class Snapshot(NamedTuple):
    """The machine just after one step.

    Registers and memory are unsigned bit patterns; ``status`` is empty before the first
    comparison; ``outputs`` are signed numbers, all of those so far. ``overflow`` is the
    overflow mark. ``ended`` is empty in every
    snapshot of a run but the last. ``memory`` and ``outputs`` are the same objects from one
    snapshot to the next until a step changes them.
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


class HardwareMachine:
    """The circuit for one word size, with the clock and the outside world to drive it."""

    def __init__(self, word_bits: int, counter_second: bool = False) -> None:
        self.word_bits = word_bits
        self.memory_words = 1 << (word_bits // 2)
        with pyrtl.set_working_block(pyrtl.Block()):
            self.memory = describe(word_bits, counter_second)
            pyrtl.optimize()
            blank = dict.fromkeys(range(self.memory_words), 0)
            # Compiling the circuit takes as long as some hundreds of steps, so it is done once;
            # each run is a copy of this simulation, whose registers nobody ever clocks. The
            # copies share one memory, which every run fills in full before it starts.
            self.switched_off = pyrtl.FastSimulation(
                memory_value_map={self.memory: blank}, tracer=None
            )

    def run(self, image: Sequence[int], inputs: Sequence[int], max_steps: int) -> list[Snapshot]:
        """Tick the clock until the machine stops, waits for an input or reaches the limit.

        A short image is filled up with zeros. Inputs may be signed or bit patterns. A machine
        that stops by itself exactly at the limit is reported as having stopped by itself.
        """
        mask = (1 << self.word_bits) - 1
        memory = (*image, *[0] * (self.memory_words - len(image)))
        if len(memory) != self.memory_words or not all(0 <= word <= mask for word in memory):
            raise ValueError(f"an image is {self.memory_words} words of {self.word_bits} bits")

        circuit = copy(self.switched_off)
        look = circuit.inspect
        cells = circuit.inspect_mem(self.memory)
        cells.update(enumerate(memory))
        to_come = [number & mask for number in reversed(inputs)]
        outputs: tuple[int, ...] = ()
        snapshots: list[Snapshot] = []

        # A register shows, in any cycle, what the cycle before left in it: the snapshot after
        # step n is taken in cycle n, counted from 0, so the limit needs one cycle more.
        for cycle in range(max_steps + 1):
            circuit.step(
                {"input_ready": bool(to_come), "input_value": to_come[-1] if to_come else 0}
            )
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
                    )
                )
            if ended:
                break

            if look("memory_write"):
                memory = tuple(cells[address] for address in range(self.memory_words))
            if look("input_taken"):
                to_come.pop()
            if look("output_given"):
                outputs = (*outputs, signed(look("ACC"), self.word_bits))
        return snapshots


def describe(word_bits: int, counter_second: bool = False) -> pyrtl.MemBlock:
    """Describe the machine in the working block, and return its memory. ``counter_second`` moves
    the counter on in the second tick of a fetch and not in the fourth."""
    half_bits = word_bits // 2
    memory = pyrtl.MemBlock(word_bits, addrwidth=half_bits, name="memory", asynchronous=True)

    # PC has one bit more than an address, to stand after the last word.
    pc = pyrtl.Register(half_bits + 1, "PC")
    mar = pyrtl.Register(half_bits, "MAR")
    mdr = pyrtl.Register(word_bits, "MDR")
    cir = pyrtl.Register(word_bits, "CIR")
    acc = pyrtl.Register(word_bits, "ACC")
    status = pyrtl.Register(2, "status")
    overflow = pyrtl.Register(1, "mark")
    opcode = pyrtl.Register(half_bits, "opcode")
    operand = pyrtl.Register(half_bits, "operand")
    counter = pyrtl.Register(3, "counter")
    stopped = pyrtl.Register(2, "stopped")

    input_ready = pyrtl.Input(1, "input_ready")
    input_value = pyrtl.Input(word_bits, "input_value")
    # What the circuit tells the world outside during a cycle: `clock` is a Clock, the others say
    # what the transfer of this cycle does.
    clock = pyrtl.Output(3, "clock_state")
    input_taken = pyrtl.Output(1, "input_taken")
    output_given = pyrtl.Output(1, "output_given")
    memory_write = pyrtl.Output(1, "memory_write")
    # No transfer reads the mark: it is there to be seen.
    mark = pyrtl.Output(1, "overflow")
    mark <<= overflow

    # Control unit: timing signals and decoded codes.
    t = [counter == number for number in range(8)]
    is_code = {code: opcode == code for code in Code}

    def any_of(*codes: Code) -> pyrtl.WireVector:
        return pyrtl.rtl_any(*(is_code[code] for code in codes))

    by_address = any_of(Code.LOAD, Code.STORE, Code.ADD, Code.SUBTRACT, Code.COMPARE)
    compares = any_of(Code.COMPARE, Code.COMPARE_NUMBER)
    subtracts = any_of(Code.SUBTRACT, Code.SUBTRACT_NUMBER)
    jumps = (
        is_code[Code.JUMP]
        | (is_code[Code.JUMP_IF_LESS] & (status == Status.LESS))
        | (is_code[Code.JUMP_IF_EQUAL] & (status == Status.EQUAL))
        | (is_code[Code.JUMP_IF_MORE] & (status == Status.MORE))
    )
    last_step = t[7] | (t[5] & ~by_address)

    # ALU: one bit wider than the word, so that its top bit is the true sign even when the sum or
    # difference does not fit. That makes COMPARE right under overflow.
    # An operand taken as a number is unsigned, hence extended with zeros.
    wide = word_bits + 1
    left = acc.sign_extended(wide)
    right = select(by_address, mdr.sign_extended(wide), operand.zero_extended(wide))
    exact = select(subtracts | compares, left - right, left + right).truncate(wide)
    result = exact.truncate(word_bits)

    def order(negative: pyrtl.WireVector, number: pyrtl.WireVector) -> pyrtl.WireVector:
        not_less = select(number == 0, Status.EQUAL, Status.MORE)
        return select(negative, Status.LESS, not_less)

    compared = order(exact[-1], exact)
    result_status = order(result[-1], result)
    too_big = exact[-1] != result[-1]

    # The clock: held by the stop register, at a fetch from after the last word, or at an INPUT
    # that has nothing to take.
    off_memory = t[0] & (pc == 1 << half_bits)
    waiting = t[5] & is_code[Code.INPUT] & ~input_ready
    clock <<= select(
        stopped != Clock.RUNNING,
        stopped,
        select(off_memory, Clock.OFF_MEMORY, select(waiting, Clock.WAITING, Clock.RUNNING)),
    )
    running = ~((stopped != Clock.RUNNING) | off_memory | waiting)

    # One address bus and one read port serve both fetch and execute.
    read = memory[mar]

    with conditional_assignment, running:
        counter.next |= select(last_step, 0, counter + 1)

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
            with cir[half_bits:] > max(Code):
                stopped.next |= Clock.UNKNOWN_CODE

        # Execute
        with t[5]:
            with by_address:
                mar.next |= operand
            with is_code[Code.HALT]:
                stopped.next |= Clock.HALTED
            with is_code[Code.LOAD_NUMBER]:
                acc.next |= operand.zero_extended(word_bits)
            with any_of(Code.ADD_NUMBER, Code.SUBTRACT_NUMBER):
                acc.next |= result
                status.next |= result_status
                overflow.next |= too_big
            with is_code[Code.COMPARE_NUMBER]:
                status.next |= compared
            with jumps:
                pc.next |= operand.zero_extended(half_bits + 1)
            with is_code[Code.INPUT]:
                acc.next |= input_value
                input_taken |= 1
            with is_code[Code.OUTPUT]:
                output_given |= 1
        with t[6]:
            with is_code[Code.STORE]:
                mdr.next |= acc
            with otherwise:
                mdr.next |= read
        with t[7]:
            with is_code[Code.LOAD]:
                acc.next |= mdr
            with is_code[Code.STORE]:
                memory[mar] |= mdr
                memory_write |= 1
            with any_of(Code.ADD, Code.SUBTRACT):
                acc.next |= result
                status.next |= result_status
                overflow.next |= too_big
            with is_code[Code.COMPARE]:
                status.next |= compared

    return memory


def signed(pattern: int, bits: int) -> int:
    """The two's-complement number that a bit pattern stands for."""
    return pattern - (1 << bits) if pattern >> (bits - 1) else pattern


@cache
def hardware(machine: str, counter_second: bool = False) -> HardwareMachine:
    """The circuit of a named machine, built once."""
    return HardwareMachine(WORD_BITS[machine], counter_second)


def simulate(
    machine: str,
    memory: Sequence[int],
    inputs: Sequence[int],
    max_steps: int,
    counter_second: bool = False,
) -> list[Snapshot]:
    """Run a memory image on the hardware; one snapshot after every step, the last one `ended`."""
    return hardware(machine, counter_second).run(memory, inputs, max_steps)
