"""The requests that break into the run of a scene.

::

    after instruction 12: 65
    in instruction 20: 66

Each line is a request with the number that it brings, which is the next input once the request is
served. ``after`` an instruction it comes with its last step, ``in`` one in its middle, after its
fetch. Requests that cannot be served wait in order.
"""

from __future__ import annotations

import re

from app.lesson.entries import Entry, read_entries, too_many
from app.lesson.places import LARGEST_NUMBER
from app.machine.machine import Machine
from app.machine.requests import Request, in_order
from app.machine.source.numbers import read_numbers
from app.machine.source.problems import MOST_FAULTS, Problem
from app.machine.words import show_word

MOST_REQUESTS = 100
_WHEN = re.compile(r"(?P<where>after|in)\s+instruction\s+(?P<number>[0-9]{1,9})", re.IGNORECASE)
_EXAMPLE = "Write for example 'after instruction 12: 65' or 'in instruction 12: 65'."


def read_interrupts(
    machine: Machine, text: str, first_line: int
) -> tuple[tuple[Request, ...], list[Problem]]:
    """The requests of an ``interrupts`` block, in the order in which they come, and what is wrong
    with them."""
    if not machine.interrupt:
        what = "Nothing can break into a run of this machine."
        mend = "Write 'with: interrupts' in the header, or leave the block out."
        return (), [Problem(first_line - 1, 1, 3, what, mend)]
    entries = read_entries(text, first_line, carry_on=False)
    if not entries:
        what = "This 'interrupts' block is empty."
        return (), [Problem(first_line - 1, 1, 3, what, _EXAMPLE, warning=True)]
    problems: list[Problem] = []
    found: list[Request] = []
    faults = 0
    for entry in entries:
        if faults == MOST_FAULTS:
            problems.append(too_many(entry.whole))
            break
        if len(found) == MOST_REQUESTS:
            what = f"There are more than {MOST_REQUESTS} requests."
            problems.append(entry.whole.problem(what, f"Keep to {MOST_REQUESTS}."))
            break
        request, wrong = _request(machine, entry)
        faults += sum(not each.warning for each in wrong)
        problems += wrong
        if request:
            found.append(request)
    if any(not each.warning for each in problems):
        return (), problems
    return in_order(found), problems


def write_request(machine: Machine, request: Request) -> str:
    """A request as the block writes it."""
    where = "in" if request.step else "after"
    number = show_word(machine, request.value, "denary")
    return f"{where} instruction {request.instruction}: {number}"


def _request(machine: Machine, entry: Entry) -> tuple[Request | None, list[Problem]]:
    """The request of a line; None where it has a fault."""
    parts = entry.at_colon()
    if parts is None:
        what = f"'{entry.text}' does not say what the request brings."
        mend = f"Write the number after a colon, as in '{entry.text}: 65'."
        found = _WHEN.fullmatch(entry.text)
        return None, [entry.whole.problem(what, mend if found else _EXAMPLE)]
    when, brings = parts
    found = _WHEN.fullmatch(when.text)
    if not found:
        what = f"'{when.text}' does not say when the request comes."
        return None, [when.problem(what, _EXAMPLE)]
    number = int(found["number"])
    if not 1 <= number <= LARGEST_NUMBER:
        what = f"There is no instruction {found['number']}: they are counted from 1."
        return None, [when.problem(what, f"Use a number from 1 to {LARGEST_NUMBER:,}.")]
    blank = " " * (brings.column - 1)
    values, problems = read_numbers(machine, blank + brings.text, "number", brings.line, False)
    if len(values) != 1:
        if all(each.warning for each in problems):
            what = f"A request brings one number, and here {len(values) or 'none'} are written."
            problems.append(brings.problem(what.replace("none are", "none is"), _EXAMPLE))
        return None, problems
    step = 0 if found["where"].casefold() == "after" else len(machine.fetch)
    return Request(number, step, values[0]), problems
