"""What the header of a lesson file says, as data."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.machine.machine import EIGHT_BIT, Machine
from app.machine.run import DEFAULT_LIMIT
from app.machine.telling.wording import USUAL, Wording
from app.machine.watching.cache import CacheShape
from app.machine.words import BASES, EVERY_BASE


class Depth(StrEnum):
    """How closely the cycle is looked at: one movement a phase, or one a register transfer."""

    PHASES = "phases"
    TRANSFERS = "transfers"


class Press(StrEnum):
    """How far one press of the clicker goes: a transfer, a phase, an instruction, or to the next
    cue, question or stop."""

    TRANSFER = "transfer"
    PHASE = "phase"
    INSTRUCTION = "instruction"
    CUE = "cue"


class Counted(StrEnum):
    """What a lesson has counted on the board, because it compares ways of doing the same."""

    TRIPS = "trips"
    TICKS = "ticks"


class Symbols(StrEnum):
    """Whose symbols gates are drawn with: the rectangles of IEC 60617-12, or the distinctive
    shapes of IEEE Std 91."""

    RECTANGLES = "rectangles"
    SHAPES = "shapes"


# Registers that a look at whole phases leaves out.
ONLY_IN_TRANSFERS = frozenset({"MAR", "MDR"})


@dataclass(frozen=True, slots=True)
class Header:
    """The header of a lesson file. ``minutes`` is the planned time, ``limit`` the most
    instructions that a scene's run may take, ``terms`` the key terms, each with its meaning (empty
    where the file gives none), and ``wording`` has the words of the syllabus. ``press`` is what a
    press does in scenes that do not say; None leaves it to the depth. ``show`` has the parts that
    are on stage at the start of scenes that do not say, as far as the machine has them; None for
    all of them. ``counted`` has what is counted of each instruction and of the run, in the order of
    ``Counted``. ``gates`` says how gates are drawn, ``characters`` whether words are also shown by
    the character that they name. ``cache`` is that of scenes that do not say, None for none, and
    ``memory_ticks`` how long memory takes in every scene that has one, None for the usual."""

    title: str = ""
    machine: Machine = EIGHT_BIT
    depth: Depth = Depth.TRANSFERS
    age: str = ""
    minutes: int | None = None
    objectives: tuple[str, ...] = ()
    limit: int = DEFAULT_LIMIT
    terms: tuple[tuple[str, str], ...] = ()
    press: Press | None = None
    wording: Wording = USUAL
    show: frozenset[str] | None = None
    counted: tuple[Counted, ...] = ()
    gates: Symbols = Symbols.RECTANGLES
    cache: CacheShape | None = None
    memory_ticks: int | None = None
    characters: bool = False

    @property
    def bases(self) -> tuple[str, ...]:
        """The number bases that its pages offer."""
        return EVERY_BASE if self.characters else BASES
