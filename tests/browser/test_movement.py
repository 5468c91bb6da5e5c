"""What the class sees move is what the model did, and it moves on the lines that are drawn."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from app.lesson.file.reader import read_file, read_lesson
from app.machine.instructions import Phase
from app.machine.run import Moment, Run
from app.machine.transfers import Carrier, Leg, Place
from tests.browser.board import Board
from tests.browser.conftest import teach
from tests.codes import bits
from tests.server import Server

FERRY = "02-ferry-ticket-machine"
# The first instruction of the ferry ticket machine, LOAD 5, worked by hand: what travels on what.
FERRY_BY_HAND = [
    ("0", "inside"),  # MAR <- PC
    ("0", "address"),  # MDR <- memory[MAR]
    ("read", "control"),
    (bits("LOAD 5"), "data"),
    (bits("LOAD 5"), "inside"),  # CIR <- MDR
    ("1", "inside"),  # PC <- PC + 1
    (bits("LOAD 5"), "inside"),  # decode
    ("5", "inside"),  # MAR <- operand
    ("5", "address"),  # MDR <- memory[MAR]
    ("read", "control"),
    ("9", "data"),
    ("9", "inside"),  # ACC <- MDR
]
# A pixel or two of the screen: lines are wider than that.
NEAR = 2.0


@pytest.fixture(scope="session")
def ferry(lessons: Path) -> Run:
    return read_file(lessons / f"{FERRY}.md").scenes[0].run


def moving(samples: list[dict[str, Any]], step: int) -> list[dict[str, Any]]:
    return [each for each in samples if each["step"] == step and each["vehicles"]]


def test_a_value_travels_on_its_line_and_changes_its_target_on_arrival(
    open_board: Callable[..., Board],
) -> None:
    board = open_board(FERRY)
    board.press("p", "p")
    board.wait_for_step(5)
    assert board.shown("MAR") == "0"
    board.start_recording()
    board.step_to("s", 6)  # MAR <- operand
    board.wait_until_still()

    record = board.recorded()
    samples = moving(record["samples"], 6)
    places = [tuple(each["vehicles"][0]["at"]) for each in samples]
    assert len(set(places)) >= 3, "it must be seen on its way, not only at its ends"
    for place in places:
        assert board.distance_from_lines("inside", place) < NEAR
    # While it travels its target shows what it held before, and then, at once, what came.
    assert {each["shown"]["MAR"] for each in samples} == {"0"}
    after = record["samples"].index(samples[-1]) + 1
    board.wait("window.record.samples.length > value", after)
    assert board.recorded()["samples"][after]["shown"]["MAR"] == "5"
    assert board.shown("MAR") == "5"


def test_an_address_goes_out_before_the_value_comes_back(
    open_board: Callable[..., Board],
) -> None:
    board = open_board(FERRY)
    board.press("s")
    board.wait_for_step(1)
    board.wait_until_still()
    board.start_recording()
    board.step_to("s", 2)  # MDR <- memory[MAR]
    board.wait_until_still()
    record = board.recorded()
    samples = moving(record["samples"], 2)
    together = [
        [record["seen"][vehicle["number"]]["carrier"] for vehicle in each["vehicles"]]
        for each in samples
    ]
    order = [each for at, each in enumerate(together) if at == 0 or together[at - 1] != each]
    assert order == [["address", "control"], ["data"]]
    # MDR changes when the data has come in, not when the address has gone out.
    # Nothing has been brought there yet, so it is no instruction.
    assert {each["shown"]["MDR"] for each in samples} == {"0"}
    assert board.shown("MDR") == bits("LOAD 5")


def test_every_value_of_a_whole_program_is_seen_travelling(
    open_board: Callable[..., Board], ferry: Run
) -> None:
    """Every leg of every step of the run: its value, what it travels on, and its two ends."""
    board = open_board(FERRY).at_speed("+++")
    # The lesson has no use for the status; here every part is to be seen.
    board.show_part("status")
    board.start_recording(each_frame=False)
    for step in range(1, ferry.last_step + 1):
        board.step_to("s", step)
        board.wait_until_still()
    assert "13" in board.page.locator('[data-place="output"]').inner_text()

    seen = board.recorded()["seen"]
    expected = [
        (step, text(leg, moment), leg)
        for step in range(1, ferry.last_step + 1)
        for moment in [ferry.moment(step)]
        for leg in legs(moment)
    ]
    assert [(each["text"], each["carrier"]) for each in seen[:12]] == FERRY_BY_HAND
    assert [(each["step"], each["text"], each["carrier"]) for each in seen] == [
        (step, words, leg.carrier.value) for step, words, leg in expected
    ]
    boxes: dict[str, tuple[float, float, float, float]] = {}
    for (step, _, leg), each in zip(expected, seen, strict=True):
        for place, point in ((leg.source, each["way"][0]), (leg.target, each["way"][-1])):
            name = station(place, leg, ferry.moment(step))
            if name not in boxes:
                boxes[name] = board.box(name)
            left, top, right, bottom = boxes[name]
            assert left - NEAR <= point[0] <= right + NEAR, f"step {step}: {name}"
            assert top - NEAR <= point[1] <= bottom + NEAR, f"step {step}: {name}"
        for corner in corners_and_middles(each["way"]):
            assert board.distance_from_lines(each["carrier"], corner) < NEAR, f"step {step}"


def legs(moment: Moment) -> list[Leg]:
    """What the model moved in a step."""
    assert moment.step
    transfer = moment.step.kind.transfer
    taken = transfer.condition is None or moment.step.value is not None
    return [leg for beat in transfer.beats(taken) for leg in beat]


def text(leg: Leg, moment: Moment) -> str:
    """What a value must look like on its way, worked out from the states alone."""
    assert moment.step
    before, after = moment.before, moment.after
    fetching = moment.step.kind.phase is Phase.FETCH
    instruction = f"{before.cir:08b}"
    match leg.carries:
        case "PC" | "MAR":
            return str(before.pc if leg.carries == "PC" else before.mar)
        case "operand":
            return str(before.cir % 16)
        case "CIR":
            return f"{instruction[:4]} {instruction[4:]}"
        case "MDR" | "memory[MAR]":
            word = before.mdr if leg.carries == "MDR" else before.memory[before.mar]
            return f"{word >> 4:04b} {word % 16:04b}" if fetching else number(word)
        case "ACC":
            return number(before.acc)
        case "result":
            return str(after.pc) if leg.target is Place.PC else number(after.acc)
        case "status":
            # A jump asks for what it was; a sum sends what it has become.
            status = (after if leg.source == Place.ALU else before).status
            return str(status) if status else "\N{EN DASH}"
        case _:
            return leg.carries


def number(word: int) -> str:
    return str(word - 256 if word > 127 else word)


def station(place: Place, leg: Leg, moment: Moment) -> str:
    by_word = place is Place.MEMORY and leg.carrier is Carrier.DATA
    return f"word {moment.after.mar}" if by_word else place.value


def corners_and_middles(way: list[list[float]]) -> list[tuple[float, float]]:
    middles = [((x1 + x2) / 2, (y1 + y2) / 2) for (x1, y1), (x2, y2) in pairwise(way)]
    return [*((x, y) for x, y in way), *middles]


@pytest.mark.parametrize("size", [(1366, 768), (1024, 768), (390, 844)], ids=str)
def test_by_phases_values_keep_to_lines_that_are_shown(
    open_board: Callable[..., Board], size: tuple[int, int]
) -> None:
    """Without MAR and MDR the buses go on to the inside, and values with them."""
    board = open_board("long", viewport={"width": size[0], "height": size[1]}).at_speed("+++")
    board.start_recording(each_frame=False)
    for _ in range(8):
        before = board.step
        board.press("s")
        board.wait_for_step_after(before)
        board.wait_until_still()
    seen = board.recorded()["seen"]
    assert len(seen) >= 12
    lines = [line for kind in board.lines.values() for line in kind]
    board.lines = {"any": lines}
    for each in seen:
        half = len(each["text"]) * 8
        for corner in corners_and_middles(each["way"]):
            # At the edge of the screen a wide value is kept in sight, beside its line.
            if half < corner[0] < size[0] - half:
                assert board.distance_from_lines("any", corner) < NEAR, each


def test_a_sum_is_not_seen_before_its_numbers_have_come(open_board: Callable[..., Board]) -> None:
    """In a whole phase memory is asked for the number first."""
    board = open_board(FERRY).at_speed("+")
    board.press("d")
    board.wait("document.querySelector('#frame.depth-phases')")
    board.press("p", "p", "p", "p", "p")
    board.wait_for_step(13)  # ADD is fetched and decoded
    board.wait_until_still()
    board.page.evaluate(
        """() => {
          window.looks = [];
          const look = () => {
            const sum = document.querySelector("#frame.moving .alu .working span");
            const asks = document.querySelector("#vehicles .control");
            if (sum) looks.push([sum.checkVisibility({ visibilityProperty: true }), Boolean(asks)]);
            requestAnimationFrame(look);
          };
          look();
        }"""
    )
    board.step_to("s", 16)
    board.wait_until_still()
    looks = {(shown, asks) for shown, asks in board.page.evaluate("looks")}
    assert (False, True) in looks and (True, False) in looks
    assert (True, True) not in looks


def test_nothing_is_decoded_before_the_instruction_has_come(
    open_board: Callable[..., Board], ferry: Run
) -> None:
    word = f"{ferry.moment(4).after.cir:08b}"
    board = open_board(FERRY).at_speed("+")
    board.press("p")
    board.wait_for_step(4)
    board.wait_until_still()
    board.page.evaluate(
        """() => {
          window.looks = [];
          const look = () => {
            const parts = [...document.querySelectorAll("#frame.moving [data-place=CU] .working")];
            const seen = (part) => part.checkVisibility({ visibilityProperty: true });
            if (parts.length) looks.push(parts.map(seen));
            requestAnimationFrame(look);
          };
          look();
        }"""
    )
    board.step_to("s", 5)
    board.wait_until_still()
    looks = board.page.evaluate("looks")
    assert looks and not any(map(any, looks))
    decoded = board.page.locator("[data-place=CU] .working")
    expect(decoded).to_have_text([word[:4], word[4:], re.compile(".+")])
    for each in decoded.all():
        expect(each).to_be_visible()


def test_a_second_press_cuts_the_movement_and_leaves_the_true_state(
    open_board: Callable[..., Board],
) -> None:
    board = open_board(FERRY).at_speed("--")
    board.press("p", "p")
    board.wait_for_step(5)
    board.step_to("s", 6)  # MAR <- operand: 5
    board.wait_for_vehicle()
    assert board.shown("MAR") == "0"
    board.step_to("s", 7)  # MDR <- memory[MAR]
    board.wait_for_vehicle()
    assert board.shown("MAR") == "5", "the movement that was cut has arrived"
    assert board.shown("MDR") == bits("LOAD 5"), "the one under way has not"
    board.step_to("PageUp", 6)
    assert board.page.locator(".vehicle").count() == 0
    assert (board.shown("MAR"), board.shown("MDR")) == ("5", bits("LOAD 5"))
    # Twice at once: both count, and the last one moves.
    board.press("s", "s")
    board.wait_for_step(8)
    board.wait_for_vehicle()
    assert board.shown("MDR") == "9"
    board.press("Home")
    board.wait_for_step(0)
    board.wait_until_still()
    assert [board.shown(place) for place in ("MAR", "ACC", "PC")] == ["0"] * 3


def test_a_change_of_the_window_ends_the_movement(open_board: Callable[..., Board]) -> None:
    board = open_board(FERRY).at_speed("--")
    board.press("p", "p")
    board.wait_for_step(5)
    board.step_to("s", 6)
    board.wait_for_vehicle()
    board.page.set_viewport_size({"width": 1024, "height": 768})
    board.wait_until_still()
    assert board.shown("MAR") == "5"


def test_reduced_motion_is_honoured(open_board: Callable[..., Board]) -> None:
    board = open_board(FERRY, reduced_motion="reduce")
    board.start_recording(each_frame=False)
    for step in range(1, 8):
        board.step_to("s", step)
    assert (board.shown("MAR"), board.shown("MDR")) == ("5", "9")
    assert board.recorded()["seen"] == []


def test_movement_can_be_switched_off(open_board: Callable[..., Board]) -> None:
    board = open_board(FERRY)
    board.start_recording(each_frame=False)
    board.press("m")
    for step in range(1, 8):
        board.step_to("s", step)
    assert (board.shown("MAR"), board.shown("MDR")) == ("5", "9")
    assert board.recorded()["seen"] == []
    board.press("m")
    board.step_to("s", 8)
    board.wait_for_vehicle()


SHIFTED = """---
title: The mill wheel
machine: 16-bit
with: bit operations
---

