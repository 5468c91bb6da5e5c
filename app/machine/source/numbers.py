"""Lists of numbers as people write them: inputs, and what a program is to give.

Whoever reads such a list reads it here, so that the same slip is told in the same words in a
lesson file, in a task and in a pupil's own field.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from app.machine.characters import IN_QUOTES, split_comment, too_large
from app.machine.machine import Machine
from app.machine.words import NotANumber, parse_number, show_word

from .problems import MOST_FAULTS, Problem, lines_of, not_read, shortened

MOST_INPUTS = 1000

_NUMBER = re.compile(rf"{IN_QUOTES}|[^\s,]+")
# So much is shown of what was written.
_SHOWN = 24
# Thousands set apart: '12,000' is one number where a length or a clock is written, and so is
# '12 000', with a space of any kind.
_THOUSANDS = re.compile(
    r"(?<![\w.'])([1-9][0-9]{0,2}(?P<by>[,\s])[0-9]{3}(?:(?P=by)[0-9]{3})*+)(?P<more>[\w.'])?"
)
_GOES_ON = re.compile(",[0-9]")
_NOT_A_NUMBER = "Write numbers such as 7, with commas between them."


def read_numbers(
    machine: Machine,
    text: str,
    kind: str = "input",
    first_line: int = 1,
    comments: bool = True,
    most: int = MOST_INPUTS,
) -> tuple[tuple[int, ...], list[Problem]]:
    """The bit patterns of the numbers in a text, set apart by commas, spaces or lines.

    ``kind`` says in one word what each of them is, ``first_line`` is the line that the text
    starts on. With ``comments``, what follows ``;`` in a line is not read; where it looks as if it
    was meant to be, a warning says so. There are at most ``most`` numbers, and after
    MOST_FAULTS faults no more is read.
    """
    patterns: list[int] = []
    faults: list[Problem] = []
    warnings: list[Problem] = []
    places: list[tuple[int, int, int]] = []  # line, column and length of each pattern
    for number, line in enumerate(lines_of(text), start=first_line):
        code, semicolon, comment = split_comment(line) if comments else (line, "", "")
        for found in _NUMBER.finditer(code):
            place = (number, found.start() + 1, len(found[0]))
            if len(faults) == MOST_FAULTS:
                return (), [*faults, not_read(*place)]
            try:
                value = parse_number(found[0])
            except NotANumber as wrong:
                # One way of writing it is enough; the card has the others.
                mend = _NOT_A_NUMBER if wrong.is_none else wrong.mend
                faults.append(Problem(*place, wrong.what, mend))
                continue
            if wrong_one := too_large(found[0], value, machine.word_bits):
                faults.append(Problem(*place, *wrong_one))
                continue
            if not machine.fits(value):
                what = f"The {kind} {value} does not fit a word of {machine.word_bits} bits."
                mend = f"Use a number from {machine.smallest} to {machine.largest}."
                faults.append(Problem(*place, what, mend))
                continue
            if other := seems_other(machine, found[0], value):
                warnings.append(Problem(*place, *other, warning=True))
            patterns.append(machine.pattern(value))
            places.append(place)
        for start, written, what, mend in seem_thousands(machine, code):
            place = (number, start + 1, len(written))
            warnings.append(Problem(*place, what, mend, warning=True))
        if semicolon and _seems_a_list(comment):
            column = len(code) + 2 + len(comment) - len(comment.lstrip())
            what = f"What follows ';' is a comment, so {comment.strip()} is not read."
            mend = "Write a comma in place of the ';' if it should be."
            warnings.append(Problem(number, column, len(comment.strip()), what, mend, warning=True))
    if len(patterns) > most:
        what = f"There are {len(patterns)} {kind}s."
        faults.append(Problem(*places[most], what, f"Keep to {most}."))
    return tuple(patterns[:most]), [*faults, *warnings[:MOST_FAULTS]]


def write_numbers(machine: Machine, patterns: Sequence[int]) -> str:
    """Values in denary, set apart by commas; ``nothing`` for none."""
    return ", ".join(show_word(machine, each, "denary") for each in patterns) or "nothing"


def seems_other(machine: Machine, text: str, value: int) -> tuple[str, str] | None:
    """What to say, and how to mend it, of a number in denary that the board shows as another.

    In binary and hexadecimal the same number is surely meant as a pattern of bits.
    """
    if value <= machine.largest or not text.lstrip("+").replace("_", "").isdecimal():
        return None
    shown = machine.signed(machine.pattern(value))
    what = f"The board will show {shown} for this: a word holds {machine.smallest} to"
    mend = f"Write {shown}, or 0x{value:X} if the bits are meant."
    return f"{what} {machine.largest}.", mend


def seem_thousands(machine: Machine, text: str) -> Iterator[tuple[int, str, str, str]]:
    """What looks like one number in a list, and is several: where it starts (from 0), as it is
    written, what to say of it, and how to mend it.

    '100,200,300' is a list, for no word holds all of it as one number; nobody who means a number of
    its own writes '000'.
    """
    has_commas = "," in text
    for found in _THOUSANDS.finditer(text):
        written, by, more = found.groups()
        if more:
            continue
        first, *parts = written.split(by)
        whole = "".join([first, *parts])
        if by == ",":
            in_list = text.endswith(",", 0, found.start()) or bool(
                _GOES_ON.match(text, found.end())
            )
            other = "a space after each comma"
        else:
            in_list = not has_commas
            other = "a comma and a space between them"
        one = not in_list and machine.fits(int(whole[:_SHOWN]))
        if one or any(each.startswith("0") for each in parts):
            what = f"'{shortened(written, _SHOWN)}' is read as {len(parts) + 1} numbers."
            mend = f"Write '{shortened(whole, _SHOWN)}' for one, or {other}."
            yield found.start(), written, what, mend


def _seems_a_list(comment: str) -> bool:
    """Whether a comment holds numbers and nothing else."""
    words = _NUMBER.findall(comment.replace(";", " "))
    try:
        for each in words:
            parse_number(each)
    except NotANumber:
        return False
    return bool(words)
