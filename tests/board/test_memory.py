"""The panes of memory: what is looked at is in sight, once, and the watch list keeps its place."""

from __future__ import annotations

import random

import pytest

from app.board.drawing import Form, drawing, slots_in_sight
from app.board.frames import FREE, PILED, TOP, make_frame
from app.board.memory import panes, uses_stack
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson
from app.machine.machine import EIGHT_BIT, SIXTEEN_BIT

LESSON = """---
title: The orchard's crates
machine: 16-bit
---

# All crates

```program
again:  INPUT
        STORE last
        ADD   total
        STORE total
        LOAD  last
        COMPARE #0
        JUMP  again IF MORE
        HALT
last:   0
total:  0
limit:  30000
spare:  7
```

```inputs
4, 0
```
"""
WATCHED = "\n```watch\ntotal, again\n```\n"


def session_of(text: str) -> Session:
    lesson = read_lesson("crates", text)
    assert not lesson.problems
    return Session("crates", lesson)


def test_a_small_memory_is_in_sight_whole() -> None:
    assert panes(EIGHT_BIT, (3,), 9, 0).addresses == tuple(range(16))


@pytest.mark.parametrize("seed", range(20))
def test_what_is_looked_at_is_in_sight_and_no_word_twice(seed: int) -> None:
    chance = random.Random(seed)
    watch = tuple(chance.sample(range(256), chance.randrange(5)))
    for at in (*range(256), *watch):
        counter = chance.randrange(256)
        made = panes(SIXTEEN_BIT, watch, at, counter)
        assert len(made.addresses) == len(set(made.addresses)) == slots_in_sight(SIXTEEN_BIT)
        assert made.addresses[made.slot(at)] == at
        # The watch list keeps its place, and the window is in order, with no gap but for it.
        assert made.addresses[len(made.addresses) - len(watch) :] == watch
        window = made.addresses[: len(made.addresses) - len(watch)]
        assert [each for each in range(window[0], window[-1] + 1) if each not in watch] == [*window]


def test_while_a_watched_word_is_read_the_program_stays() -> None:
    made = panes(SIXTEEN_BIT, (200,), 200, 12)
    assert 12 in made.addresses and 200 in made.addresses


def test_data_with_labels_are_watched_where_the_lesson_names_none() -> None:
    session = session_of(LESSON)
    rows = make_frame(session.view()).rows
    assert [row.text for row in rows if row.watched] == ["last", "total", "limit"]


def test_the_lesson_names_what_is_watched() -> None:
    session = session_of(LESSON + WATCHED)
    for _ in range(40):
        frame = make_frame(session.view())
        watched = [row for row in frame.rows if row.watched]
        assert [(row.text if row.kind == "data" else row.label) for row in watched] == [
            "total",
            "again",
        ]
        session.forward()


def test_every_step_of_a_large_memory_moves_to_a_word_in_sight() -> None:
    session = session_of(LESSON)
    for _ in range(60):
        session.forward()
        frame = make_frame(session.view())
        for each in frame.moving:
            for name in each.routes:
                for end in name.split("-"):
                    slot = end.removeprefix("memory")
                    if end != slot and slot:
                        assert frame.rows[int(slot)].lit


@pytest.mark.parametrize("seed", range(10))
def test_the_top_of_the_stack_is_in_sight_at_the_foot(seed: int) -> None:
    chance = random.Random(seed)
    watch = tuple(chance.sample(range(200), chance.randrange(5)))
    for pointer in range(1, 257):
        at, counter = chance.randrange(256), chance.randrange(256)
        made = panes(SIXTEEN_BIT, watch, at, counter, pointer)
        assert len(made.addresses) == len(set(made.addresses)) == slots_in_sight(SIXTEEN_BIT)
        assert made.addresses[made.slot(at)] == at
        assert [made.is_piled(slot) for slot in range(8)] == [False] * (8 - made.piled) + (
            [True] * made.piled
        )
        assert [each for slot, each in enumerate(made.addresses) if made.is_watched(slot)] == [
            *watch
        ]
        # The end of memory is below, the top of the stack and the place over it are there.
        pile = made.addresses[8 - made.piled :]
        assert list(pile) == sorted(pile) and len(pile) >= 2
        for each in {pointer - 1, min(pointer, 255)} - set(watch):
            assert each in pile
        # The program keeps a window, however much else is watched.
        assert 8 - made.piled - made.watched >= 2


STACKED = """---
title: The depot
machine: 16-bit
with: bit operations, index register, stack
---

# Down and up again

```program
        LOAD #5
        CALL down
        OUTPUT
        HALT
down:   PUSH
        SUBTRACT #1
        JUMP back IF EQUAL
        CALL down
back:   LOAD #0 TO INDEX
        LOAD list INDEXED
        XOR  #3
        SHIFT #2 LEFT
        LOAD #0 FROM STACK
        STORE spare INDIRECT
        POP
        RETURN
spare:  18
list:   5
        6
```
"""


