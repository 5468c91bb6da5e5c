"""The board while a request waits, is served, and is rung for or taken back by hand."""

from __future__ import annotations

import pytest

from app.board.controls import CONTROLS, controls_of
from app.board.drawing import Form, drawing
from app.board.frames import Frame, make_frame
from app.classroom.ballot import Refused
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson
from app.machine.growing import PARTS, grown
from app.machine.machine import MACHINES
from app.machine.requests import Request
from app.machine.run import Run
from tests import bell
from tests.hardware.rtl import Asked, Snapshot, simulate

LESSON = f"""{bell.LESSON}
```interrupts
in instruction 6: 65
```
"""
# The instructions take 7, 6, 6, 6 and 6 steps; the sixth begins after step 31, and the request
# comes with the fourth of its steps. It ends with step 37.
COMES, ENDS, SERVED = 35, 37, 43


@pytest.fixture
def session() -> Session:
    return Session("bell", read_lesson("bell", LESSON))


def at(session: Session, step: int) -> Frame:
    session.go_to_step(step)
    return make_frame(session.view())


def hardware(session: Session, *requests: Asked) -> list[Snapshot]:
    words = session.lesson.scenes[0].program.words
    return simulate(
        "16-bit", words, (), 120, parts=frozenset({"stack", "interrupts"}), requests=requests
    )


def registers(frame: Frame) -> dict[str, str]:
    return {each.place: each.value.now for each in frame.registers}


def test_a_request_is_seen_to_wait_until_it_is_served(session: Session) -> None:
    waiting = [at(session, step).waiting for step in range(COMES - 2, SERVED + 2)]
    waits = SERVED - COMES
    assert waiting == ["", "", *["Request waits: 65"] * waits, "", ""]
    assert "A request comes." in at(session, COMES).sentence
    assert "request" not in at(session, COMES + 1).sentence


def test_its_number_is_the_next_input_once_it_is_served(session: Session) -> None:
    assert at(session, SERVED - 1).inputs.count == 0
    after = at(session, SERVED).inputs
    assert [each.now for each in after.values] == ["65"]


def test_the_fourth_phase_is_that_of_the_hardware(session: Session) -> None:
    real = hardware(session, Asked(6, 4, 65))
    for step in range(ENDS + 1, SERVED + 1):
        frame, after = at(session, step), real[step - 1]
        assert frame.phase == "interrupt" and frame.position.startswith("Instruction 6")
        shown = registers(frame)
        assert shown["SP"] == str(after.sp) and shown["PC"] == str(after.pc)
        assert shown["V"] == str(after.v) and shown["interrupts"] == ("off", "on")[after.interrupts]
    assert at(session, ENDS).phase == "execute" and at(session, SERVED + 1).phase == "fetch"


def test_what_is_kept_is_shown_as_what_it_is(session: Session) -> None:
    real = hardware(session, Asked(6, 4, 65))
    before, after = real[ENDS - 1], real[SERVED - 1]
    told = f"the status {before.status} and the program counter {before.pc} are put together in one"
    assert told in at(session, ENDS + 3).sentence
    (row,) = [each for each in at(session, ENDS + 4).rows if each.at == after.sp]
    assert row.kept == f"{before.status}, PC {before.pc}"
    # Afterwards it is a word of the stack like any other.
    (row,) = [each for each in at(session, SERVED).rows if each.at == after.sp]
    assert row.kept == "" and row.pile and row.pile.now == "top of stack"


def test_what_is_kept_comes_back(session: Session) -> None:
    run = session.lesson.scenes[0].run
    back = next(each[0] for each in run.steps() if each[2].transfer.restores)
    frame = at(session, back)
    real = hardware(session, Asked(6, 4, 65))[back - 1]
    assert f"status becomes {real.status} and the program counter {real.pc}" in frame.sentence
    assert {(each.source, each.target, each.value) for each in moved(session, back)} == {
        ("MDR", "status", real.status),
        ("MDR", "PC", str(real.pc)),
    }
    (row,) = [each for each in at(session, back - 1).rows if each.at == real.mar]
    assert row.kept == f"{real.status}, PC {real.pc}"


def moved(session: Session, step: int):  # type: ignore[no-untyped-def]
    session.go_to_step(step - 1)
    session.step_on()
    return make_frame(session.view()).moving


def test_both_travel_to_the_word_and_the_word_to_memory(session: Session) -> None:
    kept = moved(session, ENDS + 3)
    assert {(each.source, each.target, each.value) for each in kept} == {
        ("status", "MDR", "MORE"),
        ("PC", "MDR", "3"),
    }
    data = [each for each in moved(session, ENDS + 4) if each.carrier == "data"]
    assert [(each.source, each.target) for each in data] == [("MDR", "memory")]
    assert [(e.source, e.target) for e in moved(session, SERVED)] == [("V", "PC")]


