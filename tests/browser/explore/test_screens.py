"""The page of a pupil's own machine: for everyone, on every screen."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.explore.pupil import Pupil
from tests.browser.judge import violations

SIZES = [(1366, 768), (1024, 768), (1920, 1080), (390, 844)]


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_machine_and_the_bench_have_their_sides(
    pupil: Callable[..., Pupil], width: int, height: int
) -> None:
    """The board at the left; on a phone under the tabs. A key leads through them in this order."""
    page = (one := pupil(viewport={"width": width, "height": height})).page
    phone = width == 390
    if phone:
        one.tab("machine")
    stage, tabs = (page.locator(each).bounding_box() for each in (".place", ".tabs"))
    assert stage and tabs
    if phone:
        assert tabs["y"] + tabs["height"] <= stage["y"] + 1
    else:
        assert stage["x"] + stage["width"] <= tabs["x"] + 1
    order = page.locator("main > section").evaluate_all("all => all.map((each) => each.className)")
    assert order == (["bench", "machine"] if phone else ["machine", "bench"])
    # Turned the other way, the page follows, and keeps what is written.
    one.tab("program")
    one.type_program("HALT ; mine")
    page.set_viewport_size({"width": 1366 if phone else 390, "height": 768})
    first = page.locator("main > section").first
    expect(first).to_have_class("machine" if phone else "bench")
    assert one.program == "HALT ; mine"


def test_accessible_on_every_tab(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    assert violations(page) == []
    for tab in ("memory", "task", "card", "predict"):
        one.tab(tab)
        expect(page.locator(f"#panel-{tab}")).to_be_visible()
        assert violations(page) == [], tab
    page.check("#predicting")
    page.wait_for_selector("form.ask")
    assert violations(page) == []
    page.check("input[name=place][value=PC]")
    page.fill("#say-value", "5")
    page.keyboard.press("Enter")
    page.wait_for_selector("#verdict")
    assert violations(page) == []
    one.tab("program")
    one.type_program("LAOD 5")
    page.wait_for_selector("#problems li")
    assert violations(page) == []


def test_accessible_on_a_phone(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil(viewport={"width": 390, "height": 844})).page
    assert violations(page) == []
    one.press("forward")
    one.at_step(1)
    assert violations(page) == []


def test_on_a_phone_the_machine_and_the_panels_take_turns(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil(viewport={"width": 390, "height": 844}, has_touch=True)).page
    expect(page.locator("#program")).to_be_visible()
    expect(page.locator("#stage")).to_be_hidden()
    one.type_program("LOAD #1\nHALT")
    expect(page.locator("#problems")).to_contain_text("2 of 16 words")
    page.tap("#control-forward")
    one.at_step(1)
    expect(page.locator("#stage")).to_be_visible()
    expect(page.locator("#program")).to_be_hidden()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    # The card, too, can be reached with a finger, and the way back from it.
    page.tap("#tab-card")
    expect(page.locator(".card")).to_be_in_viewport()
    expect(page.locator("#stage")).to_be_hidden()
    page.tap("#control-forward")
    expect(page.locator("#stage")).to_be_visible()


SMALL_TEXT = """([root, least]) => {
  const walker = document.createTreeWalker(document.querySelector(root), NodeFilter.SHOW_TEXT);
  const found = [];
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.textContent.trim() || !element.checkVisibility()) continue;
    const size = parseFloat(getComputedStyle(element).fontSize);
    if (size < least) found.push(`${walker.currentNode.textContent.trim()} ${size}`);
  }
  return found;
}"""


def test_text_can_be_read_on_a_laptop(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("instruction")
    one.at_step(8)
    assert page.evaluate(SMALL_TEXT, ["#stage", 13]) == []
    for tab in ("program", "memory", "predict", "task", "card"):
        one.tab(tab)
        expect(page.locator(f"#panel-{tab}")).to_be_visible()
        assert page.evaluate(SMALL_TEXT, [f"#panel-{tab}", 15]) == []


@pytest.mark.parametrize(("width", "height"), SIZES[:3])
def test_one_screen_without_scrolling(pupil: Callable[..., Pupil], width: int, height: int) -> None:
    page = (one := pupil(viewport={"width": width, "height": height})).page
    one.press("end")
    one.at_step(36)
    scrolls = "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
    assert page.evaluate(scrolls) == [width, height]
    for name in ("#stage", ".caption", "#control-end", "#timeline", "#tab-card", "#control-help"):
        box = page.locator(name).bounding_box()
        assert box and box["x"] >= 0 and box["y"] >= 0, name
        assert box["x"] + box["width"] <= width and box["y"] + box["height"] <= height, name
    # The words of the caption stay in it.
    words, caption = page.locator(".words").bounding_box(), page.locator(".caption").bounding_box()
    assert words and caption and words["height"] <= caption["height"]


def test_the_card_is_the_instruction_table(pupil: Callable[..., Pupil]) -> None:
    from app.machine.instructions import INSTRUCTIONS

    page = (one := pupil()).page
    one.tab("card")
    rows = page.locator(".card tbody tr")
    expect(rows).to_have_count(len(INSTRUCTIONS))
    assert rows.locator("th").all_inner_texts() == [each.written for each in INSTRUCTIONS]
