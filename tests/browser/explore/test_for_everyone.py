"""A pupil's own machine for everyone: criteria of WCAG 2.2 that axe-core cannot judge, each named
in its check."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.explore.pupil import Pupil, predicting
from tests.browser.reach import focus, heard, listen, sideways, small_targets, spaced, walk

PHONE = {"width": 390, "height": 844}
SMALLEST = {"width": 320, "height": 640}
TABS = ("program", "memory", "predict", "task", "card")


def test_2_1_4_single_keys_can_be_switched_off(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    page.click("#control-help")
    page.get_by_label("Keys that are one letter or sign").uncheck()
    page.keyboard.press("Escape")
    page.evaluate("document.activeElement.blur()")
    for key in ("i", "e", "l", "w", "v"):
        page.keyboard.press(key)
    page.keyboard.press("PageDown")
    one.at_step(1)
    expect(page.locator("#program")).not_to_be_focused()
    # It is so on the next page of this browser, too.
    page.reload()
    page.keyboard.press("e")
    page.keyboard.press("PageDown")
    one.at_step(2)


def test_4_1_3_what_a_key_changes_is_said(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    listen(page)
    page.keyboard.press("n")
    expect(page.locator("#announce")).to_have_text("Numbers: hexadecimal.")
    one.press("forward")
    one.at_step(1)
    assert len(heard(page)) == 2 and "Numbers" not in heard(page)[1]


def test_reduced_motion_is_told_as_it_is(pupil: Callable[..., Pupil]) -> None:
    page = pupil(reduced_motion="reduce").page
    button = page.locator("#control-movement")
    expect(button).to_have_text("Movement: off")
    expect(button).to_have_attribute("aria-disabled", "true")


def test_2_4_3_the_keyboard_is_never_lost(pupil: Callable[..., Pupil]) -> None:
    """What goes away while somebody stands at it: a question, the field for an input."""
    page = predicting(one := pupil())
    page.get_by_role("button", name="Just show me").focus()
    page.keyboard.press("Enter")
    one.at_step(1)
    assert focus(page) == {"name": "control-forward", "seen": True}
    page.uncheck("#predicting")
    one.tab("program")
    one.type_program("INPUT\nOUTPUT\nHALT")
    expect(page.locator("#problems")).to_contain_text("3 of 16 words")
    one.press("end")
    page.fill("#given", "7")
    page.keyboard.press("Enter")
    expect(page.locator("#give")).to_be_hidden()
    assert focus(page) == {"name": "control-forward", "seen": True}


def test_2_4_11_what_has_the_keyboard_is_in_sight(pupil: Callable[..., Pupil]) -> None:
    for size in ({"width": 1366, "height": 768}, PHONE):
        page = (one := pupil(viewport=size)).page
        for tab in TABS:
            one.tab(tab)
            if tab == "memory":
                expect(page.locator("#word-0")).to_be_visible()
            stops = walk(page)
            assert len(stops) > 10, tab
            assert [each["name"] for each in stops if not each["seen"]] == [], (tab, size)


@pytest.mark.parametrize("size", [PHONE, SMALLEST, {"width": 1366, "height": 768}])
def test_1_4_10_1_4_12_and_2_5_8(pupil: Callable[..., Pupil], size: dict[str, int]) -> None:
    """Nothing scrolls sideways, spaced text or not; every control can be hit and reached."""
    page = (one := pupil(viewport=size)).page
    for tab in TABS:
        one.tab(tab)
        if tab == "predict":
            page.check("#predicting")
            expect(page.locator("form.ask")).to_be_visible()
        assert sideways(page) == [], tab
        assert small_targets(page) == [], tab
    spaced(page)
    for tab in TABS:
        # A tab that another lies over, or that is out of the window, cannot be clicked.
        one.tab(tab)
        expect(page.locator(f"#panel-{tab}")).to_be_visible()
        assert sideways(page) == [], f"{tab}, spaced"


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (1920, 1080)])
def test_1_4_4_text_grows_with_zoom(pupil: Callable[..., Pupil], width: int, height: int) -> None:
    """At 200 % a window has half as many pixels of its own, each twice as large."""
    page = (one := pupil(viewport={"width": width, "height": height})).page
    one.press("forward")
    one.at_step(1)
    size = "(name) => parseFloat(getComputedStyle(document.querySelector(name)).fontSize)"
    names = (".row .word", ".row .text", ".register .name", ".sentence", "#control-back", ".editor")
    before = {name: page.evaluate(size, name) for name in names}
    page.set_viewport_size({"width": width // 2, "height": height // 2})
    for name in names:
        assert 2 * page.evaluate(size, name) / before[name] >= 1.9, name


def test_a_question_on_a_phone_leaves_the_machine_in_view(pupil: Callable[..., Pupil]) -> None:
    page = predicting(pupil(viewport=PHONE))
    form = page.locator("form.ask").bounding_box()
    machine = page.locator(".at-processor").bounding_box()
    under = page.locator(".under").bounding_box()
    assert form and machine and under
    assert form["y"] >= 0, "the question is whole in view"
    assert under["y"] - machine["y"] >= 844 * 0.25
    expect(page.locator("[data-place=MAR]")).to_be_in_viewport()
