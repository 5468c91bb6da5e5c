"""Register transfers as data.

A transfer is written as the textbooks write it, ``ACC, status <- ACC + MDR``; this module reads
that notation into a :class:`Transfer`. Execution (``engine``), movement on the board (``beats``)
and the plain sentence (``words``) are all taken from it, so they cannot disagree. Which paths the
machine has is told by rules, not by a list: a register or an operation that is added to their
tables can be used in a notation at once.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum

from .operations import OPERATIONS, Condition, Mark, Operation, Status, compared
from .registers import REGISTERS, Holds, Register
from .words import Format


class Place(StrEnum):
    """A part of the machine that holds, makes or shows a value: a station on the board. The place
    of a register that is not named here is its tag."""

    CONTROL_UNIT = "CU"
    PC = "PC"
    MAR = "MAR"
    MDR = "MDR"
    CIR = "CIR"
    ACC = "ACC"
    ALU = "ALU"
    STATUS = "status"
    MEMORY = "memory"
    INPUT = "input"
    OUTPUT = "output"


# Where an address is made of the operand and what a register holds: a small adder, which only a
# machine with an index register or a stack has.
ADDER = "adder"


class Carrier(StrEnum):
    """What a value travels on."""

    ADDRESS = "address"
    DATA = "data"
    CONTROL = "control"
    INSIDE = "inside"


@dataclass(frozen=True, slots=True)
class Leg:
    """One movement of one value: from a place, on a carrier, to a place.

    ``carries`` is the term whose value travels: a term of the notation, ``result`` for what
    the ALU made, or the name of a control signal.
    """

    source: str
    target: str
    carrier: Carrier
    carries: str


# What an interrupt keeps in one word, and what gets it back: on a machine with a carry that too.
KEPT = "status, PC"
KEPT_WITH_CARRY = "status, carry, PC"

# The place in which each term of the notation lives that is not a register.
_TERM_PLACES = {
    "operand": Place.CONTROL_UNIT,
    "opcode, operand": Place.CONTROL_UNIT,
    "memory[MAR]": Place.MEMORY,
    "input": Place.INPUT,
    "output": Place.OUTPUT,
    "clock": Place.CONTROL_UNIT,
    "on": Place.CONTROL_UNIT,
    "off": Place.CONTROL_UNIT,
}


def place_of(term: str) -> str:
    """The place in which a term of the notation lives; that of a register is its tag."""
    return _TERM_PLACES.get(term) or (Place(term) if term in list(Place) else term)


# One plain sentence for each transfer that has something of its own to say. {value} is what the
# target becomes, {address} the address in MAR, {status} what the last comparison has left.
_WORDS = {
    "MAR <- PC": "The address of the next instruction, {value}, is copied to the memory address"
    " register.",
    "MDR <- memory[MAR]": "Memory is told to read. What is stored at address {address}, {value},"
    " comes back along the data bus.",
    "CIR <- MDR": "A fetch takes what it finds as an instruction: it is copied to the current"
    " instruction register.",
    "PC <- PC + 1": "The program counter moves on by one, to {value}, ready for the next fetch.",
    "opcode, operand <- CIR": "The control unit splits the instruction: {meaning}.",
    "MAR <- operand": "The operand is an address: {value} goes to the memory address register.",
    "MDR <- ACC": "The accumulator's {value} is copied to the memory data register, ready to"
    " be stored.",
    "memory[MAR] <- MDR": "Memory is told to write: {value} is stored at address {address}.",
    "PC <- operand": "A jump: the program counter becomes {value}, so the next fetch is there.",
    "output <- ACC": "The accumulator's {value} is sent to the output.",
    "clock <- stopped": "The control unit stops the clock: the program has ended.",
    "MAR <- MDR": "What was read is an address: {value} goes to the memory address register.",
    "PC <- MDR": "What was read is an address: the program counter becomes {value}, so the next"
    " fetch is there.",
    "MAR <- operand + X": "The operand {left} and the index {right} are added: their sum, {value},"
    " is the address and goes to the memory address register.",
    "PC <- operand + X": "The operand {left} and the index {right} are added: the program counter"
    " becomes {value}, so the next fetch is there.",
    "SP <- SP - 1": "The stack pointer moves down by one, to {value}: the stack grows by a word.",
    "MAR <- SP": "The stack pointer holds the address of the top of the stack: {value} is copied"
    " to the memory address register.",
    "SP <- SP + 1": "The stack pointer moves up by one, to {value}: a word is off the stack, and"
    " memory still holds it.",
    "MAR <- SP + operand": "The stack pointer's {left} and the operand {right} are added: their"
    " sum, {value}, is the address and goes to the memory address register.",
    "MDR <- PC": "The address to come back to, {value}, is copied from the program counter to the"
    " memory data register.",
    "V <- operand": "The operand is an address: {value} goes to the interrupt vector register. The"
    " routine that serves a request starts there.",
    "interrupts <- on": "Interrupts are switched on: a request that waits is served when an"
    " instruction has ended.",
    "interrupts <- off": "Interrupts are switched off: a request that comes now has to wait.",
    "MDR <- status, PC": "Where the program is has to be kept: the status {becomes} and the program"
    " counter {pc} are put together in one word, {value}, in the memory data register.",
    "status, PC <- MDR": "The word is taken apart: the status becomes {becomes} and the program"
    " counter {value}, as they were when the request was served.",
    "MDR <- status, carry, PC": "Where the program is has to be kept: the status {becomes}, the"
    " carry {carry} and the program counter {pc} are put together in one word, {value}, in the"
    " memory data register.",
    "status, carry, PC <- MDR": "The word is taken apart: the status becomes {becomes}, the carry"
    " {carry} and the program counter {value}, as they were when the request was served.",
    "PC <- V": "The interrupt vector register says where the routine starts: the program counter"
    " becomes {value}, so the next fetch is there.",
    "MDR <- X": "The index register's {value} is copied to the memory data register, ready to be"
    " stored.",
}
# The same where the status is not on stage.
_WITHOUT_STATUS = {
    "MDR <- status, PC": "Where the program is has to be kept: the program counter {pc} goes into a"
    " word, {value}, in the memory data register.",
    "status, PC <- MDR": "The word is taken apart: the program counter becomes {value}, as it was"
    " when the request was served.",
    "MDR <- status, carry, PC": "Where the program is has to be kept: the carry {carry} and the"
    " program counter {pc} are put together in one word, {value}, in the memory data register.",
    "status, carry, PC <- MDR": "The word is taken apart: the carry becomes {carry} and the program"
    " counter {value}, as they were when the request was served.",
}
# What a jump finds that asks for a mark of the status.
_WAITS_FOR = {"carry": Mark.CARRY, "overflow": Mark.OVERFLOW}
_WORDS_TAKEN = "{status}, so it jumps: the program counter becomes {value}."
_WORDS_NOT_TAKEN = "{status}, so there is no jump: the program counter stays at {pc}."
# What is said of a result that sets the status too, where the status is on stage.
AND_STATUS = ", and the status becomes {becomes}"
# The same of a carry that it sets.
_CARRY = "the carry becomes {carry}"

_NOTATION = re.compile(
    r"(?P<targets>\S[^<]*?) <- (?P<source>status, (?:carry, )?PC|[^<,]+?)"
    r"(?:, when (?:status is (?P<condition>\S+)|(?P<mark>carry|overflow) is 1))?"
)


@dataclass(frozen=True, slots=True)
class Transfer:
    """One register transfer, read from its notation.

    ``target`` becomes the value; with ``sets_status`` the status is set by it as well, with
    ``sets_carry`` the carry. ``operation`` is None for a plain copy; ``condition`` is the status
    or the mark under which the transfer happens, or None for always. ``worker`` is the place that
    carries the operation out: the ALU, the adder of addresses, or a register that counts by one.
    ``check`` tells in what way it can be impossible: ``address`` where a word becomes an address,
    ``top`` where the top of the stack is looked at, ``room`` where the stack grows; empty where it
    is always possible. With ``restores`` the status, and the carry where there is one, are brought
    back as well, from the word that keeps them with the program counter (see ``requests``).
    ``said`` is its plain sentence, the values still as ``{names}``.
    """

    target: str
    left: str
    operation: Operation | None = None
    right: str = ""
    condition: Condition | None = None
    sets_status: bool = False
    sets_carry: bool = False
    restores: bool = False
    worker: str = field(default="", compare=False)
    check: str = field(default="", compare=False)
    said: str = field(default="", compare=False, repr=False)

    @classmethod
    def parse(
        cls,
        notation: str,
        registers: Iterable[Register] = REGISTERS,
        operations: Iterable[Operation] = OPERATIONS,
    ) -> Transfer:
        """Read ``target[, carry][, status] <- left [operation right][, when status is STATUS]``;
        a condition may also be ``when carry is 1`` or ``when overflow is 1``.

        Raises ValueError for a notation that a machine with these registers and operations has no
        part for.
        """
        found = _NOTATION.fullmatch(notation.strip())
        if not found:
            raise ValueError(f"not a register transfer: {notation!r}")
        targets, source = found["targets"], found["source"]
        condition = found["condition"]
        if condition and condition not in list(Status):
            raise ValueError(f"not a register transfer: {notation!r} waits for no status there is")
        target, sets_status = targets.removesuffix(", status"), targets.endswith(", status")
        target, sets_carry = target.removesuffix(", carry"), target.endswith(", carry")
        left, operation, right = source, None, ""
        for each in operations:
            if each.alone and source.startswith(f"{each.symbol} "):
                left, operation = source.removeprefix(f"{each.symbol} "), each
                continue
            head, between, tail = source.partition(f" {each.symbol} ")
            if between:
                left, operation, right = head, each, tail
        restores = targets in (KEPT, KEPT_WITH_CARRY)
        target = "PC" if restores else target
        known = {each.tag: each for each in registers}
        made = cls(
            target,
            left,
            operation,
            right,
            _WAITS_FOR.get(found["mark"]) or (Status(condition) if condition else None),
            sets_status or (operation is not None and operation.compares and target == "status"),
            sets_carry or targets == KEPT_WITH_CARRY,
            restores,
        )
        made = replace(made, worker=_worker(made, known), check=_check(made, known))
        missing = _missing(made, known)
        if missing:
            raise ValueError(f"no part of the machine carries out {notation!r}: {missing}")
        said = _WORDS.get(made.unconditional) or _sentence(made, known)
        return replace(made, said=said)

    @property
    def with_carry(self) -> Transfer:
        """The same on a machine that has a carry: every sum and difference sets it there, and it is
        kept and brought back with the status."""
        if self.keeps:
            return replace(self, left=KEPT_WITH_CARRY)
        leaves = self.uses_alu and self.operation is not None and self.operation.carry
        return replace(self, sets_carry=True) if leaves or self.restores else self

    @property
    def targets(self) -> tuple[str, ...]:
        """Every term that it writes, the one that gets the value first."""
        more = ["carry"] * self.sets_carry
        more += ["status"] * (self.restores or (self.sets_status and self.target != "status"))
        return (self.target, *more)

    @property
    def unconditional(self) -> str:
        """The notation without its condition."""
        left, right = self.left, self.right
        source = self.operation.written(left, right) if self.operation else left
        restored = KEPT_WITH_CARRY if self.sets_carry else KEPT
        return f"{restored if self.restores else ', '.join(self.targets)} <- {source}"

    @property
    def notation(self) -> str:
        if isinstance(self.condition, Mark):
            return f"{self.unconditional}, when {self.waits_for} is 1"
        condition = f", when status is {self.condition}" if self.condition else ""
        return self.unconditional + condition

    def written(self, status_shown: bool = True) -> str:
        """The notation, without a status that is set beside a result where none is shown."""
        if status_shown:
            return self.notation
        return self.notation.replace(", status <-", " <-").replace("status, ", "")

    @property
    def waits_for(self) -> str:
        """The term that its condition asks for: ``status``, ``carry`` or ``overflow``."""
        mark = {each: term for term, each in _WAITS_FOR.items()}
        return mark[self.condition] if isinstance(self.condition, Mark) else "status"

    @property
    def uses_alu(self) -> bool:
        """Whether the ALU makes the value. PC + 1 is done by the program counter itself."""
        return self.worker == Place.ALU

    @property
    def terms(self) -> tuple[str, ...]:
        """What its operation works on, or what it copies."""
        return (self.left, self.right) if self.right else (self.left,)

    @property
    def keeps(self) -> bool:
        """Whether it puts together the word that an interrupt keeps."""
        return self.left in (KEPT, KEPT_WITH_CARRY)

    @property
    def goes_to_memory(self) -> bool:
        return "memory[MAR]" in (self.target, self.left)

    @property
    def halts(self) -> bool:
        return self.target == "clock"

    @property
    def target_place(self) -> str:
        return place_of(self.target)

    @property
    def target_places(self) -> tuple[str, ...]:
        """The places of all that it writes, the one that gets the value first."""
        return tuple(place_of(each) for each in self.targets)

    def status(self, format: Format, value: int | Status) -> Status | None:
        """The status that it leaves when its target has become ``value``; None for no change."""
        if isinstance(value, Status):
            return value
        return compared(format.signed(value), 0) if self.sets_status else None

    def words(self, taken: bool, status_shown: bool = True, carry_shown: bool = True) -> str:
        """The plain sentence, with its values still as ``{names}``. ``status_shown`` and
        ``carry_shown`` tell whether what is set beside a result is spoken of."""
        if self.condition:
            return _WORDS_TAKEN if taken else _WORDS_NOT_TAKEN
        if self.keeps or self.restores:
            told = self.unconditional if carry_shown else self.unconditional.replace("carry, ", "")
            return (_WORDS if status_shown else _WITHOUT_STATUS)[told]
        status = self.sets_status and self.target != "status" and status_shown
        carry = self.sets_carry and carry_shown
        if not status and not carry:
            return self.said
        more = f", {'' if status else 'and '}{_CARRY}" if carry else ""
        return f"{self.said.removesuffix('.')}{more}{AND_STATUS if status else ''}."

    def beats(self, taken: bool = True) -> tuple[tuple[Leg, ...], ...]:
        """What moves, in order: each beat is the legs that move together.

        ``taken`` is False where the condition did not hold: then only the status travels.
        """
        target = self.target_place
        if self.condition:
            # The overflow mark is part of the status, the carry a register of its own.
            asks = Place.STATUS if self.waits_for == "overflow" else place_of(self.waits_for)
            asked = (Leg(asks, Place.CONTROL_UNIT, Carrier.INSIDE, self.waits_for),)
            jump = Leg(Place.CONTROL_UNIT, target, Carrier.INSIDE, self.left)
            return (asked, (jump,)) if taken else (asked,)
        if self.halts:
            return ()
        if self.goes_to_memory:
            signal = "read" if self.left == "memory[MAR]" else "write"
            return (
                (
                    Leg(Place.MAR, Place.MEMORY, Carrier.ADDRESS, "MAR"),
                    Leg(Place.CONTROL_UNIT, Place.MEMORY, Carrier.CONTROL, signal),
                ),
                (Leg(place_of(self.left), target, Carrier.DATA, self.left),),
            )
        if self.keeps or self.restores:
            kept = self.left.split(", ") if self.keeps else self.targets
            return (
                tuple(
                    Leg(place_of(term), target, Carrier.INSIDE, term)
                    if self.keeps
                    else Leg(Place.MDR, place_of(term), Carrier.INSIDE, term)
                    for term in kept
                ),
            )
        if self.worker in (Place.ALU, ADDER):
            into = tuple(
                Leg(place_of(term), self.worker, Carrier.INSIDE, term) for term in self.terms
            )
            out = tuple(
                Leg(self.worker, place_of(each), Carrier.INSIDE, "result" if at == 0 else each)
                for at, each in enumerate(self.targets)
            )
            return into, out
        outside = {Place.INPUT, Place.OUTPUT} & {target, place_of(self.left)}
        carrier = Carrier.DATA if outside else Carrier.INSIDE
        carries = "result" if self.operation else self.left
        return ((Leg(place_of(self.left), target, carrier, carries),),)


# Terms that are no registers, and what may be written to, or read from, each.
_ONLY_FROM = {
    "opcode, operand": ("CIR",),
    "memory[MAR]": ("MDR",),
    "output": ("ACC",),
    "clock": ("stopped",),
    "CIR": ("MDR",),
    "interrupts": ("on", "off"),
}
_ONLY_TO = {
    "memory[MAR]": ("MDR",),
    "input": ("ACC",),
    "stopped": ("clock",),
    "on": ("interrupts",),
    "off": ("interrupts",),
    KEPT: ("MDR",),
    KEPT_WITH_CARRY: ("MDR",),
}


def _worker(transfer: Transfer, registers: dict[str, Register]) -> str:
    """The place that carries a transfer's operation out; empty where it has none."""
    if transfer.operation is None:
        return ""
    target = registers.get(transfer.target)
    if target is None or target.holds is not Holds.ADDRESS:
        return Place.ALU
    counts = transfer.left == transfer.target and transfer.right == "1"
    return place_of(transfer.target) if counts else ADDER


