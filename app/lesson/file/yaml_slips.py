"""Slips in the lines of a header, told in plain words before YAML reads them.

YAML tells them in words of its own, often at another line, or takes them for something that
nobody meant. Each is told here once, and the line is put right, so that all the rest is read.
"""

from __future__ import annotations

import re
from collections.abc import Collection

from app.lesson.unseen import REFUSED, in_line, stands_here
from app.machine.source.problems import MOST_FAULTS, Problem, code_of

# What no header can have, and where YAML ends a line and nobody sees one.
_UNSEEN = re.compile(f"{REFUSED.pattern}|[\x85\u2028\u2029]")
# The fields that hold words, and those whose lines are words of the writer.
WORDS = ("title", "age", "objectives", "terms")
_FIELD = re.compile(r"(\s*)(\w+(?: moves)?)\s*:(.*)")
_ITEM = re.compile(r"(\s*-\s+)(.*)")
_TERM = re.compile(r"(\s+[^\s:#'\"-][^:#]*:\s+)(.*)")
# Where a plain value ends in YAML: at a colon before a space, or at a '#' after one.
_COLON = re.compile(r":(?=\s|$)")
_CUT = re.compile(r"(?<!\s)\s+#")
# What has a meaning of its own at the start of a value.
_SIGNS = "[{|>&*!%@`?"
# What stands in quotes, to the one that closes them or to the end of a line.
_SINGLE = re.compile(r"(?:[^']|'')*+")
_DOUBLE = re.compile(r'(?:[^"\\]|\\.|\\$)*+')
# So much is shown of what comes after a sign that cannot be shown.
_SHOWN = 12
_CURLY = re.compile(r"[“‘„]([^“”„]*)[”’“‘]")


def tidy_header(text: str, fields: Collection[str]) -> tuple[str, list[Problem]]:
    """The text of a header with its slips put right, and what they are.

    The problems' lines count from 1 in the text. ``fields`` are the names of its fields.
    """
    found = _Reader(text.split("\n"), fields)
    found.read()
    return "\n".join(found.lines), found.problems


