"""A pupil's own machine step by step, by itself, and to a line."""

from __future__ import annotations

import re
from collections.abc import Callable

from playwright.sync_api import expect

from tests.browser.explore.pupil import Pupil


def test_step_back_and_the_timeline(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("forward", "forward", "forward")
    one.at_step(3)
    one.press("back")
    one.at_step(2)
    one.press("instruction")
    one.at_step(8)
    timeline = page.locator("#timeline")
    timeline.focus()
    page.keyboard.press("End")
    one.at_step(36)
    expect(page.locator("#timeline-label")).to_have_text("Instruction 5 of 5")
    page.keyboard.press("ArrowLeft")
    one.at_step(30)
    timeline.fill("2")
    one.at_step(16)
    assert one.register("ACC") == "13"
    one.press("restart")
    one.at_step(0)


def test_quick_presses_are_all_done(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    page.locator("#stage").click(position={"x": 5, "y": 5})
    for _ in range(12):
        page.keyboard.press("ArrowRight")
    one.at_step(12)


def test_values_travel_on_a_step(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("slower", "forward")
    expect(page.locator(".vehicle")).to_have_count(1)
    expect(page.locator("#frame")).to_have_class(re.compile("moving"))
    one.press("forward")
    expect(page.locator(".vehicle")).to_have_count(2)


def test_run_to_a_line(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    gutter = page.locator("#gutter pre").bounding_box()
    assert gutter
    page.mouse.click(gutter["x"] + 8, gutter["y"] + gutter["height"] / 8 * 2.5)
    one.at_step(16)
    page.click("#program")
    page.keyboard.press("Control+Home")
    for _ in range(3):
        page.keyboard.press("ArrowDown")
    expect(page.locator("#control-line")).to_have_text("Run to line 4")
    page.keyboard.press("Escape")
    page.keyboard.press("l")
    one.at_step(24)
    expect(page.locator("#gutter .now")).to_have_count(1)
    page.keyboard.press("l")
    expect(page.locator("#note")).to_contain_text("does not come to line 4 again")


def test_a_run_that_never_halts(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil("/explore/")).page
    one.type_program("again: ADD #1\nJUMP again")
    expect(page.locator("#problems")).to_contain_text("Nothing to mend")
    expect(page.locator("#timeline-label")).to_contain_text("it has not stopped")
    expect(page.locator("#further")).to_be_visible()
    one.press("end")
    expect(page.locator(".sentence")).to_contain_text("has not stopped after 10,000 instructions")
    one.press("back")
    one.at_step(59_999)
    page.locator("#further").click()
    expect(page.locator("#timeline-label")).to_contain_text("of 100000: it has not stopped")
    expect(page.locator("#further")).to_be_hidden()
    one.at_step(59_999)


def test_by_keyboard_alone(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    page.keyboard.press("w")
    expect(page.locator("#program")).to_be_focused()
    page.keyboard.press("Control+a")
    page.keyboard.type("LOAD #1\nOUTPUT\nHALT")
    expect(page.locator("#problems")).to_contain_text("3 of 16 words")
    page.keyboard.press("Escape")
    expect(page.locator("#control-forward")).to_be_focused()
    page.keyboard.press("Space")
    one.at_step(1)
    page.keyboard.press("ArrowRight")
    one.at_step(2)
    page.keyboard.press("e")
    one.at_step(18)
    # With Caps Lock a key says its capital letter.
    page.keyboard.press("R")
    one.at_step(0)
    page.keyboard.press("w")
    page.keyboard.press("Shift+Tab")
    expect(page.locator("#tab-program")).to_be_focused()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#tab-memory")).to_be_focused()
    expect(page.locator("#word-0")).to_be_visible()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Tab")
    expect(page.locator("#predicting")).to_be_focused()
    page.keyboard.press("?")
    expect(page.locator("#help")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#help")).to_be_hidden()


def test_each_step_is_heard_once(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    page.evaluate(
        """() => {
            window.heard = [];
            const region = document.getElementById("announce");
            const listen = new MutationObserver(() => window.heard.push(region.textContent));
            listen.observe(region, { childList: true });
        }"""
    )
    one.press("forward")
    one.at_step(1)
    one.press("forward")
    one.at_step(2)
    one.press("back")
    one.at_step(1)
    heard = page.evaluate("window.heard")
    assert len(heard) == 3
    assert "The address of the next instruction, 0, is copied" in heard[0]
    assert "Memory is told to read" in heard[1]


def test_what_will_not_be_run_to_is_said(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    page.click("#program")
    page.keyboard.press("Control+End")
    page.keyboard.press("ArrowUp")
    one.press("line")
    expect(page.locator("#note")).to_contain_text("is data, so the machine never carries it out")
