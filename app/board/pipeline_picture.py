"""The pipeline as the textbooks draw it: instructions down, ticks across, and the stages beside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from app.machine.source.assembler import Program
from app.machine.source.disassembler import write_instruction
from app.machine.telling.reading import Reading
from app.machine.telling.watched import WHY, lost_sentence
from app.machine.watching.pipeline import PipelineAccount, Row

MOST_ROWS = 10
MOST_TICKS = 14
MOST_LISTED = 20
# On a phone there is room for fewer.
MOST_TICKS_TALL = 9


@dataclass(frozen=True, slots=True)
class Cell:
    """A tick of an instruction: ``kind`` is work, wait, vain or none; ``heard`` for listeners."""

    text: str
    kind: str
    heard: str
    now: bool
    far: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """A row: what it is, and its cells."""

    name: str
    address: str
    cells: tuple[Cell, ...]
    in_vain: bool


@dataclass(frozen=True, slots=True)
class Station:
    """A stage with the instruction that is in it in this tick; ``state`` is work, wait or none."""

    stage: str
    letter: str
    holds: str
    state: str


@dataclass(frozen=True, slots=True)
class PipelinePicture:
    """``listing`` is the program, before the first tick; ``sums`` what was lost, after the last."""

    title: str
    tick: int
    ticks: tuple[tuple[int, bool], ...]
    rows: tuple[Shown, ...]
    stations: tuple[Station, ...]
    finished: int
    lost: int
    sums: str
    listing: tuple[tuple[str, str, str], ...]

    @property
    def reasons(self) -> tuple[tuple[str, str], ...]:
        """What the cells say of waiting, and what it means."""
        return tuple((each.short, each.now) for each in WHY.values() if each.short)


def pipeline_picture(
    account: PipelineAccount,
    reading: Reading,
    program: Program,
    memory: Sequence[int],
    tick: int,
    title: str,
) -> PipelinePicture:
    """The picture after a tick. ``memory`` is that of the machine then, for what was fetched."""
    come = reversed(account.rows[: account.come_by(tick)])
    alive = (each for each in come if each.starts and each.shown_from <= tick)
    shown = [*islice(alive, MOST_ROWS)][::-1]
    first = max(tick - MOST_TICKS + 1, 1)
    ticks = range(first, first + MOST_TICKS)
    name = _Names(reading, program, memory)
    return PipelinePicture(
        title,
        tick,
        tuple((each, _far(each, tick)) for each in ticks),
        tuple(_row(account, each, name, ticks, tick) for each in shown),
        tuple(_stations(account, name, tick)),
        account.finished(tick),
        account.lost_by_tick(tick),
        lost_sentence(account) if tick == account.ticks else "",
        _listing(reading, program) if tick == 0 else (),
    )


def _listing(reading: Reading, program: Program) -> tuple[tuple[str, str, str], ...]:
    """The start of the program, while nothing of it is under way: address, label and text."""
    # In binary a number has no room in its line: it is in denary then, as in the lines of a cache.
    base = reading.base if reading.base != "binary" else "denary"
    number = Reading(reading.machine, base).number
    return tuple(
        (
            reading.address(address),
            program.labels.get(address, ""),
            # A number may have the bits of an instruction: what it was written as counts.
            number(word)
            if origin.is_data
            else write_instruction(reading.machine, word, program.labels),
        )
        for address, (word, origin) in enumerate(
            zip(program.words[:MOST_LISTED], program.origins, strict=False)
        )
    )


class _Names:
    def __init__(self, reading: Reading, program: Program, memory: Sequence[int]) -> None:
        self.reading, self.program, self.memory = reading, program, memory

    def of(self, row: Row) -> str:
        # What a program has rewritten is another instruction now: the one that was fetched counts.
        word = row.word if row.instruction else self.memory[row.address]
        return write_instruction(self.reading.machine, word, self.program.labels)


def _far(column: int, tick: int) -> bool:
    return column <= max(tick, MOST_TICKS_TALL) - MOST_TICKS_TALL or column > max(
        tick, MOST_TICKS_TALL
    )


def _row(
    account: PipelineAccount, row: Row, name: _Names, ticks: Sequence[int], tick: int
) -> Shown:
    return Shown(
        name.of(row),
        name.reading.address(row.address),
        tuple(_cell(account, row, each, tick) for each in ticks),
        _is_vain(row, tick),
    )


def _is_vain(row: Row, tick: int) -> bool:
    """Whether it is known by a tick that an instruction was fetched in vain: once its jump has been
    executed."""
    return row.in_vain and tick > row.finish


def _cell(account: PipelineAccount, row: Row, at: int, tick: int) -> Cell:
    far = _far(at, tick)
    if at > tick:
        return Cell("", "none", "", at == tick, far)
    wait, stage = row.waiting(at), row.stage(at)
    why = WHY[wait.why] if wait else None
    if why and why.short:
        return Cell(why.short, "wait", f"tick {at}: waits, {why.now}", at == tick, far)
    if stage is None:
        return Cell("", "none", "", at == tick, far)
    named = account.shape.names[stage]
    vain = _is_vain(row, tick)
    kind = "vain" if vain else "work"
    more = ", in vain" if vain else ""
    return Cell(named.letter, kind, f"tick {at}: {named}{more}", at == tick, far)


def _stations(account: PipelineAccount, name: _Names, tick: int) -> list[Station]:
    found = []
    for at, stage in enumerate(account.shape.names):
        here = next((each for each in account.around(tick) if each.stage(tick) == at), None)
        if here is None:
            found.append(Station(stage, stage.letter, "", "none"))
            continue
        wait = here.waiting(tick)
        found.append(Station(stage, stage.letter, name.of(here), "wait" if wait else "work"))
    return found
