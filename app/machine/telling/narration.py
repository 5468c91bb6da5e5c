"""One plain sentence for any moment of a run, made from the transfer that was carried out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from app.machine.instructions import Phase
from app.machine.machine import Machine
from app.machine.operations import COMPARISONS, status_shown, status_words
from app.machine.provenance import mdr_is_instruction
from app.machine.run import Moment
from app.machine.state import Ending, State

from .reading import Reading

AT_THE_START = "The program is in main memory. The program counter points at its start."


def sentence(
    reading: Reading, moment: Moment, limit: int, hidden: Collection[str] = frozenset()
) -> str:
    """What the last transfer did, or why the run goes no further. Of a status that is ``hidden``
    nothing is said where a result sets it too."""
    return reading.wording.say(_sentence(reading, moment, limit, hidden))


def _sentence(reading: Reading, moment: Moment, limit: int, hidden: Collection[str]) -> str:
    step, after = moment.step, moment.after
    if after.ending and after.ending is not Ending.HALTED:
        return stopped(reading, after, limit)
    if step is None:
        return AT_THE_START
    words = step.kind.transfer.words(step.value is not None, "status" not in hidden)
    return f"{words.format(**_values(reading, moment))} {_overflow(reading, moment)}".rstrip()


def phase_sentence(
    reading: Reading,
    moment: Moment,
    start: State,
    limit: int,
    hidden: Collection[str] = frozenset(),
) -> str:
    """What the whole phase did that the moment ends; ``start`` is the state before the phase."""
    return reading.wording.say(_phase_sentence(reading, moment, start, limit, hidden))


def _phase_sentence(
    reading: Reading, moment: Moment, start: State, limit: int, hidden: Collection[str]
) -> str:
    step, after = moment.step, moment.after
    if step is None or (after.ending and after.ending is not Ending.HALTED):
        return _sentence(reading, moment, limit, hidden)
    if step.kind.phase is Phase.FETCH:
        return (
            f"Fetch: the instruction at address {reading.address(start.pc)} is copied from memory"
            f" to the current instruction register. The program counter moves on to"
            f" {reading.address(after.pc)}."
        )
    meaning = reading.meaning(after.cir)
    if step.kind.phase is Phase.DECODE:
        return f"Decode: the control unit works out what the instruction means: {meaning}."
    if step.kind.transfer.condition:
        words = _sentence(reading, moment, limit, frozenset())
        return f"Execute: {words[0].lower()}{words[1:]}"
    if step.kind.transfer.sets_status and "status" not in hidden:
        meaning = f"{meaning}; the status becomes {status_shown(after.status)}"
    return f"Execute: {meaning}. {_overflow(reading, moment)}".rstrip()


@dataclass(frozen=True, slots=True)
class Working:
    """What the ALU works out in a step, as texts; ``result`` is empty where it only compares."""

    left: str
    sign: str
    right: str
    result: str = ""

    @property
    def line(self) -> str:
        """All of it, such as ``9 + 4 = 13`` or ``9 > 4``."""
        made = f" = {self.result}" if self.result else ""
        return f"{self.left} {self.sign} {self.right}{made}"


def working(reading: Reading, moment: Moment) -> Working | None:
    """What the ALU works out in this step; None where it does not work."""
    step = moment.step
    if step is None or not step.kind.transfer.uses_alu:
        return None
    left, right = _operands(reading, moment)
    transfer = step.kind.transfer
    assert transfer.operation
    if transfer.operation.compares:
        assert moment.after.status is not None
        return Working(left, COMPARISONS[moment.after.status][1], right)
    result = reading.term(transfer.target, moment.after)
    return Working(left, transfer.operation.shown, right, result)


def stopped(reading: Reading, state: State, limit: int) -> str:
    """Why a run that has not halted goes no further, and what to do about it."""
    machine = reading.machine
    match state.ending:
        case Ending.OFF_MEMORY:
            return (
                f"The program counter has run past the last address, {machine.memory_words - 1}."
                " There is nothing to fetch: it has met no HALT on its way."
            )
        case Ending.UNKNOWN_CODE:
            return (
                f"No instruction has the opcode {machine.split(state.cir)[0]}. Perhaps the program"
                " has run into its data."
            )
        case Ending.WAITING:
            return "The machine waits: the program asks for an input, and there is none left."
        case Ending.LIMIT:
            return (
                f"The program has not stopped after {limit:,} instructions. Every step up to here"
                " can be looked at."
            )
        case _:
            return "The control unit has stopped the clock: the program has ended."


def _operands(reading: Reading, moment: Moment) -> tuple[str, str]:
    assert moment.step is not None
    transfer, before = moment.step.kind.transfer, moment.before
    return reading.term(transfer.left, before), reading.term(transfer.right, before)


def _values(reading: Reading, moment: Moment) -> dict[str, str]:
    """What the names in a transfer's sentence stand for."""
    assert moment.step is not None
    kind, before, after = moment.step.kind, moment.before, moment.after
    left, right = _operands(reading, moment)
    fetched = mdr_is_instruction(reading.machine, after, kind)
    return {
        "value": reading.term(kind.transfer.target, after, fetched),
        "address": reading.address(after.mar),
        "left": left,
        "right": right,
        "status": status_words(before.status),
        "compares": COMPARISONS[after.status][0] if after.status else "",
        "becomes": status_shown(after.status),
        "pc": reading.address(after.pc),
        "meaning": reading.meaning(after.cir),
    }


def _overflow(reading: Reading, moment: Moment) -> str:
    """What a sum would have made in a larger word, where it does not fit this one."""
    transfer = moment.step.kind.transfer if moment.step else None
    operation = transfer.operation if transfer and transfer.uses_alu else None
    if not (transfer and operation and operation.overflow and moment.after.overflow):
        return ""
    machine = reading.machine
    left, right = (
        _signed(machine, term, moment.before) for term in (transfer.left, transfer.right)
    )
    whole = operation.whole(left, right)
    shown = f"\N{MINUS SIGN}{-whole}" if whole < 0 else str(whole)
    return f"In full it is {shown}, and that does not fit the word: overflow."


def _signed(machine: Machine, term: str, state: State) -> int:
    """A term that the ALU works on as a number: the operand has no sign."""
    if term == "operand":
        return machine.split(state.cir)[1]
    held = state.held(term)
    assert isinstance(held, int)
    return machine.signed(held)