# Turning

```program
        LOAD weight
        ROTATE #3 LEFT
        HALT
weight: 0b1010111100001010
```
"""
# The step that rotates.
ROTATES = 14

# In the page: where each bit of the result is, in columns and rows from the word above it.
COLUMNS = """
() => {
  const first = [...document.querySelectorAll(".bitwise .row-0")].filter((each) =>
    !each.matches(".made, .gone, .sign")).map((each) => each.getBoundingClientRect());
  const column = (box) => first.findIndex((each) => Math.abs(each.x - box.x) < 2);
  return [...document.querySelectorAll(".bitwise .row-1")].map((each) => {
    const box = each.getBoundingClientRect();
    return [each.textContent, column(box), Math.round((box.y - first[0].y) / first[0].height)];
  });
}
"""


@pytest.fixture(scope="session")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder = tmp_path_factory.mktemp("mill")
    (folder / "mill.md").write_text(SHIFTED, encoding="utf-8")
    (folder / "summed.md").write_text(SUMMED, encoding="utf-8")
    with Server(folder) as running:
        yield running


def to_the_step_before_it_rotates(board: Board) -> None:
    board.press("i")
    board.press("p", "p")
    board.wait_for_step(ROTATES - 1)


SUMMED = """---
title: The harbour's catch
machine: 16-bit
with: bit operations, index register, stack
---

