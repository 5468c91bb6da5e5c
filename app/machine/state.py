"""The state of the machine between two steps."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from enum import StrEnum
from operator import attrgetter

from .machine import Machine
from .operations import Mark, Status


class Ending(StrEnum):
    """Why a run can go no further."""

    HALTED = "halted"
    OFF_MEMORY = "off memory"
    UNKNOWN_CODE = "unknown code"
    WAITING = "waiting"
    LIMIT = "limit"
    NO_ADDRESS = "no address"
    STACK_EMPTY = "stack empty"
    STACK_FULL = "stack full"


# By what name a state has what a jump can ask for beside the comparison.
MARKS = {Mark.CARRY: "carry", Mark.OVERFLOW: "overflow"}

# The registers that a state has had a field for from the start.
_WITH_FIELDS = frozenset({"PC", "MAR", "MDR", "CIR", "ACC", "status"})


@dataclass(slots=True)
class State:
    """Every register, memory, and how far the run has come.

    ``mar``, ``mdr``, ``cir``, ``acc`` and ``memory`` are bit patterns. ``pc`` is an address, or
    one past the last address just before the fault that this is. ``overflow`` tells whether the
    last result, of those that can be too large, did not fit a word. ``taken`` inputs were read and
    ``sent`` outputs written; ``steps`` transfers and ``cycles`` whole instructions were carried
    out. ``status`` is None before anything has set it: then no conditional jump is taken.
    ``others`` holds, by their tags, the registers that only some machines have. ``floor`` is how
    many words the program has: the stack must not grow into them. ``served`` requests
    have been served, the last of them after so many instructions (``served_after``), and the values
    of ``heard`` of them taken as inputs.
    """

    memory: list[int]
    pc: int = 0
    mar: int = 0
    mdr: int = 0
    cir: int = 0
    acc: int = 0
    status: Status | None = None
    overflow: bool = False
    taken: int = 0
    sent: int = 0
    steps: int = 0
    cycles: int = 0
    ending: Ending | None = None
    others: dict[str, int] = field(default_factory=dict)
    floor: int = 0
    served: int = 0
    served_after: int = 0
    heard: int = 0

    @classmethod
    def start(cls, machine: Machine, image: tuple[int, ...]) -> State:
        """The machine just switched on, with ``image`` at the start of memory.

        Raises ValueError where the image is larger than memory or a word does not fit.
        """
        if len(image) > machine.memory_words:
            raise ValueError(f"{len(image)} words do not fit {machine.memory_words}")
        if any(not 0 <= word <= machine.word_mask for word in image):
            raise ValueError(f"a word of the image does not fit {machine.word_bits} bits")
        others = {each.tag: each.start for each in machine.registers if field_of(each.tag) is None}
        memory = [*image, *[0] * (machine.memory_words - len(image))]
        return cls(memory, others=others, floor=len(image))

    def copy(self) -> State:
        # (Quicker than `dataclasses.replace`: a run is entered by many copies.)
        made = State(*_VALUES(self))
        made.memory, made.others = self.memory.copy(), self.others.copy()
        return made

    def held(self, tag: str) -> int | Status | None:
        """What a register or a mark holds. KeyError for one that the machine does not have."""
        name = "overflow" if tag == "overflow" else field_of(tag)
        value: int | Status | None = getattr(self, name) if name else self.others[tag]
        return value


_VALUES = attrgetter(*(each.name for each in fields(State)))


def field_of(tag: str) -> str | None:
    """The field of a state that a register has of its own; None for one among the ``others``."""
    return tag.lower() if tag in _WITH_FIELDS else None
