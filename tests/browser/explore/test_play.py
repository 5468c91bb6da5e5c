"""A pupil's own machine goes on by itself."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import expect

from tests.browser.explore.pupil import Pupil


def test_play_goes_on_and_stops(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("faster", "faster", "faster", "play")
    expect(page.locator("#control-play")).to_have_text("Pause")
    while int(page.get_attribute("#frame", "data-step") or 0) < 4:
        page.wait_for_timeout(50)
    one.press("play")
    expect(page.locator("#control-play")).to_have_text("Play")
    page.wait_for_timeout(150)
    step = page.get_attribute("#frame", "data-step")
    page.wait_for_timeout(700)
    assert page.get_attribute("#frame", "data-step") == step
    page.locator("#timeline").fill("4")
    one.at_step(30)
    one.press("play")
    one.at_step(36)
    expect(page.locator("#control-play")).to_have_text("Play")


def test_settings_leave_play_alone(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("instruction")
    one.at_step(8)
    one.press("play")
    for name in ("faster", "faster", "faster", "base", "slower", "movement", "depth"):
        one.press(name)
        expect(page.locator("#control-play")).to_have_text("Pause")
    one.press("faster")
    one.at_step(36)
    one.press("restart", "play", "back")
    expect(page.locator("#control-play")).to_have_text("Play")


def test_a_program_that_cannot_run_does_not_play(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.type_program("HALTT")
    expect(page.locator("#problems")).to_contain_text("One thing to mend")
    one.press("play")
    expect(page.locator("#note")).to_contain_text("needs mending first")
    expect(page.locator("#control-play")).to_have_text("Play")
    # Nor does it start by itself once there is one that can.
    page.click("#afresh")
    expect(page.locator("#problems")).to_contain_text("Nothing to mend")
    expect(page.locator("#control-play")).to_have_text("Play")
    one.at_step(0)