def test_by_phases_it_is_one_press_and_one_sentence() -> None:
    text = LESSON.replace("with:", "depth: phases\nwith:")
    session = Session("bell", read_lesson("bell", text))
    frame = at(session, SERVED)
    assert frame.sentence.startswith(
        "Interrupt: the status MORE and the program counter 3 are kept"
    )
    assert session.lesson.scenes[0].run.before_phase(SERVED) == ENDS


def test_the_ring_has_a_fourth_part_only_where_there_are_interrupts(session: Session) -> None:
    assert at(session, 0).phases == ("fetch", "decode", "execute", "interrupt")
    plain = LESSON.replace("interrupts\n---", "stack\n---").split("```interrupts")[0]
    plain = plain.replace("ENABLE bell", "CALL bell").replace("RETURN FROM INTERRUPT", "RETURN")
    frame = make_frame(Session("bell", read_lesson("bell", plain)).view())
    assert frame.phases == ("fetch", "decode", "execute")
    assert frame.waiting == ""


# By hand.


@pytest.mark.parametrize("step", [1, 9, 33, 36, 37, 40, 43, 60, 71])
def test_a_bell_that_is_rung_is_served_as_the_hardware_serves_it(step: int) -> None:
    """At any step, while another request waits or is served as well."""
    session = Session("bell", read_lesson("bell", LESSON))
    session.go_to_step(step)
    session.ring()
    run = session.view().run
    assert session.view().step == step and "wait" in make_frame(session.view()).waiting
    (rung,) = [each for each in run.requests if each != Request(6, 4, 65)]
    assert rung.value == 65  # what the lesson's own request brings
    whole = Run(run.machine, session.lesson.scenes[0].program.words, requests=run.requests)
    real = hardware(session, *(Asked(*each) for each in run.requests))
    assert run.finish().memory == list(real[-1].memory) == whole.finish().memory
    assert run.finish().sent == len(real[-1].outputs) == 2


def test_the_bell_can_be_taken_back(session: Session) -> None:
    before = at(session, 20)
    session.ring()
    frame = make_frame(session.view())
    assert frame.what_if == "What if a request comes with 65?"
    assert frame.waiting == "Request waits: 65"
    session.ring()
    assert make_frame(session.view()).waiting == "Requests wait: 65, 65"
    session.forward_instruction()
    assert make_frame(session.view()).phase == "interrupt"
    session.put_back()
    after = make_frame(session.view())
    assert (after.view.step, after.waiting, after.what_if) == (20, "", "")
    assert after.rows == before.rows


def test_without_requests_of_the_lesson_it_brings_one() -> None:
    session = Session("bell", read_lesson("bell", LESSON.split("```interrupts")[0]))
    session.go_to_step(20)
    session.ring()
    assert make_frame(session.view()).waiting == "Request waits: 1"


def test_a_machine_that_nothing_can_interrupt_says_so() -> None:
    session = Session(
        "bell",
        read_lesson(
            "bell",
            LESSON.split("```interrupts")[0]
            .replace("with: interrupts", "with: stack")
            .replace("ENABLE bell", "CALL bell")
            .replace("RETURN FROM INTERRUPT", "RETURN"),
        ),
    )
    with pytest.raises(Refused, match="Nothing can interrupt"):
        session.ring()


def test_the_bell_is_a_control_only_where_there_are_interrupts() -> None:
    names = {each.name for each in CONTROLS}
    assert {each.name for each in controls_of(grown(frozenset({"interrupts"})))} == names
    for machine in (*MACHINES.values(), grown(frozenset({"stack"}))):
        assert {each.name for each in controls_of(machine)} == names - {"bell"}


def test_the_switch_can_be_changed_by_hand(session: Session) -> None:
    session.go_to_step(20)
    session.suppose("interrupts", "off")
    assert registers(make_frame(session.view()))["interrupts"] == "off"
    assert "the interrupt flag holds off" in make_frame(session.view()).what_if
    session.go_to_step(SERVED)
    assert make_frame(session.view()).phase != "interrupt"
    with pytest.raises(Refused, match="on or off"):
        session.suppose("interrupts", "3")


@pytest.mark.parametrize("form", Form)
def test_the_place_where_requests_wait_has_room(form: Form) -> None:
    drawn = drawing(form, grown(frozenset(PARTS)))
    unit, request = drawn.boxes["CU"], drawn.boxes["request"]
    assert drawn.boxes["processor"].top < request.top < request.bottom < unit.top
    assert request.right <= unit.right
    assert "request" not in drawing(form, grown(frozenset({"stack"}))).boxes
