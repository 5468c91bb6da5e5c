"""The names of the parts: those of the trade, and those that the drawing has."""

from __future__ import annotations

import pytest

from app.lesson.blocks.show import read_show
from app.lesson.entries import Wrong
from app.lesson.parts import ALL_PARTS, GROUPS, PARTS, TITLES, find_parts, part_name
from app.machine.registers import REGISTERS
from app.machine.transfers import Place


def test_every_place_of_the_machine_and_every_bus_is_a_part() -> None:
    assert {each.value for each in Place} <= ALL_PARTS
    assert {"store", "address bus", "data bus", "control bus"} <= ALL_PARTS
    assert len(ALL_PARTS) == len(Place) + 4


def test_the_groups_are_made_of_parts() -> None:
    assert all(set(each) <= ALL_PARTS for each in GROUPS.values())
    assert set(GROUPS["everything"]) == ALL_PARTS == set(find_parts("all"))


@pytest.mark.parametrize("key", PARTS)
def test_every_name_in_any_case_with_or_without_the(key: str) -> None:
    for name in (key, *PARTS[key]):
        for said in (name, name.upper(), f"the {name}", f"The  {name.lower()}"):
            assert find_parts(said) == (key,)


def test_the_trade_names() -> None:
    assert part_name("ACC") == "accumulator"
    assert part_name("store") == "register panel"
    assert part_name("data bus") == "data bus"
    assert (TITLES["MAR"], TITLES["store"]) == ("Memory address register", "Registers")


def test_the_names_of_registers_are_those_of_the_machine() -> None:
    for each in REGISTERS:
        assert PARTS[each.tag] == (each.name, *each.also)


def test_the_registers_come_with_the_panel_round_them() -> None:
    registers = {"store", "PC", "MAR", "MDR", "CIR", "ACC", "status"}
    assert set(find_parts("the registers")) == registers
    # Wordings of a syllabus, for the panel alone.
    assert find_parts("immediate access store") == find_parts("IAS") == ("store",)


@pytest.mark.parametrize(
    ("name", "mend"),
    [
        ("acumulator", "'accumulator'"),
        ("program countr", "'program counter'"),
        ("main memery", "'main memory'"),
        ("adress bus", "'address bus'"),
        ("xyzzy", "Write main memory, control unit, arithmetic and logic unit, register panel,"),
    ],
)
def test_near_misses(name: str, mend: str) -> None:
    with pytest.raises(Wrong) as caught:
        find_parts(name)
    assert f"'{name}'" in caught.value.what
    assert mend in caught.value.mend


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("CU", {"CU"}),
        ("main memory, the ALU and PC", {"memory", "ALU", "PC"}),
        ("the arithmetic and logic unit and the control unit", {"ALU", "CU"}),
        ("MAR\nMDR\n\n  CIR,", {"MAR", "MDR", "CIR"}),
        ("the buses", {"address bus", "data bus", "control bus"}),
        ("nothing", set()),
        ("everything", set(PARTS)),
    ],
)
def test_a_show_block(text: str, parts: set[str]) -> None:
    assert read_show(text, 1) == (frozenset(parts), [])


@pytest.mark.parametrize(
    ("text", "left_out"),
    [
        ("everything but the status", {"status"}),
        ("Everything but MAR, MDR and the control bus", {"MAR", "MDR", "control bus"}),
        ("everything but\n", set()),
    ],
)
def test_everything_but_some_parts(text: str, left_out: set[str]) -> None:
    parts, problems = read_show(text, 1)
    if left_out:
        assert (ALL_PARTS - parts, problems) == (left_out, [])
    else:
        assert problems


def test_a_fault_after_everything_but_says_where() -> None:
    _, (problem,) = read_show("everything but the statsu", 7)
    assert (problem.line, problem.column) == (7, 16)
    assert "'the statsu'" in problem.what


def test_faults_of_a_show_block_say_where() -> None:
    _, problems = read_show("main memory,\n  control unit and acumulator", 10)
    assert [(each.line, each.column, each.length) for each in problems] == [(11, 20, 10)]
    _, (empty,) = read_show("\n", 10)
    assert (empty.line, "nothing" in empty.mend) == (10, True)
    _, many = read_show(", ".join(["CU"] * 61), 1)
    assert "61 names" in many[0].what
    _, wrong = read_show(", ".join(["xyzzy"] * 50), 1)
    assert len(wrong) == 21 and "not read" in wrong[-1].what


def test_a_line_after_everything_but_is_told() -> None:
    parts, (warning,) = read_show("everything but the status,\nthe output", 7)
    assert "output" in parts and "status" not in parts
    assert (warning.line, warning.column, warning.warning) == (8, 1, True)
    assert "so it is shown" in warning.what and "in that line" in warning.mend
    mended = "everything but the status, the output\neverything but input"
    assert read_show(mended, 7) == (ALL_PARTS - {"status", "output", "input"}, [])
