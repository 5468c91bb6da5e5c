"""The parts of the machine as people call them, and the ones that a scene has on stage."""

from __future__ import annotations

import re

from app.machine.registers import REGISTERS
from app.machine.source.problems import listed, nearest

from .entries import Wrong

_REGISTERS = {each.tag: (each.name, *each.also) for each in REGISTERS}

# Each part as the drawing knows it, and what the trade calls it: the usual name first. In the
# order in which a course comes to them.
PARTS: dict[str, tuple[str, ...]] = {
    "memory": ("main memory", "RAM"),
    "CU": ("control unit",),
    "ALU": ("arithmetic and logic unit", "arithmetic logic unit"),
    # The frame round the registers. Some syllabuses call it by the words that come after.
    "store": ("register panel", "immediate access store", "IAS"),
    **_REGISTERS,
    "input": ("input", "inputs"),
    "output": ("output", "outputs"),
    "address bus": (),
    "data bus": (),
    "control bus": (),
}
ALL_PARTS = frozenset(PARTS)

# Names for several parts at once.
GROUPS: dict[str, tuple[str, ...]] = {
    "registers": ("store", *_REGISTERS),
    "processor": ("CU", "ALU", "store", *_REGISTERS),
    "central processing unit": ("CU", "ALU", "store", *_REGISTERS),
    "cpu": ("CU", "ALU", "store", *_REGISTERS),
    "buses": ("address bus", "data bus", "control bus"),
    "everything": tuple(PARTS),
    "nothing": (),
}

_NAMES: dict[str, tuple[str, ...]] = {
    name.casefold(): (key,) for key, names in PARTS.items() for name in (key, *names)
} | GROUPS
# As a suggestion spells them.
_SPELLINGS = [name for key, names in PARTS.items() for name in (key, *names)] + list(GROUPS)

# Several names may stand in one line; 'and' is also part of a name.
_BETWEEN = re.compile(r"(?<!\s)\s*(?:,|\band\b)\s*")


def part_name(key: str) -> str:
    """What the trade calls a part: ``ACC`` gives ``accumulator``. KeyError for no part."""
    return next(iter(PARTS[key]), key)


def _title(key: str) -> str:
    name = part_name(key)
    return f"{name[0].upper()}{name[1:]}"


# What stands over a part on a screen; over the panel, what is on it.
TITLES = {key: _title(key) for key in PARTS} | {"store": "Registers"}


def find_parts(name: str) -> tuple[str, ...]:
    """The parts that a name means, in any case, with or without 'the' before it.

    Raises Wrong, with a suggestion, where no part is called that.
    """
    plain = " ".join(name.casefold().split())
    plain = plain.removeprefix("the ")
    if plain in _NAMES:
        return _NAMES[plain]
    near = nearest(plain, _SPELLINGS)
    if near:
        raise Wrong(f"No part is called '{name}'.", f"Did you mean '{near}'?")
    raise Wrong(
        f"No part is called '{name}'.",
        f"Write {listed(map(part_name, PARTS))}.",
    )


def split_names(text: str) -> list[tuple[int, int]]:
    """Where each name of a list stands (start and end) that has commas or 'and' between names."""
    # Long names hold an 'and' of their own: it is hidden from the search, not from the reader.
    hidden = re.sub(
        r"arithmetic and logic", lambda found: "x" * len(found[0]), text, flags=re.IGNORECASE
    )
    found = []
    start = 0
    for between in _BETWEEN.finditer(hidden):
        found.append((start, between.start()))
        start = between.end()
    found.append((start, len(text)))
    return [
        (start, start + len(text[start:end].rstrip()))
        for start, end in found
        if text[start:end].strip()
    ]
