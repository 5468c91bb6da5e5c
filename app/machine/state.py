"""The state of the machine between two steps."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from .transfers import Status
from .words import Format


class Ending(StrEnum):
    """Why a run can go no further."""

    HALTED = "halted"
    OFF_MEMORY = "off memory"
    UNKNOWN_CODE = "unknown code"
    WAITING = "waiting"
    LIMIT = "limit"


@dataclass(slots=True)
class State:
    """Every register, memory, and how far the run has come.

    ``mar``, ``mdr``, ``cir``, ``acc`` and ``memory`` are bit patterns. ``pc`` is an address, or
    one past the last address just before the fault that this is. ``overflow`` tells whether the
    last addition or subtraction did not fit a word. ``taken`` inputs were read and ``sent``
    outputs written; ``steps`` transfers and ``cycles`` whole instructions were carried out.
    ``status`` is None before the first comparison: then no conditional jump is taken.
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
    ending: Ending | None = field(default=None)

    @classmethod
    def start(cls, format: Format, image: tuple[int, ...]) -> State:
        """The machine just switched on, with ``image`` at the start of memory.

        Raises ValueError where the image is larger than memory or a word does not fit.
        """
        if len(image) > format.memory_words:
            raise ValueError(f"{len(image)} words do not fit {format.memory_words}")
        if any(not 0 <= word <= format.word_mask for word in image):
            raise ValueError(f"a word of the image does not fit {format.word_bits} bits")
        return cls([*image, *[0] * (format.memory_words - len(image))])

    def copy(self) -> State:
        return replace(self, memory=self.memory.copy())