# A list in a subroutine

```program
        LOAD #1 TO INDEX
        CALL sum
        JUMP end IF CARRY
end:    HALT
sum:    LOAD catch INDEXED
        PUSH
        ADD  where INDIRECT
        STORE #0 TO STACK
        AND  #12
        POP
        ADD  #1 TO INDEX
        RETURN
where:  14
catch:  -120
        45
```
"""


def held(term: str, moment: Moment, made: bool) -> str:
    """What a term is on its way on the 16-bit machine, from the states alone; ``made`` where it
    comes from the ALU or out of memory, so that no register held it before."""
    state = moment.after if made else moment.before
    if term in ("PC", "MAR"):
        return str(state.pc if term == "PC" else state.mar)
    if term in ("SP", "carry"):
        return str(state.others[term])
    if term == "operand":
        return str(state.cir % 256)
    if term == "status":
        return str(state.status) if state.status else "\N{EN DASH}"
    words = {"MDR": state.mdr, "ACC": state.acc, "X": state.others["X"]}
    word = words[term] if term in words else state.memory[state.mar]
    return str(word - 65536 if word > 32767 else word).replace("-", "\N{MINUS SIGN}")


def test_every_value_of_a_grown_program_is_seen_on_its_lines(
    mill: Server, new_page: Callable[..., Page]
) -> None:
    """Index, stack pointer, carry and the adder of addresses: each leg of what is executed."""
    lesson = read_lesson("summed", SUMMED)
    assert not lesson.problems
    run = lesson.scenes[0].run
    board = Board(new_page()).open(teach(mill.address, "summed")).at_speed("+++")
    board.start_recording(each_frame=False)
    expected = []
    for step in range(1, run.last_step + 1):
        moment = run.moment(step)
        assert moment.step
        if moment.step.kind.phase is not Phase.EXECUTE:
            continue
        if board.step != step - 1:
            board.jump(step - 1)
        board.step_to("s", step)
        board.wait_until_still()
        for leg in legs(moment):
            target = moment.step.kind.transfer.target
            term = target if leg.carries == "result" else leg.carries
            made = leg.carries == "result" or leg.source in (Place.ALU, Place.MEMORY)
            signal = leg.carrier is Carrier.CONTROL
            expected.append((step, term if signal else held(term, moment, made), leg))
    seen = [
        each for each in board.recorded()["seen"] if each["step"] in {s for s, _, _ in expected}
    ]
    assert [(each["step"], each["text"], each["carrier"]) for each in seen] == [
        (step, words, leg.carrier.value) for step, words, leg in expected
    ]
    assert {"adder", "X", "SP", "carry"} <= {leg.target for _, _, leg in expected}
    for (step, _, leg), each in zip(expected, seen, strict=True):
        for corner in corners_and_middles(each["way"]):
            assert board.distance_from_lines(each["carrier"], corner) < NEAR, f"step {step}: {leg}"


def test_each_bit_is_seen_on_its_way_from_where_it_was(
    mill: Server, new_page: Callable[..., Page]
) -> None:
    board = Board(new_page()).open(teach(mill.address, "mill")).at_speed("-")
    to_the_step_before_it_rotates(board)
    board.press("s")
    board.wait("document.querySelector('.frame.on-bits')")
    # The animation that the browser carries out is stopped at its start, and looked at.
    board.page.evaluate(
        """() => { for (const each of document.getAnimations()) {
          if (each.animationName) { each.pause(); each.currentTime = 0; } } }"""
    )
    word = "1010111100001010"
    assert board.shown("ACC") != str(0b0111100001010101), "the result has not come out yet"
    started = board.page.evaluate(COLUMNS)
    came_from = [(at + 3) % 16 for at in range(16)]
    assert started == [[word[at], at, 0] for at in came_from]
    carry = board.page.locator(".bitwise .carried")
    assert carry.inner_text() == word[2]
    board.page.evaluate(
        "() => document.getAnimations().filter((it) => it.animationName).forEach((it) => it.play())"
    )
    board.wait_until_still()
    assert board.page.evaluate(COLUMNS) == [[word[at], to, 1] for to, at in enumerate(came_from)]
    assert (board.shown("ACC"), board.shown("carry")) == (str(0b0111100001010101), "1")


def test_with_reduced_motion_the_bits_stand_where_they_come_to(
    mill: Server, new_page: Callable[..., Page]
) -> None:
    board = Board(new_page(reduced_motion="reduce")).open(teach(mill.address, "mill"))
    to_the_step_before_it_rotates(board)
    board.step_to("s", ROTATES)
    assert board.page.locator(".frame.on-bits, .frame.moving").count() == 0
    bits = board.page.evaluate(COLUMNS)
    assert "".join(bit for bit, _, _ in bits) == f"{0b0111100001010101:016b}"
    assert [(column, row) for _, column, row in bits] == [(at, 1) for at in range(16)]
    said = board.page.locator(".bitwise").get_attribute("aria-label") or ""
    assert "rotated left by 3" in said and "the carry becomes 1" in said
    assert "carry becomes 1" in board.sentence()
