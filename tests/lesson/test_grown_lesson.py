"""A lesson that switches parts on, from its file: what it may say, and what comes of it."""

from __future__ import annotations

import pytest

from app.lesson.file.reader import read_lesson
from app.lesson.header import Counted
from app.lesson.model import Lesson
from app.lesson.paper.trace import Rows, trace_table, usual_columns
from app.lesson.paper.versions import make_versions
from app.lesson.parts import EVERY_PART, all_parts, find_parts, part_name
from app.lesson.places import read_when
from app.machine.growing import PARTS, grown
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT
from app.machine.telling.costs import cost, so_far
from tests.codes import ALL_CODES, EXECUTE_STEPS
from tests.hardware.rtl import signed, simulate

EVERY = grown(frozenset(PARTS))
HEADER = """---
title: Grown
machine: 16-bit
with: bit operations, index register, stack, interrupts
---
# Sum
"""
# A list is added up by the index inside a subroutine, and the sum halved.
PROGRAM = """```program
        CALL  sum
        SHIFT #1 RIGHT SIGNED
        OUTPUT
        CALL  sum
        HALT
sum:    LOAD  #0
        LOAD  #0 TO INDEX
again:  ADD   list INDEXED
        ADD   #1 TO INDEX
        COMPARE #3 WITH INDEX
        JUMP  again IF LESS
        RETURN
list:   5
        7
        -2
```
"""


def lesson(blocks: str = "", program: str = PROGRAM, header: str = HEADER) -> Lesson:
    return read_lesson("grown", f"{header}{program}{blocks}")


def told(found: Lesson) -> list[str]:
    return [f"{each.what} {each.mend}" for each in found.problems]


# The header.


def test_the_parts_are_switched_on_by_the_header() -> None:
    found = lesson()
    assert told(found) == []
    assert found.header.machine is EVERY
    scene = found.scenes[0]
    assert scene.parts == all_parts(EVERY) == EVERY_PART
    assert scene.run.finish().sent == 1
    assert scene.run.outputs(1) == (5,)


@pytest.mark.parametrize(
    ("line", "what", "mend"),
    [
        ("with: stak", "'stak' is not a part that the machine can grow by", "'stack'"),
        ("with: wings", "'wings' is not a part", "index register, stack or interrupts"),
        ("with:\n  stack: yes", "It needs a list", "bit operations"),
        ("count: money", "'money' is not something that can be counted", "trips or ticks"),
        ("machine: 8-bit\nwith: stack", "The 8-bit machine has no room", "machine: 16-bit"),
    ],
)
def test_slips_in_the_header_are_told(line: str, what: str, mend: str) -> None:
    size = "" if "machine" in line else "machine: 16-bit\n"
    found = lesson(header=f"---\ntitle: Grown\n{size}{line}\n---\n# Sum\n", program="Notes.")
    (problem, *_) = found.faults
    assert what in problem.what and mend in problem.mend


def test_the_order_of_the_fetch_and_the_parts_go_together() -> None:
    found = lesson(header=HEADER.replace("with:", "counter moves: second\nwith:"))
    machine = found.header.machine
    assert machine.counter_moves == "second" and machine.parts == EVERY.parts


def test_a_lesson_without_parts_has_the_machine_as_it_was() -> None:
    header = "---\ntitle: Plain\nmachine: 16-bit\n---\n# Sum\n"
    found = lesson(program="```program\nLOAD #1\nHALT\n```\n", header=header)
    assert found.header.machine is SIXTEEN_BIT and found.header.counted == ()
    assert not found.scenes[0].parts & {"X", "SP", "carry", "adder"}


# Names of parts.


def test_the_parts_of_a_grown_machine_are_named() -> None:
    assert find_parts("the index register", EVERY) == find_parts("x", EVERY) == ("X",)
    assert find_parts("stack pointer", EVERY) == ("SP",)
    assert find_parts("the carry", EVERY) == ("carry",)
    assert find_parts("address adder", EVERY) == ("adder",)
    assert set(find_parts("registers", EVERY)) > {"X", "SP", "carry", "ACC"}
    assert set(find_parts("everything", EVERY)) == all_parts(EVERY)
    assert part_name("SP", EVERY) == "stack pointer"
    assert all_parts(SIXTEEN_BIT) == all_parts(EIGHT_BIT) < all_parts(EVERY)


