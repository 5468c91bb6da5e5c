"""The header of a lesson file: a few lines of YAML between two lines of dashes."""

from __future__ import annotations

import re
import stat
from codecs import BOM_UTF8
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml

from app.lesson.blocks.cache import read_cache, read_memory_ticks
from app.lesson.blocks.show import read_show
from app.lesson.entries import Wrong
from app.lesson.header import Depth, Header, Press, Symbols
from app.lesson.unseen import REFUSED, as_shown, in_line, without_unseen
from app.machine.growing import PARTS as GROWN_BY
from app.machine.growing import grown
from app.machine.machine import EIGHT_BIT, MACHINES, machine_with
from app.machine.source.problems import MOST_FAULTS, Problem, code_of, listed, nearest, place_at
from app.machine.telling.wording import wording_of
from app.machine.words import parse_number

from .failures import failed
from .habits import (
    LARGEST_SYLLABUS,
    SYLLABUS,
    read_counted,
    read_counter,
    read_parts,
    read_words,
    syllabus_beside,
)
from .yaml_slips import WORDS, tidy_header

LONGEST_LESSON = 300
LARGEST_LIMIT = 1_000_000
LONGEST_HEADER = 16_000
LONGEST_TITLE = 120
LONGEST_TERM = 60
LONGEST_SENTENCE = 400
MOST_LISTED = 40  # objectives, and terms
# A list stands in a field, and that in the header; YAML itself goes down until there is no more
# room to.
_DEEPEST = 8
# Words that other readers of YAML take for something else.
_NOT_WORDS = ("yes", "no", "on", "off", "true", "false", "null", "y", "n")


def _text(value: Any) -> str:
    if isinstance(value, list) and value:
        mend = "Write the words alone, without brackets or a dash of their own."
        raise Wrong("A list stands where words are needed.", mend)
    if isinstance(value, dict) and value:
        what = "Where words are needed there is a name with a colon."
        raise Wrong(what, "Put all the words in quotes, the colon too.")
    if not isinstance(value, str) or not value.strip():
        raise Wrong("It needs some words.", "Write them after the colon.")
    try:
        # A sign beyond the first 65,536 may be written as its two halves.
        words = value.encode("utf-16", "surrogatepass").decode("utf-16")
    except UnicodeDecodeError as error:
        what = "It has half of a character, written with a backslash."
        raise Wrong(what, "Write the character itself.") from error
    if found := REFUSED.search(words):
        # As it is, it would have been told where it stands.
        what = f"It has a sign that nobody sees ({code_of(found[0])}), written with a backslash."
        raise Wrong(what, "Leave it out.")
    return as_shown(words) or _text(None)


def _words(longest: int) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        text = _text(value)
        if len(text) > longest:
            what = f"It has {len(text)} letters, too many to be shown."
            raise Wrong(what, f"Write it in at most {longest}.")
        return text

    return read


def _choice(value: Any, known: list[str]) -> str:
    text = _text(value)
    if text.casefold() in known:
        return text.casefold()
    near = nearest(text, known)
    if near and re.sub(r"\D", "", text) != re.sub(r"\D", "", near):
        near = None  # another number is not a slip of the hand: '32-bit' is no '8-bit'
    mend = f"Did you mean {near}?" if near else f"Write {listed(known)}."
    raise Wrong(f"'{text}' is not one of the choices.", mend)


def _machine(value: Any) -> Any:
    return MACHINES[_choice(value, list(MACHINES))]


def _depth(value: Any) -> Any:
    return Depth(_choice(value, [each.value for each in Depth]))


def _press(value: Any) -> Any:
    return Press(_choice(value, [each.value for each in Press]))


def _yes(value: Any) -> bool:
    return _choice(value, ["yes", "no"]) == "yes"


def _gates(value: Any) -> Any:
    return Symbols(_choice(value, [each.value for each in Symbols]))


def _show(value: Any) -> frozenset[str]:
    # For which machine, another line may say.
    parts, problems = read_show(_text(value), 1, grown(frozenset(GROWN_BY)))
    for problem in problems:
        raise Wrong(problem.what, problem.mend)
    return parts


def _whole(largest: int) -> Callable[[Any], int]:
    def read(value: Any) -> int:
        text = _text(value)
        try:
            number = parse_number(text)
        except ValueError:
            number = 0
        if 1 <= number <= largest:
            return number
        raise Wrong(
            f"'{text}' is not a number of that kind.",
            f"Write a whole number from 1 to {largest}.",
        )

    return read


_term = _words(LONGEST_TERM)
_sentence = _words(LONGEST_SENTENCE)


def _not_too_many(listed: Any) -> None:
    if len(listed) > MOST_LISTED:
        raise Wrong(f"It has {len(listed)} of them.", f"Write at most {MOST_LISTED}.")


