"""Which words of memory are in sight: a window that follows the address, and a watch list.

A small memory is in sight whole. Of a large one the board has so many slots: the last ones hold
the words that the lesson watches, at the same place all through a scene, the others a window
on the words between. A watched word is drawn in its own slot alone, so that no word is there
twice and a value that travels to it has one way to go.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.lesson.blocks.watch import MOST_WATCHED
from app.lesson.model import Scene
from app.machine.machine import Machine

from .drawing import slots_in_sight

# So many words are watched where the lesson names none.
USUALLY_WATCHED = 3


@dataclass(frozen=True, slots=True)
class Panes:
    """The addresses in sight, slot by slot; the last ``watched`` of them are the watch list."""

    addresses: tuple[int, ...]
    watched: int = 0

    def slot(self, address: int) -> int:
        """The slot of an address. ValueError where it is not in sight."""
        return self.addresses.index(address)


def panes(machine: Machine, watch: tuple[int, ...], at: int, counter: int) -> Panes:
    """The words in sight while the word at ``at`` is looked at. While that one is watched the
    window stays with the program, where the program counter is."""
    slots = slots_in_sight(machine)
    if slots == machine.memory_words:
        return Panes(tuple(range(slots)))
    watch = watch[:MOST_WATCHED]
    others = [each for each in range(machine.memory_words) if each not in watch]
    size = slots - len(watch)
    middle = next((each for each in (at, counter) if each not in watch), counter)
    # The program counter may point at a watched word: then the window is where that would be.
    place = sum(each < middle for each in others)
    first = min(max(place - size // 2 + 1, 0), len(others) - size)
    return Panes((*others[first : first + size], *watch), len(watch))


def watch_list(scene: Scene) -> tuple[int, ...]:
    """The addresses that a scene watches: those that the lesson names, or else the first of the
    data that have a label."""
    if scene.watch is not None:
        return scene.watch
    labels = scene.program.labels
    origins = scene.program.origins
    data = [each for each in sorted(labels) if each < len(origins) and origins[each].is_data]
    return tuple(data[:USUALLY_WATCHED])
