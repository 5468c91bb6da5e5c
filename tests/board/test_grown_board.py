"""What a lesson does not switch on is not on its board, nor sent to it."""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from app import create_app
from app.board.drawing import Form
from app.board.frames import make_frame
from app.board.stylesheet import positions_css
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson
from app.lesson.parts import titles_of
from app.machine.growing import PARTS, grown, key_of, machine_of
from app.machine.machine import MACHINES, SIXTEEN_BIT
from app.paths import resource

PLAIN = """---
title: The ferry
machine: 16-bit
---

# Fares

```program
again:  LOAD fare
        ADD  #2
        COMPARE #11
        JUMP again IF MORE
        OUTPUT
        HALT
fare:   9
```
"""


def grown_css() -> str:
    folder = resource("static") / "css"
    return "".join(each.read_text(encoding="utf-8") for each in sorted(folder.glob("grown*.css")))


def test_each_machine_has_a_key_of_its_own() -> None:
    every = [*MACHINES.values()]
    for count in range(1, len(PARTS) + 1):
        every += [grown(frozenset(each)) for each in combinations(PARTS, count)]
    # Interrupts bring the stack, so that a choice without it is the machine with it.
    assert len({key_of(each) for each in every}) == len({*every}) == 13
    assert all(machine_of(key_of(each)) is each for each in every)
    for wrong in ("", "32-bit", "8-bit_stack", "16-bit_", "16-bit_stack_stack", "16-bit_valve"):
        assert machine_of(wrong) is None


@pytest.mark.parametrize("form", [None, *Form])
def test_a_plain_machine_is_sent_nothing_of_a_grown_one(form: Form | None) -> None:
    own = re.compile(r"adder|bitwise|piled|of-stack|pointer|request|interrupt")
    rules = [line for line in grown_css().splitlines() if own.search(line)]
    plain = positions_css(SIXTEEN_BIT, form)
    assert len(rules) > 20
    assert not [line for line in rules if line in plain.splitlines()]
    assert not re.search(
        r"at-(carry|X|SP|V|interrupts|request|adder|count-)|\.column-|--notch", plain
    )
    whole = positions_css(grown(frozenset(PARTS)), form)
    for place in (
        "carry",
        "X",
        "SP",
        "adder",
        "count-SP",
        "column-15",
        "V",
        "interrupts",
        "request",
    ):
        assert re.search(rf"\.(at-)?{place}\b", whole), place


def test_a_program_without_the_parts_moves_and_says_the_same() -> None:
    """But for the carry, which a sum sets where there is one, so bit operations are left out."""
    parted = PLAIN.replace("machine: 16-bit", "machine: 16-bit\nwith: index register, stack")
    one, other = (Session("ferry", read_lesson("ferry", text)) for text in (PLAIN, parted))
    for _ in range(one.lesson.scenes[0].run.last_step):
        one.forward()
        other.forward()
        plain, more = make_frame(one.view()), make_frame(other.view())
        assert plain.moving == more.moving and plain.rows == more.rows
        assert (plain.sentence, plain.notation) == (more.sentence, more.notation)
        assert {*plain.registers} < {*more.registers}
        assert not (plain.adder or plain.bits or plain.counting or plain.longer)
        assert more.adder and [each for each, _ in more.counting] == ["SP"]


@pytest.fixture
def client() -> FlaskClient:
    return create_app().test_client()


def test_the_pages_of_a_plain_lesson_have_no_part_of_a_grown_machine(client: FlaskClient) -> None:
    board = client.post("/lessons/10-lighthouse-list/teach").location
    client.post(f"{board}/step", data={"step": "40"})
    page = client.get(board).text
    assert "at-ACC" in page
    assert not re.search(r"at-(carry|X|SP|adder|count)|class=\"bitwise|\bpiled\b|pointer", page)
    assert "part-adder" not in client.get(f"{board}/teacher").text


def test_a_style_sheet_is_served_for_each_choice_of_parts(client: FlaskClient) -> None:
    for key in ("16-bit", "16-bit_stack", "16-bit_bit-operations_index-register_stack"):
        assert client.get(f"/positions/{key}.css").status_code == 200
    assert client.get("/positions/8-bit_stack.css").status_code == 404


def test_the_parts_of_a_grown_machine_can_be_shown_by_hand() -> None:
    titles = titles_of(grown(frozenset(PARTS)))
    assert {"carry": "Carry", "X": "Index register", "SP": "Stack pointer"}.items() <= (
        titles.items()
    )
    assert set(titles_of(SIXTEEN_BIT)) == set(titles) - {
        *("carry", "X", "SP", "V", "interrupts", "adder")
    }


def test_what_a_run_has_cost_stands_on_the_page_where_a_lesson_asks(tmp_path: Path) -> None:
    asked = PLAIN.replace("machine: 16-bit", "machine: 16-bit\ncount: ticks")
    (tmp_path / "asked.md").write_text(asked, encoding="utf-8")
    (tmp_path / "plain.md").write_text(PLAIN, encoding="utf-8")
    client = create_app(tmp_path).test_client()
    for name, said in (("asked", True), ("plain", False)):
        board = client.post(f"/lessons/{name}/teach").location
        client.post(f"{board}/step", data={"step": "7"})
        assert ("So far: 7 ticks" in client.get(board).text) is said
