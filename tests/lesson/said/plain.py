"""What lessons say without a number, held to the run where that can be done simply.

Each kind is a pattern with what must be so at the place that the words speak of, and with other
words that make it false: the test plants those. Of what has no number these are held: where a value
goes, which instruction it is, whether a jump is taken, which of two numbers is the larger, which
instructions set the status, overflow, that the clock has stopped, below or above nought, that
nothing is left or has been compared, and labels. Not held, and left to a reader: why something is
so, what pupils will think or do, and what a program means to people (a lamp, a cabin, a row).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from tests.codes import CODES, rows

from .claims import Unit, context
from .ran import JUMPS

Names = dict[str, Any]
INSTRUCTIONS = sorted({written.split()[0] for written in CODES})
SETS = {
    written.split()[0]
    for _, written, effect in rows()
    if any("status" in each.partition("<-")[0] for each in effect.split(";"))
}
PARTS = {
    "the accumulator": "ACC",
    "the memory address register": "MAR",
    "the program counter": "PC",
    "the current instruction register": "CIR",
    "the CIR": "CIR",
    "main memory": "memory",
    "the output": "output",
}
_TURNED = {"less": "more", "more": "less"}
_EACH = "|".join(INSTRUCTIONS)
_NUMBER = "\N{MINUS SIGN}?\\d+"


@dataclass(frozen=True)
class Kind:
    """``where`` is ``cues`` for what only a place can bear out, ``all`` for what is so anywhere."""

    name: str
    pattern: str
    true: Callable[[re.Match[str], Names], bool]
    spoilt: Callable[[re.Match[str]], str]
    where: str = "cues"


def _jumped(names: Names) -> bool | None:
    """Whether the place is a jump that is taken; None for no jump."""
    here = names["here"]
    return here.now.pc != here.address + 1 if here and here.code in JUMPS else None


def _name(names: Names) -> str:
    here = names["here"]
    return next(each.split()[0] for each, code in CODES.items() if code == here.code)


def _other(word: str) -> str:
    return next(each for each in INSTRUCTIONS if each != word)


def _set_status(found: re.Match[str], _names: Names) -> bool:
    listed = set(re.findall("[A-Z]+", found["list"]))
    return listed <= SETS if found["how"] == "set it" else not listed & SETS


def _compares(found: re.Match[str], _names: Names) -> bool:
    left, right = (int(found[each].replace("\N{MINUS SIGN}", "-")) for each in ("a", "b"))
    return {"less": left < right, "more": left > right}[found["way"]]


KINDS = (
    Kind(
        "where a value goes",
        rf"\b(?:to|in) (?:its register, )?(?P<part>{'|'.join(PARTS)})\b(?! already| and at)",
        lambda found, names: PARTS[found["part"]] in names["written"],
        lambda found: found[0].replace(
            found["part"], "main memory" if found["part"] != "main memory" else "the output"
        ),
    ),
    Kind(
        "which instruction it is",
        rf"(?:^|[.:] |means )(?P<name>{_EACH})(?=[ .:]|$)",
        lambda found, names: _name(names) == found["name"],
        lambda found: found[0].replace(found["name"], _other(found["name"])),
    ),
    Kind(
        "a jump that is not taken",
        r"\b[Nn]o jump\b|\bnot taken\b|\bthe loop is over\b|\bthe program goes on to the [A-Z]+\b",
        lambda _, names: _jumped(names) is False,
        lambda _: "so the jump is taken",
    ),
    Kind(
        "a jump that is taken",
        r"\bgoes back to\b|\bback again\b|\b[Bb]ack to (?:the start|')|\bjump is taken\b"
        r"|\bis jumped over\b|\bgoes to (?:\d+, )?the label\b",
        lambda _, names: _jumped(names) is True,
        lambda _: "no jump ",
    ),
    Kind(
        "which of two numbers is the larger",
        rf"(?P<a>{_NUMBER}) is (?P<way>less|more) than (?P<b>{_NUMBER})\b(?! \d)",
        _compares,
        lambda found: f"{found['a']} is {_TURNED[found['way']]} than {found['b']}",
        where="all",
    ),
    Kind(
        "what sets the status",
        r"(?P<list>[A-Z]+(?:, [A-Z]+)* and [A-Z]+) (?P<how>set it|never do)\b",
        _set_status,
        lambda found: found[0].replace(
            found["how"], "never do" if found["how"] == "set it" else "set it"
        ),
        where="all",
    ),
    Kind(
        "a status that is set here",
        r"\bThis sets the status\b|\bNow there is a status\b",
        lambda _, names: "status" in names["written"],
        lambda _: "This has not changed it",
    ),
    Kind(
        "a status that is not set here",
        r"\bhas not changed it\b",
        lambda _, names: "status" not in names["written"],
        lambda _: "has done this. This sets the status",
    ),
    Kind(
        "overflow",
        r"(?:\b[Nn]o |\bnothing )?\b[Oo]verflow(?:s| mark| again)?\b",
        lambda found, names: names["is_now"].overflow != (found[0][:2].lower() == "no"),
        lambda found: "overflow" if found[0][:2].lower() == "no" else "no overflow",
    ),
    Kind(
        "that the clock has stopped",
        r"\bhas stopped the clock\b|\b[Tt]he clock has stopped\b",
        lambda _, names: names["is_now"].ended == "halted",
        lambda _: "",
    ),
    Kind(
        "below or above nought",
        r"\b(?P<way>below|above|more than) nought\b",
        lambda found, names: names["acc"] < 0 if found["way"] == "below" else names["acc"] > 0,
        lambda found: "above nought" if found["way"] == "below" else "below nought",
    ),
    Kind(
        "that nothing is left",
        r"\b[Nn]othing (?:is )?left\b|\bno cabin is left\b",
        lambda _, names: names["acc"] == 0,
        lambda _: "less than nought, below nought",
    ),
    Kind(
        "that nothing has been compared",
        r"\bnothing has been compared\b|\bno comparison yet\b",
        lambda _, names: names["status"] == "",
        lambda _: "This sets the status",
    ),
    Kind(
        "a label where it goes on",
        r"\b(?:label|to) '(?P<label>\w+)'",
        lambda found, names: names["pc"] == names["addr"](found["label"]),
        lambda found: found[0].replace(found["label"], "nowhere"),
    ),
)


def found_in(unit: Unit) -> Iterator[tuple[Kind, re.Match[str]]]:
    """What a unit says of these kinds. Words at the start, before anything has happened, speak of
    what is to come, and a question says nothing."""
    for kind in KINDS:
        if kind.where == "all" or (unit.kind == "cues" and not _at_start(unit)):
            for found in re.finditer(kind.pattern, unit.text):
                if not re.match(r"[^.:]*\?", unit.text[found.end() :]):
                    yield kind, found


def _at_start(unit: Unit) -> bool:
    return all(last == 0 for _, last in context(unit.lesson).places.get(unit.line, ()))


def false_words(unit: Unit) -> list[str]:
    """What a unit says of these kinds that is not so."""
    wrong = []
    for kind, found in found_in(unit):
        for names in context(unit.lesson).names(unit):
            try:
                true = kind.true(found, names)
            except (AssertionError, AttributeError, LookupError):
                true = False
            if not true:
                wrong.append(f"{kind.name}: {found[0]!r} in {unit.text!r}")
    return wrong
