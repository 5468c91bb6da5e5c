"""A machine: its sizes, and everything that it can do, as one value.

Whoever runs, tells, draws, asks or marks reads instructions, operations and registers from the
machine that it was given.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from functools import cache, cached_property

from .instructions import DECODE, FETCH, FETCHES, INSTRUCTIONS, Instruction, Phase
from .operations import Operation
from .registers import REGISTERS, Register
from .transfers import ADDER, Transfer
from .words import Format


@dataclass(frozen=True, slots=True)
class StepKind:
    """What a step does, apart from its values. ``instruction`` is None while it is fetched,
    in the decoding of a code that no instruction has, and where a request is served."""

    phase: Phase
    transfer: Transfer
    instruction: Instruction | None
    place_in_phase: int


@dataclass(frozen=True, eq=False)
class Machine(Format):
    """A format with what a machine of that size can do, with the ``parts`` that it has grown by.

    Two machines are equal only where they are the same one. Raises ValueError for instructions
    that share a code, that are written alike, or whose code does not fit.
    """

    instructions: tuple[Instruction, ...] = INSTRUCTIONS
    registers: tuple[Register, ...] = REGISTERS
    fetch: tuple[Transfer, ...] = FETCH
    # What is done between two instructions where a request is served; none without interrupts.
    interrupt: tuple[Transfer, ...] = ()
    # What a lesson has switched on; see `growing`.
    parts: tuple[str, ...] = ()

    # By identity: of a format's own comparison, two machines of one size would be the same.
    __eq__ = object.__eq__
    __hash__ = object.__hash__

    def __post_init__(self) -> None:
        for what in ("code", "written"):
            counts = Counter(getattr(each, what) for each in self.instructions)
            twice = [each for each, count in counts.items() if count > 1]
            if twice:
                raise ValueError(f"two instructions have the {what} {twice[0]}")
        for each in self.instructions:
            self.join(each.code, 0)

    @cached_property
    def counter_moves(self) -> str:
        """When in a fetch the counter moves on: a key of ``FETCHES``; empty for another order."""
        return next((each for each, order in FETCHES.items() if order == self.fetch), "")

    @cached_property
    def by_code(self) -> dict[int, Instruction]:
        return {each.code: each for each in self.instructions}

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The words that start an instruction, in the order of the table."""
        return tuple(dict.fromkeys(each.name for each in self.instructions))

    @cached_property
    def transfers(self) -> tuple[Transfer, ...]:
        """Every transfer that it carries out, each once."""
        executed = (each for one in self.instructions for each in one.transfers)
        return tuple(dict.fromkeys((*self.fetch, *DECODE, *executed, *self.interrupt)))

    @cached_property
    def operations(self) -> dict[str, Operation]:
        """What its ALU does, by symbol."""
        done = (each.operation for each in self.transfers if each.operation)
        return {each.symbol: each for each in done}

    @cached_property
    def register(self) -> dict[str, Register]:
        """The registers by their tags."""
        return {each.tag: each for each in self.registers}

    @cached_property
    def lasting(self) -> frozenset[str]:
        """The tags of the registers that no fetch writes: what an instruction leaves for others."""
        fetched = {target for each in self.fetch for target in each.targets}
        return frozenset(self.register.keys() - fetched)

    @cached_property
    def has_adder(self) -> bool:
        """Whether it has the small adder that makes addresses."""
        return any(each.worker == ADDER for each in self.transfers)

    # The steps of an instruction.

    @cached_property
    def fetch_kinds(self) -> tuple[StepKind, ...]:
        return tuple(StepKind(Phase.FETCH, each, None, at) for at, each in enumerate(self.fetch))

    @cached_property
    def kinds(self) -> dict[int, tuple[StepKind, ...]]:
        """For each code, the steps after the fetch."""
        return {
            each.code: (
                StepKind(Phase.DECODE, DECODE[0], each, 0),
                *(
                    StepKind(Phase.EXECUTE, transfer, each, at)
                    for at, transfer in enumerate(each.transfers)
                ),
            )
            for each in self.instructions
        }

    @cached_property
    def interrupt_kinds(self) -> tuple[StepKind, ...]:
        """The steps that serve a request; none without interrupts."""
        return tuple(
            StepKind(Phase.INTERRUPT, each, None, at) for at, each in enumerate(self.interrupt)
        )

    @cached_property
    def phases(self) -> tuple[Phase, ...]:
        """The phases that an instruction can have."""
        return tuple(each for each in Phase if each is not Phase.INTERRUPT or self.interrupt)

    @cached_property
    def unknown(self) -> StepKind:
        """The decoding of a code that no instruction has."""
        return StepKind(Phase.DECODE, DECODE[0], None, 0)

    def ticks(self, instruction: Instruction) -> int:
        """How many ticks of the clock a whole instruction takes, its fetch and decoding included:
        one for each transfer."""
        return len(self.fetch) + len(DECODE) + len(instruction.transfers)

    @cached_property
    def longest(self) -> int:
        """The most steps that one instruction takes, with those that serve a request after it."""
        executed = max(len(kinds) for kinds in self.kinds.values())
        return len(self.fetch) + executed + len(self.interrupt)


def _shipped(name: str, word_bits: int) -> Machine:
    """A machine with all instructions whose codes fit its words."""
    codes = 1 << Format(name, word_bits).opcode_bits
    return Machine(name, word_bits, tuple(each for each in INSTRUCTIONS if each.code < codes))


EIGHT_BIT = _shipped("8-bit", 8)
SIXTEEN_BIT = _shipped("16-bit", 16)
# The machines by their names. Each can have another order of its fetch: see `machine_with`.
MACHINES = {each.name: each for each in (EIGHT_BIT, SIXTEEN_BIT)}


@cache
def machine_with(machine: Machine, counter_moves: str) -> Machine:
    """A machine whose counter moves at another place in the fetch (a key of ``FETCHES``); the
    same value every time. KeyError for no such place."""
    fetch = FETCHES[counter_moves]
    return machine if machine.fetch == fetch else replace(machine, fetch=fetch)
