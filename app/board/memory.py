"""Which words of memory are in sight: a window that follows the address, and a watch list.

A small memory is in sight whole. Of a large one the board has so many slots: the last ones hold
the words that the lesson watches, at the same place all through a scene, the others a window
on the words between. A watched word is drawn in its own slot alone, so that no word is there
twice and a value that travels to it has one way to go.

A program that uses the stack has the top of it at the foot: as the pile that it is, the end of
memory below, and above it the place for the next word.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache

from app.lesson.blocks.watch import MOST_WATCHED
from app.lesson.model import Scene
from app.machine.machine import Machine
from app.machine.source.assembler import Program
from app.machine.source.disassembler import decode

from .drawing import slots_in_sight

# So many words are watched where the lesson names none.
USUALLY_WATCHED = 3
# And so many words of the stack are in sight: fewer where the lesson watches more. What is watched
# without being named gives way to it.
_PILED = {0: 4, 1: 4, 2: 3, 3: 3, 4: 2}
_WATCHED_BESIDE_STACK = 2


@dataclass(frozen=True, slots=True)
class Panes:
    """The addresses in sight, slot by slot: a window, then the ``watched`` words of the watch list,
    and at the foot the ``piled`` ones of the stack."""

    addresses: tuple[int, ...]
    watched: int = 0
    piled: int = 0

    def slot(self, address: int) -> int:
        """The slot of an address. ValueError where it is not in sight."""
        return self.addresses.index(address)

    def is_watched(self, slot: int) -> bool:
        return 0 <= len(self.addresses) - self.piled - slot - 1 < self.watched

    def is_piled(self, slot: int) -> bool:
        return slot >= len(self.addresses) - self.piled


def panes(
    machine: Machine,
    watch: tuple[int, ...],
    at: int,
    counter: int,
    pointer: int | None = None,
    before: Collection[int] = (),
) -> Panes:
    """The words in sight while the word at ``at`` is looked at. While that one is watched, or in
    sight as a word of the stack, the window stays with the program, where the program counter is.
    ``pointer`` is the stack pointer of a program that uses the stack. The words at ``before`` are
    looked at in the same movement: those far from the window have a place in it all the same."""
    slots = slots_in_sight(machine)
    if slots == machine.memory_words:
        return Panes(tuple(range(slots)))
    watch = watch[:MOST_WATCHED]
    pile = () if pointer is None else _pile(machine, watch, pointer)
    below = {*watch, *pile}
    others = [each for each in range(machine.memory_words) if each not in below]
    size = slots - len(below)
    middle = next((each for each in (at, *before, counter) if each not in below), counter)
    # The program counter may point at a watched word: then the window is where that would be.
    place = sum(each < middle for each in others)
    first = min(max(place - size // 2 + 1, 0), len(others) - size)
    window = others[first : first + size]
    if far := {*before} - {*window} - below:
        near = sorted(window, key=lambda each: abs(each - middle))
        window = sorted([*near[: size - len(far)], *far])
    return Panes((*window, *watch, *pile), len(watch), len(pile))


def _pile(machine: Machine, watch: tuple[int, ...], pointer: int) -> tuple[int, ...]:
    """The words of the stack in sight, the lowest address first: while they are few, its first
    places, so that the pile is seen to grow; then the place over its top, where a word that was
    taken off still is, and what lies under that."""
    count = _PILED[len(watch)]
    free = [each for each in range(machine.memory_words) if each not in watch]
    top = sum(each < pointer for each in free)
    first = min(max(top - 1, 0), len(free) - count)
    return tuple(free[first : first + count])


def uses_stack(machine: Machine, program: Program) -> bool:
    """Whether an instruction of a program works with the stack pointer."""
    if "SP" not in machine.register:
        return False
    pairs = zip(program.words, program.origins, strict=False)
    return _any_uses_stack(machine, frozenset(word for word, at in pairs if not at.is_data))


@lru_cache(maxsize=100)  # of a program it is asked at every frame, and stays the same
def _any_uses_stack(machine: Machine, words: frozenset[int]) -> bool:
    written = (decode(machine, word)[0] for word in words)
    # Who lets requests break in uses it as well: what is kept lies there.
    return any(
        {"SP", "V"} & {*transfer.targets, *transfer.terms}
        for instruction in written
        if instruction
        for transfer in instruction.transfers
    )


def watch_list(scene: Scene) -> tuple[int, ...]:
    """The addresses that a scene watches: those that the lesson names, or else the first of the
    data that have a label."""
    if scene.watch is not None:
        return scene.watch
    labels = scene.program.labels
    origins = scene.program.origins
    data = [each for each in sorted(labels) if each < len(origins) and origins[each].is_data]
    stack = uses_stack(scene.program.machine, scene.program)
    return tuple(data[: _WATCHED_BESIDE_STACK if stack else USUALLY_WATCHED])
