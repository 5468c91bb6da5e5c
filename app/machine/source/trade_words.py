"""Words that other assembly languages have for what is written here in another way.

Whoever comes from another machine writes its words. Each is answered with what does the same here,
or with nothing: a word that only looks like one of ours may be another operation (AND is not ADD,
PRINT is not INPUT, IF NOT EQUAL is not IF EQUAL).

The words are common practice: mnemonics and key words that textbooks, examination papers and
manuals of many machines share.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from app.machine.operations import Status

from .problems import listed, nearest

# What is written here, one line under another set apart by semicolons; and the words that mean it.
# 'a' stands for an address and '#n' for a number; a number alone is a word of data.
_INSTEAD: tuple[tuple[str, str], ...] = (
    ("HALT", "HLT STOP END EXIT QUIT FINISH"),
    ("INPUT", "IN INP READ GET"),
    ("OUTPUT", "OUT PRINT WRITE DISPLAY SHOW PUT"),
    ("JUMP a", "JMP JP BRA BR B BRANCH GOTO GO"),
    ("JUMP a IF LESS", "BLT JL JLT"),
    ("JUMP a IF EQUAL", "BEQ JE JEQ JPE JZ"),
    ("JUMP a IF MORE", "BGT JG JGT"),
    ("JUMP a IF LESS; JUMP a IF MORE", "BNE JNE JPN JNZ"),
    ("JUMP a IF EQUAL; JUMP a IF MORE", "BGE JGE"),
    ("JUMP a IF LESS; JUMP a IF EQUAL", "BLE JLE"),
    # These look at the accumulator itself, and a LOAD does not set the status.
    ("COMPARE #0; JUMP a IF EQUAL", "BRZ"),
    ("COMPARE #0; JUMP a IF EQUAL; JUMP a IF MORE", "BRP"),
    ("COMPARE #0; JUMP a IF LESS", "BRN"),
    ("STORE a", "STA STO STR ST SAVE"),
    ("COMPARE a", "CMP COMP CP"),
    ("SUBTRACT a", "SUB MINUS"),
    ("ADD a", "PLUS"),
    ("ADD #1", "INC INCREMENT"),
    ("SUBTRACT #1", "DEC DECREMENT"),
    ("LOAD a", "LDA LDD LDR LD"),
    ("LOAD #n", "LDM LDI"),
    ("LOAD #0", "CLR CLEAR"),
    ("LOAD a; STORE b", "MOV MOVE COPY"),
    ("0", "DAT DATA DB DW DCB DCW WORD BYTE"),
    # Only a machine with the parts has these (see `growing`).
    ("XOR a", "EOR"),
    ("SHIFT #n LEFT", "SHL LSL ASL"),
    ("SHIFT #n RIGHT", "SHR LSR"),
    ("SHIFT #n RIGHT SIGNED", "ASR"),
    ("ROTATE #n LEFT", "ROL"),
    ("ROTATE #n RIGHT", "ROR"),
    ("JUMP a IF CARRY", "BCS JC"),
    ("JUMP a IF OVERFLOW", "BVS JO"),
    ("LOAD a INDEXED", "LDX"),
    ("ADD #1 TO INDEX", "INX"),
    ("SUBTRACT #1 FROM INDEX", "DEX"),
    ("CALL a", "JSR"),
    ("RETURN", "RET RTS"),
    # Nothing here does the work of these; those that the parts have are their own words.
    ("", "AND OR XOR NOT SHIFT ROTATE PUSH POP CALL RETURN"),
    ("", "NEG ADC SBC SBB MUL MULT MULTIPLY DIV DIVIDE MOD NOP"),
    ("", "IF THEN ELSE WHILE FOR REPEAT UNTIL DO LET SET ORG EQU"),
)
TRADE_WORDS: dict[str, tuple[str, ...]] = {
    word: tuple(line.strip() for line in lines.split(";") if line)
    for lines, words in _INSTEAD
    for word in words.split()
}
"""For each word, in capitals, the lines that are written here in its place; none where nothing is
like it."""

# The words for a number that is not carried out.
A_NUMBER = ("0",)

# The ways to say how two numbers compare, and which of the three outcomes each allows.
_LESS, _EQUAL, _MORE = (frozenset({each}) for each in Status)
_COMPARISONS: tuple[tuple[frozenset[Status], str], ...] = (
    (_LESS, "LESS SMALLER FEWER LOWER BELOW UNDER LT <"),
    (_EQUAL, "EQUAL EQUALS SAME EQ = =="),
    (_MORE, "MORE GREATER BIGGER LARGER HIGHER ABOVE OVER GT >"),
    (_LESS | _MORE, "UNEQUAL INEQUAL DIFFERENT NE != <> /= \N{NOT EQUAL TO}"),
    (_EQUAL | _MORE, "LEAST GE >= => \N{GREATER-THAN OR EQUAL TO}"),
    (_LESS | _EQUAL, "MOST LE <= =< \N{LESS-THAN OR EQUAL TO}"),
)
_OUTCOMES = {word: outcomes for outcomes, words in _COMPARISONS for word in words.split()}
_SPELLED = [word for word in _OUTCOMES if word.isalpha() and len(word) > 2]
_FILLING = frozenset(("IF", "WHEN", "THE", "STATUS", "IS", "IT", "AT", "THAN", "TO"))
# Nobody says a condition in more words than these.
_MOST_WORDS = 8
_TURNING = frozenset(("NOT", "NO", "UNLESS", "ISNT", "ISN'T"))


def outcomes_meant(words: Sequence[str]) -> tuple[Status, ...]:
    """The outcomes of a comparison that a condition allows, in the order of the status: IF NOT
    LESS allows EQUAL and MORE. None where the words cannot be understood, or say nothing."""
    said = [
        part
        for word in words
        for part in re.sub(r"^(NOT|IF)(?=\w{4})", r"\1 ", word.upper()).split()
    ]
    said = [each for each in said if each not in _FILLING]
    if len(said) > _MOST_WORDS:
        return ()
    turned = [at for at, each in enumerate(said) if each in _TURNING]
    if turned not in ([], [0]) or (turned and "OR" in said):
        return ()  # it could be read in two ways
    allowed: frozenset[Status] = frozenset()
    for each in " ".join(said[len(turned) :]).split(" OR "):
        word = each if each in _OUTCOMES else nearest(each, _SPELLED)
        if not word:
            return ()
        allowed |= _OUTCOMES[word]
    if turned:
        allowed = frozenset(Status) - allowed
    return () if len(allowed) == len(Status) else tuple(each for each in Status if each in allowed)


def instructions_meant(word: str, names: Sequence[str]) -> tuple[str, ...]:
    """The first word of the instruction that was probably meant: of a word of the trade the one
    that does the same by itself, else of what it is a slip of the hand. Several where a slip is as
    near to each of them, none where nothing is near."""
    lines = TRADE_WORDS.get(word.upper())
    if lines is None:
        return _slips_for(word.upper(), names)
    first = lines[0].split()[0] if len(lines) == 1 else ""
    return (first,) if first in names else ()


def written_here(word: str, operand: Sequence[str], instructions: Iterable[str]) -> str:
    """How to write what a word of the trade says, as a sentence; empty where it is no such word,
    or the machine does nothing like it. ``operand`` is what stands after the word,
    ``instructions`` how those of the machine are written, as in 'LOAD a' and 'LOAD #n'."""
    lines = TRADE_WORDS.get(word.upper(), ())
    if lines == A_NUMBER:
        return f"A number stands alone on its line: write '{operand[0] if operand else 0}'."
    known = set(instructions)
    if not lines or not all(_is_known(each, known) for each in lines):
        return ""
    if len(operand) == 1 and "STORE b" not in lines:
        filled = tuple(_fill(each, operand[0]) for each in lines)
        lines = filled if all(_is_known(each, known) for each in filled) else lines
    if len(lines) == 1:
        return f"Here it is written '{lines[0]}'."
    count = {2: "two", 3: "three"}[len(lines)]
    return f"Here it takes {count} instructions: {_in_turn(lines)}."


def _fill(line: str, operand: str) -> str:
    """A line of the table with what somebody wrote in the place of 'a' or '#n'."""
    number = f"#{operand.lstrip('#')}"
    return re.sub(r"(?<= )(a|#n)\b", lambda found: number if found[0] == "#n" else operand, line)


def _is_known(line: str, known: set[str]) -> bool:
    name, *rest = line.split()
    if rest:
        rest[0] = "#n" if rest[0].startswith("#") else "a"
    return " ".join((name, *rest)) in known


def jumps_meant(words: Sequence[str], label: str) -> str:
    """How to write a jump under the condition in these words, as a sentence; empty where the
    words are no comparison."""
    outcomes = outcomes_meant(words)
    if not outcomes:
        return ""
    if len(outcomes) == 1:
        return f"Did you mean IF {outcomes[0]}?"
    return f"Write two jumps: {_in_turn(f'JUMP {label} IF {each}' for each in outcomes)}."


def _in_turn(lines: Iterable[str]) -> str:
    return listed(f"'{each}'" for each in lines).replace(" or ", ", then ")


def _slips_for(typed: str, names: Sequence[str]) -> tuple[str, ...]:
    """The names that a word is a misspelling of, or the beginning of: only so near that no other
    operation can have been meant."""
    slips = {
        name: count
        for name in names
        if typed[:1] in name[:2]
        and abs(len(typed) - len(name)) <= 2
        and (count := _slips(typed, name)) <= (1 if len(typed) <= 4 else 2)
    }
    if slips:
        nearest_of_all = min(slips.values())
        return tuple(name for name, count in slips.items() if count == nearest_of_all)
    starting = tuple(each for each in names if len(typed) > 1 and each.startswith(typed))
    return starting if len(starting) == 1 else ()


def _slips(one: str, other: str) -> int:
    """How many letters are wrong, missing, too many or swapped with the next (the distance of
    Damerau, 1964, of which no letter is touched twice)."""
    before: list[int] = []
    row = list(range(len(other) + 1))
    for at, letter in enumerate(one):
        above, row = row, [at + 1]
        for to, wanted in enumerate(other):
            best = min(above[to] + (letter != wanted), above[to + 1] + 1, row[to] + 1)
            if at and to and letter == other[to - 1] and one[at - 1] == wanted:
                best = min(best, before[to - 1] + 1)
            row.append(best)
        before = above
    return row[-1]