def test_cues_and_show_blocks_name_them() -> None:
    blocks = """```show
registers, main memory
```
```cues
first CALL: Off. [hide SP, show the address adder]
when X changes: On. [hide carry]
```
"""
    found = lesson(blocks)
    assert told(found) == []
    scene = found.scenes[0]
    at = scene.cue_sheet.parts
    assert {"X", "SP", "carry"} <= at(0) and "adder" not in at(0)
    assert "SP" not in at(10) and "adder" in at(10) and "carry" in at(10)
    assert "carry" not in at(scene.run.last_step)


def test_a_part_that_is_not_there_cannot_be_shown() -> None:
    header = HEADER.replace("index register, ", "")
    found = lesson("```show\nindex register\n```\n", "```program\nHALT\n```\n", header)
    assert "No part is called 'index register'" in told(found)[0]


# Places: held to the hardware, which knows nothing of labels.


def snapshots(found: Lesson) -> list[object]:
    program = found.scenes[0].program
    return list(simulate("16-bit", program.words, (), 2000, False, frozenset(PARTS)))


@pytest.mark.parametrize(
    ("place", "name", "count"),
    [
        ("call of sum", "CALL a", 2),
        ("return from sum", "RETURN", 2),
        ("second call of sum", "CALL a", 1),
    ],
)
def test_calls_and_returns_of_a_label(place: str, name: str, count: int) -> None:
    found = lesson()
    spans = found.scenes[0].timeline.spans(read_when(place, machine=EVERY))
    assert len(spans) == count
    real = snapshots(found)
    for span in spans:
        assert span.last - span.first + 1 == EXECUTE_STEPS[ALL_CODES[name]]
        assert real[span.last - 1].cir >> 8 == ALL_CODES[name]  # type: ignore[attr-defined]


def test_a_return_belongs_to_what_was_called() -> None:
    """Of two subroutines, one inside the other."""
    nested = """```program
        CALL  one
        HALT
one:    CALL  two
        CALL  two
        RETURN
two:    RETURN
```
"""
    timeline = lesson(program=nested).scenes[0].timeline

    def count(place: str) -> int:
        return len(timeline.spans(read_when(place, machine=EVERY)))

    assert [count(f"call of {each}") for each in ("one", "two")] == [1, 2]
    assert [count(f"return from {each}") for each in ("one", "two")] == [1, 2]
    # They are no jumps: a jump does not come back.
    assert count("jump taken") == 0
    last = timeline.spans(read_when("return from one", machine=EVERY))[0]
    assert all(
        each.last < last.first
        for each in timeline.spans(read_when("return from two", machine=EVERY))
    )


@pytest.mark.parametrize("register", ["X", "SP", "carry"])
def test_when_a_register_changes(register: str) -> None:
    found = lesson()
    spans = found.scenes[0].timeline.spans(read_when(f"when {register} changes", machine=EVERY))
    name = register.lower()
    real = snapshots(found)
    first = {"x": 0, "sp": 256, "carry": 0}[name]
    held = [first, *(getattr(each, name) for each in real)]
    changes = [at for at in range(1, len(held)) if held[at] != held[at - 1]]
    assert [each.first for each in spans] == changes != []


def test_places_of_calls_need_a_stack() -> None:
    found = lesson(
        "```cues\ncall of sum: x\n```\n",
        "```program\nHALT\n```\n",
        HEADER.replace(", stack, interrupts", ""),
    )
    assert "it has no CALL" in told(found)[0] and "with: stack" in told(found)[0]


# Questions, tables and versions.


