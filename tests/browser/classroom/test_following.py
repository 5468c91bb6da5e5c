"""Pupils follow the board, look back alone, and come back."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Page, expect

from app.board.controls import CONTROLS
from tests.asking import RIGHT, STEP
from tests.browser.board import NO_STORAGE
from tests.browser.classroom.lesson import SIZES, Lesson, choose
from tests.browser.judge import THEMES
from tests.server import Server


def test_looking_back_alone_and_coming_back(lesson: Lesson) -> None:
    one, other = lesson.pupil(), lesson.pupil("phone")
    for step in range(1, 6):
        lesson.board.step_to("PageDown", step)
    for pupil in (one, other):
        pupil.wait_for_step(5)
    one.page.get_by_role("button", name="Look back").click()
    one.wait_for_step(4)
    one.press("ArrowLeft")
    one.wait_for_step(3)
    assert (lesson.board.step, other.step) == (5, 5)
    # The class goes on; who looks back stays where they are.
    lesson.board.step_to("PageDown", 6)
    other.wait_for_step(6)
    assert one.step == 3
    one.page.get_by_role("button", name="On", exact=True).click()
    one.wait_for_step(4)
    one.wait_for_vehicle()
    one.page.get_by_role("button", name="Now").click()
    one.wait_for_step(6)
    expect(one.page.get_by_text("Following the board")).to_be_visible()
    lesson.board.step_to("PageDown", 7)
    one.wait_for_step(7)


# The answer to Now is held back in the page until the test lets it go.
SLOW_NOW = """() => {
  const ask = window.fetch;
  window.fetch = async (address, options) => {
    const answer = await ask(address, options);
    if (String(address).endsWith("/now")) await new Promise((go) => { window.letGo = go; });
    return answer;
  };
  document.addEventListener("htmx:before:sse:message", () => { window.came = true; });
}"""


def test_now_is_never_older_than_what_the_stream_has_brought(lesson: Lesson) -> None:
    pupil = lesson.pupil(reduced_motion="reduce")
    lesson.board.press("m")
    for step in range(1, 4):
        lesson.board.step_to("PageDown", step)
    pupil.wait_for_step(3)
    pupil.press("ArrowLeft")
    pupil.wait_for_step(2)
    pupil.page.evaluate(SLOW_NOW)
    pupil.press("Escape")
    pupil.wait("window.letGo")
    lesson.board.step_to("PageDown", 4)
    pupil.wait("window.came")
    pupil.page.evaluate("letGo()")
    expect(pupil.page.get_by_text("Following the board")).to_be_visible()
    assert pupil.step == 4


def test_a_question_brings_everybody_back(lesson: Lesson) -> None:
    pupil = lesson.pupil()
    lesson.step_to_question()
    pupil.wait_for_step(STEP)
    pupil.press("ArrowLeft")
    pupil.wait_for_step(STEP - 1)
    lesson.board.press("q")
    pupil.wait_for_step(STEP)
    choose(pupil, RIGHT)
    # To think about it one may look back, and still answer.
    pupil.press("ArrowLeft")
    pupil.wait_for_step(STEP - 1)
    choose(pupil, "9")


def test_a_browser_that_keeps_nothing_follows_and_answers(
    shared: Server, new_page: Callable[..., Page]
) -> None:
    lesson = Lesson(shared, new_page, by_hand=True)
    pupil = lesson.pupil(script=NO_STORAGE)
    lesson.step_to_question()
    lesson.board.press("q")
    choose(pupil, RIGHT)


def test_no_key_of_a_pupil_moves_the_board(lesson: Lesson) -> None:
    pupil = lesson.pupil()
    lesson.board.step_to("PageDown", 1)
    pupil.wait_for_step(1)
    for control in CONTROLS:
        for key in control.keys:
            pupil.press("+" if key == "+" else key)
    pupil.press("Escape")
    pupil.wait_for_step(1)
    assert (lesson.board.step, lesson.board.scene) == (1, 0)
    lesson.board.wait_until_still()
    settings = lesson.board.page.get_attribute("#frame", "class")
    lesson.board.step_to("PageDown", 2)
    lesson.board.wait_until_still()
    assert lesson.board.page.get_attribute("#frame", "class") == settings


def test_the_picture_to_join_by_is_read_by_another_program(lesson: Lesson) -> None:
    """ZXing, which reads bar codes for a living, reads the QR code off the screen."""
    page = lesson.board.page
    for theme in THEMES:
        page.evaluate("theme => { document.documentElement.dataset.theme = theme; }", theme)
        page.keyboard.press("j")
        expect(page.locator("#invite .picture svg")).to_be_visible()
        read = zxingcpp.read_barcode(Image.open(io.BytesIO(page.screenshot())))
        assert read and read.text == f"{lesson.server.address}/class/{lesson.code}"
        page.keyboard.press("Escape")
    laptop = lesson.new_page()
    laptop.goto(read.text)
    expect(laptop.locator("#frame")).to_be_visible()


@pytest.mark.parametrize("size", SIZES)
def test_everything_of_a_question_is_on_the_screen(lesson: Lesson, size: str) -> None:
    pupil = lesson.pupil(size)
    lesson.step_to_question()
    width = SIZES[size][0]
    lesson.board.press("q")
    pupil.wait("document.querySelector('.choose')")
    bar = pupil.page.locator(".follow-bar").bounding_box()
    assert bar
    checked = 0
    for state in (".is-open", ".is-closed", ".large"):
        pupil.wait(f"document.querySelector('{state}')")
        for part in pupil.page.locator(f"{state} .sentence, {state} .said, {state} .count").all():
            box = part.bounding_box()
            assert box, part
            left, top = box["x"], box["y"]
            assert left >= 0 and left + box["width"] <= width, (state, box)
            assert top >= 0 and top + box["height"] <= bar["y"] + 1, (state, box)
            checked += 1
        lesson.board.press("q")
    assert checked >= 12
    if size != "phone":
        assert pupil.page.evaluate(
            "[document.documentElement.scrollWidth <= innerWidth,"
            " document.documentElement.scrollHeight <= innerHeight]"
        ) == [True, True]
