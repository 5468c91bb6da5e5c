"""Places of a run in plain words, for who has never seen how a lesson names them."""

from __future__ import annotations

from app.lesson.places import When, ordinal
from app.machine.instructions import Phase
from app.machine.registers import GROWN_REGISTERS, REGISTERS

_HAPPENS = {
    Phase.FETCH: "is fetched",
    Phase.DECODE: "is decoded",
    Phase.EXECUTE: "is carried out",
}
_REGISTER_NAMES = frozenset(
    name.casefold()
    for each in (*REGISTERS, *GROWN_REGISTERS)
    for name in (each.name, *each.also)
    if " " in name or name.islower()
)


# A step by its number, by what it is (``Scene.unit``).
_NUMBERED = {
    "step": "at step {} of the run",
    "tick": "in tick {}",
    "press": "when machine {} comes",
}


def in_words(when: When, unit: str = "step") -> str:
    """A place as a part of a sentence: 'while the first instruction is fetched', 'the first time
    ADD is carried out'. ``unit`` is what a step of the scene is."""
    words = _place(when, unit)
    if not when.transfer:
        return words
    which = "last" if when.transfer < 0 else ordinal(when.transfer)
    return f"{words}: its {which} movement alone"


def _place(when: When, unit: str) -> str:
    match when.kind:
        case "start":
            return "at the start, before anything moves"
        case "end":
            return "at the end of the run"
        case "step":
            return _NUMBERED[unit].format(when.number)
        case "cycle":
            return f"all through the {ordinal(when.number)} instruction"
        case "phase":
            return f"while the {ordinal(when.number)} instruction {_HAPPENS[when.phase]}"
    often = {"each": "whenever", "first": "the first time", "last": "the last time"}.get(
        when.choice, f"the {ordinal(max(when.nth, 1))} time"
    )
    return f"{often} {_event(when)}"


def _event(when: When) -> str:
    match when.kind:
        case "instruction":
            return f"{when.instruction} {_HAPPENS[when.phase]}"
        case "at":
            return f"the run comes to '{when.label}', all through that instruction"
        case "phase at":
            return f"the instruction at '{when.label}' {_HAPPENS[when.phase]}"
        case "call":
            return f"'{when.label}' is called"
        case "return":
            return f"the run comes back from '{when.label}'"
        case "jump":
            return "a jump is taken" if when.taken else "a jump is not taken"
        case "comes":
            return "a request comes"
        case "served":
            return "a request is served"
        case "change":
            named = when.label.casefold() in _REGISTER_NAMES
            return f"the {when.label} changes" if named else f"'{when.label}' changes"
    raise ValueError(f"no words for a place of the kind {when.kind!r}")
