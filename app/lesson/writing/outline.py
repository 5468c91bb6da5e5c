"""Which lines of a lesson file belong to which scene and block, as the reader takes them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from app.lesson.file.fences import tidy
from app.lesson.file.prose import outline_of
from app.lesson.file.reader import MOST_LINES, RULE
from app.lesson.file.scenes import BLOCKS, MOST_PROBLEMS

# The blocks of a scene in the order in which a lesson is read.
ORDER = (
    *("scale", "program", "change", "inputs", "interrupts", "pipeline", "compare", "show", "watch"),
    *("cues", "question", "speed", "task", "solution", "homework"),
)


@dataclass(frozen=True, slots=True)
class Placed:
    """A block: the lines (from 0) that open and close it; its own lines stand between them."""

    kind: str
    open: int
    close: int

    @property
    def inside(self) -> range:
        return range(self.open + 1, self.close)


@dataclass(slots=True)
class Part:
    """A scene: the line of its heading, the line after its last one, and its blocks."""

    heading: int
    end: int
    blocks: list[Placed] = field(default_factory=list)

    def first(self, kind: str) -> Placed | None:
        return next((each for each in self.blocks if each.kind == kind), None)


@dataclass(frozen=True, slots=True)
class Outline:
    """``head`` are the lines of the header, without the two that hold it."""

    head: range
    scenes: tuple[Part, ...]

    def scene_of(self, line: int) -> int | None:
        """The number of the scene that a line (from 0) belongs to; None before the first."""
        found = [at for at, each in enumerate(self.scenes) if each.heading <= line]
        return found[-1] if found else None

    def block_of(self, line: int) -> Placed | None:
        """The block that a line (from 0) belongs to, its first and last line included."""
        number = self.scene_of(line)
        blocks = self.scenes[number].blocks if number is not None else []
        return next((each for each in blocks if each.open <= line <= each.close), None)


def outline(lines: Sequence[str]) -> Outline:
    """The outline of the lines of a lesson. Of one with faults, as far as it can be seen; of one
    with more lines than are read, nothing."""
    if len(lines) > MOST_LINES:
        return Outline(range(0), ())
    start = next((at for at, each in enumerate(lines) if each.strip()), None)
    if start is None or not RULE.fullmatch(lines[start]):
        return Outline(range(0), ())
    rules = (at for at in range(start + 1, len(lines)) if RULE.fullmatch(lines[at]))
    stop = next(rules, None)
    if stop is None:
        return Outline(range(start + 1, len(lines)), ())
    scenes: list[Part] = []
    body = tidy(list(lines[stop + 1 :]), 1, BLOCKS, MOST_PROBLEMS + 1).lines
    for token in outline_of("\n".join(body)):
        if token.level or not token.lines:
            continue
        first, last = (each + stop + 1 for each in token.lines)
        if token.type == "heading_open" and token.tag == "h1":
            if scenes:
                scenes[-1].end = first
            scenes.append(Part(first, len(lines)))
        elif token.type == "fence" and scenes and token.info.strip():
            kind = token.info.split()[0].casefold()
            if kind in BLOCKS:
                scenes[-1].blocks.append(Placed(kind, first, last - 1))
    return Outline(range(start + 1, stop), tuple(scenes))


def room_for(lines: Sequence[str], scene: Part, kind: str) -> int:
    """The line (from 0) before which a new block of a kind goes into a scene."""
    place = ORDER.index(kind)
    before = [each for each in scene.blocks if ORDER.index(each.kind) <= place]
    if before:
        return before[-1].close + 1
    if scene.blocks:
        return scene.blocks[0].open
    written = (at for at in range(scene.end - 1, scene.heading - 1, -1) if lines[at].strip())
    return next(written, scene.heading) + 1
