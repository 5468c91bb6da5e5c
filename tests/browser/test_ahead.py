"""The frame of the next press is in the page before the key is pressed; and what is shown in the
end is what the server says, whatever was shown before it said so."""

from __future__ import annotations

import re
import urllib.request
from collections.abc import Callable

from playwright.sync_api import Route

from tests.browser.board import Board
from tests.browser.conftest import Errors

FERRY = "02-ferry-ticket-machine"


def open_held(
    open_board: Callable[..., Board], held: str = "**/forward"
) -> tuple[Board, list[Route]]:
    """A board that has been told the next frame, and whose presses do not reach the server until
    they are let go."""
    board = open_board(FERRY)
    waiting = board.hold(held)
    # Slowly: on a busy machine the value is still on its way when it is looked for.
    board.at_speed("--")
    board.page.evaluate(
        """() => document.addEventListener("htmx:before:sse:message", (event) => {
          const { message } = event.detail;
          if (message.event === "ahead") window.told = window.came;
          else if (message.data.includes('id="frame"')) { window.came = true; window.told = false; }
        }, { capture: true })"""
    )
    # It may have been told before anybody listened: so once more, after another frame.
    post(board, "restart")
    board.wait("window.told")
    return board, waiting


def press(board: Board, held: list[Route]) -> Route:
    """Press Page Down, and wait until its frame is shown and its request held."""
    board.press("PageDown")
    board.wait_for_step(1)
    return board.wait_for_route(held)


def post(board: Board, action: str) -> None:
    urllib.request.urlopen(urllib.request.Request(f"{board.page.url}/{action}", method="POST"))


def step_on_the_server(board: Board) -> int:
    page = urllib.request.urlopen(board.page.url).read().decode()
    return int(re.findall(r'data-step="(\d+)"', page)[0])


def test_a_press_is_shown_before_the_server_has_it_and_goes_on_when_it_has(
    open_board: Callable[..., Board],
) -> None:
    board, held = open_held(open_board)
    route = press(board, held)
    board.wait_for_vehicle()
    assert step_on_the_server(board) == 0

    board.page.evaluate("window.first = document.querySelector('.vehicle')")
    board.page.evaluate("window.told = false")
    route.continue_()
    # The server has said its own frame, and the next but one: nothing began anew.
    board.wait("window.told")
    assert step_on_the_server(board) == 1
    assert board.page.evaluate("window.first.isConnected") and board.step == 1


def test_a_press_that_never_reaches_the_server_is_taken_back(
    open_board: Callable[..., Board], errors: Errors
) -> None:
    board, held = open_held(open_board)
    before = board.sentence()
    route = press(board, held)
    route.abort()
    board.wait_for_step(0)
    board.wait_until_still()
    assert board.sentence() == before
    errors.forgive("net::ERR", "htmx:error")


def test_where_the_server_says_another_frame_that_one_is_shown(
    open_board: Callable[..., Board],
) -> None:
    board, held = open_held(open_board)
    route = press(board, held)
    # Meanwhile somebody presses something else, in another window.
    post(board, "base")
    board.wait("document.querySelector('#frame.base-binary, #frame.base-hexadecimal')")
    assert board.step == 0
    route.continue_()
    board.wait_for_step(1)
    board.wait("document.querySelector('#frame:not(.base-denary)')")


def test_another_key_is_not_overtaken(open_board: Callable[..., Board]) -> None:
    """What was told holds for the board as it was: after another key the server is waited for."""
    board, held = open_held(open_board, "**/{forward,blank}")
    board.press("b", "PageDown")
    board.page.wait_for_timeout(300)
    assert board.step == 0
    board.wait_for_route(held).continue_()
    board.wait("document.querySelector('#frame.blank')")
