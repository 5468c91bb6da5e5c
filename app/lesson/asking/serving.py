"""What can be asked about a request: when it is served, what is kept, and which address.

The answers are found in the run: the first request that waits where the question is asked is
followed to where it is served.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from app.lesson.entries import Wrong
from app.machine.operations import status_shown
from app.machine.requests import Request
from app.machine.state import State

from .facts import Facts
from .mixups import Misconception, Reason

AT_ONCE = "At once, in the middle of the instruction."
INSTRUCTION_ENDS = "When the instruction has ended."
ON_AGAIN = "When interrupts are on again."
PROGRAM_ENDS = "When the program has ended."
TIMES = (AT_ONCE, INSTRUCTION_ENDS, ON_AGAIN, PROGRAM_ENDS)

STATUS_AND_COUNTER = "The status and the program counter."
COUNTER_ALONE = "The program counter alone."
ACCUMULATOR_TOO = "The accumulator, the status and the program counter."
NOTHING_KEPT = "Nothing: the program starts again later."
KEEPING = (STATUS_AND_COUNTER, COUNTER_ALONE, ACCUMULATOR_TOO, NOTHING_KEPT)


@dataclass(frozen=True, slots=True)
class Service:
    """How a request is served: ``before`` and ``after`` it is the machine, ``written`` the
    instruction that has ended by then, which stands at ``address``, ``waited`` whether the
    request had to wait longer than for the end of the instruction in which it came, and
    ``switched`` whether interrupts were off when it came and that instruction switched them on.
    ``behind`` tells that another request was served where the instruction ended in which it came.
    """

    request: Request
    before: State
    after: State
    written: str
    address: int
    was_on: bool
    behind: bool

    @property
    def switched(self) -> bool:
        return not self.waited and not self.was_on

    @property
    def early(self) -> bool:
        """Whether the request came before the first instruction, and so in none."""
        return self.request.instruction == 0

    @property
    def waited(self) -> bool:
        return self.before.cycles > self.request.instruction

    @property
    def word(self) -> int:
        """The word that is kept."""
        return self.after.memory[self.after.others["SP"]]


def service(facts: Facts) -> Service:
    """How the first request is served that waits before the span of some facts.

    Raises Wrong where none waits there, and where it is not served.
    """
    run, step = facts.run, facts.span.first - 1
    waits = run.waiting(step)
    if not waits:
        raise Wrong(
            "No request waits here.",
            "Ask where one does, as in 'ask at request comes' or 'before request served'.",
        )
    served = run.moment(step).after.served
    first = run.served_at(served)
    if first is None:
        raise Wrong(
            "The request that waits here is not served.",
            "Let it come where interrupts are on, or earlier.",
        )
    start = run.moment(run.before_instruction(first)).after
    other = run.served_at(served - 1) if served else None
    return Service(
        waits[0],
        run.moment(first - 1).after,
        run.moment(first + len(run.machine.interrupt) - 1).after,
        facts.written(start.memory[start.pc]),
        start.pc,
        bool(start.held("interrupts")),
        other is not None and run.place(other)[0] == waits[0].instruction,
    )


def times(facts: Facts) -> tuple[str, ...]:
    """What can be chosen of when a request is served. Where the instruction that is carried out
    switches interrupts on, 'when they are on again' is as right as that it has ended, and is not
    offered; nor is that it has ended where the request comes in no instruction."""
    found = service(facts)
    left_out = ON_AGAIN if found.switched else INSTRUCTION_ENDS if found.early else None
    return tuple(each for each in TIMES if each != left_out)


def truth(kind: str, facts: Facts) -> str | int:
    """The answer to a question about a request. Raises Wrong where there is none."""
    found = service(facts)
    match kind:
        case "served":
            return ON_AGAIN if found.waited else INSTRUCTION_ENDS
        case "kept":
            return STATUS_AND_COUNTER
        case _:
            return found.before.pc


def happened(kind: str, facts: Facts) -> str:
    """Why that is the answer."""
    found = service(facts)
    goes_on = facts.there(found.before.pc)
    match kind:
        case "served" if found.early:
            return (
                "The request comes before the first instruction, and interrupts are off then, so it"
                f" has to wait. They are on when {found.written} has ended, and then it is served."
            )
        case "served" if found.behind:
            return (
                "Another request is served first, and that switches interrupts off, so this one"
                f" has to wait. They are on again when {found.written} has ended, and then it is"
                " served."
            )
        case "served" if found.waited:
            return (
                "Interrupts are off when the instruction has ended in which the request comes, so"
                f" it has to wait. They are on again when {found.written} has ended, and then it is"
                " served."
            )
        case "served":
            on = " It switches interrupts on." if found.switched else ""
            return (
                f"The request comes while {found.written} is carried out.{on} That instruction is"
                " carried out to its end, and the request is served before the next fetch."
            )
        case "kept":
            return (
                f"One word is put on the stack. In it are the status,"
                f" {status_shown(found.before.status)}, and the program counter, {goes_on}."
            )
        case _:
            return (
                f"{found.written} has ended, so the program goes on later at {goes_on}: that is"
                " what the program counter holds."
            )


def mix_ups(kind: str, facts: Facts) -> Iterator[Misconception]:
    """What the usual mix-ups answer, the likelier first."""
    found = service(facts)
    goes_on = facts.there(found.before.pc)
    said = {
        "written": found.written,
        "value": goes_on,
        "status": status_shown(found.before.status),
        "word": facts.number(facts.machine.signed(found.word)),
    }
    match kind:
        case "served" if found.waited:
            if not found.early:
                yield Misconception(INSTRUCTION_ENDS, Reason.INTERRUPTS_OFF, said)
            yield Misconception(AT_ONCE, Reason.AT_ONCE_OFF, said)
            yield Misconception(PROGRAM_ENDS, Reason.NEED_NOT_END, said)
        case "served":
            yield Misconception(AT_ONCE, Reason.AT_ONCE, said)
            yield Misconception(PROGRAM_ENDS, Reason.NEED_NOT_END, said)
            if not found.switched:
                yield Misconception(ON_AGAIN, Reason.INTERRUPTS_ON, said)
        case "kept":
            yield Misconception(COUNTER_ALONE, Reason.STATUS_KEPT, said)
            yield Misconception(ACCUMULATOR_TOO, Reason.ACCUMULATOR_NOT_KEPT, said)
            yield Misconception(NOTHING_KEPT, Reason.GOES_ON_LATER, said)
        case _:
            running = said | {"said": facts.there(found.address)}
            yield Misconception(found.address, Reason.RUNNING_ADDRESS, running)
            vector = found.before.others["V"]
            routine = said | {"said": facts.there(vector)}
            yield Misconception(vector, Reason.ROUTINE_ADDRESS, routine)
            yield Misconception(found.before.pc + 1, Reason.COUNTER_STAYS, said)
            top = found.after.others["SP"]
            yield Misconception(top, Reason.WHERE_IT_LIES, said | {"said": facts.there(top)})
