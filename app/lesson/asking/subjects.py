"""What a question may ask for, and its true answer, read from the run.

==================================  =====================================================
``the accumulator``                 what it holds after the place in the run
``the status``                      LESS, EQUAL or MORE after it
``the next address``                the program counter after it (also by its name)
``the memory address register``     after it; also the memory data register
``the current instruction register`` the instruction that it holds after it
``what is stored in total``         the word at that label (or address) after it
``the output so far``               every number sent out by then
``which way the jump goes``         at a jump: whether it is taken, and where it leads
==================================  =====================================================
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from app.lesson.entries import Wrong
from app.lesson.parts import find_parts
from app.machine.source.problems import nearest

ASKED_REGISTERS = ("ACC", "PC", "MAR", "MDR", "CIR", "status")

_STORED = re.compile(r"(?:what is stored|what is|the word|the number) (?:in|at)(?: address)? (\S+)")
_EXAMPLES = (
    "the accumulator",
    "the status",
    "the next address",
    "the program counter",
    "the memory address register",
    "the memory data register",
    "the current instruction register",
    "what is stored in",
    "the output so far",
    "which way the jump goes",
)


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked. ``kind`` is a register, ``memory``, ``output`` or ``jump``; ``target`` the
    label or address, as it was written, of a word of memory."""

    kind: str
    target: str = ""


def read_ask(text: str) -> Ask:
    """Read what is asked. Raises Wrong, with a suggestion where there is one."""
    plain = " ".join(text.split()).rstrip("?.")
    lowered = plain.casefold()
    if lowered in ("the next address", "the address of the next instruction", "next address"):
        return Ask("PC")
    if lowered in ("the output so far", "the output", "output"):
        return Ask("output")
    if lowered in ("which way the jump goes", "whether it jumps"):
        return Ask("jump")
    stored = _STORED.fullmatch(lowered)
    if stored:
        return Ask("memory", plain[stored.start(1) : stored.end(1)])
    try:
        parts = find_parts(plain)
    except Wrong:
        parts = ()
    if len(parts) == 1 and parts[0] in ASKED_REGISTERS:
        return Ask(parts[0])
    near = nearest(lowered, _EXAMPLES)
    if near == "what is stored in":
        near = "what is stored in total"
    mend = (
        f"Did you mean '{near}'?"
        if near
        else "Write for example 'the accumulator', 'the next address', 'the status', 'the output"
        " so far', 'which way the jump goes' or 'what is stored in total'."
    )
    raise Wrong(f"The answer to '{text}' cannot be found in the run.", mend)
