"""What comes after a lesson, in the browser: over again, the warm-up, and both on paper."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from app.classroom.store import Store
from app.lesson.file.reader import read_lesson
from tests.asking import ASKING, STEP, write_lesson
from tests.browser.board import Board
from tests.browser.judge import violations
from tests.browser.reach import sideways, small_targets
from tests.server import Server
from tests.taught import asked_in, teach_class


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder = write_lesson(tmp_path_factory.mktemp("taught"))
    kept = folder / "kept"
    store = Store(kept)
    lesson = read_lesson("asking", ASKING)
    teach_class(store, lesson, "monday", asked_in(lesson), pupils=24)
    store.close()
    with Server(folder, store=kept) as running:
        yield running


@pytest.mark.parametrize("width", [1366, 320])
def test_the_pages_are_for_everyone(
    server: Server, new_page: Callable[..., Page], width: int
) -> None:
    """WCAG 2.2 by axe-core in both themes; reflow (1.4.10) and target size (2.5.8) beside it."""
    page = new_page(viewport={"width": width, "height": 800})
    for address in ("/again", "/warm-up", "/paper/asking"):
        page.goto(server.address + address)
        assert violations(page) == [], address
        assert sideways(page) == [], address
        assert small_targets(page) == [], address


def test_two_clicks_and_the_class_is_asked(server: Server, new_page: Callable[..., Page]) -> None:
    page = new_page(reduced_motion="reduce")
    page.goto(server.address)
    page.get_by_role("link", name="a warm-up for next time").click()
    page.get_by_role("button", name="Ask on the board").click()
    expect(page.locator("#frame")).to_have_count(1)
    board = Board(page)
    board.wait("window.streamIsOpen")
    # To the place of the question, and then it is asked.
    board.press("PageDown")
    expect(page.locator("#frame:not([data-step='0'])")).to_have_count(1)
    board.press("PageDown")
    expect(page.locator(".question")).to_have_count(1)


def test_the_board_at_that_very_step(server: Server, new_page: Callable[..., Page]) -> None:
    page = new_page()
    page.goto(f"{server.address}/again?taught=monday")
    page.get_by_role("button", name="Show on the board").first.click()
    expect(page.locator("#frame")).to_have_attribute("data-step", str(STEP))


def test_on_paper_the_bars_are_told_apart_without_colour(
    server: Server, new_page: Callable[..., Page], tmp_path: Path
) -> None:
    page = new_page(color_scheme="dark")
    page.goto(f"{server.address}/again")
    fill = """(when) => getComputedStyle(document.querySelector(`.bars .${when} rect`)).fill"""
    page.emulate_media(media="print")
    assert page.evaluate(fill, "before") == "rgb(0, 0, 0)"
    assert page.evaluate(fill, "after") == "rgb(255, 255, 255)"
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    hidden = page.locator(".screen:visible")
    expect(hidden).to_have_count(0)
