"""One plain sentence for any moment of a run, made from the transfer that was carried out."""

from __future__ import annotations

from app.machine.instructions import Phase
from app.machine.run import Moment
from app.machine.state import Ending, State
from app.machine.transfers import Status, status_words

from .reading import COMPARISONS, Reading, fetching

AT_THE_START = "The program is in main memory. The program counter points at its start."


def sentence(reading: Reading, moment: Moment, limit: int) -> str:
    """What the last transfer did, or why the run goes no further."""
    step, after = moment.step, moment.after
    if after.ending and after.ending is not Ending.HALTED:
        return stopped(reading, after, limit)
    if step is None:
        return AT_THE_START
    words = step.kind.transfer.words(step.value is not None).format(**_values(reading, moment))
    return f"{words} {_overflow(moment)}".rstrip()


def phase_sentence(reading: Reading, moment: Moment, start: State, limit: int) -> str:
    """What the whole phase did that the moment ends; ``start`` is the state before the phase."""
    step, after = moment.step, moment.after
    if step is None or (after.ending and after.ending is not Ending.HALTED):
        return sentence(reading, moment, limit)
    if step.kind.phase is Phase.FETCH:
        return (
            f"Fetch: the instruction at address {reading.address(start.pc)} is copied from memory"
            f" to the control unit, and the program counter moves on to"
            f" {reading.address(after.pc)}."
        )
    meaning = reading.meaning(after.cir)
    if step.kind.phase is Phase.DECODE:
        return f"Decode: the control unit works out what the instruction means: {meaning}."
    if step.kind.transfer.condition:
        words = sentence(reading, moment, limit)
        return f"Execute: {words[0].lower()}{words[1:]}"
    return f"Execute: {meaning}. {_overflow(moment)}".rstrip()


def working(reading: Reading, moment: Moment) -> str:
    """What the ALU works out in this step, such as ``9 + 4 = 13``; empty where it does not work."""
    step = moment.step
    if step is None or not step.kind.transfer.uses_alu:
        return ""
    left, right = _operands(reading, moment)
    operation = step.kind.transfer.operation
    if operation == "compared with":
        assert moment.after.status is not None
        sign = {Status.LESS: "<", Status.EQUAL: "=", Status.MORE: ">"}[moment.after.status]
        return f"{left} {sign} {right}"
    sign = operation.replace("-", "\N{MINUS SIGN}")
    return f"{left} {sign} {right} = {reading.number(moment.after.acc)}"


def stopped(reading: Reading, state: State, limit: int) -> str:
    """Why a run that has not halted goes no further, and what to do about it."""
    format = reading.format
    match state.ending:
        case Ending.OFF_MEMORY:
            return (
                f"The program counter has run past the last address, {format.memory_words - 1}."
                " There is nothing to fetch: a HALT is missing."
            )
        case Ending.UNKNOWN_CODE:
            return (
                f"No instruction has the opcode {format.split(state.cir)[0]}. Perhaps the program"
                " has run into its data."
            )
        case Ending.WAITING:
            return "The machine waits: the program asks for an input, and there is none left."
        case Ending.LIMIT:
            return (
                f"The program has not stopped after {limit} instructions. Every step up to here"
                " can be looked at."
            )
        case _:
            return "The control unit has stopped the clock: the program has ended."


def _operands(reading: Reading, moment: Moment) -> tuple[str, str]:
    assert moment.step is not None
    transfer = moment.step.kind.transfer
    return reading.term(transfer.left, moment.before), reading.term(transfer.right, moment.before)


def _values(reading: Reading, moment: Moment) -> dict[str, str]:
    """What the names in a transfer's sentence stand for."""
    assert moment.step is not None
    transfer, before, after = moment.step.kind.transfer, moment.before, moment.after
    left, right = _operands(reading, moment)
    return {
        "value": reading.term(transfer.target, after, fetching(moment.step)),
        "address": reading.address(after.mar),
        "left": left,
        "right": right,
        "status": status_words(before.status),
        "compares": COMPARISONS[after.status] if after.status else "",
        "pc": reading.address(after.pc),
        "meaning": reading.meaning(after.cir),
    }


def _overflow(moment: Moment) -> str:
    step = moment.step
    if step and step.kind.transfer.uses_alu and step.kind.transfer.operation != "compared with":
        return "That did not fit the word: overflow." if moment.after.overflow else ""
    return ""
