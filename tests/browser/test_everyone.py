"""The board for everyone: criteria of WCAG 2.2 that axe-core cannot judge, each named in its
check."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.board import Board
from tests.browser.conftest import LISTENER, teach
from tests.browser.reach import heard, listen, sideways, small_targets, spaced, walk
from tests.server import Server

LAPTOP = {"width": 1366, "height": 768}


@pytest.fixture(scope="module")
def shown(server: Server, browser: Browser) -> Iterator[Board]:
    """One board for the checks of this file, each of which puts it at the start."""
    context = browser.new_context(viewport=LAPTOP, color_scheme="light")
    context.add_init_script(LISTENER)
    yield Board(context.new_page()).open(teach(server.address, "02-ferry-ticket-machine"))
    context.close()


@pytest.fixture
def board(shown: Board) -> Iterator[Board]:
    page = shown.page
    page.set_viewport_size(LAPTOP)
    if page.locator("#frame.frame.depth-transfers").count() == 0:
        shown.press("d")
    page.keyboard.press("Home")
    shown.wait_for_step(0)
    yield shown
    page.emulate_media(forced_colors="none", reduced_motion="no-preference")


def test_2_1_4_single_keys_can_be_switched_off(board: Board) -> None:
    page = board.page
    page.keyboard.press("?")
    page.get_by_label("Keys that are one letter or sign").uncheck()
    page.keyboard.press("Escape")
    for key in ("i", "p", "g", ".", "n", "+", "?"):
        page.keyboard.press(key)
    # A clicker's keys and the arrows are none of those; and by now the others would have been done.
    board.step_to("PageDown", 1)
    board.step_to("ArrowRight", 2)
    assert page.locator("#help").is_hidden()
    assert page.locator("#frame.base-denary:not(.blank, .playing)").count() == 1
    # It is kept in this browser, and can be switched on again with the mouse or the keyboard.
    assert page.evaluate("localStorage.getItem('single-keys')") == "off"
    page.evaluate("document.getElementById('control-help').click()")
    page.get_by_label("Keys that are one letter or sign").check()
    page.keyboard.press("Escape")
    page.keyboard.press("i")
    board.wait_for_step_after(2)


def test_4_1_3_what_a_key_changes_is_said(board: Board) -> None:
    """``n`` is not silent, nor is a board that goes blank."""
    listen(board.page)
    for key, words in (
        ("n", "Numbers: hexadecimal."),
        ("n", "Numbers: binary."),
        ("n", "Numbers: denary."),
        (".", "The board is blank."),
        (".", "The board is shown again."),
        ("d", "Steps: phases."),
        ("d", "Steps: all."),
    ):
        before = len(heard(board.page))
        board.press(key)
        board.wait(f"window.heard.length > {before}")
        assert heard(board.page)[before:] == [words]


# In the page: what is read out of the memory, of the registers and of the outputs, in its order.
TREE = """
() => ({
  registers: [...document.querySelectorAll("dl .register")].map((each) => [
    each.querySelector("dt").textContent.trim(),
    each.querySelector("dd").innerText.replace(/\\s+/g, " ").trim(),
  ]),
  rows: [...document.querySelectorAll("[role=table] > [role=row]")].map((row) =>
    [...row.children].map((cell) => [cell.getAttribute("role"), cell.textContent.trim()])),
  outputs: [...document.querySelectorAll("ol.gone > li")].map((each) => each.innerText.trim()),
})
"""


def test_1_3_1_and_1_3_2_memory_registers_and_outputs_have_structure(board: Board) -> None:
    """A register is a term with its value; a word of memory is a row with its address at the head;
    outputs are a list in the order in which they came. What belongs together stands together."""
    page = board.page
    board.press("m")
    page.keyboard.press("]")
    board.wait("document.getElementById('frame').dataset.scene === '1'")
    for _ in range(5):
        page.keyboard.press("i")
    board.wait("document.querySelectorAll('.gone .value').length > 1")
    # The lesson has no use for the status; here every register is to be heard.
    board.show_part("status")
    tree = page.evaluate(TREE)
    names = [name for name, _ in tree["registers"]]
    assert names[0].startswith("Program counter") and len(names) == 6
    head, *rows = tree["rows"]
    assert [role for role, _ in head] == ["columnheader"] * 4
    assert len(rows) == 16 and all(row[0][0] == "rowheader" for row in rows)
    assert [row[0][1].split()[0] for row in rows] == [str(each) for each in range(16)]
    assert all(role == "cell" for row in rows for role, _ in row[1:])
    # The lesson outputs 5, then what a child pays, 3.
    assert tree["outputs"] == ["5", "3"]
    tops = page.evaluate(
        "[...document.querySelectorAll('.gone li')].map((each) => each.getBoundingClientRect().y)"
    )
    assert tops == sorted(tops), "they are read in the order in which they stand"
    # The parts of the processor are read within it, and memory within memory.
    owners = page.evaluate(
        """() => ["CU", "ACC", "ALU"].map((place) =>
            document.querySelector(`[data-place=${place}]`).closest("section.together").ariaLabel)"""
    )
    assert owners == ["Central processing unit"] * 3
    page.keyboard.press("[")
    board.press("m")


def test_1_4_11_what_changed_has_a_shape(board: Board) -> None:
    """Without any colour, a part that is read or changed differs from what it is at rest."""
    shape = """(place) => {
      const element = document.querySelector(`[data-place=${place}]`);
      const of = (style) => [style.borderStyle, style.borderWidth, style.outlineStyle, style.inset];
      return [getComputedStyle(element), getComputedStyle(element, "::after")].map(of).join();
    }"""
    page = board.page
    rest = {place: page.evaluate(shape, place) for place in ("MAR", "ALU")}
    board.press("m")
    board.step_to("PageDown", 1)
    assert page.evaluate(shape, "MAR") != rest["MAR"]
    page.keyboard.press("i")
    page.keyboard.press("i")
    board.wait("document.querySelector('.alu.lit')")
    assert page.evaluate(shape, "ALU") != rest["ALU"]
    board.press("m")


def test_forced_colours_keep_the_alu_and_what_changed(board: Board) -> None:
    """1.4.1 and 1.4.11: grounds go where the system sets the colours; edges stay."""
    page = board.page
    board.press("m", "i", "i")
    board.wait("document.querySelector('.alu.lit')")
    page.emulate_media(forced_colors="active")
    colours = page.evaluate(
        """() => {
          const of = (name, part) =>
            getComputedStyle(document.querySelector(name), part).backgroundColor;
          return {
            edge: of(".alu", "::before"), ground: of(".alu", "::after"), page: of("html"),
            next: of(".row.next .address"), ordinary: of(".row:not(.next) .address"),
          };
        }"""
    )
    assert colours["edge"] not in (colours["ground"], colours["page"])
    assert colours["next"] != colours["ordinary"]
    borders = page.evaluate(
        """() => [".register.lit", ".register:not(.lit)"].map((name) =>
            getComputedStyle(document.querySelector(name)).borderColor)"""
    )
    assert borders[0] != borders[1]
    board.press("m")


def test_1_4_4_text_grows_with_zoom(board: Board) -> None:
    """At 200 % a window has half as many pixels of its own, each twice as large."""
    size = """(name) => parseFloat(getComputedStyle(document.querySelector(name)).fontSize)"""
    names = (".row .word", ".row .text", ".register .name", ".meaning", ".sentence", ".head h1")
    page = board.page
    for width, height in ((1366, 768), (1920, 1080)):
        page.set_viewport_size({"width": width, "height": height})
        before = {name: page.evaluate(size, name) for name in names}
        page.set_viewport_size({"width": width // 2, "height": height // 2})
        for name in names:
            grown = 2 * page.evaluate(size, name) / before[name]
            assert grown >= 1.9, (name, width, grown)


@pytest.mark.parametrize(("width", "height"), [(320, 640), (390, 844)])
def test_1_4_10_and_2_5_8_nothing_scrolls_sideways_and_all_can_be_hit(
    board: Board, width: int, height: int
) -> None:
    page = board.page
    page.set_viewport_size({"width": width, "height": height})
    assert sideways(page) == []
    assert small_targets(page) == []
    # All controls are there for who asks for them, and each can be reached.
    page.get_by_role("button", name="All controls").click()
    assert sideways(page) == []
    assert small_targets(page) == []
    page.get_by_role("button", name="Base", exact=True).scroll_into_view_if_needed()
    expect(page.get_by_role("button", name="Base", exact=True)).to_be_in_viewport()
    page.get_by_role("button", name="All controls").click()


# In the page: texts of the drawing that leave their box or lie on one another. Lines are one pixel
# higher than their letters, and more where they are set apart.
LOST = """
() => {
  const ELSEWHERE = ".only-heard, #movement, .caption, .plus-one";
  const texts = [];
  const walker = document.createTreeWalker(document.getElementById("frame"), NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode, holder = node.parentElement;
    if (!node.textContent.trim() || holder.closest(ELSEWHERE)) continue;
    if (!holder.checkVisibility({ visibilityProperty: true })) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = range.getBoundingClientRect();
    const cut = 0.3 * parseFloat(getComputedStyle(holder).fontSize);
    texts.push({ text: node.textContent.trim(), holder,
      left: box.left, right: box.right, top: box.top + cut, bottom: box.bottom - cut });
  }
  const found = [];
  for (const each of texts) {
    const home = each.holder.closest("[class*='at-']").getBoundingClientRect();
    if (each.left < home.left - 1 || each.right > home.right + 1 || each.top < home.top - 1
        || each.bottom > home.bottom + 1) found.push(`${each.text} leaves its box`);
    for (const other of texts) {
      if (other !== each && each.left < other.right - 1 && other.left < each.right - 1
          && each.top < other.bottom && other.top < each.bottom)
        found.push(`${each.text} on ${other.text}`);
    }
    const clip = each.holder.closest(".text, .head > *");
    if (clip && clip.scrollWidth > clip.clientWidth + 1) found.push(`${each.text} is cut`);
  }
  return found;
}
"""


def test_1_4_12_text_may_be_spaced(board: Board, new_page: Callable[..., Page]) -> None:
    """The drawing has all its text, in its boxes, when a reader sets it apart."""
    for size in (LAPTOP, {"width": 390, "height": 844}):
        page = new_page(viewport=size)
        page.goto(board.page.url)
        page.wait_for_selector("#frame")
        board.press("m", "i", "i")
        page.wait_for_selector(".alu.lit")
        page.mouse.move(5, 300)
        assert page.evaluate(LOST) == [], size
        spaced(page)
        page.wait_for_selector(".stage.spaced")
        assert page.evaluate(LOST) == [], size
        board.press("Home", "m")
        board.wait_for_step(0)


def test_2_4_11_what_has_the_keyboard_is_in_sight(board: Board) -> None:
    for size in (LAPTOP, {"width": 390, "height": 844}):
        board.page.set_viewport_size(size)
        stops = walk(board.page)
        assert len(stops) > 4
        assert [each["name"] for each in stops if not each["seen"]] == []


def test_pages_beside_the_board(server: Server, new_page: Callable[..., Page]) -> None:
    """1.4.10, 1.4.12 and 2.5.8 on the list of lessons and the results."""
    page = new_page(viewport={"width": 320, "height": 640})
    for address in ("/", "/results"):
        page.goto(server.address + address)
        assert small_targets(page) == [], address
        assert sideways(page) == [], address
        spaced(page)
        assert sideways(page) == [], address
        cut = page.evaluate(
            """() => [...document.querySelectorAll("main *")].filter((each) =>
              getComputedStyle(each).overflow === "hidden" && !each.matches(".only-heard")
              && each.scrollHeight > each.clientHeight + 1).map((each) => each.outerHTML)"""
        )
        assert cut == [], address
