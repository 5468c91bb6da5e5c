"""A machine that has grown by one operation, one register and four instructions, each in one
clause: what the tests add to show that nothing else has to know. None of their names is one that
the machine or a part of it has."""

from __future__ import annotations

from app.machine.addressing import DIRECT, IMMEDIATE
from app.machine.instructions import INSTRUCTIONS, define
from app.machine.machine import Machine
from app.machine.operations import OPERATIONS, Operation
from app.machine.registers import REGISTERS, Holds, Register

WITHOUT = Operation(
    symbol="WITHOUT",
    expression="left & ~right",
    overflow="",
    does="takes out of {left} the bits that {right} has too",
    verb="takes out the bits that both have",
    did="took out the bits that both have",
    mixed_up="+",
)
Y = Register("Y", "spare register", "Spare", Holds.WORD)

_OPERATIONS = (*OPERATIONS, WITHOUT)
_REGISTERS = (*REGISTERS, Y)
_TABLES = (_REGISTERS, _OPERATIONS)

_TAKEN_OUT = ("ACC, status <- ACC WITHOUT {value}", "take out the bits of {value}", *_TABLES)

GROWN = Machine(
    "16-bit",
    16,
    (
        *INSTRUCTIONS,
        define(16, "WITHOUT", DIRECT, *_TAKEN_OUT),
        define(17, "WITHOUT", IMMEDIATE, *_TAKEN_OUT),
        define(77, "ADD TO SPARE", IMMEDIATE, "Y, status <- Y + {value}", "add {value}", *_TABLES),
        define(79, "LOAD TO SPARE", DIRECT, "Y <- {value}", "copy {value} to Y", *_TABLES),
    ),
    _REGISTERS,
)
