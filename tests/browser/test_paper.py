"""Sheets in the browser, as they are laid out for paper, and the pages that lead to them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from app.web.paper.sheets import DOCUMENTS
from tests.browser.judge import violations
from tests.server import ROOT, Server
from tests.web.paper.paper_lesson import ASKING


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("paper") / "gate.md"
    file.write_text(ASKING, "utf-8")
    return file


# In the page, as it is laid out for paper.
BLACK_AND_WHITE = """
() => [...document.querySelectorAll(".sheet *")].flatMap((each) => {
  const style = getComputedStyle(each);
  return [style.color, style.backgroundColor, style.borderTopColor];
}).filter((each) => {
  const [red, green, blue] = each.match(/[\\d.]+/g).map(Number);
  return !each.endsWith(", 0)") && (red !== green || green !== blue);
})
"""
ROW_HEIGHTS = """
() => [...document.querySelectorAll(".trace tbody tr")].map((each) => [
  each.getBoundingClientRect().height,
  getComputedStyle(each).breakInside,
])
"""
PRINTED_OVER = """
(cells) => cells.filter((each) => {
  const words = document.createRange();
  words.selectNodeContents(each);
  return words.getBoundingClientRect().right > each.getBoundingClientRect().right;
}).map((each) => each.textContent)
"""
MILLIMETRE = 96 / 25.4


@pytest.fixture(scope="module")
def paper(lesson: Path):
    with Server(lesson) as running:
        yield f"{running.address}/paper/gate"


@pytest.fixture(scope="module")
def shipped() -> Iterator[str]:
    """Outlives the pages of each test: one that still asks for something would tell of its end."""
    with Server(ROOT / "lessons") as running:
        yield f"{running.address}/paper"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_worksheets_are_black_and_white_with_room_to_write(
    paper: str, new_page: Callable[..., Page], scheme: str
) -> None:
    page = new_page(color_scheme=scheme)
    page.goto(f"{paper}/worksheets?versions=2")
    page.emulate_media(media="print")
    assert page.evaluate(BLACK_AND_WHITE) == []
    assert not page.locator(".bar").is_visible()
    for height, breaks in page.evaluate(ROW_HEIGHTS):
        assert height >= 8.9 * MILLIMETRE
        assert breaks == "avoid"


def test_a_box_that_is_not_to_be_filled_in_says_so(
    paper: str, new_page: Callable[..., Page]
) -> None:
    page = new_page()
    page.goto(f"{paper}/worksheets?scene=3&versions=1")
    same = page.locator(".trace .same")
    said = same.first.evaluate("each => getComputedStyle(each, '::before').content")
    assert same.count() > 5 and said == '"same"' and same.first.inner_text() == ""
    grey = page.locator(".trace .doing").nth(2).evaluate("e => getComputedStyle(e).backgroundColor")
    assert same.first.evaluate("e => getComputedStyle(e).backgroundColor") == grey
    white = page.locator(".trace .blank").first
    assert white.evaluate("e => getComputedStyle(e).backgroundColor") == "rgb(255, 255, 255)"


def test_a_word_of_a_program_is_one_line(shipped: str, new_page: Callable[..., Page]) -> None:
    """A second line would look like a word without an address."""
    page = new_page()
    for lesson in ("08-cable-car", "09-village-hall"):
        page.goto(f"{shipped}/{lesson}/worksheets?scene=1&versions=1")
        heights = page.locator(".listing tbody tr").evaluate_all("e => e.map(x => x.offsetHeight)")
        assert max(heights) - min(heights) < 8, heights


def test_the_card_of_a_machine_that_has_grown_keeps_to_its_columns(
    shipped: str, new_page: Callable[..., Page]
) -> None:
    """SUBTRACT #n FROM INDEX was printed over what it does."""
    page = new_page(viewport={"width": round(182 * MILLIMETRE), "height": 1000})
    page.emulate_media(media="print")
    for lesson in ("21-violin-bench", "16-box-in-a-box", "18-door-without-bell"):
        page.goto(f"{shipped}/{lesson}/card")
        assert page.locator(".instructions .code").count() > 16
        assert page.locator(".instructions tbody > tr > *").evaluate_all(PRINTED_OVER) == []


@pytest.mark.parametrize("name", ["", *(f"/{each}" for each in DOCUMENTS)])
def test_pages_of_paper_are_accessible(
    paper: str, new_page: Callable[..., Page], name: str
) -> None:
    page = new_page()
    page.goto(paper + name)
    assert violations(page) == []


@pytest.mark.parametrize("viewport", [(1366, 768), (390, 844)])
def test_the_overview_fits_the_screen(
    paper: str, new_page: Callable[..., Page], viewport: tuple[int, int]
) -> None:
    page = new_page(viewport={"width": viewport[0], "height": viewport[1]})
    page.goto(paper)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_the_form_leads_to_the_sheets_asked_for(paper: str, new_page: Callable[..., Page]) -> None:
    page = new_page()
    page.goto(paper)
    page.get_by_label("Level 3").check()
    page.locator("select[name=versions]").select_option("3")
    page.locator("select[name=scene]").select_option("2")
    page.get_by_role("button", name="Worksheets").click()
    expect(page.locator(".sheet")).to_have_count(3)
    page.go_back()
    page.get_by_role("button", name="Answers").click()
    expect(page.locator(".answers .trace")).to_have_count(3)
    page.get_by_role("link", name="For Letter paper").click()
    expect(page.locator("link[href$='paper/letter.css']")).to_have_count(1)
    expect(page.locator(".answers .trace")).to_have_count(3)
