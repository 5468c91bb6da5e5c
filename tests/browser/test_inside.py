"""The ALU opened on the board: seen whole on every screen, judged by axe, heard, walked through."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board
from tests.browser.judge import violations

SCREENS = [(1366, 768), (1024, 768), (390, 844)]
ADDED = 16  # the step of the ferry lesson at which 9 and 4 are added
# What sticks out of the panel, or lies in another part of it.
OUTSIDE = """
() => {
  const panel = document.querySelector(".opened").getBoundingClientRect();
  const named = ["h2", "th", "td", "svg text", ".signal"].map((each) => `.opened ${each}`);
  const parts = [...document.querySelectorAll(named.join())]
    .filter((each) => each.textContent.trim() && each.checkVisibility());
  return parts.map((each) => [each.textContent.trim(), each.getBoundingClientRect()])
    .filter(([, box]) => box.left < panel.left - 1 || box.right > panel.right + 1
      || box.top < panel.top - 1 || box.bottom > panel.bottom + 1)
    .map(([text]) => text);
}
"""


def at_the_sum(open_board: Callable[..., Board], slug: str, **options: Any) -> Board:
    board = open_board(slug, **options)
    board.press("i", "i")
    board.wait(f"Number(document.getElementById('frame').dataset.step) > {ADDED - 4}")
    return board


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_from_the_sum_to_the_gates_and_back(
    open_board: Callable[..., Board], width: int, height: int
) -> None:
    board = at_the_sum(
        open_board,
        "02-ferry-ticket-machine",
        viewport={"width": width, "height": height},
        reduced_motion="reduce",
    )
    page = board.page
    inside = page.locator("#frame")
    for key, expected in (("o", "alu"), ("o", "alu-0"), ("f", "alu-1")):
        board.press(key)
        expect(inside).to_have_attribute("data-inside", expected)
        expect(page.locator(".opened h2")).to_be_visible()
        assert page.evaluate(OUTSIDE) == []
    assert violations(page) == []
    # What is new is said.
    expect(page.locator("#announce")).to_contain_text("The twos column:")
    board.press("z", "z")
    expect(page.locator(".opened")).to_have_count(0)
    expect(page.locator("#announce")).to_contain_text("Closed again.")
    # On a phone one may be anywhere on the board; what opens is seen from its top.
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    board.press("k")
    expect(page.locator(".opened h2")).to_be_visible()
    expect(page.locator(".opened h2")).to_be_in_viewport(ratio=1)
    assert page.locator(".signal.on").count() == 5
    assert page.evaluate(OUTSIDE) == []
    if width == SCREENS[0][0]:
        assert violations(page) == []


def test_the_carries_walk_from_right_to_left(open_board: Callable[..., Board]) -> None:
    board = at_the_sum(open_board, "02-ferry-ticket-machine").at_speed("+")
    page = board.page
    page.evaluate(
        """() => {
          window.order = [];
          addEventListener("animationstart", (event) => {
            if (event.animationName === "written") window.order.push([...event.target.classList]
              .find((each) => each.startsWith("at-")) + event.target.parentElement.className);
          });
        }"""
    )
    board.press("o")
    board.wait("document.querySelector('.frame.moving .opened')")
    board.wait_until_still()
    order = page.evaluate("window.order")
    made = [each.removesuffix("made") for each in order if each.endswith("made")]
    assert made == [f"at-{place}" for place in range(8)]
    carried = [each.removesuffix("carry") for each in order if each.endswith("carry")]
    # The rightmost place has nothing carried in, and is empty from the start.
    assert list(dict.fromkeys(carried)) == [f"at-{place}" for place in range(8)]
