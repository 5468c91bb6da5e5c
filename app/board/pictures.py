"""The vectors of the scale scenes that are too many to be written by hand.

Everything is one unit wide, round the origin, as templates/board/shapes.html draws a station. They
are made up: no die, and no hair, looks just so.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import cache
from math import cos, pi, sin

_SEED = 4


@dataclass(frozen=True, slots=True)
class Block:
    """A rectangle of a floor plan; ``shade`` is one of four."""

    x: float
    y: float
    width: float
    height: float
    shade: int


@dataclass(frozen=True, slots=True)
class Zone:
    """A named part of a die, with the small blocks that fill it."""

    name: str
    x: float
    y: float
    width: float
    height: float
    blocks: tuple[Block, ...]

    @property
    def centre(self) -> float:
        return self.x + self.width / 2

    @property
    def middle(self) -> float:
        return self.y + self.height / 2


@dataclass(frozen=True, slots=True)
class Die:
    """The floor plan of a processor's die: its zones, and the pads along its edges."""

    zones: tuple[Zone, ...]
    pads: tuple[Block, ...]


@cache
def die() -> Die:
    """A floor plan with the parts that the board has, and main memory's nearest copy."""
    chance = random.Random(_SEED)
    zones = (
        # Memory on a die is one cell over and over.
        Zone("memory", -0.43, -0.43, 0.4, 0.86, _grid(-0.43, -0.43, 0.4, 0.86, 16, 30)),
        Zone("control unit", 0.0, -0.43, 0.43, 0.38, _random(chance, 0.0, -0.43, 0.43, 0.38, 6)),
        Zone("registers", 0.0, -0.02, 0.43, 0.14, _grid(0.0, -0.02, 0.43, 0.14, 24, 4)),
        Zone("ALU", 0.0, 0.15, 0.43, 0.28, _grid(0.0, 0.15, 0.43, 0.28, 8, 6)),
    )
    return Die(zones, tuple(_pads()))


def _grid(
    left: float, top: float, width: float, height: float, across: int, down: int
) -> tuple[Block, ...]:
    """Equal cells in rows, all of one shade but for every fourth row."""
    wide, high = width / across, height / down
    return tuple(
        Block(left + x * wide, top + y * high, wide * 0.8, high * 0.7, 1 if y % 4 else 3)
        for y in range(down)
        for x in range(across)
    )


def _random(
    chance: random.Random, x: float, y: float, width: float, height: float, depth: int
) -> tuple[Block, ...]:
    """An area split again and again, as logic looks that follows no rule."""
    if depth == 0:
        gap = 0.004
        return (
            Block(x + gap, y + gap, width - 2 * gap, height - 2 * gap, chance.choice((1, 2, 2, 3))),
        )
    share = chance.uniform(0.35, 0.65)
    if width >= height:
        first, second = (x, y, width * share, height), (x + width * share, y, width * (1 - share))
        return _random(chance, *first, depth - 1) + _random(chance, *second, height, depth - 1)
    first, rest = (x, y, width, height * share), (x, y + height * share, width, height)
    left, top, wide, high = rest
    return _random(chance, *first, depth - 1) + _random(
        chance, left, top, wide, high * (1 - share), depth - 1
    )


def _pads() -> list[Block]:
    """Where the wires to the outside are fastened, along all four edges."""
    found = []
    size, count = 0.022, 18
    for at in range(count):
        along = -0.43 + at * 0.86 / (count - 1) - size / 2
        for edge in (-0.485, 0.485 - size):
            found.append(Block(along, edge, size, size, 2))
            found.append(Block(edge, along, size, size, 2))
    return found


@cache
def ragged() -> str:
    """The outline of a printed dot, as an SVG path: ink runs a little into the paper."""
    chance = random.Random(_SEED)
    corners, points = [], 90
    for at in range(points):
        radius = 0.5 * (1 - chance.uniform(0, 0.025))
        angle = 2 * pi * at / points
        corners.append(f"{radius * cos(angle):.3f} {radius * sin(angle):.3f}")
    return f"M{'L'.join(corners)}Z"


@cache
def scales(rows: int = 36) -> tuple[str, ...]:
    """The overlapping scales of a hair below its cut end, as SVG paths: one a row of scales."""
    chance = random.Random(_SEED)
    found = []
    for row in range(rows):
        top = -0.12 + row * 0.11
        x, path = -0.5, f"M-0.5 {top:.3f}"
        while x < 0.5:
            width = min(chance.uniform(0.14, 0.3), 0.5 - x)
            dip = top + chance.uniform(0.05, 0.11)
            # The rows bend as the round side of the hair does.
            after = top + 0.12 * (1 - (2 * (x + width)) ** 2) * 0.5
            path += f"Q{x + width / 2:.3f} {dip + 0.03:.3f} {x + width:.3f} {after:.3f}"
            x += width
            if x < 0.49:
                path += f"l0 {-chance.uniform(0.02, 0.05):.3f}"
        found.append(path)
    return tuple(found)
