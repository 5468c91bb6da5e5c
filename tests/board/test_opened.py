"""The opened ALU and the opened control unit, held to what the run really did."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from random import Random

import pytest
from flask import Flask

from app.board.controls import CONTROLS
from app.board.frames import Frame, make_frame
from app.board.opened import OpenedAlu, column_name, opened_alu
from app.board.opened_control import opened_control
from app.classroom.inside import LOOKS, Inside
from app.classroom.session import Session
from app.classroom.view import View, Went
from app.lesson.file.reader import read_lesson
from app.lesson.header import Symbols
from app.machine.columns import columns_of
from app.machine.growing import PARTS, grown
from app.machine.machine import EIGHT_BIT, Machine
from app.machine.operations import Status
from app.machine.run import Moment, Run
from app.machine.signals import Group
from app.machine.telling.reading import Reading
from tests.codes import PAGE
from tests.hardware.generate import generate, generate_grown

SUM = """---
title: A sum
machine: 8-bit
---

# Two numbers

```program
        LOAD  a
        ADD   b
        SUBTRACT b
        COMPARE b
        HALT
a:      45
b:      27
```
"""


def views(text: str = SUM) -> Iterator[View]:
    """What is on the board at every step."""
    session = Session("sum", read_lesson("sum", text))
    while True:
        view = session.view()
        yield view
        session.step_on()
        if session.view().step == view.step:
            return


def opened(view: View, column: int | None = None) -> Frame:
    return make_frame(replace(view, opened=Inside("alu", column)))


def sums(text: str = SUM) -> list[View]:
    return [view for view in views(text) if view.alu_moment]


def rows(alu: OpenedAlu) -> dict[str, str]:
    """The lines of the table by their names and signs, each as it is read from left to right."""
    return {
        f"{line.sign}{line.name}{'' if line.kind != 'made' else ' made'}": "".join(
            cell.text for cell in line.cells
        )
        for line in alu.lines
    }


def test_a_sum_on_paper() -> None:
    """45 + 27 by hand: 101101 + 11011; a 1 is carried out of the columns of 1, 2, 4, 8, 16, 32."""
    frame = opened(sums()[0])
    assert isinstance(frame.opened, OpenedAlu)
    assert rows(frame.opened) == {
        "carried": "00111111",  # data
        "ACC": "00101101",  # data
        "+MDR": "00011011",  # data
        "ACC made": "01001000",  # data
    }
    assert frame.opened.title == "45 + 27 = 72"
    assert "6 times a 1 is carried" in frame.sentence


def test_a_difference_is_a_sum_with_the_second_word_turned_round() -> None:
    """72 - 27 by hand: to 72 comes 27 with all its bits turned round, and 1 more."""
    found = rows(opened(sums()[1]).opened)  # type: ignore[arg-type]
    assert found["−MDR"] == "00011011"  # data
    assert found["+turned round"] == "11100100"  # data
    assert found["ACC made"] == "00101101"  # data
    assert found["carried"][-1] == "1"


def test_a_comparison_keeps_no_result() -> None:
    frame = opened(sums()[2])
    assert isinstance(frame.opened, OpenedAlu)
    assert [each.name for each in frame.opened.lines][-1] == "difference"
    assert frame.sentence.endswith("The sign bit of the difference is 0: MORE.")


def generated() -> Iterator[tuple[Machine, Moment]]:
    """Every step in which the ALU works, of many programs on the plain and the grown machines."""
    machine = grown(frozenset(PARTS))
    programs = [(EIGHT_BIT, generate("8-bit", seed)) for seed in range(40)]
    programs += [(machine, generate_grown(seed)) for seed in range(60)]
    for made_for, program in programs:
        inputs = tuple(made_for.pattern(each) for each in program.inputs)
        run = Run(made_for, program.memory, inputs, limit=60)
        for step in range(1, 300):
            if not run.reaches(step):
                break
            moment = run.moment(step)
            if moment.step and moment.step.kind.transfer.uses_alu:
                yield made_for, moment


def test_every_column_of_generated_programs_says_what_happened() -> None:
    met: set[str] = set()
    for machine, moment in generated():
        assert moment.step
        transfer = moment.step.kind.transfer
        assert transfer.operation
        alu = opened_alu(Reading(machine, "denary"), moment)
        met.add(transfer.operation.symbol)
        if transfer.operation.compares:
            assert alu.work.status is moment.after.status
            assert alu.sentence.endswith(f": {moment.after.status}.")
        else:
            assert alu.work.result == moment.after.held(transfer.target)
            assert int(rows(alu)[f"{transfer.target} made"], 2) == moment.after.held(
                transfer.target
            )
        if transfer.sets_carry and alu.work.circuit.carries:
            assert re.search(
                rf"kept(: {moment.after.held('carry')}| as the carry)\.$", alu.sentence
            )
        for column in alu.work.columns:
            words = alu.of_column(column)
            bit = alu.work.result >> column.place & 1
            told = re.search(
                r"write (\d)|makes (\d)\.|the (\d) of the .* let|its (\d) stays|a (0) comes",
                words,
            )
            assert told and int(next(each for each in told.groups() if each)) == bit, words
            if found := re.search(r"(\d) \+ (\d) and (\d) carried in make (\d+)", words):
                *three, whole = found.groups()
                assert sum(map(int, three)) == int(whole, 2)
            assert words.startswith(f"The {column_name(1 << column.place)}: ")
            assert len(words) < 130
        assert len(alu.sentence) < 190
    assert met >= {each.symbol for each in grown(frozenset(PARTS)).operations.values()}


def alu_of(machine: Machine, symbol: str, left: int, right: int, keeps: bool = False) -> OpenedAlu:
    work = columns_of(machine, machine.operations[symbol], left, right)
    assert work
    names = ("ACC", "MDR", "ACC")
    reading = Reading(machine, "denary")
    return OpenedAlu(reading, work, names, "", None, Symbols.RECTANGLES, keeps)


@pytest.mark.parametrize("keeps", [False, True])
def test_the_carries_that_are_told_are_those_of_a_sum_on_paper(keeps: bool) -> None:
    """The carry out of a column is what the numbers up to it make too much: worked out with whole
    numbers. The last column has no next one."""
    chance = Random(7)
    pairs = [(128, 128), (0, 0), (255, 1), (255, 255), (1, 1)]
    pairs += [(chance.randrange(256), chance.randrange(256)) for _ in range(500)]
    met = set()
    for left, right in pairs:
        parts = [2 << place for place in range(8)]
        carries = [left % part + right % part >= part for part in parts]
        told = alu_of(EIGHT_BIT, "+", left, right, keeps).sentence
        inner, last = sum(carries[:-1]), int(carries[-1])
        met.add((bool(inner), last))
        found = re.search(r"(Once|\d+ times) a 1 is carried to the next column\.", told)
        said = found[1] if found else ""
        assert said == ("" if not inner else "Once" if inner == 1 else f"{inner} times"), told
        assert ("None has to carry." in told) == (not inner and not last)
        if keeps:
            assert told.endswith(f"The last carry, {last}, is kept as the carry.")
        else:
            assert ("The last carry, 1, has no next column: it is lost." in told) == bool(last)
    assert len(met) == 4


MOVES = (
    "shifted left by",
    "shifted right by",
    "shifted right signed by",
    "rotated left by",
    "rotated right by",
)


@pytest.mark.parametrize("symbol", MOVES)
def test_what_is_told_of_a_move_is_enough_to_carry_it_out(symbol: str) -> None:
    """By the sentence alone, with the bits as a text, everything comes to what the operation makes;
    that is held to the hardware elsewhere."""
    machine, chance = grown(frozenset(PARTS)), Random(3)
    for by in range(1, 16):
        word = chance.randrange(1 << 16) | 1 << chance.choice((0, 15))
        bits = f"{word:016b}"
        told = alu_of(machine, symbol, word, by).sentence
        found = re.search(
            r"stands (\d+) places? further (left|right)\. At the (left|right), where there is none,"
            r" (0 comes in|the sign bit comes in|what leaves at the other end comes in)\.$",
            told,
        )
        assert found, told
        count, side, end, comes = int(found[1]), found[2], found[3], found[4]
        assert side == end
        lost, stay = (
            (bits[:count], bits[count:]) if side == "right" else (bits[-count:], bits[:-count])
        )
        new = {"0": "0" * count, "the": bits[0] * count, "what": lost}[comes.split()[0]]
        made = stay + new if side == "right" else new + stay
        assert int(made, 2) == machine.operations[symbol].result(machine, word, by), told
        assert len(told) < 190


def test_the_columns_are_called_as_at_school() -> None:
    assert [column_name(1 << place) for place in (0, 1, 2, 3, 4, 15)] == [
        "ones column",
        "twos column",
        "fours column",
        "eights column",
        "16s column",
        "32,768s column",
    ]


def test_a_column_opens_with_its_own_bits() -> None:
    view = sums()[0]
    for column in range(8):
        alu = opened(view, column).opened
        assert isinstance(alu, OpenedAlu) and alu.picture
        lit = ["".join(cell.text for cell in line.cells if cell.open) for line in alu.lines]
        carried, first, second, made = lit
        ends = {each.name: str(each.bit) for each in alu.picture.terminals}
        assert (ends["ACC"], ends["MDR"], ends["result"]) == (first, second, made)
        assert ends["carried in"] == (carried or "0")


def test_what_is_opened_moves_only_when_it_is_opened() -> None:
    view = sums()[0]
    on = make_frame(replace(view, opened=Inside("alu"), went=Went.ON))
    assert [each.beat for each in on.moving] == list(range(8))
    assert not any(each.routes for each in on.moving)
    assert not opened(replace(view, went=Went.THERE)).moving


def test_the_header_chooses_the_symbols(web: Flask) -> None:
    view = sums(SUM.replace("8-bit\n", "8-bit\ngates: shapes\n", 1))[0]
    alu = opened(view, 0).opened
    assert isinstance(alu, OpenedAlu) and alu.picture
    assert alu.picture.symbols is Symbols.SHAPES
    assert "A20 20 0 0 1" in shown(web, opened(view, 0))
    assert "&amp;" in shown(web, opened(sums()[0], 0))


def shown(web: Flask, frame: Frame) -> str:
    template = web.jinja_env.get_template("board/frame.html")
    return template.render(frame=frame, still=True, code="")


def test_closed_it_costs_nothing(web: Flask) -> None:
    view = sums()[0]
    closed = shown(web, make_frame(view))
    assert "opened.css" not in closed and "data-inside" not in closed
    now = shown(web, opened(view))
    assert "opened.css" in now and 'data-inside="alu"' in now
    # One stands in the other's place.
    assert 'data-place="ACC"' in closed and 'data-place="ACC"' not in now


def test_the_lines_of_the_control_unit_are_those_of_the_step() -> None:
    for view in views():
        if view.moment is None or view.moment.step is None:
            continue
        frame = make_frame(replace(view, opened=Inside("signals")))
        control = frame.opened
        assert control and control.part == "signals"
        on = [line.name for _, lines in control.groups for line in lines if line.on]
        told = re.fullmatch(
            r"(?:One|\d) control lines? (?:is|are) on in this step: (.*)\.", frame.sentence
        )
        assert told and sorted(re.split(", | and ", told[1])) == sorted(on)
        target = view.moment.step.kind.transfer.target
        if target in ("MAR", "MDR", "ACC", "CIR"):
            assert f"{target} in" in on
        decoded = view.moment.step.kind.phase != "fetch"
        assert bool(control.instruction) == bool(control.opcode) == decoded


def test_a_whole_phase_has_the_lines_of_all_its_steps() -> None:
    run = sums()[0].run
    moments = [run.moment(step) for step in range(1, 5)]
    control = opened_control(Reading(EIGHT_BIT, "denary"), moments, 4)
    assert [title for title, _ in control.groups] == [each.value for each in Group]
    on = {line.name for _, lines in control.groups for line in lines if line.on}
    assert on == {
        "PC out",
        "MAR in",
        "MAR out",
        "memory read",
        "MDR in",
        "MDR out",
        "CIR in",
        "PC up",
    }


def test_every_key_is_a_control_of_the_board() -> None:
    controls = {each.name: each for each in CONTROLS}
    assert set(LOOKS) <= set(controls)
    keys = [key for each in CONTROLS for key in each.keys]
    assert len(keys) == len(set(keys))


def test_the_status_is_told_as_the_page_says() -> None:
    """The specification of the machine: a comparison leaves one of these."""
    assert all(status.value in PAGE for status in Status)
