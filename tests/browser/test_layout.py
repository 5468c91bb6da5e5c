"""The board is laid out so that a class can read it: nothing overlaps, nothing is too small.

The sizes come from AVIXA V202.01:2016 (DISCAS), see tests/web/test_palette.py: at six image
heights a line of text is at least 3 % of the screen's height; the caption is held to 4 %.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.browser.board import Board
from tests.browser.conftest import teach
from tests.browser.layout import MEASURE
from tests.server import Server

PROJECTORS = [(1920, 1080), (1366, 768), (1280, 720), (1024, 768)]
PHONE = (390, 844)
DEPTHS = ("transfers", "phases")

# The longest instruction that a lesson is likely to have, numbers of every length, an input that
# is read and outputs that pile up.
SMALL = """---
title: The cable car's counter
machine: 8-bit
---

# Up and down the mountain

```program
        INPUT
again:  OUTPUT
        SUBTRACT step
        STORE  left
        COMPARE #0
        JUMP again IF MORE
        LOAD  left
        OUTPUT
        HALT
step:   3
left:   -128
```

```inputs
4, -100, 127
```

```cues
fetch 2: The doors are shut and the car is on its way, so the next instruction is fetched now.
```
"""
LARGE = SMALL.replace("8-bit", "16-bit").replace("-128", "-32768").replace("127", "32767")

# Names as long as a pupil is likely to choose.
LONG = (
    SMALL.replace("again", "once_more")
    .replace("step", "passenger_no")
    .replace("left", "still_to_go")
)


@pytest.fixture(scope="module")
def layout_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder: Path = tmp_path_factory.mktemp("layout")
    (folder / "small.md").write_text(SMALL, encoding="utf-8")
    (folder / "large.md").write_text(LARGE, encoding="utf-8")
    (folder / "long.md").write_text(LONG, encoding="utf-8")
    with Server(folder) as running:
        yield running


@pytest.fixture
def board(
    layout_server: Server, new_page: Callable[..., Page], request: pytest.FixtureRequest
) -> Board:
    return Board(new_page()).open(teach(layout_server.address, request.param))


def look(board: Board, size: tuple[int, int]) -> dict:
    board.page.set_viewport_size({"width": size[0], "height": size[1]})
    found: dict = board.page.evaluate(MEASURE)
    # An empty page would have no fault.
    assert found["texts"] > 30
    return found


@pytest.mark.parametrize("depth", DEPTHS)
@pytest.mark.parametrize("board", ["small", "large"], indirect=True)
def test_nothing_overlaps_and_nothing_is_too_small(board: Board, depth: str) -> None:
    board.press("m")
    if depth == "phases":
        board.press("d")
        board.wait("document.querySelector('#frame.depth-phases')")
    for _ in range(6):
        for size in (*PROJECTORS, PHONE):
            where = f"{depth}, step {board.step}, {size}"
            found = look(board, size)
            assert found["faults"] == [], where
            if size != PHONE:
                assert found["lines"] > 20, where
                assert found["smallest"][1] >= 0.03, where
                assert found["smallestOfCaption"][1] >= 0.04, where
                assert not found["scrolls"], where
        before = board.step
        board.press(*(["ArrowRight"] * (4 if depth == "transfers" else 2)))
        board.wait_for_step_after(before)


@pytest.mark.parametrize("board", ["small", "large"], indirect=True)
@pytest.mark.parametrize("base", ["binary", "hexadecimal"])
def test_every_base_has_room(board: Board, base: str) -> None:
    board.press("m", "i", "i", "i")
    board.wait_for_step_after(16)
    for _ in range(3):
        if board.page.locator(f"#frame.base-{base}").count():
            break
        shown = board.page.locator("#frame").get_attribute("class")
        board.press("n")
        board.wait("document.getElementById('frame').className !== value", shown)
    for size in (*PROJECTORS, PHONE):
        found = look(board, size)
        assert found["faults"] == [], (base, size)
        if size != PHONE:
            assert found["smallest"][1] >= 0.03, (base, size)


@pytest.mark.parametrize("board", ["long"], indirect=True)
def test_long_names_are_whole(board: Board) -> None:
    board.press("m")
    for base in range(3):
        for size in (*PROJECTORS, PHONE):
            assert look(board, size)["faults"] == [], (base, size)
        shown = board.page.locator("#frame").get_attribute("class")
        board.press("n")
        board.wait("document.getElementById('frame').className !== value", shown)


@pytest.mark.parametrize("board", ["small"], indirect=True)
def test_the_measure_finds_what_is_wrong(board: Board) -> None:
    """The tests above could not fail if the measure saw nothing."""
    found = look(board, PROJECTORS[0])
    assert found["faults"] == []
    board.page.evaluate(
        """() => {
          const name = document.querySelector(".at-MDR .name");
          name.style.fontSize = "400%";
          document.querySelector(".at-MAR .name").style.lineHeight = "12px";
          document.querySelector(".at-PC .name").style.position = "relative";
          document.querySelector(".at-PC .name").style.left = "60%";
        }"""
    )
    found = look(board, PROJECTORS[0])
    assert any("sticks out" in each for each in found["faults"])
    assert any("overlaps" in each for each in found["faults"])
    assert any("goes through" in each for each in found["faults"])
    assert found["smallest"][1] < 0.03
