"""What the header says about a lesson, changed in its own lines and nowhere else."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from app.lesson.entries import Wrong
from app.lesson.file.head import in_header
from app.lesson.header import Depth, Header, Press
from app.lesson.unseen import as_shown

from .manuscript import Manuscript
from .text import Text

# What can be changed here, in the order in which a header usually has it; others may stand between.
FIELDS = ("title", "depth", "press", "age", "minutes")
_ORDER = ("title", "machine", "depth", "press", "age", "minutes")
_QUOTED = re.compile(r"'(?:[^']|'')*'|\"(?:[^\"\\]|\\.)*\"")
_REMARK = re.compile(r"(?<!\s)\s+(?:#.*)?$")
# What starts a value that is more than words.
_SIGNS = "|>[{&*!"


@dataclass(frozen=True, slots=True)
class _Field:
    """A field of a header: its lines (from 0), and how its first one is made: what stands before
    the value, the value, and what stands behind it. It ``is_plain`` where its value stands on that
    line alone, and another can take its place."""

    first: int
    last: int
    before: str
    value: str
    behind: str
    is_plain: bool


def said(header: Header) -> dict[str, str]:
    """What a header says in the fields that can be changed here; empty for nothing."""
    return {
        "title": header.title,
        "depth": header.depth.value,
        "press": header.press.value if header.press else "",
        "age": header.age,
        "minutes": str(header.minutes or ""),
    }


def set_header(manuscript: Manuscript, wanted: Mapping[str, str]) -> Manuscript:
    """The lesson with other values in some of FIELDS, empty ones for a field that goes. What no
    screen shows is left out of them.

    Raises Wrong where the text has a fault, or the header would have one, or would not say what was
    wanted and all else as before.
    """
    lesson = manuscript.lesson
    if lesson.faults:
        raise Wrong(f"Line {lesson.faults[0].line} has a fault.", "Mend it first.")
    wanted = {name: as_shown(wanted[name]) for name in FIELDS if name in wanted}
    if not wanted.get("title", "x"):
        raise Wrong("The lesson has no title.", "Type one.")
    there = said(lesson.header)
    text, head, line = manuscript.text, manuscript.outline.head, manuscript.line
    for name in FIELDS:
        if name in wanted and wanted[name] != there[name]:
            text, at = _with(text, head, name, wanted[name])
            more = len(text.lines) - len(manuscript.text.lines)
            head, line = range(head.start, manuscript.outline.head.stop + more), at + 1
    after = replace(manuscript, source=str(text), line=line)
    if after.lesson.faults:
        fault = after.lesson.faults[0]
        raise Wrong(fault.what, fault.mend)
    if after.lesson.header != _wanted(lesson.header, wanted):
        what = "This would be read as something else."
        raise Wrong(what, "Leave odd signs out, or change it in the text.")
    return after


def _wanted(header: Header, wanted: Mapping[str, str]) -> Header:
    both = {**said(header), **wanted}
    if not both["minutes"].isascii() or not (both["minutes"].isdigit() or not both["minutes"]):
        raise Wrong(f"'{both['minutes']}' is no number of minutes.", "Write a whole number.")
    return replace(
        header,
        title=both["title"],
        depth=Depth(both["depth"]) if both["depth"] in list(Depth) else header.depth,
        press=Press(both["press"]) if both["press"] in list(Press) else None,
        age=both["age"],
        minutes=int(both["minutes"]) if both["minutes"] else None,
    )


def _with(text: Text, head: range, name: str, value: str) -> tuple[Text, int]:
    """The text with one field changed, added or taken away, and the line (from 0) where that is."""
    found = _fields(text, head)
    there = found.get(name)
    if there is None:
        earlier = [found[each] for each in _ORDER[: _ORDER.index(name)] if each in found]
        at = max((each.last + 1 for each in earlier), default=head.start)
        before = next((each.before for each in found.values()), "")
        line = f"{before[: _indent(before)]}{name}: {in_header(value)}"
        return text.replaced(at, at, [line]), at
    if not there.is_plain:
        what = f"'{name}' goes over several lines, or is written in a way of its own."
        raise Wrong(what, "Change it in the text.")
    line = f"{there.before}{in_header(value)}{there.behind}"
    return text.replaced(there.first, there.first + 1, [line] if value else []), there.first


def _fields(text: Text, head: range) -> dict[str, _Field]:
    """The fields of a header, by their names; of one that is there twice the first."""
    written = [at for at in head if text.lines[at].strip()]
    lines = [at for at in written if not text.lines[at].lstrip().startswith("#")]
    margin = min((_indent(text.lines[at]) for at in lines), default=0)
    spans: list[list[int]] = []
    for at in lines:
        line = text.lines[at]
        if _indent(line) == margin and not line.lstrip().startswith("-"):
            spans.append([at, at])
        elif spans:
            spans[-1][1] = at  # it carries the field above on
    found: dict[str, _Field] = {}
    for first, last in spans:
        name, colon, rest = text.lines[first].partition(":")
        if not colon or name.strip() in found:
            continue
        value = rest.lstrip()
        opened = value.startswith(("'", '"'))
        quoted = _QUOTED.match(value)
        stop = quoted.end() if quoted else 0
        remark = _REMARK.search(value, stop)
        end = remark.start() if remark else len(value)
        space = rest[: len(rest) - len(value)] or " "
        found[name.strip()] = _Field(
            first,
            last,
            f"{name}:{space}",
            value[:end],
            value[end:],
            last == first and (not opened or end == stop) and value[:1] not in tuple(_SIGNS),
        )
    return found


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def set_title(source: str, title: str) -> str:
    """The text of a lesson file under another title; as it was where it has no line for one.
    Whatever else is wrong with it stays."""
    manuscript = Manuscript("x", source)
    there = _fields(manuscript.text, manuscript.outline.head).get("title")
    if there is None or not there.is_plain:
        return source
    line = f"{there.before}{in_header(title)}{there.behind}"
    return str(manuscript.text.replaced(there.first, there.first + 1, [line]))
