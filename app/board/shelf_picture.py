"""A small picture of what a lesson's board shows, to know it by in the list.

It is drawn from the lesson's own scenes: the longest program as rows of memory with its jumps, the
registers that come on stage, the ports and the ALU where the program uses them, and the stations of
a zoom as discs, one inside what the other leaves. 160 by 90 units.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log10

from app.lesson.model import Lesson, Scene
from app.machine.addressing import NEXT
from app.machine.characters import split_comment
from app.machine.instructions import Instruction
from app.machine.machine import Machine
from app.machine.source.disassembler import decode

WIDTH, HEIGHT = 160, 90
MOST_ROWS = 16
_REGISTERS = ("PC", "MAR", "CIR", "MDR", "ACC", "status")
_TOP, _ROW = 5.0, 5.0
_MEMORY, _WIDE = 116.0, 40.0
MOST_STATIONS = 7


@dataclass(frozen=True, slots=True)
class Bar:
    """A word of memory: its top, the width of what is written there, and whether it is data."""

    y: float
    width: float
    data: bool


@dataclass(frozen=True, slots=True)
class Disc:
    """A station: where its centre is, and its radius."""

    x: float
    radius: float


@dataclass(frozen=True, slots=True)
class ShelfPicture:
    """``jumps`` are the paths of SVG from the row of a jump to the row of its target; ``boxes``
    tells of each place for a register whether it is there."""

    words: tuple[Bar, ...]
    jumps: tuple[str, ...]
    boxes: tuple[tuple[int, int], ...]
    reads: bool
    sends: bool
    works: bool
    discs: tuple[Disc, ...]
    clock: bool


def shelf_picture(lesson: Lesson) -> ShelfPicture:
    """The picture of a lesson that has at least one scene."""
    programs = [each for each in lesson.scenes if each.program.words]
    longest = max(programs, key=lambda each: len(each.program.words), default=None)
    zoom = next((each for each in lesson.scenes if each.scale), None)
    machine = lesson.header.machine
    work = [step for each, _, _ in _instructions(machine, longest) for step in each.transfers]
    # What comes on stage at any time, at the start or by a cue.
    seen = {part for scene in programs for part in scene.parts}
    seen |= {part for scene in programs for cue in scene.cues for part in cue.actions.show}
    return ShelfPicture(
        words=_words(longest),
        jumps=_jumps(machine, longest),
        boxes=tuple(
            (at % 2, at // 2) for at, part in enumerate(_REGISTERS) if longest and part in seen
        ),
        reads=any(each.left == "input" for each in work),
        sends=any(each.target == "output" for each in work),
        works=any(each.uses_alu for each in work),
        discs=_discs(zoom),
        clock=any(scene.speed for scene in lesson.scenes),
    )


def _instructions(machine: Machine, scene: Scene | None) -> list[tuple[Instruction, int, int]]:
    """Each instruction of a scene's program, with its address and its operand."""
    found = []
    if scene:
        for at, origin in enumerate(scene.program.origins):
            instruction, operand = decode(machine, scene.program.words[at])
            if instruction and not origin.is_data:
                found.append((instruction, at, operand))
    return found


def _words(scene: Scene | None) -> tuple[Bar, ...]:
    if scene is None:
        return ()
    lines = scene.program.source.split("\n")
    bars = []
    for at, origin in enumerate(scene.program.origins[:MOST_ROWS]):
        letters = len(split_comment(lines[origin.line - 1])[0].strip())
        bars.append(Bar(_TOP + at * _ROW, min(4 + 1.6 * letters, _WIDE - 4), origin.is_data))
    return tuple(bars)


def _jumps(machine: Machine, scene: Scene | None) -> tuple[str, ...]:
    paths = []
    for instruction, at, target in _instructions(machine, scene):
        # Where an address is read or worked out, the operand is not where it goes on.
        to_operand = instruction.jumps and instruction.mode is NEXT
        if to_operand and max(at, target) < MOST_ROWS:
            start, end = (_TOP + each * _ROW + _ROW / 2 for each in (at, target))
            out = _MEMORY - 4 - min(abs(at - target), 8) * 1.2
            paths.append(
                f"M{_MEMORY} {start:g}C{out:.1f} {start:g} {out:.1f} {end:g} {_MEMORY} {end:g}"
            )
    return tuple(paths)


def _discs(scene: Scene | None) -> tuple[Disc, ...]:
    """The stations of a zoom from large to small: each power of ten makes them smaller alike, or a
    transistor could not be seen beside a fingernail."""
    if scene is None or scene.scale is None:
        return ()
    stations = scene.scale.stations[:MOST_STATIONS]
    lengths = [log10(each.length) for each in stations]
    span = max(lengths[0] - lengths[-1], 1)
    discs, x = [], 4.0
    for each in lengths:
        radius = 3 + 13 * (each - lengths[-1]) / span
        discs.append(Disc(round(x + radius, 1), round(radius, 1)))
        x += 2 * radius + 2
    # All of them in the room that there is, however many.
    share = min(104 / x, 1)
    return tuple(Disc(each.x * share, each.radius * share) for each in discs)
