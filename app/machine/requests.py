"""Interrupts: requests, and the word in which the machine keeps where it was.

A request comes from outside, like an input, and is part of what a run is a function of. While it
waits nothing of the machine changes: it is looked at where an instruction has ended.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from .operations import Status
from .words import Format


class Request(NamedTuple):
    """A request for the processor's attention.

    ``instruction`` is the one in which it comes, counted from 1 (0: before the first), and
    ``step`` after which step of it, counted from 1 (0: with its last). ``value``, a bit pattern,
    is the next input once the request is served.
    """

    instruction: int
    step: int
    value: int

    @property
    def order(self) -> tuple[int, bool, int]:
        """By this, requests are in the order in which they come: what comes with the last step of
        an instruction comes after all of its others."""
        return self.instruction, self.step == 0, self.step


def come(requests: Iterable[Request], instructions: int, place: tuple[int, int]) -> int:
    """How many requests have come where so many whole ``instructions`` have been carried out, and
    the last step is at a ``place``: the instruction that it belongs to and which of its steps it
    is, both counted from 1."""
    number, step = place
    return sum(
        each.instruction <= instructions or (each.instruction == number and 0 < each.step <= step)
        for each in requests
    )


def in_order(requests: Iterable[Request]) -> tuple[Request, ...]:
    """Requests in the order in which they come; those of one moment stay as they are."""
    return tuple(sorted(requests, key=lambda each: each.order))


# How the comparison is written in the two bits of it; 11 is none yet.
_COMPARISONS = (Status.EQUAL, Status.LESS, Status.MORE, None)


def kept(format: Format, status: Status | None, carry: int, overflow: bool, counter: int) -> int:
    """The word in which the status and the program counter are kept: the counter, which is an
    address, is its right half; of its left half the four bits at the right are overflow, carry and
    the comparison."""
    marks = int(overflow) << 3 | carry << 2 | _COMPARISONS.index(status)
    return marks << format.operand_bits | counter


def brought_back(format: Format, word: int) -> tuple[Status | None, int, bool, int]:
    """The comparison, the carry, the overflow mark and the program counter that a word keeps.
    The other bits of it are not looked at."""
    marks, counter = format.split(word)
    return _COMPARISONS[marks & 3], marks >> 2 & 1, bool(marks & 8), counter
