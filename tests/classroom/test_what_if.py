"""What if? On the board something is changed, and put back."""

from __future__ import annotations

import json

import pytest

from app.board.frames import make_frame
from app.classroom.ballot import Refused
from app.classroom.bookmark import read_bookmark, write_bookmark
from app.classroom.session import Session
from app.classroom.what_if import Change, places, what_if
from app.lesson.entries import Wrong
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Scene
from app.machine.growing import PARTS, grown
from app.machine.machine import SIXTEEN_BIT
from app.machine.source.assembler import assemble
from app.machine.words import BASES

LESSON = """---
title: T
machine: 8-bit
---
# One
```program
        LOAD  fare
        ADD   bag
        OUTPUT
        INPUT
        OUTPUT
        HALT
fare:   9
bag:    4
```

```inputs
5
```

```cues
decode of ADD: Soon it will be added. [hide output]
OUTPUT: Printed. [show output]
```

```question
before first ADD: What comes?
ask: the accumulator
```
"""
ADDING = 13  # the ADD has been decoded


@pytest.fixture
def session() -> Session:
    made = Session("t", read_lesson("t", LESSON))
    made.go_to_step(ADDING)
    return made


def outputs(session: Session) -> list[str]:
    while True:
        before = session.view().step
        session.step_on()
        if session.view().step == before:
            frame = make_frame(session.view())
            return [each.now for each in reversed(frame.outputs.values)]


@pytest.mark.parametrize(
    ("place", "value", "words", "expected"),
    [
        ("ACC", "30", "What if the accumulator holds 30?", ["34", "5"]),
        ("accumulator", "-30", "What if the accumulator holds −30?", ["−26", "5"]),
        ("bag", "0b110", "What if bag holds 6?", ["15", "5"]),
        ("7", "0000 0111", "What if bag holds 7?", ["16", "5"]),
        ("bag", "‘;’", "What if bag holds 59?", ["68", "5"]),
        ("input", "8, 1", "What if the next inputs are 8, 1?", ["13", "8"]),
        ("CIR", "SUBTRACT bag", "What if the current instruction register holds", ["13", "5"]),
        ("2", "HALT", "What if address 2 holds 0?", []),
        ("status", "less", "What if the status holds LESS?", ["13", "5"]),
        ("PC", "4", "What if the program counter holds 4?", ["13"]),
    ],
)
def test_what_would_come(
    session: Session, place: str, value: str, words: str, expected: list[str]
) -> None:
    session.suppose(place, value)
    view = session.view()
    assert view.step == ADDING and view.what_if.words.startswith(words)
    assert make_frame(view).what_if == view.what_if.words
    assert outputs(session) == expected
    session.put_back()
    assert session.view().step == ADDING and session.view().what_if is None
    assert outputs(session) == ["13", "5"]


def test_several_things_are_changed(session: Session) -> None:
    session.suppose("ACC", "1")
    session.suppose("bag", "2")
    session.suppose("ACC", "3")
    assert session.view().what_if.words == "What if the accumulator holds 3 and bag holds 2?"
    session.forward_instruction()
    # And again later in that run.
    session.suppose("ACC", "100")
    assert session.view().what_if.words == (
        "What if the accumulator holds 3 and bag holds 2, and then the accumulator holds 100?"
    )
    assert outputs(session) == ["100", "5"]
    session.put_back()
    assert session.view().step == ADDING


def test_a_number_is_not_taken_for_one_of_another_base(session: Session) -> None:
    """On a board in hexadecimal '26' would be 38."""
    session.suppose("ACC", "26")
    said = []
    for _ in BASES:
        said.append((session.view().settings.base, make_frame(session.view()).what_if))
        session.change("base")
    assert dict(said) == {
        "denary": "What if the accumulator holds 26?",
        "hexadecimal": "What if the accumulator holds 26 in denary?",
        "binary": "What if the accumulator holds 26 in denary?",
    }
    session.put_back()
    session.change("base")
    assert session.view().settings.base == "hexadecimal"
    session.suppose("status", "MORE")
    assert make_frame(session.view()).what_if == "What if the status holds MORE?"


def test_it_does_not_go_back_before_the_change(session: Session) -> None:
    session.suppose("ACC", "1")
    session.back()
    assert session.view().step == ADDING
    session.forward()
    session.back()
    session.back_instruction()
    assert session.view().step == ADDING and session.view().what_if
    session.restart()
    assert session.view().step == ADDING and session.view().what_if


def test_who_looks_back_reads_why_there_is_nothing_further_back(session: Session) -> None:
    """The steps before the change are those of another run. The board has come to them."""
    session.suppose("ACC", "1")
    with pytest.raises(IndexError, match="something was changed on the board since"):
        session.earlier(ADDING - 1, -1)
    with pytest.raises(IndexError, match="has not come to that step yet"):
        session.earlier(ADDING + 1, -1)
    assert session.earlier(ADDING, -1).step == ADDING


def test_the_lesson_is_silent_meanwhile(session: Session) -> None:
    """No cue speaks of a run that is not the lesson's, and nothing is asked of it."""
    session.suppose("ACC", "1")
    assert session.question_here() is None
    with pytest.raises(Refused, match="Put it back"):
        session.open_question(1)
    hidden = session.view().hidden
    assert "output" in hidden
    steps = [ADDING]
    for _ in range(8):
        session.forward()
        view = session.view()
        steps.append(view.step)
        assert view.cue is None and view.poll is None and view.hidden == hidden
    assert steps == [*range(ADDING, ADDING + 9)]


