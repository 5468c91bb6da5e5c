"""The registers, each defined once: its tag in the notation, its names, and what it holds."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Holds(StrEnum):
    """What kind of value a register holds; it sets its width."""

    ADDRESS = "address"
    WORD = "word"
    STATUS = "status"
    BIT = "bit"
    SWITCH = "switch"


@dataclass(frozen=True, slots=True)
class Register:
    """One register.

    ``tag`` is what the transfer notation and the board call it, ``name`` what the trade calls it
    in full and ``short`` what the board has room for. ``also`` are other names that the trade
    uses. ``start`` is what it holds when the machine is switched on.
    """

    tag: str
    name: str
    short: str
    holds: Holds
    also: tuple[str, ...] = ()
    start: int = 0


# In the order in which a fetch goes through them, then what an instruction works on.
REGISTERS = (
    Register("PC", "program counter", "Program counter", Holds.ADDRESS),
    Register("MAR", "memory address register", "Memory address", Holds.ADDRESS),
    Register(
        "MDR", "memory data register", "Memory data", Holds.WORD, ("memory buffer register", "MBR")
    ),
    Register(
        "CIR",
        "current instruction register",
        "Current instruction",
        Holds.WORD,
        ("instruction register", "IR"),
    ),
    Register("ACC", "accumulator", "Accumulator", Holds.WORD, ("AC",)),
    Register("status", "status", "Status", Holds.STATUS, ("status register",)),
)

# What the parts of a grown machine bring (see `growing`).
CARRY = Register("carry", "carry", "Carry", Holds.BIT, ("carry flag", "carry bit"))
INDEX = Register("X", "index register", "Index", Holds.WORD, ("IX",))
# It starts one past the last word of the memory of 256, and the stack grows down from there.
STACK_POINTER = Register("SP", "stack pointer", "Stack pointer", Holds.ADDRESS, start=256)
# Where the routine starts that serves a request, and whether requests are served.
VECTOR = Register("V", "interrupt vector register", "Vector", Holds.ADDRESS)
INTERRUPTS = Register(
    "interrupts", "interrupt flag", "Interrupts", Holds.SWITCH, ("interrupt enable flag",)
)
GROWN_REGISTERS = (CARRY, INDEX, STACK_POINTER, VECTOR, INTERRUPTS)