def _check(transfer: Transfer, registers: dict[str, Register]) -> str:
    """In what way a transfer can be impossible; see :class:`Transfer`."""
    target = registers.get(transfer.target)
    if target is None or target.holds is not Holds.ADDRESS or transfer.restores:
        return ""
    if transfer.operation is None:
        if transfer.left == "SP":
            return "top"
        return "address" if _holds_word(transfer.left, registers) else ""
    if transfer.target == "SP":
        return "room" if transfer.operation.symbol == "-" else ""
    return "" if transfer.right == "1" else "address"


def _holds_word(term: str, registers: dict[str, Register]) -> bool:
    return term in registers and registers[term].holds is Holds.WORD


def _missing(transfer: Transfer, registers: dict[str, Register]) -> str:
    """What a machine lacks to carry out a transfer; empty where it lacks nothing."""
    target, left, right = transfer.target, transfer.left, transfer.right
    if target not in registers and target not in _ONLY_FROM:
        return f"nothing is called '{target}'"
    known = (*registers, *_ONLY_TO, "operand")
    if left not in known:
        return f"nothing is called '{left}'"
    if transfer.condition and target != "PC":
        return "only a jump has a condition"
    if transfer.sets_carry and "carry" not in registers:
        return "nothing is called 'carry'"
    if transfer.operation is None:
        return _missing_path(transfer, registers)
    if transfer.worker == ADDER:
        return _missing_adder(transfer, registers)
    if transfer.worker != Place.ALU:
        # Both counters move up; only the stack pointer also moves down.
        ways = {"PC": "+", "SP": "+-"}.get(target, "")
        return "" if transfer.operation.symbol in ways else f"'{target}' does not count so"
    if transfer.operation.compares != (target == "status"):
        return f"'{transfer.operation.symbol}' does not give what '{target}' holds"
    words = [each.tag for each in registers.values() if each.holds is Holds.WORD]
    alone = transfer.operation.alone and not right
    if left not in words or not (alone or right in (*words, "operand")):
        return "the ALU works on words"
    if target not in (*words, "status") or target == "CIR":
        return f"no line leads from the ALU to '{target}'"
    if transfer.sets_carry and not transfer.operation.carry:
        return f"'{transfer.operation.symbol}' leaves no carry"
    return ""


