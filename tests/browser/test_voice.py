"""The words read aloud where a pupil works alone, by a voice that the test can hear."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.browser.board import Board
from tests.browser.voice import VOICE
from tests.server import Server


@pytest.fixture
def explore(server: Server, new_page: Callable[..., Page]) -> Callable[..., Board]:
    def open_page(script: str = "") -> Board:
        page = new_page(reduced_motion="reduce")
        page.add_init_script(script)
        page.goto(f"{server.address}/explore/short/1")
        return Board(page)

    return open_page


def test_each_step_is_read_once_it_is_asked_for(explore: Callable[..., Board]) -> None:
    board = explore(VOICE)
    board.page.locator("#control-forward").click()
    board.wait_for_step(1)
    assert board.page.evaluate("heard") == []
    board.page.locator("#control-voice").click()
    board.wait("heard.length === 1")
    board.page.locator("#control-forward").click()
    board.wait("heard.length === 2")
    assert board.page.evaluate("heard[1]") == board.sentence()
    board.page.locator("#control-voice").click()
    board.page.locator("#control-forward").click()
    board.wait_for_step(3)
    assert len(board.page.evaluate("heard")) == 2


# Every answer takes its time, in milliseconds.
SLOW = """
const fetched = window.fetch;
window.fetch = async (...asked) => {
  const answer = await fetched(...asked);
  await new Promise((resolve) => setTimeout(resolve, 700));
  return answer;
};
"""


@pytest.mark.parametrize("network", ["", SLOW], ids=["quick", "slow"])
def test_play_waits_until_the_words_are_out(explore: Callable[..., Board], network: str) -> None:
    """Also where a setting is answered only after Play was pressed."""
    board = explore(f"window.holdBack = 800;{VOICE}{network}")
    board.page.locator("#control-voice").click()
    board.wait("window.said.length === 1")
    for _ in range(3):
        board.page.locator("#control-faster").click()
    board.page.locator("#control-play").click()
    board.wait("window.said.length === 3")
    # Of each step, until the words were out.
    assert board.page.evaluate("window.said.slice(1)") == [["1", "1"], ["2", "2"]]


def test_a_browser_without_a_voice_says_so(explore: Callable[..., Board]) -> None:
    board = explore("Object.defineProperty(window, 'speechSynthesis', { value: undefined });")
    board.page.locator("#control-voice").click()
    board.wait("document.getElementById('note').textContent.includes('no voice')")
    assert board.page.locator("#control-voice").is_disabled()
    board.page.locator("#control-forward").click()
    board.wait_for_step(1)
