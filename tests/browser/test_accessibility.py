"""Every page in both themes, judged by axe-core, and quiet in the browser's console."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.browser.board import Board
from tests.browser.conftest import Errors
from tests.browser.judge import violations
from tests.server import Server


def test_pages_beside_the_board(
    server: Server, new_page: Callable[..., Page], errors: Errors
) -> None:
    page = new_page(color_scheme="dark")
    for address in ("/", "/lessons/broken/problems", "/nothing"):
        page.goto(server.address + address)
        page.wait_for_selector("html[data-theme=dark]")
        assert violations(page) == [], address
    page.emulate_media(color_scheme="light")
    for address in ("/", "/lessons/broken/problems", "/nothing"):
        page.goto(server.address + address)
        page.wait_for_selector("html[data-theme=light]")
    # The page that is not there is told as an error by the browser, rightly.
    errors.forgive("404")


@pytest.mark.parametrize("slug", ["02-ferry-ticket-machine", "long"])
def test_the_board(open_board: Callable[..., Board], slug: str) -> None:
    board = open_board(slug)
    assert violations(board.page) == []
    board.press("i", "i")
    board.wait_for_step_after(0)
    assert violations(board.page) == []


def test_the_board_in_the_theme_of_the_system(open_board: Callable[..., Board]) -> None:
    board = open_board(color_scheme="dark")
    board.page.wait_for_selector("html[data-theme=dark]")


def test_the_board_while_a_value_travels_and_with_the_keys_listed(
    open_board: Callable[..., Board],
) -> None:
    board = open_board().at_speed("--")
    board.step_to("PageDown", 1)
    board.wait_for_vehicle()
    assert violations(board.page) == []
    assert board.page.locator(".vehicle").count(), "it was judged on its way"
    board.press("?")
    assert violations(board.page) == []


def test_the_board_on_a_phone(open_board: Callable[..., Board]) -> None:
    board = open_board(viewport={"width": 390, "height": 844})
    assert violations(board.page) == []


def test_the_judge_finds_what_is_wrong(open_board: Callable[..., Board]) -> None:
    """The tests above could not fail if it saw nothing: in either theme, of either kind."""
    page = open_board().page
    page.evaluate(
        """() => {
          const style = new CSSStyleSheet();
          style.replaceSync(":root[data-theme=dark] .at-PC .name { color: #12161c; }");
          document.adoptedStyleSheets = [style];
          document.documentElement.removeAttribute("lang");
        }"""
    )
    assert [each.split(": ")[:2] for each in violations(page)] == [
        ["light", "html-has-lang"],
        ["dark", "color-contrast"],
    ]