def _list(value: Any) -> tuple[str, ...]:
    if isinstance(value, list) and value:
        _not_too_many(value)
        return tuple(_sentence(each) for each in value)
    raise Wrong("It needs a list.", "Write each one on a line of its own that starts with '- '.")


def _terms(value: Any) -> tuple[tuple[str, str], ...]:
    """Key terms: a list of them, or lines of ``term: what it means``."""
    if isinstance(value, dict) and value:
        _not_too_many(value)
        return tuple((_term(term), _sentence(meaning)) for term, meaning in value.items())
    if isinstance(value, list) and value:
        _not_too_many(value)
        if any(isinstance(each, dict) for each in value):
            mend = (
                "Write each one with its meaning on an indented line, without dashes or brackets,"
                " as in 'opcode: what to do'."
            )
            raise Wrong("A term that has a meaning stands in a list.", mend)
        return tuple((_term(each), "") for each in value)
    raise Wrong(
        "It needs the terms.", "Write each one on an indented line, as in 'opcode: what to do'."
    )


# Of all of YAML only words, lists and mappings: 'age: 10:30' and 'title: On' mean what they say.
_Loader = yaml.BaseLoader

# What the header may say, and how each is read.
FIELDS: dict[str, Callable[[Any], Any]] = {
    "title": _words(LONGEST_TITLE),
    "machine": _machine,
    "depth": _depth,
    "press": _press,
    "show": _show,
    "age": _words(LONGEST_TERM),
    "minutes": _whole(LONGEST_LESSON),
    "objectives": _list,
    "limit": _whole(LARGEST_LIMIT),
    "terms": _terms,
    "words": read_words,
    "counter moves": read_counter,
    "with": read_parts,
    "count": read_counted,
    "gates": _gates,
    "cache": lambda value: read_cache(_text(value)),
    "memory takes": lambda value: read_memory_ticks(_text(value)),
    "characters": _yes,
}


def says_something(name: str, value: str) -> bool:
    """Whether a line of a name and a value would say something of a lesson in its header, that it
    can hardly say elsewhere. (Words of any kind may stand in other places as well.)"""
    if name in WORDS or name not in FIELDS:
        return False
    try:
        FIELDS[name](value)
    except (Wrong, ValueError):
        return False
    return True


# Those of them that may be said for a whole folder.
FOLDER_FIELDS = ("words", "counter moves", "gates")


def read_header(
    text: str, first_line: int, known: Collection[str] = tuple(FIELDS)
) -> tuple[dict[str, Any], list[Problem]]:
    """The fields of a header, and the problems in it.

    ``first_line`` is the line of the file (from 1) that ``text`` starts on, ``known`` the fields
    that it may have. A field with a problem is left out.
    """
    shift = first_line - 1
    if len(text) > LONGEST_HEADER:
        what = f"The header is {len(text)} characters long."
        mend = f"Keep it under {LONGEST_HEADER}; what you say belongs in the notes of a scene."
        return _machine_of(text), [Problem(max(shift, 1), 1, 3, what, mend)]
    text, slips = tidy_header(text, known)
    problems = [each.moved(shift) for each in slips]
    try:
        node = _compose(text)
    except _Unreadable as error:
        if not any(not each.warning for each in problems):
            # (By our own count: that of YAML has more line ends.)
            line, column = place_at(text, error.index)
            problems.append(Problem(line, column, 1, error.what, error.mend).moved(shift))
        return _machine_of(text), problems
    if node is None:
        return {}, [*problems, *_untitled(known, first_line)]
    if not isinstance(node, yaml.MappingNode):
        what = "The header is not made of lines like 'name: words'."
        mend = "Start with 'title: The name of the lesson'."
        if "title" not in known:
            mend = "Write for example 'words: decimal, IR, MBR'."
        place = place_at(text, node.start_mark.index)
        return {}, [*problems, Problem(*place, 1, what, mend).moved(shift)]
    fields: dict[str, Any] = {}
    for key, value in node.value:
        if len(problems) >= MOST_FAULTS:
            what = f"The header has {MOST_FAULTS} faults before this, so the rest was not read."
            line, column = place_at(text, key.start_mark.index)
            problems.append(Problem(line, column, 1, what, "Mend those first.").moved(shift))
            break
        name = str(key.value) if isinstance(key, yaml.ScalarNode) else "?"

        def tell(place: yaml.Node, what: str, mend: str) -> None:
            line, column = place_at(text, place.start_mark.index)
            last_line, last_column = place_at(text, place.end_mark.index)
            length = max(last_column - column, 1) if last_line == line else 1
            problems.append(Problem(line, column, length, what, mend).moved(shift))

        if name not in known:
            near = nearest(name, known)
            mend = f"Did you mean {near}?" if near else f"The header may have {listed(known)}."
            tell(key, f"The header has no field called '{name}'.", mend)
        elif name in fields:
            tell(key, f"The header says '{name}' twice.", "Leave one of them out.")
        elif twice := _said_twice(value):
            what = f"The header's '{name}' says '{twice.value}' twice."
            tell(twice, what, "Leave one of them out.")
        else:
            try:
                plain = _construct(value)
                fields[name] = FIELDS[name](plain)
            except Wrong as wrong:
                tell(value, f"The header's '{name}' cannot be used. {wrong.what}", wrong.mend)
    if fields.get("with") and fields.get("machine", EIGHT_BIT).word_bits == 8:
        place = next(key for key, _ in node.value if key.value == "with")
        line, column = place_at(text, place.start_mark.index)
        what = "The 8-bit machine has no room for more instructions, so it cannot grow."
        mend = "Write 'machine: 16-bit', or leave 'with' out."
        problems.append(Problem(line, column, len("with"), what, mend).moved(shift))
        del fields["with"]
    for key in _strays(node):
        line, column = place_at(text, key.start_mark.index)
        what = f"'{key.value}' is one of the terms here, so it says nothing of the lesson."
        mend = "If it is to, start its line at the left edge."
        found = Problem(line, column, len(key.value), what, mend, warning=True)
        problems.append(found.moved(shift))
    if not any(key.value == "title" for key, _ in node.value):
        problems += _untitled(known, first_line)
    return fields, problems


