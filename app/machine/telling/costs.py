"""What an instruction costs: ticks of the clock and trips to memory, counted from its transfers."""

from __future__ import annotations

from app.machine.instructions import Instruction
from app.machine.machine import Machine

from .counts import counted


def cost(machine: Machine, instruction: Instruction, trips: bool = True, ticks: bool = True) -> str:
    """What an instruction costs, as sentences; empty where nothing is asked for.

    Every fetch goes to memory, so that the trips are those after it; the ticks are all.
    """
    said = []
    if ticks:
        said.append(f"{instruction.written} takes {machine.ticks(instruction)} ticks.")
    if trips:
        subject = "it" if ticks else instruction.written
        said.append(f"After its fetch {subject} {_to_memory(instruction.trips)}.")
    return " ".join(said)


def _to_memory(trips: int) -> str:
    if trips == 0:
        return "needs nothing from memory"
    times = {1: "once", 2: "twice"}.get(trips, f"{trips} times")
    return f"goes to memory {times}"


def so_far(steps: int, trips: int | None = None, ticks: bool = True) -> str:
    """What a run has cost by now: a tick for each step, and the trips where they are counted."""
    said = [counted(steps, "tick")] if ticks else []
    if trips is not None:
        said.append(f"{counted(trips, 'trip')} to memory beside the fetches")
    return f"So far: {', '.join(said)}" if said else ""
