"""A part of the machine opened on the board, as text ready to be shown: the columns of the ALU, and
the gates of one of them. Everything comes from the columns of ``app.machine.columns``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from app.lesson.header import Symbols
from app.machine.columns import Column, Columns, columns_of
from app.machine.gates import KINDS
from app.machine.operations import Status
from app.machine.run import Moment
from app.machine.telling.counts import counted
from app.machine.telling.narration import working
from app.machine.telling.reading import Reading, pattern_of
from app.machine.transfers import Place

from .gate_picture import GatePicture, gate_picture

_SMALL = {1: "ones", 2: "twos", 4: "fours", 8: "eights"}


def column_name(worth: int) -> str:
    """What a column is called whose 1 counts so much, as the columns of a sum are at school."""
    return f"{_SMALL.get(worth) or f'{worth:,}s'} column"


def with_article(name: str) -> str:
    """The name of a circuit with its article, as it is spoken."""
    return f"{'an' if name[0] in 'AEIOX' else 'a'} {name}"


@dataclass(frozen=True, slots=True)
class Cell:
    """A bit in the table, or nothing. ``place`` is the column that writes it as it is worked out,
    counted from 0 at the right; None for what stands there from the start. ``open`` is whether its
    column's gates are shown."""

    text: str
    place: int | None = None
    open: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the table: its name, the sign before its bits, its kind (``carry``, ``given``,
    ``taken`` or ``made``), and its cells from the left; the first stands outside of the word."""

    name: str
    sign: str
    kind: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class OpenedAlu:
    """The ALU at a step. ``column`` is the one whose gates are shown, counted from 0 at the right;
    None for none. ``names`` are those of the two words and of what is made, ``keeps_carry`` tells
    that the machine has a register for what the last column hands on."""

    reading: Reading
    work: Columns
    names: tuple[str, str, str]
    title: str
    column: int | None
    symbols: Symbols
    keeps_carry: bool

    @property
    def part(self) -> str:
        return "alu"

    @property
    def place(self) -> str:
        return Place.ALU

    @property
    def is_many(self) -> bool:
        return False

    @property
    def bits(self) -> int:
        return self.work.format.word_bits

    @property
    def walks(self) -> int:
        """How many beats it takes to be worked out; all columns that hand nothing on work at
        once."""
        return self.bits if self.work.circuit.carries else 1

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """What stands one under another, as in a sum on paper."""
        work, (first, second, result) = self.work, self.names
        bits = [each.bits for each in work.columns]
        lines = []
        carries = work.circuit.carries
        if carries:
            carried = [(each["carry in"], place - 1) for place, each in enumerate(bits)]
            carried.append((work.carry_out, self.bits - 1))
            cells = tuple(
                self._cell(str(bit) if place >= 0 or bit else "", max(place, 0), at)
                for at, (bit, place) in enumerate(carried)
            )
            lines.append(Line("carried", "", "carry", cells[::-1]))
        moves = "here" in work.circuit.inputs
        sign = "" if carries or moves else work.operation.shown
        alone = work.operation.alone
        lines.append(
            self._line(
                first,
                f"{work.operation.shown} {work.by}" if moves else sign if alone else "",
                "given",
                [each["here" if moves else "left"] for each in bits],
            )
        )
        if "right" in work.circuit.inputs:
            row = [each["right"] for each in bits]
            if "turned" in bits[0]:
                lines.append(self._line(second, "\N{MINUS SIGN}", "taken", row))
                second, row = "turned round", [each["turned"] for each in bits]
            lines.append(self._line(second, "+" if carries else sign, "given", row))
        lines.append(self._line(result, "", "made", [each["result"] for each in bits]))
        return tuple(lines)

    def _line(self, name: str, sign: str, kind: str, row: list[int]) -> Line:
        made = kind == "made"
        cells = [self._cell(str(bit), at if made else None, at) for at, bit in enumerate(row)]
        return Line(name, sign, kind, (Cell(""), *reversed(cells)))

    def _cell(self, text: str, place: int | None, at: int) -> Cell:
        return Cell(text, place, at == self.column)

    @property
    def heads(self) -> tuple[str, ...]:
        """What a 1 counts in each column, from the left; nothing outside of the word."""
        return ("", *(f"{each.worth:,}" for each in reversed(self.work.columns)))

    @property
    def name(self) -> str:
        """What is open: the whole, or a column and what stands in it."""
        if self.column is None:
            return "column by column"
        worth = self.work.columns[self.column].worth
        return f"The {column_name(worth)}: {with_article(self.work.circuit.name)}"

    @property
    def key(self) -> object:
        """Equal for two that show the same."""
        work = self.work
        return (
            work.operation.symbol,
            work.left,
            work.right,
            self.names,
            self.title,
            self.keeps_carry,
        )

    @property
    def picture_key(self) -> object:
        """Equal for two whose pictures of gates are the same, but for their names."""
        assert self.column is not None
        bits = self.work.columns[self.column].bits
        given = tuple(bits[name] for name in self.work.circuit.inputs)
        return self.work.circuit.name, given, self.names[:2]

    @cached_property
    def picture(self) -> GatePicture | None:
        if self.column is None:
            return None
        bits = self.work.columns[self.column].bits
        named = {"left": self.names[0], "right": self.names[1]}
        return gate_picture(self.work.circuit, bits, self.symbols, named)

    @property
    def sentence(self) -> str:
        """What the columns do, or the one that is open."""
        if self.column is None:
            words = self._all_columns()
        else:
            words = self.of_column(self.work.columns[self.column])
        return self.reading.wording.say(words)

    def _all_columns(self) -> str:
        work = self.work
        column = work.operation.column
        if column == "move":
            if not work.by:
                return (
                    "Nothing moves: in every column the selector keeps the bit that stands there."
                )
            places = counted(work.by, "place")
            side = "right" if work.to_left else "left"
            return (
                "In every column stands a selector of gates. It lets the bit through that stands"
                f" {places} further {side}. At the {side}, where there is none, {self._comes_in()}."
            )
        if not work.circuit.carries:
            gate = with_article(work.circuit.name)
            says = KINDS[work.circuit.gates[0].kind].says
            return f"In every column stands {gate}. It makes a 1 where {says}."
        kept = self._kept_carry() if self.keeps_carry else ""
        if column == "add":
            # The last column has no next one.
            carries = sum(each.bits["carry out"] for each in work.columns[:-1])
            said = ["The ALU adds column by column, from the right, as on paper."]
            if carries:
                times = "Once" if carries == 1 else f"{carries} times"
                said.append(f"{times} a 1 is carried to the next column.")
            elif not work.carry_out:
                said.append("None has to carry.")
            if work.carry_out and not kept:
                kept = "The last carry, 1, has no next column: it is lost."
            return " ".join([*said, kept]).rstrip()
        words = (
            f"To take away, the ALU turns every bit of {self.names[1]} round, and adds it with a 1"
            " carried in at the right."
        )
        told = self._told_status() if work.operation.compares else kept
        return f"{words} {told}".rstrip()

    def _comes_in(self) -> str:
        """What comes in at the end of the word that bits have moved away from."""
        work, last = self.work, self.bits - 1
        ends = work.columns[: work.by] if work.to_left else work.columns[-work.by :]
        sources = {each.comes for each in ends}
        if sources == {None}:
            return "0 comes in"
        if sources == {last} and not work.to_left:
            return "the sign bit comes in"
        return "what leaves at the other end comes in"

    def _kept_carry(self) -> str:
        """What becomes of what the last column hands on."""
        out = self.work.carry_out
        if self.work.operation.column == "add":
            return f"The last carry, {out}, is kept as the carry."
        return f"The last carry, {out}, is turned round and kept: {1 - out}."

    def _told_status(self) -> str:
        """How the bits of a difference tell what a comparison found."""
        work = self.work
        if work.status is Status.EQUAL:
            return f"All bits of the difference are 0: {work.status}."
        sign = work.columns[-1].bits["result"]
        if work.overflow:
            return (
                f"The difference does not fit, so its sign bit, {sign}, is turned round:"
                f" {work.status}."
            )
        return f"The sign bit of the difference is {sign}: {work.status}."

    def of_column(self, column: Column) -> str:
        """What happens in a column, in a sentence."""
        name, bits, work = column_name(column.worth), column.bits, self.work
        if "here" in bits:
            if not work.by:
                return f"The {name}: nothing moves, so its {bits['here']} stays."
            if column.comes is None:
                return f"The {name}: no bit of the word comes here, so a 0 comes in."
            whose = column_name(1 << column.comes)
            return f"The {name}: the {bits['coming']} of the {whose} is let through."
        if not work.circuit.carries:
            made = bits["result"]
            if work.operation.alone:
                return f"The {name}: {work.operation.shown} {bits['left']} makes {made}."
            return (
                f"The {name}: {bits['left']} {work.operation.shown} {bits['right']} makes {made}."
            )
        second = bits.get("turned", bits["right"])
        whole = bits["left"] + second + bits["carry in"]
        told = f"The {name}: "
        if "turned" in bits:
            told += f"the {bits['right']} of {self.names[1]} is turned round to {second}. "
        told += f"{bits['left']} + {second} and {bits['carry in']} carried in make {whole:b}"
        told += " in binary" if whole > 1 else ""
        return f"{told}: write {bits['result']}, carry {bits['carry out']}."


def opened_alu(
    reading: Reading,
    moment: Moment,
    column: int | None = None,
    symbols: Symbols = Symbols.RECTANGLES,
) -> OpenedAlu:
    """The ALU at a step in which it works and can be looked into."""
    assert moment.step is not None
    machine, transfer = reading.machine, moment.step.kind.transfer
    assert transfer.operation
    left, right = (
        pattern_of(machine, term, moment.before) for term in (transfer.left, transfer.right)
    )
    work = columns_of(machine, transfer.operation, left, right)
    told = working(reading, moment)
    assert work and told
    say = reading.wording.say
    result = "difference" if transfer.operation.compares else say(transfer.target)
    names = (say(transfer.left), say(transfer.right), result)
    keeps = transfer.sets_carry
    return OpenedAlu(reading, work, names, told.line, column, symbols, keeps)