def _strays(header: yaml.MappingNode) -> list[yaml.ScalarNode]:
    """Lines among the terms that say something of the lesson, by their names."""
    terms = [value for key, value in header.value if key.value == "terms"]
    return [
        name
        for each in terms
        if isinstance(each, yaml.MappingNode)
        for name, value in each.value[:MOST_LISTED]
        if isinstance(name, yaml.ScalarNode)
        and isinstance(value, yaml.ScalarNode)
        and says_something(name.value, value.value)
    ]


def _said_twice(value: yaml.Node) -> yaml.ScalarNode | None:
    """The second of two alike that lines like 'term: words' of a field start with."""
    said: set[str] = set()
    for key, _ in value.value if isinstance(value, yaml.MappingNode) else ():
        if isinstance(key, yaml.ScalarNode):
            plain = without_unseen(as_shown(key.value))
            if plain in said:
                return key
            said.add(plain)
    return None


def _machine_of(text: str) -> dict[str, Any]:
    """The machine of a header that cannot be read: programs are judged by it all the same."""
    found = re.search(r"^[ \t]*machine[ \t]*:[ \t]*['\"]?([\w-]+)", text, re.MULTILINE)
    machine = MACHINES.get(found[1].casefold()) if found else None
    return {"machine": machine} if machine else {}


def _untitled(known: Collection[str], first_line: int) -> list[Problem]:
    """The problem of a header that must have a title and has none."""
    if "title" not in known:
        return []
    mend = "Add a line 'title: The name of the lesson'."
    return [Problem(first_line - 1, 1, 3, "The header has no title.", mend)]


class _Unreadable(Exception):
    """A header that is no YAML: ``index`` is the place in its text, ``what`` and ``mend`` as in
    every problem."""

    def __init__(self, index: int, what: str, mend: str) -> None:
        super().__init__(what)
        self.index = index
        self.what = what
        self.mend = mend


# A number of a character, written in quotes, that no character has.
_NO_CHARACTER = re.compile(r"\\U(?!000[0-9a-fA-F]|0010)[0-9a-fA-F]{8}")


# What YAML says that it was doing where a line does not turn out to be a name with a colon.
_NAME_SOUGHT = "while scanning a simple key"


def _compose(text: str) -> yaml.Node | None:
    """What YAML makes of a header. Raises _Unreadable where that is nothing."""
    node, wrong = _composed(text)
    if wrong:
        raise _Unreadable(*wrong)
    return node


