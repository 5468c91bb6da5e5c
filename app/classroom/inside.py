"""A part of the machine opened on the board: the ALU with its columns, one of them with its gates,
or the control unit with its control lines.

What is open belongs to one step: whoever moves on, closes it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from app.lesson.header import Depth
from app.machine.gates import CIRCUITS
from app.machine.run import Moment, Run

from .pace import moving_steps

NOTHING_TO_OPEN = "There is nothing to open at this step. Go on to one in which the ALU works."
NO_STEP_YET = "The control unit has not done anything yet. Go on a step to open it."
NOT_ON_STAGE = "That part is not on stage here, so there is nothing to open."
NOTHING_OPEN = "Nothing is open."
NO_MACHINE = "There is no machine on the board here."

ALU, SIGNALS = "alu", "signals"
_WRITTEN = re.compile(r"(alu|signals)(?:-([0-9]{1,2}))?")


@dataclass(frozen=True, slots=True)
class Inside:
    """What is open: ``part`` is ALU or SIGNALS, and ``column`` the column of the ALU whose gates
    are shown, counted from 0 at the right; None for all of them."""

    part: str
    column: int | None = None

    @property
    def written(self) -> str:
        return self.part if self.column is None else f"{self.part}-{self.column}"

    @property
    def shown_in(self) -> str:
        """The place of the drawing that it is inside of."""
        return "ALU" if self.part == ALU else "CU"


def read_inside(text: str) -> Inside | None:
    """What a page says is open there; None for nothing. ValueError for what no page says."""
    if not text:
        return None
    found = _WRITTEN.fullmatch(text)
    if not found or (found[2] and found[1] == SIGNALS):
        raise ValueError(f"nothing is called '{text}' that could be open")
    return Inside(found[1], int(found[2]) if found[2] else None)


def _further(now: Inside | None, columns: int) -> Inside:
    if now is None or now.part != ALU:
        return Inside(ALU)
    return now if now.column is not None else Inside(ALU, 0)


def _out(now: Inside | None, columns: int) -> Inside | None:
    return Inside(ALU) if now and now.column is not None else None


def _signals(now: Inside | None, columns: int) -> Inside | None:
    return None if now and now.part == SIGNALS else Inside(SIGNALS)


def _along(by: int) -> Callable[[Inside | None, int], Inside | None]:
    """To a column further left (1) or right (-1); into the first one from all of them."""

    def along(now: Inside | None, columns: int) -> Inside | None:
        if now is None or now.part != ALU:
            return now
        at = 0 if now.column is None else now.column + by
        return Inside(ALU, min(max(at, 0), columns - 1))

    return along


# What a press makes of what is open, by the names of the controls; told how many columns there are.
LOOKS: dict[str, Callable[[Inside | None, int], Inside | None]] = {
    "alu": _further,
    "out": _out,
    "column-left": _along(1),
    "column-right": _along(-1),
    "signals": _signals,
}


def worked(run: Run, moment: Moment | None, depth: Depth) -> Moment | None:
    """The step among those that a moment shows in which the ALU works, where it can be opened."""
    if moment is None:
        return None
    for step in moving_steps(moment, depth):
        transfer = step.kind.transfer
        if transfer.uses_alu and transfer.operation and transfer.operation.column in CIRCUITS:
            return moment if step is moment.step else run.moment(step.number)
    return None


def looked_at(run: Run, moment: Moment | None, depth: Depth, inside: Inside | None) -> bool:
    """Whether what is open can be shown at a moment."""
    if inside is None or moment is None:
        return False
    if inside.part == SIGNALS:
        return moment.step is not None
    columns = run.machine.word_bits
    there = inside.column is None or inside.column < columns
    return there and worked(run, moment, depth) is not None
