"""A machine that has grown by one operation, one register and four instructions, each in one
clause: what the tests add to show that nothing else has to know."""

from __future__ import annotations

from app.machine.addressing import DIRECT, IMMEDIATE
from app.machine.instructions import INSTRUCTIONS, define
from app.machine.machine import Machine
from app.machine.operations import OPERATIONS, Operation
from app.machine.registers import REGISTERS, Holds, Register

AND = Operation(
    symbol="AND",
    expression="left & right",
    overflow="",
    does="keeps of {left} the bits that {right} has too",
    verb="keeps the bits that both have",
    did="kept the bits that both have",
    mixed_up="+",
)
X = Register("X", "index register", "Index", Holds.WORD)

_OPERATIONS = (*OPERATIONS, AND)
_REGISTERS = (*REGISTERS, X)
_TABLES = (_REGISTERS, _OPERATIONS)

_AND = ("ACC, status <- ACC AND {value}", "keep of the accumulator the bits of {value}", *_TABLES)

GROWN = Machine(
    "16-bit",
    16,
    (
        *INSTRUCTIONS,
        define(16, "AND", DIRECT, *_AND),
        define(17, "AND", IMMEDIATE, *_AND),
        define(77, "ADD TO INDEX", IMMEDIATE, "X, status <- X + {value}", "add {value}", *_TABLES),
        define(79, "LOAD TO INDEX", DIRECT, "X <- {value}", "copy {value} to X", *_TABLES),
    ),
    _REGISTERS,
)
