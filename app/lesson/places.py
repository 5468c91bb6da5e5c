"""Places in a run, named as a teacher would name them.

======================  =============================================================
``start``               before the first step
``end``                 the last step of the run
``step 12``             that step; in a pipeline, where steps are ticks, also ``tick 12``
``instruction 3``       all steps of the third instruction carried out
``fetch 2``             the fetch of the second instruction carried out; also
                        ``decode 2`` and ``execute 2``
``decode of ADD``       every decode of an ADD; also ``fetch of`` and ``execute of``
``OUTPUT``              the execute phase of every OUTPUT
``at warm``             every time that the instruction with the label ``warm`` is
                        carried out; also ``fetch at``, ``decode at`` and ``execute at``
``transfer 2 of ...``   one step of a place, counted from its first, as in ``transfer 2 of
                        execute of ADD``; also ``last transfer of ...``
``call of sum``         the execute phase of every CALL that goes to the label ``sum``; also
                        ``return from sum``, of every RETURN that ends what was called there
``jump taken``          every jump that is taken; also ``jump not taken``
``request comes``       every step at which a request comes; also ``when a request comes``
``request served``      the interrupt phase of every request that is served; also ``when a
                        request is served``
``when total changes``  every step that puts another number in the word with the label
                        ``total``, in the accumulator, in the status or in another register
======================  =============================================================

Before a place that may come more than once stands, if wanted, ``first``, ``last``, ``each``,
``second``, ``third`` ... or ``2nd``, ``3rd`` ...: ``first OUTPUT``, ``second decode of ADD``,
``last change of total``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from app.machine.instructions import Phase
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.source.problems import nearest
from app.machine.source.trade_words import TRADE_WORDS, instructions_meant

from .entries import Wrong

LARGEST_NUMBER = 9_999_999

# The fourth is named by what is served in it.
_PHASES = tuple(each.value for each in Phase if each is not Phase.INTERRUPT)
ORDINALS = (
    *("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth"),
    "tenth",
)
# 'First' is a choice of its own.
_NTHS = {word: number for number, word in enumerate(ORDINALS[1:], 2)}
_CHOICES = ("first", "last", "each")
# Beside the names of instructions.
_WORDS = (
    *_PHASES,
    *_CHOICES,
    *_NTHS,
    *(
        "start",
        "end",
        "step",
        "tick",
        "instruction",
        "when",
        "changes",
        "change",
        "taken",
        "not",
        "of",
    ),
    *("at", "transfer"),
)
# Of a machine that has calls.
_CALLING = ("call", "return", "from")
# Of a machine that has interrupts.
_SERVING = ("request", "comes", "served")
_EXAMPLES = (
    "Write for example 'start', 'fetch 1', 'decode of ADD', 'first OUTPUT', 'when total changes',"
    " 'each jump taken', 'step 12' or 'end'."
)
Names = tuple[str, ...]

_TRANSFER = re.compile(
    r"(?:transfer (?P<number>[1-9][0-9]?)|last transfer)\s+of\s+(?=\S)", re.IGNORECASE
)
_NTH = re.compile(r"([1-9][0-9]{0,6})(?:st|nd|rd|th)")


def ordinal(number: int) -> str:
    """What comes at that place, counted from 1: 'first', 'second', '12th'."""
    if number <= len(ORDINALS):
        return ORDINALS[number - 1]
    last = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{'th' if 10 < number % 100 < 14 else last}"


@dataclass(frozen=True, slots=True)
class When:
    """A place in a run.

    ``kind`` is start, end, step, cycle (a whole instruction by its number), phase (of an
    instruction by its number), instruction (a phase of an instruction by its name), at (a whole
    instruction by its label), phase at (a phase of it), call or return (the execute phase of one
    that belongs to a label), jump, comes (a request) or served, or change. ``number`` is that of
    step, cycle and phase. ``choice`` is first, last, each or nth (then ``nth`` tells which), for
    kinds that may come more than once. ``taken`` belongs to jump; ``label``, as it was written,
    to change, at, call and return. ``transfer`` is not 0 where one step of the place is meant:
    which one, counted from 1, or -1 for the last.
    """

    kind: str
    number: int = 0
    phase: Phase = Phase.EXECUTE
    instruction: str = ""
    choice: str = "each"
    nth: int = 0
    taken: bool = True
    label: str = ""
    transfer: int = 0


def read_when(text: str, unsaid: str = "each", machine: Machine = EIGHT_BIT) -> When:
    """Read the name of a place. ``unsaid`` is the choice where the name makes none, ``machine``
    the one whose instructions may be named.

    Raises Wrong, with a suggestion where there is one.
    """
    names = machine.names
    step = _TRANSFER.match(text)
    if step:
        of = read_when(text[step.end() :], unsaid, machine)
        if of.kind in ("start", "end", "step", "jump", "change", "comes"):
            raise Wrong(
                f"'{text[step.end() :]}' is one step, so it has no transfers to count.",
                "Count those of an instruction or a phase: 'transfer 2 of execute of ADD'.",
            )
        return replace(of, transfer=int(step["number"]) if step["number"] else -1)
    when = _numbered(text.split(), names) or _chosen(text.split(), unsaid, names)
    if when and when.kind in ("comes", "served") and not machine.interrupt:
        raise Wrong(
            f"'{text}' is no place in a run of this machine: nothing can break in.",
            "Requests need interrupts: write 'with: interrupts' in the header.",
        )
    if when and when.kind in ("call", "return") and not _calls(machine):
        raise Wrong(
            f"'{text}' is no place in a run of this machine: it has no {when.kind.upper()}.",
            "Subroutines need the stack: write 'with: stack' in the header.",
        )
    if when:
        return when
    raise Wrong(f"'{text}' is not a place in a run.", _mend(text, machine))


def names_place(text: str, machine: Machine) -> bool:
    """Whether a text is written as a place is."""
    step = _TRANSFER.match(text)
    words = text[step.end() if step else 0 :].split()
    try:
        return bool(_numbered(words, machine.names) or _chosen(words, "each", machine.names))
    except Wrong:
        return False


def _calls(machine: Machine) -> bool:
    """Whether a program of a machine can call what it comes back from."""
    return any(each.calls for each in machine.instructions)


def _numbered(words: list[str], names: Names) -> When | None:
    """A place that comes once."""
    lowered = [each.casefold() for each in words]
    if lowered in (["start"], ["end"]):
        return When(lowered[0])
    if len(words) != 2 or lowered[0] not in ("step", "tick", "instruction", *_PHASES):
        return None
    if lowered[0] in _PHASES and words[1].upper() in names:
        return None  # 'of' is missing between them
    if not re.fullmatch(r"[1-9][0-9]{0,6}", words[1]):
        raise Wrong(
            f"'{words[1]}' is not a whole number from 1 to {LARGEST_NUMBER:,}.",
            f"Write a number, as in '{lowered[0]} 1'.",
        )
    number = int(words[1])
    if lowered[0] in ("step", "tick"):
        return When("step", number=number)
    if lowered[0] == "instruction":
        return When("cycle", number=number)
    return When("phase", number=number, phase=Phase(lowered[0]))


def _chosen(words: list[str], unsaid: str, names: Names) -> When | None:
    """A place that may come more than once."""
    choice, nth, rest = unsaid, 0, words
    first = words[0].casefold() if words else ""
    numbered = _NTH.fullmatch(first)
    if first in _CHOICES:
        choice, rest = first, words[1:]
    elif first in _NTHS or numbered:
        choice, rest = "nth", words[1:]
        nth = int(numbered[1]) if numbered else _NTHS[first]
    lowered = [each.casefold() for each in rest]
    match lowered:
        case ["jump", "taken"]:
            return When("jump", choice=choice, nth=nth)
        case ["jump", "not", "taken"]:
            return When("jump", choice=choice, nth=nth, taken=False)
        case ["request", "comes"] | ["when", "a", "request", "comes"]:
            return When("comes", choice=choice, nth=nth)
        case ["request", "served"] | ["when", "a", "request", "is", "served"]:
            return When("served", choice=choice, nth=nth)
        case ["change", "of", *_]:
            return _change(rest[2:], choice, nth)
        case ["when", *_, "changes"]:
            return _change(rest[1:-1], choice, nth)
        case ["call", "of", _]:
            return When("call", choice=choice, nth=nth, label=rest[2])
        case ["return", "from", _]:
            return When("return", choice=choice, nth=nth, label=rest[2])
        case ["at", _]:
            return When("at", choice=choice, nth=nth, label=rest[1])
        case [word, "at", _] if word in _PHASES:
            return When("phase at", 0, Phase(word), "", choice, nth, label=rest[2])
    phase = Phase.EXECUTE
    if len(rest) == 3 and lowered[0] in _PHASES and lowered[1] == "of":
        phase, rest = Phase(lowered[0]), rest[2:]
    if len(rest) == 1 and rest[0].upper() in names:
        return When("instruction", 0, phase, rest[0].upper(), choice, nth)
    return None


def _change(label: list[str], choice: str, nth: int) -> When | None:
    if len(label) == 2 and label[0].casefold() == "the":
        label = label[1:]
    return When("change", choice=choice, nth=nth, label=label[0]) if len(label) == 1 else None


def _meant(word: str, machine: Machine) -> str | None:
    """The known word that an unknown one stands for; never one of another operation."""
    meant = instructions_meant(word, machine.names)
    if len(meant) == 1:
        return meant[0]
    words = (*_WORDS, *_SERVING) if machine.interrupt else _WORDS
    return None if word.upper() in TRADE_WORDS else nearest(word, words)


def _mend(text: str, machine: Machine) -> str:
    """The place that was probably meant, by the nearest known word for each unknown one."""
    words, names = text.split(), machine.names
    words_known = (*names, *_WORDS, *(_CALLING if _calls(machine) else ()))
    words_known += _SERVING if machine.interrupt else ()
    known = {each.casefold() for each in words_known}
    unknown = [at for at, word in enumerate(words[:4]) if word.casefold() not in known]
    near = {at: found for at in unknown if (found := _meant(words[at], machine))}
    mended = [near.get(at, word) for at, word in enumerate(words)]
    if len(mended) > 1 and mended[-2].casefold() in _PHASES and mended[-1].upper() in names:
        return f"Did you mean '{' '.join([*mended[:-1], 'of', mended[-1]])}'?"
    for at, word in near.items():
        meant = [*words[:at], word, *words[at + 1 :]]
        try:
            if _numbered(meant, names) or _chosen(meant, "each", names):
                return f"Did you mean '{' '.join(meant)}'?"
        except Wrong:
            continue  # mended, it would still be wrong
    return f"Did you mean '{next(iter(near.values()))}'?" if near else _EXAMPLES
