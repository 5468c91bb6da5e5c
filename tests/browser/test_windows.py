"""The windows beside the board: the teacher's own screen, the preview, and a zoom through sizes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.board import Board
from tests.browser.conftest import Errors, teach
from tests.browser.judge import THEMES, violations
from tests.server import Server

LESSON = """---
title: The bakery scale
machine: 8-bit
minutes: 30
---

# Flour and salt

Ask what the scale shows **before** the second bag.

```program
        LOAD  flour
        ADD   salt
        OUTPUT
        HALT
flour:  6
salt:   1
```

```cues
start: Two bags lie ready.
first ADD: The second bag goes on the scale.
```

# How small

```scale
a grain of salt: 300 µm
a hair: 80 µm
a transistor: 100 nm
```
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two lessons that are the same until a test changes the second."""
    made = tmp_path_factory.mktemp("bakery")
    for name in ("bakery", "changing"):
        (made / f"{name}.md").write_text(LESSON, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def own_server(folder: Path) -> Iterator[Server]:
    with Server(folder) as running:
        yield running


def test_the_teachers_screen_and_the_board_keep_in_step(
    own_server: Server, new_page: Callable[..., Page]
) -> None:
    address = teach(own_server.address, "bakery")
    beside = new_page()
    # The clock of this computer is an hour ahead of the other's.
    beside.add_init_script("const now = Date.now; Date.now = () => now() + 3600 * 1000;")
    board, desk = Board(new_page()).open(address), Board(beside).open(f"{address}/teacher")
    expect(desk.page.locator(".now")).to_have_text("Two bags lie ready.")
    expect(desk.page.locator(".soon")).to_have_text("The second bag goes on the scale.")
    expect(desk.page.locator(".clock")).to_have_text(re.compile(r"^\d:\d\d of 30 minutes$"))
    asked: list[str] = []
    desk.page.on("request", lambda request: asked.append(f"{request.method} {request.url}"))
    desk.press("PageDown")
    board.wait_for_step(1)
    board.press("i")
    desk.wait_for_step(8)
    desk.page.get_by_role("button", name="Arithmetic and logic unit").click()
    expect(board.page.locator(".at-ALU")).to_have_count(0)
    desk.page.get_by_role("button", name="2. How small").click()
    expect(board.page.locator(".station-name")).to_have_text("a grain of salt")
    desk.page.get_by_role("button", name="a transistor").click()
    expect(board.page.locator(".station-name")).to_have_text("a transistor")
    expect(desk.page.locator(".agenda .here")).to_contain_text("a transistor")
    desk.page.get_by_role("button", name="1. Flour and salt").click()
    desk.page.get_by_role("button", name="The second bag").click()
    expect(board.page.locator(".sentence")).to_have_text("The second bag goes on the scale.")
    expect(desk.page.locator(".say .now")).to_have_text("The second bag goes on the scale.")
    # What it shows comes by its stream: it has asked for nothing but what was pressed.
    assert [each for each in asked if not each.startswith("POST")] == []


def test_the_teachers_screen_says_what_is_refused(
    own_server: Server, new_page: Callable[..., Page], errors: Errors
) -> None:
    desk = Board(new_page()).open(f"{teach(own_server.address, 'bakery')}/teacher").page
    for address, button in (("part", "Arithmetic and"), ("scene", "2. How"), ("place", "The sec")):
        refusal = f"No {address} now."
        desk.route(
            f"**/{address}",
            lambda route, _, words=refusal: route.fulfill(status=409, body=f"<p>{words}</p>"),
        )
        desk.get_by_role("button", name=button).click()
        expect(desk.locator("#class-refusal")).to_have_text(refusal)
    errors.forgive("409")


def test_the_windows_can_be_used_by_everyone(
    own_server: Server, new_page: Callable[..., Page]
) -> None:
    page = new_page()
    address = teach(own_server.address, "bakery")
    for window in (f"{address}/teacher", f"{own_server.address}/lessons/bakery/preview?scene=1"):
        for theme in THEMES:
            page.emulate_media(color_scheme=theme)
            page.goto(window)
            page.wait_for_selector(f"html[data-theme={theme}]")
        assert violations(page) == [], window


def test_the_preview_follows_the_saved_file(
    own_server: Server, folder: Path, new_page: Callable[..., Page]
) -> None:
    page, file = new_page(), folder / "changing.md"
    page.goto(f"{own_server.address}/lessons/changing/preview")
    for step in range(1, 9):
        page.keyboard.press("ArrowRight")
        expect(page.locator("#frame")).to_have_attribute("data-step", str(step))
    expect(page.locator(".at-ACC .now")).to_have_text("6")
    file.write_text(LESSON.replace("flour:  6", "flour:  9"), encoding="utf-8")
    expect(page.locator(".at-ACC .now")).to_have_text("9")
    expect(page.locator("#frame")).to_have_attribute("data-step", "8")
    file.write_text(LESSON.replace("OUTPUT", "OUTPTU"), encoding="utf-8")
    expect(page.locator("#file mark")).to_have_text("OUTPTU")
    expect(page.locator(".at-ACC .now")).to_have_text("9")
    file.write_text(LESSON, encoding="utf-8")
    expect(page.locator("#file")).to_contain_text("Nothing is wrong")


SAMPLES = """
() => new Promise((done) => {
  const seen = [];
  const look = () => {
    const section = document.querySelector(".zoom");
    const bar = [...section.querySelectorAll(".bar")].find((each) => !each.hasAttribute("display"));
    const size = Number(bar.querySelector(".bar-line").getAttribute("width"));
    seen.push({
      metresAcross: (100 * Number(bar.dataset.length)) / size,
      text: section.querySelector(".bar-text").textContent,
      told: bar.dataset.text,
    });
    // Until it has gone and been still for half a second, or in vain for ten.
    const moved = seen.some((each) => each.metresAcross !== seen[0].metresAcross);
    const last = seen.slice(-30);
    const still = last.every((each) => each.metresAcross === last[0].metresAcross);
    if (seen.length < 600 && !(moved && still && last.length === 30)) requestAnimationFrame(look);
    else done(seen);
  };
  look();
})
"""


def test_the_zoom_is_continuous_and_its_bar_true(
    own_server: Server, new_page: Callable[..., Page]
) -> None:
    board = Board(new_page()).open(teach(own_server.address, "bakery")).at_speed("+")
    board.press("]")
    expect(board.page.locator(".station-name")).to_have_text("a grain of salt")
    board.press("PageDown", "PageDown")
    board.wait_for_step(2)
    seen = board.page.evaluate(SAMPLES)
    views = [each["metresAcross"] for each in seen]
    # From two and a half hairs across (or a little later) down to the same of a transistor.
    assert views[0] > 50 * views[-1]
    assert views[-1] == pytest.approx(2.5 * 100e-9, rel=0.01)
    assert all(later <= earlier * 1.001 for earlier, later in pairwise(views))
    assert len({round(view, 12) for view in views}) > 10
    assert all(each["text"] == each["told"] for each in seen)
    # Nothing can be changed here, and that is said in a window that can be closed.
    board.press("w")
    expect(board.page.locator("#what-if")).to_contain_text("There is no machine on the board here.")
    board.page.locator("#what-if").get_by_role("button", name="Close").click()
    expect(board.page.locator("dialog[open]")).to_have_count(0)