class _Reader:
    def __init__(self, lines: list[str], fields: Collection[str]) -> None:
        self.lines = lines
        self.fields = fields
        self.problems: list[Problem] = []
        self.within = ""  # the field that the line belongs to
        self.margin = 0
        self.dash: int | None = None  # where the lines of the list start, while there is one

    def read(self) -> None:
        for at, line in enumerate(self.lines):
            if len(self.problems) < MOST_FAULTS and (found := _UNSEEN.search(line)):
                self._refused(at, found.start())
        written = [each for each in self.lines if each.strip()]
        fields = (each for each in written if not each.lstrip().startswith("#"))
        self.margin = min(map(_indent, fields), default=0)
        at = 0
        while at < len(self.lines) and len(self.problems) < MOST_FAULTS:
            line = self.lines[at]
            if line.startswith("%"):
                what = "This line starts with '%', which a line of a header cannot."
                mend = "Take it out, or write '#' before it: then it is a remark."
                self._tell(at, 0, len(line.rstrip()), what, mend)
                self.lines[at] = ""
            elif line.strip() and not line.lstrip().startswith("#"):
                self._spaces(at)
                self._field(at)
                self._item(at)
                at = self._value(at)
            at += 1

    def _tell(
        self, at: int, start: int, end: int, what: str, mend: str, warning: bool = False
    ) -> None:
        length = max(end - start, 1)
        self.problems.append(Problem(at + 1, start + 1, length, what, mend, warning))

    def _refused(self, at: int, start: int) -> None:
        """A sign that nobody sees, and that no header can have."""
        line = self.lines[at]
        rest = _UNSEEN.sub("", line[start:]).rstrip()
        place = f"right before '{rest[:_SHOWN]}'" if rest else "at the end of the line"
        what = stands_here(code_of(line[start]))
        self._tell(at, start, start + 1, what, f"Take it out: it stands {place}.")
        self.lines[at] = _UNSEEN.sub("", line)

    def _spaces(self, at: int) -> None:
        """Tabs before a line; those within it are as good as spaces."""
        line = self.lines[at]
        tab = line[: _indent(line)].find("\t")
        if tab >= 0:
            what = "This line starts with a tab, and a header takes only spaces."
            field = _FIELD.fullmatch(line)
            named = field and field[2] in self.fields and self.within != "terms"
            mend = "Start it at the left edge." if named else "Write two spaces instead."
            self._tell(at, tab, tab + 1, what, mend)
            if named:
                self.lines[at] = line.lstrip()
        self.lines[at] = self.lines[at].replace("\t", " ")

    def _field(self, at: int) -> None:
        """Whether a line starts a field as it should."""
        line = self.lines[at]
        field = _FIELD.fullmatch(line)
        if not field:
            return
        space, name, value = field.groups()
        start, end = field.span(2)
        if len(space) > self.margin:
            if name not in self.fields or self.within == "terms":
                return
            what = f"This line is indented, so '{name}' does not count as a part of the header."
            self._tell(at, start, end, what, "Start it at the left edge.")
            line = self.lines[at] = " " * self.margin + line.lstrip()
        self.within = name
        if name in self.fields and value[:1].strip():
            what = f"There is no space after the colon of '{name}'."
            self._tell(at, start, end, what, f"Write '{name}: {value}'.")
            colon = line.index(":")
            self.lines[at] = f"{line[:colon]}: {value}"

    def _item(self, at: int) -> None:
        """Whether a line of a list starts below the one above: further right it would be more of
        the words of that."""
        line = self.lines[at]
        item = _ITEM.fullmatch(line)
        if item and self.dash is not None and _indent(line) > self.dash:
            what = "This line starts further right than the one above, so it would go on with that."
            start = _indent(line)
            self._tell(at, start, start + 1, what, "Start it right below the dash above.")
            self.lines[at] = " " * self.dash + line.lstrip()
        elif item:
            self.dash = _indent(line) if item[2].strip() else None
        elif _indent(line) <= self.margin:
            self.dash = None

    def _value(self, at: int) -> int:
        """Look at what a line says; the place of the last line that it goes on to."""
        line = self.lines[at]
        found = _ITEM.fullmatch(line)
        if not found and _indent(line) > self.margin:
            found = _TERM.fullmatch(line) if self.within == "terms" else None
        elif not found:
            found = re.fullmatch(r"(\s*\w+(?: moves)?\s*:\s+)(.*)", line)
        if not found or not found[2].strip():
            return at
        start, value = len(found[1]), found[2].rstrip()
        if value[0] in "'\"":
            closed = self._closed(at, start, value[0])
            if closed is not None:
                self._behind_quotes(*closed)
                return closed[0]
            what = "This quotation mark has no second one to close it."
            mend = "Write one more at the end of the words, or take it away."
            self._tell(at, start, start + 1, what, mend)
            value = " " + value[1:]
        elif value[0] in _SIGNS:
            return at
        self.lines[at] = found[1] + self._plain(at, start, value)
        return at

    def _behind_quotes(self, at: int, start: int) -> None:
        """What comes right behind words in quotes, and is a remark."""
        rest = self.lines[at][start:].rstrip()
        if self.within in WORDS and rest.startswith("#"):
            what = "What comes after the '#' is left out, for it counts as a remark."
            mend = "Take it into the quotes to keep it, or write a space before the '#'."
            self._tell(at, start, start + len(rest), what, mend, warning=True)

    def _closed(self, at: int, start: int, mark: str) -> tuple[int, int] | None:
        """The line on which a quoted value is closed, and the place behind it there; None where it
        is not. It may go over empty lines and over those that look like a list, but a field is one
        of the header."""
        # Two single ones in a row, or one with a backslash before it, stand for themselves.
        quoted = _SINGLE if mark == "'" else _DOUBLE
        place = start + 1
        for here in range(at, len(self.lines)):
            line = self.lines[here]
            if here > at:
                place = 0
                field = _FIELD.fullmatch(line)
                if field and field[2] in self.fields and _indent(line) <= self.margin:
                    return None
            end = quoted.match(line, place).end()  # type: ignore[union-attr]
            if line[end : end + 1] == mark:
                # In another line that may be an apostrophe, or start something of its own.
                goes_on = here > at and line[end + 1 : end + 2].isalnum()
                return None if goes_on else (here, end + 1)
        return None

    def _plain(self, at: int, start: int, value: str) -> str:
        """Look at a value without quotes; the value as it was meant."""
        cut = _CUT.search(value)
        words = value[: cut.start()] if cut else value
        colon = _COLON.search(words)
        name = self.within
        if colon and not (name == "terms" and _ITEM.fullmatch(self.lines[at])):
            # A term that stands behind the name of the field is told as one that does not.
            if name != "terms" or _indent(self.lines[at]) > self.margin:
                what = f"The words of '{name}' have a colon of their own."
                mend = f"Put them in quotes: {_in_quotes(in_line(words))}."
                self._tell(at, start + colon.start(), start + colon.end(), what, mend)
            return _in_quotes(words) + value[len(words) :]
        # A remark stands further off, as a rule.
        if cut and name in WORDS and len(cut[0]) == 2:
            what = "What comes after the '#' is left out, for it counts as a remark."
            mend = "Put the words in quotes to keep it, or two spaces before the '#'."
            self._tell(at, start + cut.end() - 1, start + len(value), what, mend, warning=True)
        curly = _CURLY.fullmatch(words)
        if curly and name in WORDS:
            what = "These quotation marks will be shown with the words."
            mend = f"Leave them out: {curly[1]}"
            self._tell(at, start, start + len(words), what, mend, warning=True)
        return value


def _in_quotes(words: str) -> str:
    """Words in quotes that leave them as they are: in double ones a backslash means something."""
    if '"' not in words and "\\" not in words:
        return f'"{words}"'
    return "'" + words.replace("'", "''") + "'"


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())
