"""The parts of the machine as people call them, and the ones that a scene has on stage."""

from __future__ import annotations

import re
from functools import cache

from app.machine.growing import PARTS as GROWN_BY
from app.machine.growing import grown
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.registers import REGISTERS
from app.machine.source.problems import capital, listed, nearest
from app.machine.transfers import ADDER

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
# What only a grown machine has.
_ADDER_NAMES = ("address adder", "small adder")

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


@cache
def parts_of(machine: Machine) -> dict[str, tuple[str, ...]]:
    """The parts of a machine: those that every machine has, and what it has grown by."""
    more = {each.tag: (each.name, *each.also) for each in machine.registers}
    if machine.has_adder:
        more[ADDER] = _ADDER_NAMES
    return PARTS | {tag: names for tag, names in more.items() if tag not in PARTS}


@cache
def all_parts(machine: Machine) -> frozenset[str]:
    """The keys of the parts of a machine."""
    return frozenset(parts_of(machine))


EVERY_PART = all_parts(grown(frozenset(GROWN_BY)))
"""The keys of the parts that any machine has."""


@cache
def _names(machine: Machine) -> dict[str, tuple[str, ...]]:
    """What each name means, in small letters."""
    parts = parts_of(machine)
    grown = tuple(key for key in parts if key not in PARTS)
    registers = tuple(key for key in grown if key in machine.register)
    # The address adder belongs to the processor, and is no register.
    more = {"registers": registers, "everything": grown}
    more |= dict.fromkeys(("processor", "central processing unit", "cpu"), grown)
    groups = {name: (*keys, *more.get(name, ())) for name, keys in GROUPS.items()}
    named = {name.casefold(): (key,) for key, names in parts.items() for name in (key, *names)}
    return named | groups | {"all": groups["everything"]}


def _spellings(machine: Machine) -> list[str]:
    """The names as a suggestion spells them."""
    parts = parts_of(machine)
    return [name for key, names in parts.items() for name in (key, *names)] + list(GROUPS)


# Several names may stand in one line; 'and' is also part of a name.
_BETWEEN = re.compile(r"(?<!\s)\s*(?:,|\band\b)\s*")


def part_name(key: str, machine: Machine = EIGHT_BIT) -> str:
    """What the trade calls a part: ``ACC`` gives ``accumulator``. KeyError for no part."""
    return next(iter(parts_of(machine)[key]), key)


def _title(key: str, machine: Machine = EIGHT_BIT) -> str:
    return capital(part_name(key, machine))


# What stands over a part on a screen; over the panel, what is on it.
TITLES = {key: _title(key) for key in PARTS} | {"store": "Registers"}


@cache
def titles_of(machine: Machine) -> dict[str, str]:
    """The same for all parts of a machine."""
    return {key: TITLES.get(key) or _title(key, machine) for key in parts_of(machine)}


def find_parts(name: str, machine: Machine = EIGHT_BIT) -> tuple[str, ...]:
    """The parts of a machine that a name means, in any case, with or without 'the' before it.

    Raises Wrong, with a suggestion, where no part is called that.
    """
    plain = " ".join(name.casefold().split())
    plain = plain.removeprefix("the ")
    if plain in _names(machine):
        return _names(machine)[plain]
    near = nearest(plain, _spellings(machine))
    if near:
        raise Wrong(f"No part is called '{name}'.", f"Did you mean '{near}'?")
    raise Wrong(
        f"No part is called '{name}'.",
        f"Write {listed(part_name(key, machine) for key in parts_of(machine))}.",
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