def test_no_question_is_promised_while_something_is_changed(session: Session) -> None:
    """None comes in such a run, wherever the lesson's own has one."""
    session.go_to_step(0)
    session.suppose("ACC", "1")
    with pytest.raises(Refused, match="Put it back before you ask"):
        session.next_in_question()
    assert session.view().notice == ""
    session.put_back()
    session.next_in_question()
    assert session.view().notice.startswith("The next question of this scene comes at")


def test_nothing_is_changed_while_a_question_is_on_the_board(session: Session) -> None:
    session.open_question(1)
    with pytest.raises(Refused, match="A question is on the board"):
        session.suppose("ACC", "1")


@pytest.mark.parametrize(
    ("place", "value", "what"),
    [
        ("ACC", "many", "'many' is neither a number nor an instruction"),
        ("ACC", "1 2", "after the number"),
        ("ACC", "300", "does not fit a word of 8 bits"),
        ("ACC", "", "not one value"),
        ("ACC", "1; 2", "not one value"),
        ("PC", "16", "There is no address 16. Write a number from 0 to 15"),
        ("PC", "x", "number"),
        ("99", "1", "There is no address 99"),
        ("bags", "1", "'bags' is not a register"),
        ("status", "SOME", "'SOME' is not a status"),
        ("input", "1, x", "'x' is neither"),
        ("ACC", "1" * 201, "too long"),
    ],
)
def test_what_cannot_be(session: Session, place: str, value: str, what: str) -> None:
    with pytest.raises(Refused) as refused:
        session.suppose(place, value)
    assert what in str(refused.value)
    assert session.view().what_if is None and session.view().step == ADDING


def test_every_place_that_is_offered_can_be_changed(session: Session) -> None:
    for place, _name in places(session.lesson.scenes[0].program):
        session.suppose(place, "MORE" if place == "status" else "1")
    assert session.view().what_if


def test_a_scene_without_a_machine() -> None:
    text = "---\ntitle: T\n---\n# One\nWords.\n"
    with pytest.raises(Refused, match="no machine"):
        Session("t", read_lesson("t", text)).suppose("ACC", "1")


def test_after_a_restart_it_is_put_back_and_that_is_told(session: Session) -> None:
    session.suppose("ACC", "1")
    session.forward()
    kept = json.loads(json.dumps(write_bookmark(session.view())))
    lesson = read_lesson("t", LESSON)
    again = Session("t", lesson, bookmark=read_bookmark(kept, Depth.TRANSFERS, {}))
    view = again.view()
    assert view.step == ADDING and view.what_if is None
    assert view.notice == "What was changed on the board has been put back."


def test_another_scene_puts_it_back() -> None:
    session = Session("t", read_lesson("t", LESSON + "\n# Two\nWords.\n"))
    session.suppose("ACC", "1")
    session.change_scene(1)
    session.change_scene(-1)
    assert session.view().what_if is None


def test_put_back_where_nothing_is_changed(session: Session) -> None:
    session.put_back()
    assert session.view().notice == "Nothing is changed here."


def test_the_registers_of_the_parts_can_be_changed() -> None:
    """X and SP hold what is typed, and the carry a bit; an empty stack stands past the end."""
    machine = grown(frozenset(PARTS))
    program = assemble(machine, "LOAD #1\nPUSH\nPOP\nHALT")
    scene = Scene("Parts", 1, "", program, (), 100)
    for place, value, held in (
        ("X", "-3", 0xFFFD),
        ("carry", "1", 1),
        ("stack pointer", "256", 256),
    ):
        tag = {"stack pointer": "SP"}.get(place, place)
        made = what_if(scene, 6, Change(place, value))
        assert made.run.moment(7).after.others[tag] == held
    for place, value in (("carry", "2"), ("SP", "257"), ("X", "70000")):
        with pytest.raises(Wrong):
            what_if(scene, 6, Change(place, value))


def test_inputs_may_be_any_characters() -> None:
    """A space or a comma in quotes is a character, and sets no two inputs apart."""
    program = assemble(SIXTEEN_BIT, "INPUT\nHALT")
    scene = Scene("Letters", 1, "", program, (), 100)
    made = what_if(scene, 0, Change("input", "' ' ',','a', 7"))
    assert made.run.inputs == (ord(" "), ord(","), ord("a"), 7)


def test_a_word_that_is_called_request_is_no_bell() -> None:
    machine = grown(frozenset({"interrupts"}))
    program = assemble(machine, "ADD request\nHALT\nrequest: 3")
    scene = Scene("Rings", 1, "", program, (), 100)
    rung = what_if(scene, 2, Change("request", "7"))
    assert rung.words == "What if a request comes with 7?"
    assert [each.value for each in rung.run.requests] == [7]
    # The word is changed by its address, as it stands in the list.
    place = next(at for at, name in places(program) if name.startswith("request ("))
    assert what_if(scene, 2, Change(place, "7")).words == "What if request holds 7?"
