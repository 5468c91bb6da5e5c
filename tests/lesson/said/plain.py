"""What lessons say without a number, held to the run where that can be done simply.

Each kind is a pattern with what must be so at the place that the words speak of, and with other
words that make it false: the test plants those. Of what has no number these are held: where a value
goes, which instruction it is, whether a jump is taken, which of two numbers is the larger, which
instructions set the status, overflow, that the clock has stopped, below or above nought, that
nothing is left or has been compared, what was jumped over, which way a copy goes, whether an
instruction is as it was, and labels. The teachers' own reasons are held word by word: see
reasons.py. Not held, and left to a reader: what the terms of a header mean, why something is so in
the notes, what pupils will think or do, and what a program means to people (a lamp, a cabin, a
row).
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
    "the memory data register": "MDR",
    "the current instruction register": "CIR",
    "the CIR": "CIR",
    "main memory": "memory",
    "the output": "output",
}
_TURNED = {"less": "more", "more": "less", "hit": "miss", "miss": "hit"}
_BELOW = ("below", "less than")
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


def _met_between(names: Names) -> bool:
    """Whether an instruction between a jump and where it went was carried out: the jump was the
    instruction before the one under way."""
    here = names["here"]
    jump = max((e for e in names["done"] if e.last < here.first), key=lambda each: each.last)
    assert jump.code in JUMPS and jump.now.pc > jump.address + 1
    between = range(jump.address + 1, jump.now.pc)
    return any(each.address in between for each in names["done"] if each.last <= here.last)


def _as_it_was(names: Names) -> bool:
    """Whether the instruction under way is the word that stood there before the first step."""
    at, start = names["here"].address, names["done"][0].was
    return names["is_now"].cir == names["is_now"].memory[at] == start.memory[at]


def _comes_next(names: Names, name: str) -> bool:
    """Whether the next instruction is one of that name."""
    following = next(each for each in names["done"] if each.first > names["here"].last)
    return following.code in {code for written, code in CODES.items() if written.split()[0] == name}


# What each copies into, in the end, and which registers stand beside memory: the published table.
_TARGETS = {
    written.split()[0]: effect.split(";")[-1].partition("<-")[0].strip().removesuffix("[MAR]")
    for _, written, effect in rows()
}
_BESIDE = [
    tuple(side.strip() for side in each.split("<-"))
    for _, _, effect in rows()
    for each in effect.split(";")
    if "memory[" in each
]
_DOORS = {
    (re.findall(r"\[(\w+)\]", left + right)[0], right if "[" in left else left)
    for left, right in _BESIDE
}


def _never_overflow() -> bool:
    return all(-128 <= a + b <= 127 for a in range(1, 128) for b in range(-128, 0))


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
        r"|\bis jumped over\b|\bgoes to (?:\d+, )?the label\b"
        r"|\b[Ii]t jumps\b",
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
        r"\bThis sets the status\b|\bNow there is a status\b|(?<!thing )\bhas changed it\b",
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
        "whether an instruction is as it was",
        r"\b(?P<what>Nothing|Something) has changed it\b",
        lambda found, names: _as_it_was(names) == (found["what"] == "Nothing"),
        lambda found: found[0].replace("Nothing", "Something"),
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
        r"\b(?P<way>below|less than|above|more than) nought\b",
        lambda found, names: names["acc"] < 0 if found["way"] in _BELOW else names["acc"] > 0,
        lambda found: "above nought" if found["way"] in _BELOW else "less than nought",
    ),
    Kind(
        "that nothing is left",
        r"\b[Nn]othing (?:is )?left\b|\bno cabin is left\b",
        lambda _, names: names["acc"] == 0,
        lambda _: "above nought and below nought",
    ),
    Kind(
        "that nothing has been compared",
        r"\bnothing has been compared\b|\bno comparison yet\b",
        lambda _, names: names["status"] == "",
        lambda _: "This sets the status",
    ),
    Kind(
        "what was jumped over",
        r"\b[Tt]he lines between were (?P<how>not|all) carried out\b",
        lambda found, names: _met_between(names) == (found["how"] == "all"),
        lambda found: found[0].replace(" not ", " all "),
    ),
    Kind(
        "what comes after a jump",
        r"\bso the (?P<name>[A-Z]+) will be (?P<how>carried out|jumped over)\b",
        lambda found, names: _comes_next(names, found["name"]) == (found["how"] == "carried out"),
        lambda found: found[0].replace("carried out", "jumped over"),
    ),
    Kind(
        "which way a copy goes",
        r"\b(?P<name>LOAD|STORE|INPUT) copies [^.:]*?\bto (?P<part>the accumulator|memory)\b",
        lambda found, _: _TARGETS[found["name"]] == PARTS.get(found["part"], "memory"),
        lambda found: found[0].replace(
            found["part"], "memory" if found["part"] != "memory" else "the accumulator"
        ),
        where="all",
    ),
    Kind(
        "which way a value goes",
        r"\bfrom (?P<from>the processor|main memory) to (?P<to>the processor|main memory)\b",
        lambda found, names: (
            found["from"] != found["to"]
            and ("memory" in names["written"]) == (found["to"] == "main memory")
        ),
        lambda found: f"from {found['to']} to {found['from']}",
    ),
    Kind(
        "where an input goes",
        r"\bINPUT always goes to (?P<part>the accumulator|main memory|the output)\b",
        lambda found, _: _TARGETS["INPUT"] == PARTS[found["part"]],
        lambda found: found[0].replace(found["part"], "main memory"),
        where="all",
    ),
    Kind(
        "which register a jump changes",
        r"\bwhich register changes\? Only (?P<part>the [a-z ]+)",
        lambda found, _: _TARGETS["JUMP"] == PARTS[found["part"]],
        lambda found: found[0].replace(found["part"], "the accumulator"),
        where="all",
    ),
    Kind(
        "what the sign bit means",
        r"\ba 1 on the left means (?P<way>below|above) nought\b",
        lambda found, names: (names["signed"]("1" * names["bits"]) < 0) == (found["way"] in _BELOW),
        lambda found: found[0].replace("below", "above"),
        where="all",
    ),
    Kind(
        "which reading is in memory",
        r"\b[Tt]he (?P<which>first|second) reading is in memory\b",
        lambda found, names: (
            names["mem"]("first") == names["inputs"][0] and found["which"] == "first"
        ),
        lambda found: found[0].replace("first", "second"),
    ),
    Kind(
        "whether it becomes less",
        r"\b[Oo]ne \w+ (?P<way>less|more) to do\b",
        lambda found, names: (names["acc"] < names["acc0"]) == (found["way"] == "less"),
        lambda found: found[0].replace(found["way"], _TURNED[found["way"]]),
    ),
    Kind(
        "which registers are the doors of memory",
        r"\bMemory listens only to (?P<to>the [a-z ]+), and it answers only to (?P<by>the [a-z ]+)",
        lambda found, _: {(PARTS[found["to"]], PARTS[found["by"]])} == _DOORS,
        lambda found: found[0].replace(found["by"], "the accumulator"),
        where="all",
    ),
    Kind(
        "when a sum overflows",
        r"\bA number above and one below nought (?P<how>never|always) overflow when they are added",
        lambda found, _: found["how"] == "never" and _never_overflow(),
        lambda found: found[0].replace("never", "always"),
        where="all",
    ),
    Kind(
        "which reading a status speaks of",
        r"\b(?P<status>MORE|LESS) means: the (?P<which>first|second) one is the higher",
        lambda found, names: (
            names["status"] == found["status"]
            and (names["inputs"][1] > names["inputs"][0]) == (found["which"] == "second")
        ),
        lambda found: found[0].replace("second", "first"),
        where="all",
    ),
    Kind(
        "what came to an instruction",
        r"\bBecause the 0 (?P<never>never )?reached the ADD\b",
        lambda found, names: (
            bool(found["never"]) == (names["times"]("ADD a") == len(names["inputs"]) - 1)
        ),
        lambda found: found[0].replace("never ", ""),
        where="all",
    ),
    Kind(
        "a hit or a miss",
        r"\bA (?P<look>hit|miss)\b",
        lambda found, names: names["look"] == found["look"],
        lambda found: f"A {_TURNED[found['look']]}",
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
