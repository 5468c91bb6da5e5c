"""A pupil rings in the middle of an instruction, says when that is served and what is kept, and is
right; the teacher rings on the board and takes it back."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from tests.board.test_interrupted_board import LESSON
from tests.browser.board import Board
from tests.browser.conftest import Errors, teach
from tests.browser.explore.pupil import Pupil
from tests.server import Server

QUIET = LESSON.split("```interrupts")[0]
QUESTION = """
```question
before first COMPARE: What will the accumulator hold?
ask: the accumulator
choices: 1 or 2 or 3
```
"""
# ENABLE has 7 steps, LOAD and ADD 6; the COMPARE at address 3 begins after step 19.
IN_THE_MIDDLE, ENDED, SERVED = 22, 25, 31


@pytest.fixture(scope="module")
def bell_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder: Path = tmp_path_factory.mktemp("bell")
    (folder / "bell.md").write_text(QUIET, encoding="utf-8")
    (folder / "asked.md").write_text(QUIET + QUESTION, encoding="utf-8")
    with Server(folder) as running:
        yield running


def test_a_pupil_rings_predicts_and_is_right(
    bell_server: Server, new_page: Callable[..., Page]
) -> None:
    page = (one := Pupil(new_page(), bell_server.address).open("/explore/bell/1")).page
    one.press("movement")
    for _ in range(3):
        one.press("instruction")
    one.at_step(19)
    for _ in range(IN_THE_MIDDLE - 19):
        one.press("forward")
    one.at_step(IN_THE_MIDDLE)
    page.keyboard.press("a")
    waiting = page.locator(".request")
    expect(waiting).to_have_text("Request waits: 1")
    one.at_step(IN_THE_MIDDLE)
    # Rung once too often: the second one is taken back.
    page.keyboard.press("a")
    expect(waiting).to_have_text("Requests wait: 1, 1")
    page.keyboard.press("x")
    expect(waiting).to_have_text("Request waits: 1")

    one.tab("predict")
    page.check("#predicting")
    page.get_by_label("When the instruction has ended.").check()
    page.get_by_label("The status and the program counter.", exact=True).check()
    page.get_by_label("Which address will be kept, to go on from later?").fill("4")
    page.click("text=That is my prediction")
    expect(page.locator("#verdict")).to_have_text("Right.")
    expect(page.locator("#tally")).to_contain_text("3 of 3 answers right")
    page.uncheck("#predicting")

    # And so it is: it waits to the end of the COMPARE, and then the fourth phase serves it.
    one.at_step(IN_THE_MIDDLE + 1)
    for step in range(IN_THE_MIDDLE + 2, ENDED + 1):
        one.press("forward")
        one.at_step(step)
        expect(waiting).to_be_visible()
        expect(page.locator(".phases .now")).not_to_have_text("Interrupt")
    for step in range(ENDED + 1, SERVED + 1):
        one.press("forward")
        one.at_step(step)
        expect(page.locator(".phases .now")).to_have_text("Interrupt")
    expect(waiting).to_have_count(0)
    assert (one.register("PC"), one.register("SP"), one.register("interrupts")) == (
        "6",
        "255",
        "off",
    )
    # What is kept in the browser is kept with the request.
    page.reload()
    page.wait_for_selector("#frame", state="attached")
    page.click("#control-back")
    one.at_step(SERVED - 1)
    expect(page.locator(".phases .now")).to_have_text("Interrupt")


def test_the_teacher_rings_and_takes_back(
    bell_server: Server, new_page: Callable[..., Page]
) -> None:
    board = Board(new_page()).open(teach(bell_server.address, "bell"))
    page = board.page
    board.press("m")
    for step in range(1, IN_THE_MIDDLE + 1):
        board.step_to("s", step)
    board.press("a")
    expect(page.locator(".request")).to_have_text("Request waits: 1")
    expect(page.locator(".head .scene")).to_have_text("What if a request comes with 1?")
    assert board.step == IN_THE_MIDDLE
    board.step_to("i", SERVED)
    expect(page.locator(".phases .now")).to_have_text("Interrupt")
    expect(page.locator(".request")).to_have_count(0)
    board.press("x")
    board.wait(f"document.getElementById('frame').dataset.step === '{IN_THE_MIDDLE}'")
    expect(page.locator(".request")).to_have_count(0)
    board.step_to("i", ENDED)
    expect(page.locator(".phases .now")).to_have_text("Execute")
    # From the list of places, by a double press on a slow network: one request comes.
    held: list[Route] = []
    page.route("**/suppose", lambda route: held.append(route))
    board.press("w")
    page.locator("#what-if-place").select_option("request")
    page.locator("#what-if-value").fill("5")
    with page.expect_request("**/suppose"):
        page.get_by_role("button", name="See the run from here").dblclick()
    for each in held:
        each.continue_()
    expect(page.locator("dialog[open]")).to_have_count(0)
    expect(page.locator(".head .scene")).to_have_text("What if a request comes with 5?")
    assert len(held) == 1


def test_a_bell_that_is_refused_says_why(
    bell_server: Server, new_page: Callable[..., Page], errors: Errors
) -> None:
    address = teach(bell_server.address, "asked")
    board = Board(new_page(reduced_motion="reduce")).open(address)
    desk = Board(new_page(reduced_motion="reduce")).open(f"{address}/teacher")
    desk.page.get_by_role("button", name="Ask").click()
    for page, place in ((board.page, "#notice"), (desk.page, "#class-refusal")):
        expect(page.locator("#frame .question")).to_be_visible()
        page.keyboard.press("a")
        expect(page.locator(place)).to_contain_text("A question is on the board.")
    errors.forgive("409")