@lru_cache(maxsize=16)
def _composed(text: str) -> tuple[yaml.Node | None, tuple[int, str, str] | None]:
    """What YAML makes of a header, or the place where it cannot be read, what is wrong there and
    how to mend it.

    Kept, for who writes a lesson changes all but its header, and half of the reading goes to this.
    What cannot be read is kept as well: a syllabus with a fault is read for every lesson.
    """
    what = "The header cannot be read from here on."
    mend = (
        "Write each line as 'name: words'; put words in quotes that hold a colon or start with a"
        " sign."
    )
    try:
        depth = 0
        for event in yaml.parse(text, Loader=_Loader):
            depth += isinstance(event, yaml.CollectionStartEvent)
            depth -= isinstance(event, yaml.CollectionEndEvent)
            if isinstance(event, yaml.AliasEvent) and event.start_mark:
                # A few of them make a list of millions, or one as deep as there are lines.
                what = "The header cannot be read from here on: a star stands for something else."
                return None, (
                    event.start_mark.index,
                    what,
                    "Put words in quotes that start with a star.",
                )
            if depth > _DEEPEST and event.start_mark:
                what = "The header cannot be read from here on: lists stand in lists in lists."
                return None, (
                    event.start_mark.index,
                    what,
                    "Put words in quotes that start with a bracket.",
                )
        return yaml.compose(text, Loader=_Loader), None
    except yaml.YAMLError as error:
        # YAML tells a character that may not be there in another way than the rest.
        mark = getattr(error, "problem_mark", None)
        begun = getattr(error, "context_mark", None)
        if begun and getattr(error, "context", None) == _NAME_SOUGHT:
            # It tells a name without a colon where it has given up looking for that.
            mark = begun
            if ":" not in text[text.rfind("\n", 0, begun.index) + 1 :].partition("\n")[0]:
                what = "The header cannot be read from here on: this line has no colon."
                mend = (
                    "Write it as 'name: words'; or, if it goes on from the line above, start it"
                    " with more spaces than that one."
                )
        index = mark.index if mark else getattr(error, "position", 0)
        return None, (index, what, mend)
    except (ValueError, OverflowError):
        found = _NO_CHARACTER.search(text)
        what = "There is no character of this number."
        return None, (found.start() if found else 0, what, "Write the character itself.")


def _construct(node: yaml.Node) -> Any:
    try:
        return _Loader("").construct_object(node, deep=True)
    except yaml.YAMLError as error:
        raise Wrong("Its value cannot be read.", "Write plain words or a number.") from error


def header_of(slug: str, fields: Mapping[str, Any]) -> Header:
    """The header of these fields; a lesson without a title has its file's name."""
    said = {"title": slug, **fields}
    terms = said.pop("words", {})
    moves = said.pop("counter moves", None)
    said["counted"] = said.pop("count", ())
    ticks, shape = said.pop("memory takes", None), said.get("cache")
    said["memory_ticks"] = ticks
    if ticks and shape:
        said["cache"] = replace(shape, memory_ticks=ticks)
    if parts := said.pop("with", None):
        said["machine"] = grown(parts)
    header = Header(**said, wording=wording_of(terms))
    return replace(header, machine=machine_with(header.machine, moves)) if moves else header


def in_header(words: str) -> str:
    """Words as they stand in a header: in quotes where they may hold what YAML takes for something
    else, and without signs that no screen shows."""
    words = in_line(words)
    if re.fullmatch(r"[^\W_][\w ,.'()?!-]*", words) and words.casefold() not in _NOT_WORDS:
        return words
    return '"' + words.replace("\\", "\\\\").replace('"', '\\"') + '"'


def read_syllabus(path: Path) -> tuple[dict[str, Any], list[Problem]]:
    """The fields that the file beside a lesson file says for its folder, and what is wrong with
    them; nothing where there is no such file."""
    file = syllabus_beside(path)
    try:
        if not stat.S_ISREG(file.stat().st_mode):
            # To open a pipe would wait for whoever writes into it.
            what = "This is no file but a pipe, a device or a folder."
            return {}, [Problem(1, 1, 1, what, "Put a text file in its place, or take it away.")]
        with file.open("rb") as opened:
            data = opened.read(LARGEST_SYLLABUS + 1)
        if len(data) > LARGEST_SYLLABUS:
            what = f"The file has more than {LARGEST_SYLLABUS} bytes."
            return {}, [Problem(1, 1, 1, what, "It needs only a few lines.")]
        text = data.removeprefix(BOM_UTF8).decode()
    except FileNotFoundError:
        return {}, []
    except OSError as error:
        mend = "See that you are allowed to read it."
        return {}, [Problem(1, 1, 1, f"The file cannot be opened: {error.strerror}.", mend)]
    except UnicodeDecodeError:
        mend = "Save it as UTF-8 in your editor."
        return {}, [Problem(1, 1, 1, "The file is not UTF-8 text.", mend)]
    fields, told = _syllabus_of(text)
    return {**fields}, [*told]


# All lessons of a folder have the same one.
@lru_cache(maxsize=2)
def _syllabus_of(text: str) -> tuple[dict[str, Any], list[Problem]]:
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    try:
        fields, problems = read_header(lines, 1, FOLDER_FIELDS)
    except Exception as error:
        # It should not, but if it does, all the lessons of the folder are still there.
        return {}, [Problem(1, 1, 1, *failed(error, SYLLABUS, text))]
    # It is read as a header is, but it is none.
    told = [each.told(lambda words: words.replace("The header", "The file")) for each in problems]
    return {name: fields[name] for name in FOLDER_FIELDS if name in fields}, told
