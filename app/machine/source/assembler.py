"""From source text to words, with every problem told at once.

One statement a line: an optional ``label:``, then an instruction or a bare number (data), then
an optional ``; comment``. Case does not matter. A label on a line of its own names the next
word.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

from app.machine.addressing import Operand
from app.machine.characters import IN_QUOTES, QUOTED, QUOTES, split_comment, too_large
from app.machine.growing import part_with
from app.machine.instructions import Instruction
from app.machine.machine import Machine
from app.machine.operations import Status
from app.machine.words import NotANumber, parse_number

from .disassembler import can_be_written
from .numbers import seems_other
from .problems import OTHER_COLONS, Problem, like_a_colon, lines_of, listed, nearest
from .trade_words import A_NUMBER, TRADE_WORDS, instructions_meant, jumps_meant, written_here

LARGEST_SOURCE = 64_000
# After so many faults of a program the rest of it is not read.
MOST_FAULTS = 100
# A label stands on the board beside its word; no program has more than one or two for each word.
LONGEST_LABEL = 40
MOST_LABELS = 512
# To find what was meant takes time: so many names are looked for, and of the rest it is only said
# that they are not there.
MOST_LOOKED_FOR = 20

_PART_NEEDED = (
    "It belongs to the {part} of the 16-bit machine: a lesson says 'with: {part}' in its header."
)
_LABEL = re.compile(r"[^\W\d]\w*")
# What a number starts with; some editors and slides make a longer line of a minus.
_SIGNS = f"+-\N{MINUS SIGN}\N{EN DASH}{QUOTES}"
# A character in quotes may be a space, a colon or a semicolon.
_TOKEN = re.compile(rf"#?{IN_QUOTES}|[^\s;:]+|:")


@dataclass(frozen=True, slots=True)
class SourceWord:
    """Where one word of memory comes from. ``labels`` as the writer spelled them."""

    line: int
    labels: tuple[str, ...]
    is_data: bool


@dataclass(frozen=True)
class Program:
    """An assembled program: its words from address 0, and where each was written.

    ``problems`` are the faults; ``warnings`` tell of what is allowed but surely not meant.
    """

    machine: Machine
    source: str
    words: tuple[int, ...] = ()
    origins: tuple[SourceWord, ...] = ()
    problems: tuple[Problem, ...] = ()
    warnings: tuple[Problem, ...] = ()

    @cached_property
    def labels(self) -> dict[int, str]:
        """The first label of each address that has one."""
        return {at: each.labels[0] for at, each in enumerate(self.origins) if each.labels}

    @cached_property
    def _addresses(self) -> dict[str, int]:
        named: dict[str, int] = {}
        for at, each in enumerate(self.origins):
            for name in each.labels:
                named.setdefault(name.casefold(), at)
        return named

    def address_of(self, label: str) -> int | None:
        """The address that a label names, whatever its case."""
        return self._addresses.get(label.casefold())

    def address_of_line(self, line: int) -> int | None:
        """The address of the word written on a line of the source (from 1)."""
        return next((at for at, each in enumerate(self.origins) if each.line == line), None)


@dataclass(frozen=True, slots=True)
class _Token:
    text: str
    column: int


@dataclass(slots=True)
class _Statement:
    line: int
    labels: tuple[str, ...]
    tokens: list[_Token]


@dataclass(slots=True)
class _Reader:
    machine: Machine
    first_line: int
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    refused: set[str] = field(default_factory=set)  # names that cannot be labels
    addresses: dict[str, int] = field(default_factory=dict)
    spellings: dict[str, tuple[_Token, int]] = field(default_factory=dict)
    looked_for: int = 0
    too_many_labels: bool = False

    def nearest(self, word: str, known: Iterable[str]) -> str | None:
        """The known word that was probably meant, for the first few that are not known."""
        self.looked_for += 1
        return nearest(word, known) if self.looked_for <= MOST_LOOKED_FOR else None

    def complain(self, line: int, token: _Token, what: str, mend: str) -> None:
        line += self.first_line - 1
        self.problems.append(Problem(line, token.column, max(len(token.text), 1), what, mend))

    def warn(self, line: int, token: _Token, what: str, mend: str) -> None:
        line += self.first_line - 1
        place = (line, token.column, len(token.text))
        self.warnings.append(Problem(*place, what, mend, warning=True))

    def is_enough(self, line: int) -> bool:
        """Whether there are so many problems that the rest is not read, which is told."""
        if len(self.problems) < MOST_FAULTS:
            return False
        what = f"The program has {MOST_FAULTS} faults or more, so it was not read to its end."
        self.complain(line, _Token("", 1), what, "Mend the others first.")
        return True

    # First pass: labels and statements.

    def statements(self, source: str) -> list[_Statement]:
        made: list[_Statement] = []
        waiting: list[str] = []
        for number, text in enumerate(lines_of(source), start=1):
            if self.is_enough(number):
                return []
            code, _, _ = split_comment(text)
            tokens = [_Token(each[0], each.start() + 1) for each in _TOKEN.finditer(code)]
            self._other_colons(number, tokens)
            labels = 0
            while len(tokens) > labels + 1 and tokens[labels + 1].text == ":":
                if self.is_enough(number):
                    return []
                label = self._label(number, tokens[labels], len(made))
                if label:
                    waiting.append(label)
                labels += 2
            tokens = tokens[labels:]
            if not tokens:
                continue
            stray = next((each for each in tokens if each.text == ":"), None)
            if stray:
                self.complain(
                    number,
                    stray,
                    "There is a colon here, but no label here in front of it.",
                    "Write one word, then the colon, then the rest, as in 'total: 0'.",
                )
                tokens = [each for each in tokens if each.text != ":"]
                if not tokens:
                    continue
            if len(made) == self.machine.memory_words:
                self.complain(
                    number,
                    tokens[0],
                    f"The program is longer than memory: this is word {len(made) + 1}, and the"
                    f" {self.machine.name} machine has {self.machine.memory_words}.",
                    "Shorten the program, or use the 16-bit machine."
                    if self.machine.word_bits == 8
                    else "Shorten the program.",
                )
            made.append(_Statement(number, tuple(waiting), tokens))
            waiting = []
        for label in waiting:
            token, line = self.spellings[label.casefold()]
            self.complain(
                line,
                token,
                f"The label '{label}' stands at the end, and nothing comes after it.",
                f"Write an instruction or a number after it, as in '{label}: 0'.",
            )
        return made

    def _other_colons(self, line: int, tokens: list[_Token]) -> None:
        """Labels that end in a sign which only looks like a colon: told, and put right."""
        at = 0
        while at < len(tokens) and len(self.problems) < MOST_FAULTS:
            if at + 1 < len(tokens) and tokens[at + 1].text == ":":
                at += 2
                continue
            token = tokens[at]
            found = _LABEL.match(token.text)
            end = found.end() if found else 0
            if not found or token.text[end : end + 1] not in tuple(OTHER_COLONS):
                return
            sign, column = token.text[end], token.column + end
            rest = [_Token(token.text[end + 1 :], column + 1), *tokens[at + 1 :]]
            after = [each for each in rest if each.text]
            shown = " ".join([f"{found[0]}:", *(each.text for each in after[:2])])
            what = like_a_colon(sign)
            self.complain(line, _Token(sign, column), what, f"Write a colon: '{shown}'.")
            tokens[at:] = [_Token(found[0], token.column), _Token(":", column), *after]
            at += 2

    def _label(self, line: int, token: _Token, address: int) -> str | None:
        name = token.text
        key = name.casefold()
        if not _LABEL.fullmatch(name) or not name[0].isalpha():
            self.refused.add(key)
            self.complain(
                line,
                token,
                f"'{name}' cannot be a label.",
                "A label starts with a letter and has only letters, digits and underscores.",
            )
            return None
        if len(name) > LONGEST_LABEL:
            self.refused.add(key)
            self.complain(
                line,
                token,
                f"The label '{name}' has {len(name)} letters.",
                f"Choose a name of at most {LONGEST_LABEL}.",
            )
            return None
        if name.upper() in (*self.machine.names, "IF"):
            self.refused.add(key)
            self.complain(
                line,
                token,
                f"'{name}' is an instruction, so it cannot be a label.",
                f"Choose another name, such as '{name.lower()}_1'.",
            )
            return None
        if key in self.addresses:
            before = self.spellings[key][1] + self.first_line - 1
            self.complain(
                line,
                token,
                f"The label '{name}' is used twice; line {before} has it already.",
                "Give one of them another name.",
            )
            return None
        if len(self.addresses) == MOST_LABELS:
            self.refused.add(key)
            if not self.too_many_labels:
                self.too_many_labels = True
                what = f"The program has more than {MOST_LABELS} labels."
                self.complain(line, token, what, "Leave out those that nothing uses.")
            return None
        if key in _names_of_registers(self.machine):
            self.warn(
                line,
                token,
                f"The label '{name}' has the name of a register.",
                f"Choose another, such as '{name}_1', so that nobody takes one for the other.",
            )
        self.addresses[key] = address
        self.spellings[key] = (token, line)
        return name

    # Second pass: words.

    def word(self, statement: _Statement) -> tuple[int, bool]:
        """The word of a statement and whether it is data; 0 where there is a problem."""
        first = statement.tokens[0]
        if first.text[0].isdigit() or first.text[0] in _SIGNS:
            return self._data(statement), True
        name = first.text.upper()
        if name not in self.machine.names:
            self._unknown(statement)
            return 0, False
        return self._instruction(statement, name), False

    def _data(self, statement: _Statement) -> int:
        token, *extra = statement.tokens
        if extra:
            self.complain(
                statement.line,
                extra[0],
                f"There is something after the number: '{extra[0].text}'.",
                "Write one number on a line.",
            )
        value = self._number(statement.line, token)
        if value is None:
            return 0
        if wrong := too_large(token.text, value, self.machine.word_bits):
            self.complain(statement.line, token, *wrong)
            return 0
        if not self.machine.fits(value):
            self.complain(
                statement.line,
                token,
                f"{value} does not fit a word of {self.machine.word_bits} bits.",
                f"Use a number from {self.machine.smallest} to {self.machine.largest} (or up to"
                f" {self.machine.word_mask} for a bit pattern).",
            )
            return 0
        other = seems_other(self.machine, token.text, value)
        if other:
            self.warn(statement.line, token, *other)
        return self.machine.pattern(value)

    def _number(self, line: int, token: _Token) -> int | None:
        try:
            return parse_number(token.text)
        except NotANumber as wrong:
            self.complain(line, token, wrong.what, wrong.mend)
            return None

    def _unknown(self, statement: _Statement) -> None:
        first, *rest = statement.tokens
        names = self.machine.names
        here = written_here(
            first.text,
            [each.text for each in rest],
            (each.written for each in self.machine.instructions),
        )
        near = instructions_meant(first.text, names)
        # The word itself, or what is written here in its place.
        meant = TRADE_WORDS.get(first.text.upper()) or (first.text.upper(),)
        part = part_with(meant[0], self.machine) if len(meant) == 1 else ""
        if here:
            mend = here
        elif part:
            mend = _PART_NEEDED.format(part=part)
        elif near:
            mend = f"Did you mean {listed(near)}?"
        elif len(rest) == 2 and TRADE_WORDS.get(rest[0].text.upper()) == A_NUMBER:
            mend = f"Here it is written '{first.text}: {rest[1].text}'."
        elif len(rest) == 1 and rest[0].text[0].isdigit() and first.text.upper() not in TRADE_WORDS:
            mend = f"If it is a label, write a colon after it: '{first.text}: {rest[0].text}'."
        else:
            mend = f"An instruction starts with {listed(names)}; a label ends in a colon."
        self.complain(
            statement.line, first, f"There is no instruction called '{first.text}'.", mend
        )

    def _instruction(self, statement: _Statement, name: str) -> int:
        family = [each for each in self.machine.instructions if each.name == name]
        first, *rest = statement.tokens
        line = statement.line
        example = listed(f"'{each.written}'" for each in family)
        alone = next((each for each in family if each.operand is Operand.NONE), None)
        if not rest and alone:
            return self.machine.join(alone.code, 0)
        if not rest:
            after = _Token("", first.column + len(first.text))
            self.complain(line, after, f"{name} needs something after it.", f"Write {example}.")
            return 0
        if alone:
            worded = [each for each in family if each.operand is Operand.NONE]
            said = _Token(" ".join(each.text for each in rest), rest[0].column)
            for each in worded:
                if each.ending == said.text.upper():
                    return self.machine.join(each.code, 0)
            if len(worded) == len(family):
                self._complain_after(line, name, said, family)
                return self.machine.join(alone.code, 0)
        operand, *ending = rest
        if operand.text.upper() in {each.ending.split()[0] for each in family if each.ending}:
            self.complain(
                line,
                operand,
                f"The address to {name.lower()} to is missing before {operand.text.upper()}."
                if all(each.jumps for each in family)
                else f"What {name} works on is missing before {operand.text.upper()}.",
                f"Write it first: {example}.",
            )
            return 0
        if operand.text == "#" and ending:
            operand = _Token("#" + ending[0].text, operand.column)
            ending = ending[1:]
        kind = Operand.NUMBER if operand.text.startswith("#") else Operand.ADDRESS
        if not any(each.operand is kind for each in family):
            self._complain_of_kind(line, operand, name, family, kind)
            return 0
        instruction = self._choose(line, family, kind, operand, ending)
        value = (
            self._immediate(line, operand, instruction)
            if kind is Operand.NUMBER
            else self._address(line, operand)
        )
        if instruction is None or value is None:
            return 0
        return self.machine.join(instruction.code, value)

    def _complain_after(
        self, line: int, name: str, said: _Token, family: list[Instruction]
    ) -> None:
        """Of an instruction that has no operand, and words after it that it cannot have."""
        endings = [each.ending for each in family if each.ending]
        part = part_with(f"{name} a {said.text.upper()}", self.machine)
        if part:
            what = f"This machine has no {name} with '{said.text}'."
            mend = _PART_NEEDED.format(part=part)
        elif endings:
            what = f"{name} stands alone or before {listed(endings)}, and not '{said.text}'."
            mend = f"Write {name}, or {listed(f'{name} {each}' for each in endings)}."
        else:
            first = said.text.split()[0]
            said = _Token(first, said.column)
            what = f"{name} stands alone, but '{first}' comes after it."
            mend = f"Write just {name}; a comment starts with a semicolon."
        self.complain(line, said, what, mend)

    def _complain_of_kind(
        self, line: int, operand: _Token, name: str, family: list[Instruction], kind: Operand
    ) -> None:
        written = next(each.written for each in family if each.operand is not Operand.NONE)
        if kind is Operand.NUMBER:
            what = f"{name} needs an address, and '{operand.text}' is a number."
            mend = f"Write a label, or an address without the '#', as in '{written}'."
        else:
            what = f"{name} needs a number with a '#' before it, and '{operand.text}' has none."
            mend = f"Write it as in '{written}'."
        self.complain(line, operand, what, mend)

    def _choose(
        self,
        line: int,
        family: list[Instruction],
        kind: Operand,
        operand: _Token,
        ending: list[_Token],
    ) -> Instruction | None:
        """The instruction of a family that has this kind of operand and these last words."""
        said = " ".join(each.text for each in ending)
        of_kind = [each for each in family if each.operand is kind]
        for each in of_kind:
            if each.ending == said.upper():
                return each
        last = ending[0] if ending else operand
        endings = [each.ending for each in of_kind if each.ending]
        marked = _Token(said, last.column)
        known = {"", *(each.ending for each in family)}
        missing = f"{of_kind[0].name} a {said.upper()}"
        part = "" if said.upper() in known else part_with(missing, self.machine)
        if part:
            what = f"This machine has no {of_kind[0].name} with '{said}'."
            self.complain(line, marked, what, _PART_NEEDED.format(part=part))
            return None
        if not endings:
            self.complain(
                line,
                marked,
                f"There is something left over at the end of the line: '{said}'.",
                "Write one instruction on a line; a comment starts with a semicolon.",
            )
            return None
        # What is said of a comparison is understood as words, not by its letters: IF UNEQUAL is
        # not IF EQUAL.
        compared = {f"IF {each}" for each in Status}
        near = self.nearest(said, [each for each in endings if each not in compared])
        mend = f"Did you mean {near}?" if near else f"Write {listed(endings)}."
        if compared <= set(endings):
            mend = jumps_meant([each.text for each in ending], operand.text) or mend
        if not said:
            what = f"{of_kind[0].name} needs more words after '{operand.text}'."
        elif all(each.jumps for each in of_kind):
            what = f"'{said}' is not a condition."
        else:
            what = f"'{said}' cannot come after '{operand.text}'."
        self.complain(line, marked, what, mend)
        return None

    def _immediate(self, line: int, token: _Token, instruction: Instruction | None) -> int | None:
        digits = _Token(token.text[1:], token.column + 1)
        if not digits.text or _LABEL.match(digits.text):
            self.complain(
                line,
                token,
                f"'{token.text}' has no number after the '#'.",
                "Write a number, as in '#5'; for what is stored at a label leave the '#' out.",
            )
            return None
        value = self._number(line, digits)
        counts = instruction if instruction and instruction.mode.most else None
        if value is not None and counts and not can_be_written(counts, value):
            self.complain(
                line,
                token,
                f"{value} is not a number of places to {counts.name.lower()} by.",
                f"Use a number from {counts.mode.least} to {counts.mode.most}.",
            )
            return None
        if value is not None and not 0 <= value <= self.machine.operand_mask:
            self.complain(
                line,
                token,
                f"{value} cannot be written after '#': there is not enough room for it.",
                f"Use a number from 0 to {self.machine.operand_mask}. Or write yours on a line of"
                f" its own, as in 'big: {value}', and use its label without the '#'.",
            )
            return None
        return value

    def _address(self, line: int, token: _Token) -> int | None:
        if token.text.casefold() in self.refused:
            return None  # told where it stands as a label
        if _LABEL.fullmatch(token.text):
            address = self.addresses.get(token.text.casefold())
            if address is None:
                words = self.machine.memory_words
                known = (
                    self.spellings[key][0].text for key, at in self.addresses.items() if at < words
                )
                near = self.nearest(token.text, known)
                mend = (
                    f"Did you mean '{near}'?"
                    if near
                    else f"Write '{token.text}:' at the start of the line that you mean."
                )
                self.complain(line, token, f"There is no label '{token.text}'.", mend)
            elif address >= self.machine.memory_words:
                return None  # past the end of memory, which has been told at the word itself
            return address
        if QUOTED.fullmatch(token.text):
            what = f"{token.text} is a character, and here an address is needed."
            mend = f"Write #{token.text} for the character itself, or a label."
            self.complain(line, token, what, mend)
            return None
        value = self._number(line, token)
        if value is not None and not 0 <= value < self.machine.memory_words:
            self.complain(
                line,
                token,
                f"There is no address {value}.",
                f"The addresses of the {self.machine.name} machine go from 0 to"
                f" {self.machine.memory_words - 1}.",
            )
            return None
        return value


def _names_of_registers(machine: Machine) -> set[str]:
    """What the registers are called, in small letters."""
    return {
        name.casefold() for each in machine.registers for name in (each.tag, each.name, *each.also)
    }


def assemble(machine: Machine, source: str, first_line: int = 1) -> Program:
    """Assemble a source text, which starts on ``first_line`` of the text that problems are told in.

    Never raises for what a person may write: ``problems`` of the program holds every fault,
    in the order of the text, and ``words`` is empty when there is one.
    """
    if len(source) > LARGEST_SOURCE:
        return _too_long(machine, source, first_line)
    reader = _Reader(machine, first_line)
    words: list[int] = []
    origins: list[SourceWord] = []
    for statement in reader.statements(source):
        if reader.is_enough(statement.line):
            break
        word, is_data = reader.word(statement)
        words.append(word)
        origins.append(SourceWord(statement.line, statement.labels, is_data))
    if reader.problems:
        return Program(machine, source, problems=tuple(sorted(reader.problems)))
    return Program(
        machine, source, tuple(words), tuple(origins), warnings=tuple(sorted(reader.warnings))
    )


def _too_long(machine: Machine, source: str, first_line: int = 1) -> Program:
    what = f"The program is {len(source)} characters long, too long to read."
    mend = f"Keep it under {LARGEST_SOURCE} characters."
    return Program(machine, "", problems=(Problem(first_line, 1, 1, what, mend),))


def read_words(machine: Machine, source: str) -> Program:
    """Read raw binary words, one a line, such as ``1110 1100``; ``;`` starts a comment.

    Problems are told as :func:`assemble` tells them.
    """
    if len(source) > LARGEST_SOURCE:
        return _too_long(machine, source)
    words: list[int] = []
    origins: list[SourceWord] = []
    problems: list[Problem] = []
    for number, text in enumerate(lines_of(source), start=1):
        code = text.split(";", 1)[0]
        digits = re.sub(r"[\s_]", "", code)
        if not digits:
            continue
        column = len(code) - len(code.lstrip()) + 1
        length = len(code.strip())
        wrong = next((at for at, each in enumerate(code) if each not in "01_ \t"), None)
        if wrong is not None:
            what = f"'{code[wrong]}' is not a binary digit."
            problems.append(Problem(number, wrong + 1, 1, what, "Write only 0 and 1."))
        elif len(digits) != machine.word_bits:
            what = f"This word has {len(digits)} bits."
            mend = f"A word of the {machine.name} machine has {machine.word_bits}."
            problems.append(Problem(number, column, length, what, mend))
        elif len(words) == machine.memory_words:
            what = "There are more words than memory has."
            mend = f"The {machine.name} machine has {machine.memory_words} words."
            problems.append(Problem(number, column, length, what, mend))
            break
        else:
            words.append(int(digits, 2))
            origins.append(SourceWord(number, (), False))
    if problems:
        return Program(machine, source, problems=tuple(problems))
    return Program(machine, source, tuple(words), tuple(origins))
