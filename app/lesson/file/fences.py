"""Slips in the lines of a lesson that Markdown would take for text, found before it reads them.

A block that is not closed would swallow the next one, and a line that was meant to start a block
or a scene would be shown as words. Each such slip is told once, where it was made; then the lines
are put right as far as can be guessed, so that it causes no other complaints.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass, field

from app.lesson.unseen import first_unseen, without_unseen
from app.machine.source.problems import Problem, shortened

# Markdown's own rule for fences: at most three spaces before it, no backtick after it.
# (A '+' after a repetition: what it took it keeps, so that no line is looked at twice.)
_FENCE = re.compile(r" {0,3}(`{3,}+|~{3,}+)([^`]*)")
_HEADING = re.compile(r"#[ \t]+\S.*")
_HEADING_WITHOUT_SPACE = re.compile(r"#([^\W\d].*)")
# What is typed, or made by an editor, in place of three backticks.
_MARKS = r"[\\`~'\"´‘’‚‛“”„]"
_START = re.compile(rf"(\s*+)((?:{_MARKS})*+)\s*+(\w++)\s*+")
# So much is shown of a line that has a sign that cannot be.
_SHOWN = 60
_END = re.compile(rf"\s*+{_MARKS}{{3,}}+\s*+")


@dataclass(slots=True)
class Tidied:
    """The ``lines`` to read in place of those of the file, as many, and the places (from 0) of
    what was ``taken_as_text``: the scenes there lack something that their writer believes in."""

    lines: list[str]
    problems: list[Problem] = field(default_factory=list)
    taken_as_text: set[int] = field(default_factory=set)


def tidy(lines: list[str], first_line: int, kinds: Collection[str], most: int) -> Tidied:
    """Look at the lines of a lesson without its header, and tell its slips; of those that are
    faults at most ``most``.

    ``first_line`` is the line of the file that they start on, ``kinds`` the blocks that there are.
    """
    found = _Reader([*lines], first_line, kinds, Tidied([*lines]))
    found.look_for_unseen()
    at = 0
    while at < len(lines) and found.faults < most:
        at = found.look(at)
    return found.tidied


@dataclass(slots=True)
class _Reader:
    lines: list[str]
    first_line: int
    kinds: Collection[str]
    tidied: Tidied
    faults: int = 0
    # The lines that are fences or headings for every eye, as they are without what nobody sees.
    seen_as: dict[int, str] = field(default_factory=dict)

    def look_for_unseen(self) -> None:
        """Find those lines: each is looked at once here, and told where it is come to."""
        for at, line in enumerate(self.lines):
            plain = without_unseen(line)
            if plain == line:
                continue
            meant, there = _FENCE.fullmatch(plain), _FENCE.fullmatch(line)
            if meant:
                kind = _kind(meant[2])
                is_so = there and there[1] == meant[1] and _kind(there[2]) == kind
                if not is_so and (not kind or kind in self.kinds):
                    self.seen_as[at] = plain
            elif _HEADING.fullmatch(plain) and not _HEADING.fullmatch(line):
                self.seen_as[at] = plain

    def _as_seen(self, at: int, so_it: str) -> None:
        """Tell a sign that nobody sees, and go on as if it were not there."""
        place, code = first_unseen(self.lines[at])
        plain = self.seen_as.pop(at)
        what = f"A sign that nobody sees ({code}) stands in this line, so it {so_it}."
        mend = f"Take it out, so that the line is just '{shortened(plain.strip(), _SHOWN)}'."
        self.faults += 1
        self.tidied.problems.append(Problem(self.first_line + at, place + 1, 1, what, mend))
        self.lines[at] = self.tidied.lines[at] = plain

    def look(self, at: int) -> int:
        """Look at a line outside all blocks; the place of the next one to look at."""
        if at in self.seen_as:
            meant = _FENCE.fullmatch(self.seen_as[at])
            kind = _kind(meant[2]) if meant else ""
            if kind or not meant:
                self._as_seen(at, f"starts no '{kind}' block" if kind else "starts no scene")
        fence = _FENCE.fullmatch(self.lines[at])
        if fence:
            return self._block(at, fence[1], _kind(fence[2]))
        if self._meant(at):
            return self._none(at)
        heading = _HEADING_WITHOUT_SPACE.fullmatch(self.lines[at])
        if heading and self._stands_alone(at):
            what = "This line starts with '#' but is no heading, so it starts no scene."
            self._tell(at, what, f"Write a space after the '#': '# {heading[1].strip()}'.")
            self.tidied.lines[at] = f"# {heading[1]}"
        return at + 1

    def _tell(self, at: int, what: str, mend: str, warning: bool = False) -> None:
        text = self.lines[at]
        column = len(text) - len(text.lstrip()) + 1
        length = max(len(text.strip()), 1)
        line = self.first_line + at
        self.faults += not warning
        self.tidied.problems.append(Problem(line, column, length, what, mend, warning))

    # A block.

    def _block(self, at: int, mark: str, kind: str) -> int:
        """Go to the end of a block, or to where it surely should have ended."""
        heading = None
        stop = len(self.lines)
        for here in range(at + 1, len(self.lines)):
            line = self.lines[here]
            fence = _FENCE.fullmatch(self.seen_as.get(here, line) if kind in self.kinds else line)
            # A longer fence holds shorter ones on purpose.
            if fence and fence[1].startswith(mark):
                inner = _kind(fence[2])
                if not inner:
                    if here in self.seen_as:
                        self._as_seen(here, f"does not end the '{kind}' block")
                    if not kind:
                        self._without_kind(at)
                    return here + 1
                if kind or inner in self.kinds:
                    stop = here
                    break
            elif (
                heading is None
                and _HEADING.fullmatch(self.lines[here])
                and not self.lines[here - 1].strip()
            ):
                heading = here
        stop = stop if heading is None else heading
        before = f" before line {self.first_line + stop}" if stop < len(self.lines) else ""
        if kind:
            what = f"The '{kind}' block of line {self.first_line + at} has no end{before}."
            self._tell(at, what, f"Write a line of '{mark}' after its last line.")
            self.tidied.lines[at:stop] = [""] * (stop - at)
        elif before:
            what = f"This line starts a block without a kind, which has no end{before}."
            mend = f"Take it away if it is one too many; else write the kind after '{mark}'."
            self._tell(at, what, mend)
            self.tidied.lines[at] = ""
        else:
            self._without_kind(at)
        return stop

    def _without_kind(self, at: int) -> None:
        what = "This block has no kind, so it is only text in the notes."
        mend = f"Write the kind after the backticks, as in '```{next(iter(self.kinds))}'."
        self._tell(at, what, mend, warning=True)
        self.tidied.taken_as_text.add(at)

    # What was meant to start one.

    def _meant(self, at: int) -> re.Match[str] | None:
        """Whether a line that is no fence was surely meant to start a block."""
        found = _START.fullmatch(self.lines[at])
        if not found or found[3].casefold() not in self.kinds:
            return None
        if found[2]:
            return found
        # The bare word: at the start of a paragraph that goes on.
        after = self.lines[at + 1] if at + 1 < len(self.lines) else ""
        before = self.lines[at - 1] if at else ""
        return found if not found[1] and after.strip() and not before.strip() else None

    def _none(self, at: int) -> int:
        found = self._meant(at)
        assert found
        marks, kind = found[2], found[3].casefold()
        if "\\" in marks:
            why = "there are backslashes before the backticks"
        elif set(marks) - set("`~"):
            why = "these are quotation marks, not backticks"
        elif not marks:
            why = "there are no backticks"
        elif len(marks) < 3:
            why = "there are fewer than three backticks"
        else:
            why = "it is indented too far"
        what = f"This looks like the start of a '{kind}' block, but it is only text: {why}."
        mend = f"Write three backticks at the left edge and the kind after them: '```{kind}'."
        self._tell(at, what, mend, warning=True)
        self.tidied.taken_as_text.add(at)
        for here in range(at + 1, len(self.lines)):
            line = self.lines[here]
            if _END.fullmatch(line):
                if _FENCE.fullmatch(line):
                    self.tidied.lines[here] = ""  # else it would start a block
                return here + 1
            if _FENCE.fullmatch(line) or self._meant(here) or line.startswith("#"):
                return here
        return len(self.lines)

    def _stands_alone(self, at: int) -> bool:
        """Whether a line has nothing, or a block, before and after it."""
        around = [self.lines[each] for each in (at - 1, at + 1) if 0 <= each < len(self.lines)]
        return all(not each.strip() or _FENCE.fullmatch(each) for each in around)


def _kind(info: str) -> str:
    """The first word after a fence, which says what the block is."""
    return info.split()[0].casefold() if info.split() else ""
