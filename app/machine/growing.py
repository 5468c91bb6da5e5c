"""What a lesson can switch on: the parts by which the 16-bit machine grows.

Each part brings its instructions and its registers, each instruction in one clause as those of
``instructions`` are. The left half of an opcode is the group: in the groups INDIRECT and INDEXED
the right half is the code that the same work has among the first sixteen (0x0C ADD a, 0x2C ADD a
INDIRECT, 0x3C ADD a INDEXED), and where an instruction has a number and an address form, the odd
code is the number's.

The modes and the stack are those of the textbooks, for example M. Morris Mano, *Computer System
Architecture* (3rd edition), sections 8-3 to 8-5 and 4-6 (shifts), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from .addressing import (
    COUNT,
    DIRECT,
    IMMEDIATE,
    IMPLIED,
    INDEXED,
    INDIRECT,
    NEXT,
    NEXT_INDEXED,
    NEXT_INDIRECT,
    ON_STACK,
    WRITTEN,
    WRITTEN_INDEXED,
    WRITTEN_INDIRECT,
    WRITTEN_ON_STACK,
    Mode,
)
from .instructions import Instruction, define
from .machine import MACHINES, SIXTEEN_BIT, Machine
from .operations import BIT_OPERATIONS, OPERATIONS
from .registers import (
    CARRY,
    GROWN_REGISTERS,
    INDEX,
    INTERRUPTS,
    REGISTERS,
    STACK_POINTER,
    VECTOR,
    Register,
)
from .transfers import Transfer


@dataclass(frozen=True, slots=True)
class Part:
    """What a lesson can switch on by its ``name``."""

    name: str
    registers: tuple[Register, ...]
    instructions: tuple[Instruction, ...]
    # The parts that it cannot be without, and what is done where a request is served.
    needs: tuple[str, ...] = ()
    interrupt: tuple[Transfer, ...] = ()


def _define(code: int, written: str, mode: Mode, transfers: str, meaning: str) -> Instruction:
    tables = ((*REGISTERS, *GROWN_REGISTERS), (*OPERATIONS, *BIT_OPERATIONS))
    return define(code, written, mode, transfers, meaning, *tables)


def _both(code: int, name: str, meaning: str) -> tuple[Instruction, Instruction]:
    """A bit operation with an address and, under the next code, with a number."""
    does = f"ACC, status <- ACC {name} {{value}}"
    return (
        _define(code, name, DIRECT, does, meaning),
        _define(code + 1, name, IMMEDIATE, does, meaning),
    )


def _moved(code: int, written: str, how: str, meaning: str) -> Instruction:
    """A shift or a rotation."""
    return _define(code, written, COUNT, f"ACC, carry, status <- ACC {how} by {{value}}", meaning)


_BITS = (
    *_both(0x10, "AND", "keep of the accumulator the bits that are 1 in {value} too"),
    *_both(0x12, "OR", "make each bit of the accumulator 1 that is 1 in {value}"),
    *_both(0x14, "XOR", "turn round each bit of the accumulator that is 1 in {value}"),
    _define(
        0x16, "NOT", IMPLIED, "ACC, status <- NOT ACC", "turn every bit of the accumulator round"
    ),
    _moved(0x18, "SHIFT LEFT", "shifted left", "shift the accumulator left by {value}"),
    _moved(0x19, "SHIFT RIGHT", "shifted right", "shift the accumulator right by {value}"),
    _moved(
        0x1A,
        "SHIFT RIGHT SIGNED",
        "shifted right signed",
        "shift the accumulator right by {value} and keep its sign",
    ),
    _moved(
        0x1C,
        "ROTATE LEFT",
        "rotated left",
        "turn the accumulator's bits round to the left by {value}",
    ),
    _moved(
        0x1D,
        "ROTATE RIGHT",
        "rotated right",
        "turn the accumulator's bits round to the right by {value}",
    ),
    _define(
        0x1E,
        "JUMP IF CARRY",
        NEXT,
        "PC <- {value}, when carry is 1",
        "go on from {value} if the carry is 1",
    ),
    _define(
        0x1F,
        "JUMP IF OVERFLOW",
        NEXT,
        "PC <- {value}, when overflow is 1",
        "go on from {value} if the result of the last ADD or SUBTRACT was too large for the word",
    ),
)


def _group(
    group: int, ending: str, reads: Mode, writes: Mode, follows: Mode
) -> tuple[Instruction, ...]:
    """What can be done with a value that another mode brings: the right half of each code is the
    one of the same work with a plain address."""
    work = (
        (3, "JUMP", follows, "PC <- {value}", "go on from {value}"),
        (7, "STORE", writes, "MDR <- ACC; {value} <- MDR", "copy the accumulator to {value}"),
        (
            8,
            "COMPARE",
            reads,
            "status <- ACC compared with {value}",
            "compare the accumulator with {value}",
        ),
        (
            10,
            "SUBTRACT",
            reads,
            "ACC, status <- ACC - {value}",
            "take {value} away from the accumulator",
        ),
        (12, "ADD", reads, "ACC, status <- ACC + {value}", "add {value} to the accumulator"),
        (14, "LOAD", reads, "ACC <- {value}", "copy {value} to the accumulator"),
    )
    return tuple(
        _define(group + code, f"{name} {ending}", mode, transfers, meaning)
        for code, name, mode, transfers, meaning in work
    )


_COMPARE_INDEX = ("status <- X compared with {value}", "compare the index with {value}")

_INDEX = (
    *_group(0x20, "INDIRECT", INDIRECT, WRITTEN_INDIRECT, NEXT_INDIRECT),
    *_group(0x30, "INDEXED", INDEXED, WRITTEN_INDEXED, NEXT_INDEXED),
    _define(
        0x47,
        "STORE FROM INDEX",
        WRITTEN,
        "MDR <- X; {value} <- MDR",
        "copy the index to {value}",
    ),
    _define(0x48, "COMPARE WITH INDEX", DIRECT, *_COMPARE_INDEX),
    _define(0x49, "COMPARE WITH INDEX", IMMEDIATE, *_COMPARE_INDEX),
    _define(
        0x4B,
        "SUBTRACT FROM INDEX",
        IMMEDIATE,
        "X, status <- X - {value}",
        "take {value} away from the index",
    ),
    _define(
        0x4D, "ADD TO INDEX", IMMEDIATE, "X, status <- X + {value}", "add {value} to the index"
    ),
    _define(0x4E, "LOAD TO INDEX", DIRECT, "X <- {value}", "copy {value} to the index register"),
    _define(0x4F, "LOAD TO INDEX", IMMEDIATE, "X <- {value}", "put {value} in the index register"),
)

_STACK = (
    _define(
        0x50,
        "CALL",
        NEXT,
        "SP <- SP - 1; MAR <- SP; MDR <- PC; memory[MAR] <- MDR; PC <- {value}",
        "put the address to come back to on the stack, and go on from {value}",
    ),
    _define(
        0x51,
        "RETURN",
        IMPLIED,
        "MAR <- SP; MDR <- memory[MAR]; PC <- MDR; SP <- SP + 1",
        "take an address off the stack, and go on from there",
    ),
    _define(
        0x52,
        "PUSH",
        IMPLIED,
        "SP <- SP - 1; MAR <- SP; MDR <- ACC; memory[MAR] <- MDR",
        "put a copy of the accumulator on the stack",
    ),
    _define(
        0x53,
        "POP",
        IMPLIED,
        "MAR <- SP; MDR <- memory[MAR]; ACC <- MDR; SP <- SP + 1",
        "take the top of the stack off to the accumulator",
    ),
    _define(
        0x57,
        "STORE TO STACK",
        WRITTEN_ON_STACK,
        "MDR <- ACC; {value} <- MDR",
        "copy the accumulator to {value}",
    ),
    _define(0x5F, "LOAD FROM STACK", ON_STACK, "ACC <- {value}", "copy {value} to the accumulator"),
)

_INTERRUPTS = (
    _define(
        0x60,
        "ENABLE",
        NEXT,
        "V <- {value}; interrupts <- on",
        "let requests break in from now on, and serve each with the routine at {value}",
    ),
    _define(
        0x61,
        "DISABLE",
        IMPLIED,
        "interrupts <- off",
        "let no request break in from now on",
    ),
    _define(
        0x62,
        "RETURN FROM INTERRUPT",
        IMPLIED,
        "MAR <- SP; MDR <- memory[MAR]; status, PC <- MDR; SP <- SP + 1; interrupts <- on",
        "take status and program counter off the stack, and go on where the request broke in",
    ),
)

# M. Morris Mano, Computer System Architecture (3rd edition), section 5-7, 'Input-output and
# interrupt': where an instruction has ended, interrupts are on and a flag is set, the return
# address is stored, PC gets the address of the routine and interrupts are switched off. That the
# status is kept with it, on a stack, and that a vector tells where the routine is, are in its
# section 11-5, 'Priority interrupt', and in W. Stallings, Computer Organization and Architecture,
# 'Interrupts and the instruction cycle'. Both from memory.
_SERVING = tuple(
    Transfer.parse(each, (*REGISTERS, *GROWN_REGISTERS))
    for each in (
        "SP <- SP - 1",
        "MAR <- SP",
        "MDR <- status, PC",
        "memory[MAR] <- MDR",
        "interrupts <- off",
        "PC <- V",
    )
)

PARTS = {
    each.name: each
    for each in (
        Part("bit operations", (CARRY,), _BITS),
        Part("index register", (INDEX,), _INDEX),
        Part("stack", (STACK_POINTER,), _STACK),
        Part("interrupts", (VECTOR, INTERRUPTS), _INTERRUPTS, ("stack",), _SERVING),
    )
}
"""The parts by their names, in the order in which their registers stand."""


@cache
def grown(parts: frozenset[str]) -> Machine:
    """The 16-bit machine with these parts (keys of ``PARTS``) and those that they cannot be
    without: the same value every time, the plain one for none. KeyError for no such part."""
    if unknown := parts - set(PARTS):
        raise KeyError(f"no part is called {min(unknown)}")
    if not parts:
        return SIXTEEN_BIT
    if more := {need for name in parts for need in PARTS[name].needs} - parts:
        return grown(parts | more)
    chosen = [part for name, part in PARTS.items() if name in parts]
    every = [*SIXTEEN_BIT.instructions, *(each for part in chosen for each in part.instructions)]
    serving = tuple(step for part in chosen for step in part.interrupt)
    if CARRY in (each for part in chosen for each in part.registers):
        # Where there is a carry, every sum and difference sets it, and a request has it kept.
        serving = tuple(each.with_carry for each in serving)
        every = [
            replace(each, transfers=tuple(one.with_carry for one in each.transfers))
            for each in every
        ]
    return replace(
        SIXTEEN_BIT,
        instructions=tuple(every),
        registers=(*REGISTERS, *(each for part in chosen for each in part.registers)),
        interrupt=serving,
        parts=tuple(part.name for part in chosen),
    )


def part_with(line: str, machine: Machine) -> str:
    """The part that brings an instruction, named by its first word or as it is written (with any
    number), where the machine does not have it; else empty."""
    name, _, rest = line.partition(" ")
    ending = rest.partition(" ")[2]
    for part in PARTS.values():
        if part.name in machine.parts:
            continue
        for each in part.instructions:
            # By its first word alone it is looked for where the machine knows no such word.
            named = each.ending == ending if rest else name not in machine.names
            if each.name == name and named:
                return part.name
    return ""


def key_of(machine: Machine) -> str:
    """How an address or a form names a machine: its name and its parts, such as
    ``16-bit_index-register_stack``."""
    return "_".join([machine.name, *(each.replace(" ", "-") for each in machine.parts)])


def machine_of(key: str) -> Machine | None:
    """The machine that a key names; None for no such machine."""
    name, *parts = key.split("_")
    chosen = frozenset(each for each in PARTS if each.replace(" ", "-") in parts)
    machine = grown(chosen) if parts else MACHINES.get(name)
    return machine if machine and key_of(machine) == key else None
