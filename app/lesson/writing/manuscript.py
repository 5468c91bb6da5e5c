"""A text together with the lesson that it makes: what every change starts from and ends in."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from app.lesson.entries import Wrong
from app.lesson.file.reader import read_lesson
from app.lesson.model import Lesson, Scene

from .outline import Outline, Placed, outline, room_for
from .text import Text

# The texts that were read last: each change is made in the one that the change before has made, and
# forms look at it meanwhile.
_READ: deque[tuple[tuple[str, str, Mapping[str, Any]], Lesson]] = deque(maxlen=4)


@dataclass(frozen=True)
class Manuscript:
    """``source`` is the text of a lesson file, ``folder`` what its folder says for all lessons.

    A change gives another one, with the ``line`` (from 1) at which it was made.
    """

    slug: str
    source: str
    folder: Mapping[str, Any] = field(default_factory=dict)
    line: int = 1

    @cached_property
    def lesson(self) -> Lesson:
        said = self.slug, self.source, self.folder
        for known, lesson in [*_READ]:
            if known == said:
                return lesson
        lesson = read_lesson(*said)
        _READ.append((said, lesson))
        return lesson

    @cached_property
    def text(self) -> Text:
        return Text.of(self.source)

    @cached_property
    def outline(self) -> Outline:
        return outline(self.text.lines)

    def scene(self, number: int) -> Scene:
        """A scene that something can be written into.

        Raises Wrong where the text has a fault or no such scene.
        """
        faults = self.lesson.faults
        if faults:
            raise Wrong(f"Line {faults[0].line} has a fault.", "Mend it first, then say it here.")
        if not 0 <= number < len(self.lesson.scenes):
            raise Wrong("There is no such scene any more.", "Choose a place on the board again.")
        return self.lesson.scenes[number]

    def with_lines(self, first: int, last: int, lines: Sequence[str], line: int) -> Manuscript:
        """Lines (from 0) in the place of others; ``line`` (from 0) is the one to look at.

        Raises Wrong where a fault would come of it.
        """
        return self.checked(self.unread(first, last, lines, line))

    def unread(self, first: int, last: int, lines: Sequence[str], line: int) -> Manuscript:
        """The same for a text that is not the last one: it is read only where somebody asks."""
        changed = self.text.replaced(first, last, lines)
        return replace(self, source=str(changed), line=line + 1)

    def checked(self, after: Manuscript) -> Manuscript:
        """Another text that was made of this one. Raises Wrong where a fault has come of it."""
        # (Where there is no fault it need not be known whether there was one.)
        if after.lesson.faults and not self.lesson.faults:
            fault = after.lesson.faults[0]
            raise Wrong(fault.what, fault.mend)
        return after

    def with_block(self, number: int, kind: str, inside: Sequence[str]) -> Manuscript:
        """The lines of the block of a kind in a scene, in place of what it has; a new block where
        there is none, with an empty line around it."""
        return self.with_blocks(number, {kind: inside})

    def with_blocks(self, number: int, blocks: Mapping[str, Sequence[str]]) -> Manuscript:
        """Several of them, one after the other; the text is read once they are all there. The line
        to look at is that of the last."""
        after = self
        for kind, inside in blocks.items():
            after = after._with_block(number, kind, inside)
        return self.checked(after)

    def _with_block(self, number: int, kind: str, inside: Sequence[str]) -> Manuscript:
        part = self.outline.scenes[number]
        there = part.first(kind)
        if there:
            return self.unread(there.open + 1, there.close, inside, there.open + 1)
        at = room_for(self.text.lines, part, kind)
        return self._with_own_lines(at, _block(kind, inside), 1)

    def with_new_block(self, at: int, kind: str, inside: Sequence[str]) -> Manuscript:
        """A new block before a line (from 0)."""
        return self.with_own_lines(at, _block(kind, inside), 1)

    def with_own_lines(self, at: int, lines: Sequence[str], look: int = 0) -> Manuscript:
        """Lines that have an empty one before and after them, put before a line (from 0)."""
        return self.checked(self._with_own_lines(at, lines, look))

    def _with_own_lines(self, at: int, lines: Sequence[str], look: int) -> Manuscript:
        there = self.text.lines
        before = [""] if at and there[at - 1].strip() else []
        at_end = at >= len(there) - (not there[-1])
        after = [""] if not at_end and there[at].strip() else []
        return self.unread(at, at, [*before, *lines, *after], at + len(before) + look)

    def without_block(self, block: Placed) -> Manuscript:
        """The text without a block, and without the empty line that only it needed."""
        return self.checked(self.unread_without(block))

    def unread_without(self, block: Placed) -> Manuscript:
        """The same for a text that is not the last one."""
        lines = self.text.lines
        first, last = block.open, block.close + 1
        alone = first and not lines[first - 1].strip()
        if alone and (last >= len(lines) or not lines[last].strip()):
            if last < len(lines) - 1:
                last += 1
            else:
                first -= 1
        return self.unread(first, last, [], max(first - 1, 0))


def _block(kind: str, inside: Sequence[str]) -> list[str]:
    return [f"```{kind}", *inside, "```"]