def test_every_step_of_a_grown_machine_moves_along_lines_to_a_word_in_sight() -> None:
    session = session_of(STACKED)
    machine = session.lesson.header.machine
    lines = [{each.name for each in drawing(form, machine).routes()} for form in Form]
    run = session.lesson.scenes[0].run
    seen = set()
    for step in range(1, run.last_step + 1):
        session.forward()
        frame = make_frame(session.view())
        assert frame.view.step == step
        for each in frame.moving:
            for name in each.routes:
                assert all(name in known for known in lines), name
                seen.add(name)
                for end in name.split("-"):
                    slot = end.removeprefix("memory")
                    if end != slot and slot:
                        assert frame.rows[int(slot)].lit
        # What is said of the stack is what its pointer says.
        pointer = run.moment(step).after.held("SP")
        assert isinstance(pointer, int)
        told = {row.at: row.pile.now for row in frame.rows if row.pile}
        for at, said in told.items():
            assert said == (FREE if at < pointer else TOP if at == pointer else PILED)
        assert [row.at for row in frame.rows if row.top] == ([pointer] if pointer < 256 else [])
    assert {"SP-SP", "CU-adder", "X-adder", "SP-adder", "adder-MAR", "ALU-carry"} <= seen


FAR = """---
title: The far shelf
machine: 16-bit
with: index register, stack
depth: phases
---

# Where it is stored

```program
        LOAD  place INDIRECT
        STORE place INDIRECT
        ADD   place INDIRECT
        LOAD  40 INDIRECT
        STORE 250 INDIRECT
        PUSH
        COMPARE place INDIRECT
        LOAD  place INDEXED
        JUMP  leave INDIRECT
        HALT
place:  200
leave:  9
```
"""


@pytest.mark.parametrize("watch", ["", "nothing", "place", "place, leave"])
def test_a_phase_that_goes_to_two_places_of_memory_has_both_in_sight(watch: str) -> None:
    session = session_of(FAR + (f"\n```watch\n{watch}\n```\n" if watch else ""))
    # By the meaning of the words: the address that is written, and then what is stored there.
    far = {10, 200}
    expected = [far, far, far, {40, 0}, {250, 0}, {255}, far, {10}, {11}]
    found = []
    for _ in expected:
        for phase in range(3):
            session.step_on()
            view = session.view()
            frame = make_frame(view)
            lit = {row.at for row in frame.rows if row.lit}
            ends = {end for each in frame.moving for name in each.routes for end in name.split("-")}
            slots = {int(end[6:]) for end in ends if end[6:].isdigit() and end[:6] == "memory"}
            assert {frame.rows[slot].at for slot in slots} == lit
            assert len({row.at for row in frame.rows}) == slots_in_sight(SIXTEEN_BIT)
            if phase == 2:
                found.append(lit)
    assert found == expected


@pytest.mark.parametrize("seed", range(10))
def test_words_that_are_looked_at_together_are_in_sight_together(seed: int) -> None:
    chance = random.Random(seed)
    watch = tuple(chance.sample(range(256), chance.randrange(5)))
    for pointer in (None, *range(1, 257)):
        at, before, counter = (chance.randrange(256) for _ in range(3))
        made = panes(SIXTEEN_BIT, watch, at, counter, pointer, [before])
        assert len(made.addresses) == len(set(made.addresses)) == slots_in_sight(SIXTEEN_BIT)
        assert {at, before} <= set(made.addresses)
        window = made.addresses[: len(made.addresses) - made.watched - made.piled]
        assert list(window) == sorted(window)


def test_the_pile_is_there_only_where_a_program_uses_the_stack() -> None:
    assert uses_stack(SIXTEEN_BIT, session_of(LESSON).lesson.scenes[0].program) is False
    unused = LESSON.replace("machine: 16-bit", "machine: 16-bit\nwith: stack")
    rows = make_frame(session_of(unused).view()).rows
    assert not any(row.pile for row in rows)
    # All else is the same as on the plain machine.
    assert rows == make_frame(session_of(LESSON).view()).rows
    assert any(row.pile for row in make_frame(session_of(STACKED).view()).rows)


def test_a_word_that_was_taken_off_is_still_there() -> None:
    session = session_of(STACKED)
    run = session.lesson.scenes[0].run
    pops = [
        number
        for number, _, kind, _ in run.steps()
        if kind.instruction and kind.instruction.name == "POP" and kind.transfer.target == "SP"
    ]
    session.go_to_step(pops[0])
    before = run.moment(pops[0]).before.held("SP")
    (row,) = [row for row in make_frame(session.view()).rows if row.at == before]
    assert row.pile and (row.pile.was, row.pile.now) == (TOP, FREE)
    assert row.number.now == "1"
