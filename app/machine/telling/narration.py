"""One plain sentence for any moment of a run, made from the transfer that was carried out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from app.machine.instructions import Phase
from app.machine.operations import (
    COMPARISONS,
    Condition,
    Mark,
    mark_words,
    status_shown,
    status_words,
)
from app.machine.provenance import mdr_is_instruction, word_decoded
from app.machine.run import Moment, Run
from app.machine.state import MARKS, Ending, State

from .counts import counted
from .reading import Reading, value_of

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
    words = step.kind.transfer.words(
        step.value is not None, "status" not in hidden, "carry" not in hidden
    )
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
    if step.kind.phase is Phase.INTERRUPT:
        return _served(reading, start, after, hidden)
    meaning = reading.meaning(word_decoded(reading.machine, after, step.kind))
    if step.kind.phase is Phase.DECODE:
        return f"Decode: the control unit works out what the instruction means: {meaning}."
    if step.kind.transfer.condition:
        words = _sentence(reading, moment, limit, frozenset())
        return f"Execute: {words[0].lower()}{words[1:]}"
    if step.kind.transfer.sets_status and "status" not in hidden:
        meaning = f"{meaning}; the status becomes {status_shown(after.status)}"
    return f"Execute: {meaning}. {_overflow(reading, moment)}".rstrip()


def _served(reading: Reading, start: State, after: State, hidden: Collection[str]) -> str:
    """What the phase did that has served a request; ``start`` is the state before it."""
    marks = []
    if "status" not in hidden:
        marks.append(f"the status {status_shown(start.status)}")
    if "carry" in reading.machine.register and "carry" not in hidden:
        marks.append(f"the carry {reading.term('carry', start)}")
    kept = f"the program counter {reading.address(start.pc)} {'are' if marks else 'is'}"
    if marks:
        kept = f"{', '.join(marks)} and {kept}"
    return (
        f"Interrupt: {kept} kept on the stack in one word, interrupts are switched off, and the"
        f" program counter becomes {reading.address(after.pc)}, where the routine starts."
    )


def arrival(run: Run, step: int) -> str:
    """What is to be said where a request comes with a step; empty where none does. When it is
    going to be served is not told: that may be a question."""
    if not run.requests:
        return ""
    waits, before = run.waiting(step), run.waiting(step - 1) if step else ()
    served = step > 0 and run.moment(step - 1).after.served < run.moment(step).after.served
    new = len(waits) - (len(before) - served)
    if new <= 0:
        return ""
    if new > 1:
        return f"{counted(new, 'request')} come at once."
    return "A request comes." if len(waits) == 1 else "Another request comes."


@dataclass(frozen=True, slots=True)
class Working:
    """What the ALU works out in a step, as texts; ``result`` is empty where it only compares, and
    ``left`` where it works on one value alone."""

    left: str
    sign: str
    right: str
    result: str = ""

    @property
    def line(self) -> str:
        """All of it, such as ``9 + 4 = 13`` or ``9 > 4``."""
        made = f" = {self.result}" if self.result else ""
        return f"{self.left} {self.sign} {self.right}{made}".lstrip()


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
    if transfer.operation.alone:
        return Working("", transfer.operation.shown, left, result)
    return Working(left, transfer.operation.shown, right, result)


def stopped(reading: Reading, state: State, limit: int) -> str:
    """Why a run that has not halted goes no further, and what to do about it."""
    machine = reading.machine
    match state.ending:
        case Ending.OFF_MEMORY:
            return (
                "The program counter has run past the last address,"
                f" {reading.address(machine.memory_words - 1)}. There is nothing to fetch: it has"
                " met no HALT on its way."
            )
        case Ending.UNKNOWN_CODE:
            return (
                f"No instruction has the opcode {reading.in_full(machine.split(state.cir)[0])}."
                " Perhaps the program has run into its data."
            )
        case Ending.WAITING:
            return "The machine waits: the program asks for an input, and there is none left."
        case Ending.NO_ADDRESS:
            return _no_address(reading, state)
        case Ending.STACK_EMPTY:
            return (
                "The stack is empty, so there is nothing to take off. Perhaps a RETURN or a POP is"
                " one too many."
            )
        case Ending.STACK_FULL:
            return (
                "The stack has grown down to the words of the program, so there is no room for"
                " another word. Perhaps a subroutine calls itself without end."
            )
        case Ending.LIMIT:
            return (
                f"The program has not stopped after {limit:,} instructions. Every step up to here"
                " can be looked at."
            )
        case _:
            return "The control unit has stopped the clock: the program has ended."


def _no_address(reading: Reading, state: State) -> str:
    """Why there is no such address: the step that would have made it has not been carried out."""
    machine = reading.machine
    last = f"the last address is {reading.address(machine.memory_words - 1)}"
    instruction = machine.by_code.get(machine.split(state.cir)[0])
    transfers = instruction.transfers if instruction else ()
    made = next((each for each in transfers if each.check == "address"), None)
    if made is None:
        return f"Memory has no such address: {last}."
    values = [value_of(machine, term, state) for term in made.terms]
    told = [reading.term(term, state) for term in made.terms]
    shown = reading.in_full(sum(values))
    if len(told) == 1:
        return f"{told[0]} was read as an address, and memory has no such address: {last}."
    return f"{told[0]} and {told[1]} make {shown}, and memory has no such address: {last}."


def _operands(reading: Reading, moment: Moment) -> tuple[str, str]:
    assert moment.step is not None
    transfer, before = moment.step.kind.transfer, moment.before
    left, right = transfer.left, transfer.right
    return reading.term(left, before), reading.term(right, before) if right else ""


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
        "status": _found(kind.transfer.condition, before),
        "carry": reading.term("carry", after),
        "compares": COMPARISONS[after.status][0] if after.status else "",
        "becomes": status_shown(after.status),
        "pc": reading.address(after.pc),
        "meaning": reading.meaning(after.cir),
    }


def _found(condition: Condition | None, state: State) -> str:
    """The start of a sentence that says what a conditional jump has found."""
    if not isinstance(condition, Mark):
        if state.status is None and state.served:
            # A routine may have compared; what its RETURN brings back is that there is none.
            return "There is no status yet"
        return status_words(state.status)
    return mark_words(condition, bool(state.held(MARKS[condition])))


def _overflow(reading: Reading, moment: Moment) -> str:
    """What a sum would have made in a larger word, where it does not fit this one."""
    transfer = moment.step.kind.transfer if moment.step else None
    operation = transfer.operation if transfer and transfer.uses_alu else None
    if not (transfer and operation and operation.overflow and moment.after.overflow):
        return ""
    machine = reading.machine
    left, right = (
        value_of(machine, term, moment.before) for term in (transfer.left, transfer.right)
    )
    shown = reading.in_full(operation.whole(left, right))
    return f"In full it is {shown} and does not fit the word: overflow."