def _indexes(registers: dict[str, Register]) -> list[str]:
    """The registers that can be added to an address: those of words that not every machine has."""
    return [
        tag for tag, each in registers.items() if each.holds is Holds.WORD and each not in REGISTERS
    ]


def _missing_adder(transfer: Transfer, registers: dict[str, Register]) -> str:
    """What the small adder lacks, which adds the operand to what a register holds."""
    added = {transfer.left, transfer.right} - {"operand"}
    from_there = {*_indexes(registers), "SP"} & set(registers)
    if len(added) != 1 or not transfer.operation or transfer.operation.symbol != "+":
        return "the ALU works on words, and the adder of addresses adds to the operand"
    if transfer.target not in ("MAR", "PC") or added - from_there:
        return f"no line leads from the adder of addresses to '{transfer.target}'"
    return ""


def _missing_path(transfer: Transfer, registers: dict[str, Register]) -> str:
    target, left = transfer.target, transfer.left
    no_line = f"no line leads from '{left}' to '{target}'"
    if transfer.keeps or transfer.restores:
        # Only a machine with interrupts has what puts that word together and takes it apart.
        joins = "interrupts" in registers and "MDR" in (left, target)
        joins = joins and (left != KEPT_WITH_CARRY or "carry" in registers)
        return "" if joins else no_line
    if left not in _ONLY_FROM.get(target, (left,)) or target not in _ONLY_TO.get(left, (target,)):
        return no_line
    holds = registers[target].holds if target in registers else None
    if holds in (Holds.STATUS, Holds.BIT) or transfer.sets_status or left == target:
        return no_line
    if left in ("status", "carry"):
        return no_line
    source = registers.get(left)
    # Only a machine with an index or a stack takes what memory has given as an address.
    leads_on = "SP" in registers or _indexes(registers)
    may = left == "MDR" and target in ("MAR", "PC") and leads_on
    if holds is Holds.ADDRESS and source and source.holds is not Holds.ADDRESS and not may:
        return f"'{left}' holds a word, and '{target}' an address"
    return ""


def _sentence(transfer: Transfer, registers: dict[str, Register]) -> str:
    """The sentence of a transfer that has none of its own."""

    def name(term: str) -> str:
        return registers[term].name if term in registers else term

    target = name(transfer.target)
    if transfer.worker == ADDER:
        return (
            f"The operand {{left}} and the {name(transfer.right)}'s {{right}} are added: their sum,"
            f" {{value}}, is the address and goes to the {target}."
        )
    if transfer.operation:
        does = f"The ALU {transfer.operation.does}"
        if transfer.operation.compares:
            return f"{does}: {{left}} {{compares}} {{right}}, so the status becomes {{becomes}}."
        return f"{does}; the result, {{value}}, goes to the {target}."
    match transfer.left:
        case "operand":
            return f"The operand is the number itself: {{value}} goes to the {target}."
        case "input":
            return f"The next input, {{value}}, is copied to the {target}."
        case "MDR":
            return f"The number {{value}} is copied to the {target}."
        case _:
            return f"The {name(transfer.left)}'s {{value}} is copied to the {target}."