def test_questions_about_the_registers_of_the_parts() -> None:
    blocks = """```question
before first RETURN: What is in the index register afterwards?
ask: the index register
```
```question
before first CALL: Where does the stack pointer stand afterwards?
ask: the stack pointer
```
```question
before first return from sum: Where does it go on?
ask: the next address
```
```question
before first SHIFT: And the carry?
ask: the carry
```
"""
    found = lesson(blocks)
    assert told(found) == []
    answers = {each.prompt: each.choices[each.answer] for each in found.scenes[0].questions}
    assert [*answers.values()] == ["255", "3", "1", "0"]
    for each in found.scenes[0].questions:
        for choice, reason in zip(each.choices, each.reasons, strict=True):
            assert bool(reason) == (choice != each.choices[each.answer])


def test_a_trace_table_has_their_columns() -> None:
    scene = lesson().scenes[0]
    columns = usual_columns(scene.run, scene.program, Rows.INSTRUCTIONS)
    assert [each.title for each in columns] == ["PC", "ACC", "X", "status", "SP", "[255]", "output"]
    table = trace_table(scene.run, scene.program, columns)
    assert table.start[4] == "256"
    real = snapshots(lesson())
    for row in table.rows:
        after = real[row.step - 1]
        held = (after.pc, signed(after.acc, 16), signed(after.x, 16), after.sp)  # type: ignore[attr-defined]
        shown = [row.values[at].replace("\N{MINUS SIGN}", "-") for at in (0, 1, 2, 4)]
        assert shown == [str(each) for each in held]
    # A call writes the pointer, the word on the stack and the counter; the index it leaves.
    assert table.rows[0].written == (True, False, False, False, True, True, False)


def test_a_carry_has_a_column_where_a_jump_goes_by_it() -> None:
    program = "```program\nLOAD #1\nSHIFT #1 RIGHT\nJUMP 3 IF CARRY\nHALT\n```\n"
    scene = lesson(program=program).scenes[0]
    columns = usual_columns(scene.run, scene.program, Rows.INSTRUCTIONS)
    assert [each.title for each in columns] == ["PC", "ACC", "carry"]


def test_versions_leave_addresses_that_are_data_alone() -> None:
    program = """```program
        LOAD  where INDIRECT
        OUTPUT
        HALT
where:  4
number: 9
```
"""
    scene = lesson(program=program).scenes[0]
    made = make_versions(scene, 4, "seed")
    assert len(made) == 4
    for each in made:
        assert each.scene.program.words[3] == 4
        assert each.changed <= {4}


# What it costs.


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("LOAD #n", "LOAD #n takes 6 ticks. After its fetch it needs nothing from memory."),
        ("LOAD a", "LOAD a takes 8 ticks. After its fetch it goes to memory once."),
        (
            "LOAD a INDIRECT",
            "LOAD a INDIRECT takes 10 ticks. After its fetch it goes to memory twice.",
        ),
    ],
)
def test_the_cost_of_an_instruction(written: str, said: str) -> None:
    """0, 1 and 2 trips for a number, an address and an address of an address."""
    instruction = EVERY.by_code[ALL_CODES[written]]
    assert cost(EVERY, instruction) == said
    # By the published table: five steps before, and a tick for each transfer.
    assert EVERY.ticks(instruction) == 5 + EXECUTE_STEPS[instruction.code]
    trips = said.partition(". ")[2].replace("fetch it", f"fetch {written}")
    assert cost(EVERY, instruction, ticks=False) == trips
    assert cost(EVERY, instruction, trips=False, ticks=False) == ""


def test_what_a_run_has_cost() -> None:
    found = lesson(header=HEADER.replace("with:", "count: ticks, trips\nwith:"))
    assert found.header.counted == (Counted.TRIPS, Counted.TICKS)
    scene = found.scenes[0]
    # CALL writes once; after it LOAD # twice, then ADD INDEXED reads once.
    assert [scene.timeline.trips(step) for step in (8, 9, 10, 30)] == [0, 1, 1, 2]
    assert so_far(1, 1) == "So far: 1 tick, 1 trip to memory beside the fetches"
    assert so_far(1200) == "So far: 1,200 ticks"
    assert so_far(9, 0, ticks=False) == "So far: 0 trips to memory beside the fetches"
