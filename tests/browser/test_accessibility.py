"""Every page in both themes, judged by axe-core, and quiet in the browser's console."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.board import Board
from tests.browser.conftest import Errors
from tests.server import Server

THEMES = ("light", "dark")


def violations(page: Page) -> list[str]:
    """What axe-core finds wrong: rule, help, and the elements."""
    results = Axe().run(page)
    return [
        f"{each['id']}: {each['help']}: {[node['target'] for node in each['nodes']]}"
        for each in results.response["violations"]
    ]


@pytest.mark.parametrize("theme", THEMES)
def test_pages_beside_the_board(
    server: Server, new_page: Callable[..., Page], errors: Errors, theme: str
) -> None:
    page = new_page(color_scheme=theme)
    for address in ("/", "/lessons/broken/problems", "/nothing"):
        page.goto(server.address + address)
        page.wait_for_selector(f"html[data-theme={theme}]")
        assert violations(page) == [], address
    # The page that is not there is told as an error by the browser, rightly.
    errors.forgive("404")


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("slug", ["02-ferry-ticket-machine", "long"])
def test_the_board(open_board: Callable[..., Board], theme: str, slug: str) -> None:
    board = open_board(slug, color_scheme=theme)
    assert violations(board.page) == []
    board.press("i", "i")
    board.wait_for_step_after(0)
    assert violations(board.page) == []


@pytest.mark.parametrize("theme", THEMES)
def test_the_board_while_a_value_travels_and_with_the_keys_listed(
    open_board: Callable[..., Board], theme: str
) -> None:
    board = open_board(color_scheme=theme).at_speed("--")
    board.step_to("PageDown", 1)
    board.wait_for_vehicle()
    assert violations(board.page) == []
    board.press("?")
    assert violations(board.page) == []


def test_the_board_on_a_phone(open_board: Callable[..., Board]) -> None:
    board = open_board(viewport={"width": 390, "height": 844})
    assert violations(board.page) == []
