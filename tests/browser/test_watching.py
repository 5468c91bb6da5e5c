"""A cache, a pipeline, machines side by side and cores on the board: nothing overlaps, everybody
can read it, and a line that is brought is seen to travel."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import Request, urlopen

import pytest
from playwright.sync_api import Page

from tests.board.test_watching import TEXT
from tests.browser.board import Board
from tests.browser.conftest import teach
from tests.browser.judge import violations
from tests.browser.layout import MEASURE
from tests.server import Server

SIZES = [(1920, 1080), (1024, 768), (390, 844)]
# Of each scene a few steps: the start, a miss or a wait, and the end.
PLACES = [(1, (0, 2, 148)), (2, (0, 7, 16, 38)), (3, (0, 2)), (4, (0,))]


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder: Path = tmp_path_factory.mktemp("watched")
    (folder / "watched.md").write_text(TEXT, encoding="utf-8")
    with Server(folder) as server:
        yield server


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_nothing_overlaps_and_everybody_can_read_it(
    running: Server, new_page: Callable[..., Page], size: tuple[int, int]
) -> None:
    board = Board(new_page(viewport={"width": size[0], "height": size[1]}))
    board.open(teach(running.address, "watched"))
    page = board.page
    page.keyboard.press("m")
    for scene, steps in PLACES:
        for step in steps:
            act(page, "scene", scene=scene)
            act(page, "step", step=step)
            page.wait_for_function(
                f"() => document.getElementById('frame').dataset.scene == {scene - 1} &&"
                f" document.getElementById('frame').dataset.step == {step}"
            )
            assert page.evaluate(MEASURE)["faults"] == [], (scene, step)
            # Of the panels none is higher than its place.
            assert not page.evaluate(
                "[...document.querySelectorAll('.watching > .panel')].some("
                "(each) => each.scrollHeight > each.clientHeight + 1)"
            ), (scene, step)
        assert violations(page) == [], scene


def act(page: Page, action: str, **fields: int) -> None:
    form = urlencode(fields).encode()
    with urlopen(Request(f"{page.url.rstrip('/')}/{action}", form)) as answer:
        assert answer.status == 204


def test_a_line_travels_from_memory_to_the_cache(
    running: Server, new_page: Callable[..., Page]
) -> None:
    board = Board(new_page()).open(teach(running.address, "watched"))
    page = board.page
    page.keyboard.press("+")
    page.evaluate(
        """() => {
          window.travelled = [];
          new MutationObserver((changes) => {
            for (const change of changes) for (const node of change.addedNodes) {
              window.travelled.push(`${node.className}: ${node.textContent}`);
            }
          }).observe(document.getElementById("vehicles"), { childList: true });
        }"""
    )
    board.press("s", "s")
    page.wait_for_function("() => window.travelled.length >= 4")
    page.wait_for_function("() => !document.getElementById('frame').classList.contains('moving')")
    travelled = page.evaluate("window.travelled")
    kinds = [each.split(":")[0] for each in travelled[-4:]]
    assert kinds == ["vehicle address", "vehicle address", "vehicle data line", "vehicle data"]
    assert travelled[-2].endswith(": LOAD LOAD STORE ADD")
    assert page.locator("#vehicles > *").count() == 0
