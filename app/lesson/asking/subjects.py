"""What a question may ask about, as the lesson file writes it.

==================================  =====================================================
``the accumulator``                 what it holds after the place in the run
``the status``                      LESS, EQUAL or MORE after it, or that there is none yet
``the next address``                the program counter after it (also by its name)
``the memory address register``     after it; also the memory data register
``the current instruction register`` the instruction that it holds after it
``what is stored in total``         the word at that label (or address) after it
``the output so far``               every number sent out by then
``which way the jump goes``         at a jump: whether it is taken, and where it leads
``when the request is served``      of the request that waits there; see ``serving``
``what is kept``                    of the program that the request breaks into
``which address is kept``           the program counter in the word that is kept
``hit or miss``                     what comes of the next read, in a scene with a cache
``the hits``, ``the misses``        how many reads of the run so far
``the ticks``                       of the run so far with a cache; of all of it in a pipeline
``the ticks lost``                  in a pipeline, all of them
``how many times faster``           a pipeline is, or the last machine than the first
==================================  =====================================================
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from app.lesson.entries import Wrong
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.source.problems import nearest

_STORED = re.compile(r"(?:what is stored|what is|the word|the number) (?:in|at)(?: address)? (\S+)")
# Beside the names of registers.
_EXAMPLES = (
    "the next address",
    "what is stored in",
    "the output so far",
    "which way the jump goes",
)
# What can be asked about a cache, a pipeline, or machines side by side.
_WATCHED_WORDS = {
    "hit or miss": "look",
    "whether it is a hit": "look",
    "the hits": "hits",
    "the hits so far": "hits",
    "the misses": "misses",
    "the misses so far": "misses",
    "the ticks": "ticks",
    "the ticks so far": "ticks",
    "the ticks lost": "lost",
    "how many times faster": "faster",
    "how much faster": "faster",
}
WATCHED = frozenset(_WATCHED_WORDS.values())


# What can be asked about a request (see `serving`): each kind in its words, the usual ones first.
SERVED, KEPT, KEPT_ADDRESS = "served", "kept", "kept address"
_OF_REQUESTS = {
    SERVED: ("when the request is served", "when it is served"),
    KEPT: ("what is kept",),
    KEPT_ADDRESS: ("which address is kept", "the address that is kept"),
}
SERVING = frozenset(_OF_REQUESTS)
REQUEST_WORDS = tuple(words[0] for words in _OF_REQUESTS.values())
_REQUEST_KINDS = {words: kind for kind, each in _OF_REQUESTS.items() for words in each}


@dataclass(frozen=True, slots=True)
class Subject:
    """What is asked about. ``kind`` is the tag of a register, ``memory``, ``output`` (all the
    numbers sent so far), ``sent`` (the one sent last), ``jump``, one of SERVING, or one of
    WATCHED; ``target`` the label or address, as it was written, of a word of memory."""

    kind: str
    target: str = ""

    @property
    def watched(self) -> bool:
        """Whether it is about what watches the run, and not about the machine."""
        return self.kind in WATCHED


def read_subject(text: str, machine: Machine = EIGHT_BIT) -> Subject:
    """Read what is asked about a run of a machine. Raises Wrong, with a suggestion where there is
    one."""
    plain = " ".join(text.split()).rstrip("?.")
    lowered = plain.casefold()
    if lowered in ("the next address", "the address of the next instruction", "next address"):
        return Subject("PC")
    if lowered in ("the output so far", "the output", "output"):
        return Subject("output")
    if lowered in ("which way the jump goes", "whether it jumps"):
        return Subject("jump")
    if lowered in _REQUEST_KINDS and machine.interrupt:
        return Subject(_REQUEST_KINDS[lowered])
    if lowered in _WATCHED_WORDS:
        return Subject(_WATCHED_WORDS[lowered])
    stored = _STORED.fullmatch(lowered)
    if stored:
        return Subject("memory", plain[stored.start(1) : stored.end(1)])
    named = lowered.removeprefix("the ")
    for each in machine.registers:
        if named in (name.casefold() for name in (each.tag, each.name, *each.also)):
            return Subject(each.tag)
    examples = (*_EXAMPLES, *(_REQUEST_KINDS if machine.interrupt else ()))
    near = nearest(
        lowered, (*_WATCHED_WORDS, *(f"the {each.name}" for each in machine.registers), *examples)
    )
    if near == "what is stored in":
        near = "what is stored in total"
    mend = (
        f"Did you mean '{near}'?"
        if near
        else "Write for example 'the accumulator', 'the next address', 'the status', 'the output"
        " so far', 'which way the jump goes' or 'what is stored in total'."
    )
    raise Wrong(f"The answer to '{text}' cannot be found in the run.", mend)
