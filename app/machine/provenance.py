"""What a register holds, an instruction or a number: known from where it came.

The same bits can be both, so the bits do not tell. A word that a fetch brought was brought as an
instruction; a word that anything else brought is a number.
"""

from __future__ import annotations

from .instructions import Phase
from .machine import Machine, StepKind
from .state import State


def cir_is_instruction(machine: Machine, state: State) -> bool:
    """Whether CIR holds an instruction yet: the first comes in the first fetch of a run."""
    return state.steps > [each.target for each in machine.fetch].index("CIR")


def word_decoded(machine: Machine, state: State, kind: StepKind) -> int:
    """The instruction word (a bit pattern) that the control unit works by after a step of this
    kind: the opcode as it was decoded, and the operand as CIR has it. That is what CIR holds,
    unless somebody has changed that since."""
    if kind.instruction is None:
        return state.cir
    return machine.join(kind.instruction.code, machine.split(state.cir)[1])


def mdr_is_instruction(
    machine: Machine, state: State, kind: StepKind | None, before: bool = False
) -> bool:
    """Whether MDR holds an instruction after a step of this kind (None: at the start), or just
    ``before`` it; ``state`` is the machine at that moment."""
    if kind is None:
        return False
    done = kind.place_in_phase + (0 if before else 1)
    if kind.phase is Phase.EXECUTE and kind.instruction:
        # What it has brought so far it has brought as a number.
        return all(each.target != "MDR" for each in kind.instruction.transfers[:done])
    if kind.phase is Phase.INTERRUPT:
        if any(each.target == "MDR" for each in machine.interrupt[:done]):
            return False
    elif kind.phase is not Phase.FETCH or any(
        each.target == "MDR" for each in machine.fetch[:done]
    ):
        return True
    # It is as the instruction before left it, which is in CIR still.
    if state.cycles == 0:
        return False
    if kind.phase is Phase.FETCH and state.served and state.served_after == state.cycles:
        return False  # a request has been served in between
    last = machine.by_code.get(machine.split(state.cir)[0])
    # Where somebody has put there what is no instruction, nobody knows: a number it is at least.
    return last is not None and all(each.target != "MDR" for each in last.transfers)
