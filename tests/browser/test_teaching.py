"""A lesson taught with the clicker in hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, Route, expect

from app.board.controls import KEY_NAMES, controls_of
from app.machine.machine import EIGHT_BIT
from tests.browser.board import Board
from tests.browser.conftest import Errors
from tests.conftest import SHORT_STEPS
from tests.server import Server

UNREACHED = "Chalkcycle cannot be reached."


def test_a_lesson_is_opened_from_the_list(server: Server, new_page: Callable[..., Page]) -> None:
    page = new_page()
    page.goto(server.address)
    page.get_by_role("button", name="Teach A short sum").click()
    page.wait_for_url("**/board/*")
    board = Board(page)
    assert (board.step, board.scene) == (0, 0)
    assert board.sentence() == "Two coins lie on the table."


def test_a_double_press_opens_one_board(server: Server, new_page: Callable[..., Page]) -> None:
    held: list[Route] = []
    page = new_page()
    page.goto(server.address)
    page.route("**/teach", lambda route: held.append(route))
    teach = page.get_by_role("button", name="Teach A short sum")
    teach.scroll_into_view_if_needed()
    box = teach.bounding_box()
    assert box
    # (A click of Playwright's own would wait until the page has come.)
    with page.expect_request("**/teach"):
        page.mouse.click(box["x"] + 5, box["y"] + 5)
    page.mouse.click(box["x"] + 5, box["y"] + 5)
    page.wait_for_timeout(100)
    first, *more = held
    first.continue_()
    page.wait_for_url("**/board/*")
    assert not more
    page.go_back()
    with page.expect_request("**/teach"):
        page.mouse.click(box["x"] + 5, box["y"] + 5)  # who has come back may press again


def test_the_clicker_and_the_keys_beside_it(open_board: Callable[..., Board]) -> None:
    board = open_board()
    for step, key in enumerate(("PageDown", "ArrowRight", "Space"), start=1):
        board.step_to(key, step)
        board.wait_for_vehicle()
    for step, key in ((2, "PageUp"), (1, "ArrowLeft")):
        board.step_to(key, step)
        assert board.page.locator(".vehicle").count() == 0


def test_a_click_leaves_the_keys_as_they_are(open_board: Callable[..., Board]) -> None:
    """Space is one step on also after another button was clicked."""
    board = open_board()
    board.page.mouse.move(300, 300)
    board.page.locator("#control-scene-on").click()
    board.wait("document.getElementById('frame').dataset.scene === '1'")
    board.step_to("Space", 1)
    assert board.scene == 1
    board.page.mouse.move(300, 500)
    expect(board.page.locator("#controls")).not_to_be_in_viewport()


@pytest.mark.parametrize("keys", ["jj", "??"])
def test_a_window_over_the_board_goes_as_it_came(
    open_board: Callable[..., Board], keys: str
) -> None:
    board = open_board()
    window = board.page.locator("dialog[open]")
    board.press(keys[0])
    expect(window).to_be_visible()
    board.press(keys[1])
    expect(window).to_have_count(0)
    board.press(keys[0], "PageDown")
    expect(window).to_have_count(0)
    assert board.step == 0
    board.step_to("PageDown", 1)


def test_the_clicker_leads_into_the_next_scene(open_board: Callable[..., Board]) -> None:
    board = open_board()
    board.press("m", "i", "i", "i", "i")
    board.wait_for_step(SHORT_STEPS)
    board.press("PageDown")
    expect(board.page.locator("#notice")).to_contain_text("Once more leads on")
    board.press("PageDown")
    board.wait("document.getElementById('frame').dataset.scene === '1'")
    expect(board.page.locator("#notice")).to_be_empty()


def test_quick_presses_are_carried_out_in_their_order(open_board: Callable[..., Board]) -> None:
    """However slow the network: a later press waits until an earlier one has been answered."""
    board = open_board()
    held = board.hold("**/forward")
    board.step_to("i", 6)
    sent: list[str] = []
    board.page.on("request", lambda request: sent.append(request.url.rsplit("/", 1)[-1]))
    board.press("PageDown")
    route = board.wait_for_route(held)
    board.press("Home")
    board.page.evaluate("() => new Promise(requestAnimationFrame)")
    assert sent == ["forward"], "the second must not overtake the first"
    with board.page.expect_response("**/restart"):
        route.continue_()
    board.wait_for_step(0)
    assert sent == ["forward", "restart"]


def test_phases_instructions_and_restart(open_board: Callable[..., Board]) -> None:
    board = open_board()
    for key, step in (
        ("p", 4),
        ("p", 5),
        ("i", 6),
        ("ArrowDown", 12),
        ("ArrowUp", 6),
        ("u", 0),
        ("i", 6),
        ("Home", 0),
        ("i", 6),
        ("r", 0),
    ):
        board.step_to(key, step)


def test_scenes(open_board: Callable[..., Board]) -> None:
    board = open_board()
    board.press("]")
    board.wait("document.querySelector('#frame[data-scene=\"1\"]')")
    assert "Once more" in board.page.locator(".scene").inner_text()
    board.press("[")
    board.wait("document.querySelector('#frame[data-scene=\"0\"]')")


def test_words_and_picture_change_together(open_board: Callable[..., Board]) -> None:
    board = open_board()
    board.step_to("PageDown", 1)
    expect(board.page.locator(".phases .now")).to_have_text("Fetch")
    expect(board.page.locator(".notation")).to_have_text("MAR ← PC")
    board.step_to("i", 6)
    expect(board.page.locator(".phases .now")).to_have_text("Execute")
    expect(board.page.locator("#announce")).to_contain_text("Instruction 1 · step 6")
    expect(board.page.locator("#announce")).to_contain_text(board.sentence())


def test_play_goes_on_by_itself_and_pause_stops_it(open_board: Callable[..., Board]) -> None:
    board = open_board().at_speed("+++")
    board.press("g")
    board.wait_for_step_after(3)
    expect(board.page.locator("#frame.playing")).to_be_attached()
    board.press("g")
    expect(board.page.locator("#frame.playing")).not_to_be_attached()
    step = board.step
    assert 4 <= step < SHORT_STEPS
    # Were a clock still going, this step would not be the next one.
    board.wait_until_still()
    board.step_to("PageDown", step + 1)
    board.wait_until_still()
    board.step_to("PageDown", step + 2)


def test_play_ends_with_the_program(open_board: Callable[..., Board]) -> None:
    board = open_board().at_speed("+++")
    board.press("i", "i")
    board.wait_for_step(12)
    board.press("g")
    board.wait_for_step(SHORT_STEPS)
    expect(board.page.locator("#frame.playing")).not_to_be_attached()
    assert board.shown("ACC") == "8"


def test_two_windows_stay_in_step(
    open_board: Callable[..., Board], new_page: Callable[..., Page]
) -> None:
    first = open_board()
    second = Board(new_page()).open(first.page.url)
    first.step_to("PageDown", 1)
    second.wait_for_step(1)
    second.wait_for_vehicle()
    second.press("i")
    first.wait_for_step(6)
    assert first.shown("ACC") == "5"
    # A window that comes later finds the present frame.
    third = Board(new_page()).open(first.page.url)
    third.wait_for_step(6)
    assert third.shown("ACC") == "5"


def test_the_number_base_and_the_depth(open_board: Callable[..., Board]) -> None:
    board = open_board()
    board.step_to("i", 6)
    shown = set()
    for base in ("hexadecimal", "binary", "denary"):
        board.press("n")
        board.wait("document.querySelector(value)", f"#frame.base-{base}")
        shown.add(board.shown("ACC"))
    assert shown == {"05", "0000 0101", "5"}
    board.press("d")
    board.wait("document.querySelector('#frame.depth-phases')")
    assert board.page.locator('[data-place="MDR"]').count() == 0
    board.step_to("PageDown", 10)


def test_the_board_can_be_blanked(open_board: Callable[..., Board]) -> None:
    board = open_board()
    assert board.page.locator(".sentence").is_visible()
    board.press(".")
    expect(board.page.locator(".sentence")).to_be_hidden()
    board.press("b")
    expect(board.page.locator(".sentence")).to_be_visible()


def test_keys_are_listed(open_board: Callable[..., Board]) -> None:
    board = open_board()
    board.press("?")
    dialog = board.page.get_by_role("dialog", name="Keys")
    expect(dialog).to_be_visible()
    listed = dialog.locator("kbd").all_inner_texts()
    for control in controls_of(EIGHT_BIT):
        for key in control.keys:
            assert KEY_NAMES.get(key, key) in listed
        if control.keys:
            expect(dialog.get_by_text(control.help, exact=True)).to_be_visible()
    # While it is read, the keys do not move the machine.
    board.press("PageDown", "Escape")
    expect(dialog).to_be_hidden()
    board.step_to("PageDown", 1)


def test_the_theme_is_kept(open_board: Callable[..., Board], server: Server) -> None:
    board = open_board()
    root = board.page.locator("html")
    expect(root).to_have_attribute("data-theme", "light")
    board.press("t")
    expect(root).to_have_attribute("data-theme", "dark")
    board.page.goto(server.address)
    expect(root).to_have_attribute("data-theme", "dark")


def test_everything_can_be_done_from_the_keyboard(open_board: Callable[..., Board]) -> None:
    """Every control can be reached with Tab, is then in sight, and works with Enter."""
    board = open_board()
    board.page.locator("#control-all").press("Enter")
    names = [f"control-{each.name}" for each in controls_of(EIGHT_BIT)]
    board.page.locator(f"#{names[0]}").focus()
    reached: list[str] = []
    for _ in names:
        reached.append(board.page.evaluate("document.activeElement.id"))
        if reached[-1] == "control-forward":
            expect(board.page.locator("#controls")).to_have_css("opacity", "1")
            board.step_to("Enter", 1)
        board.press("Tab")
    assert reached == names


@pytest.mark.parametrize("slug", ["short", "long"])
def test_one_screen_without_scrolling(open_board: Callable[..., Board], slug: str) -> None:
    board = open_board(slug)
    board.step_to("p", 4)
    for width, height in ((1920, 1080), (1366, 768), (1280, 720), (1024, 768)):
        board.page.set_viewport_size({"width": width, "height": height})
        board.wait("innerWidth === value", width)
        outside = board.page.evaluate(
            """() => [...document.querySelectorAll(".stage [class*='at-']")]
                .filter((each) => {
                  const box = each.getBoundingClientRect();
                  return box.left < -1 || box.top < -1 || box.right > innerWidth + 1
                    || box.bottom > innerHeight + 1;
                })
                .map((each) => each.className)"""
        )
        assert outside == [], f"at {width} by {height}"


def test_a_phone_scrolls_only_down(open_board: Callable[..., Board]) -> None:
    board = open_board(viewport={"width": 390, "height": 844})
    assert board.page.evaluate("document.documentElement.scrollWidth") <= 390
    board.page.get_by_role("button", name="Next", exact=True).click()
    board.wait_for_step(1)


def test_a_key_held_down_goes_to_the_next_cue(open_board: Callable[..., Board]) -> None:
    board = open_board()
    keyboard = board.page.keyboard
    for _ in range(3):  # what a key that is held sends
        keyboard.down("PageDown")
    keyboard.up("PageDown")
    board.wait("Number(document.getElementById('frame').dataset.step) > 1")
    there = board.step
    board.press("r")
    board.wait("document.getElementById('frame').dataset.step === '0'")
    board.step_to("c", there)


def test_two_changes_are_told_to_their_end(open_board: Callable[..., Board]) -> None:
    """The second number was cut off."""
    board = open_board()
    board.page.set_viewport_size({"width": 1024, "height": 768})
    told = board.page.locator(".head .what-if")
    for place, value in (("ACC", "77"), ("MAR", "9")):
        board.press("w")
        board.page.locator("#what-if-place").select_option(place)
        board.page.locator("#what-if-value").fill(value)
        board.press("Enter")
        expect(told).to_contain_text(f"holds {value}")
        expect(board.page.locator("dialog[open]")).to_have_count(0)
    # Once the controls have gone there is room for two lines.
    board.wait("!document.querySelector('.controls').matches('.awake, :focus-within')")
    sizes = "e => [e.scrollWidth - e.clientWidth, e.scrollHeight - e.clientHeight]"
    assert max(told.evaluate(sizes)) <= 1


def test_what_if_from_the_keyboard(open_board: Callable[..., Board], errors: Errors) -> None:
    board = open_board()
    board.press("w")
    value = board.page.locator("#what-if-value")
    expect(board.page.locator("#what-if-place")).to_be_focused()
    board.page.keyboard.type("acc")
    board.page.keyboard.press("Tab")
    expect(value).to_be_focused()
    board.page.keyboard.type("many")
    board.page.keyboard.press("Enter")
    expect(board.page.locator("#what-if .wrong")).to_contain_text("neither a number")
    errors.forgive("409")
    value.fill("12")
    board.page.route("**/suppose", lambda route: route.abort(), times=1)
    board.page.keyboard.press("Enter")
    expect(board.page.locator("#what-if .wrong")).to_have_text(UNREACHED)
    board.page.keyboard.press("Enter")
    expect(board.page.locator(".head .what-if")).to_have_text("What if the accumulator holds 12?")
    expect(board.page.locator("dialog[open]")).to_have_count(0)
    expect(board.page.locator(".at-ACC .value").first).to_contain_text("12")
    board.press("x")
    expect(board.page.locator(".head .what-if")).to_have_count(0)
    board.page.route("**/what-if", lambda route: route.abort(), times=1)
    board.press("w")
    expect(board.page.locator("#notice")).to_have_text(UNREACHED)
    errors.forgive("net::ERR")
    # With the mouse: the place is the one that was clicked.
    board.page.locator(".row").nth(1).click()
    expect(value).to_be_focused()
    expect(board.page.locator("#what-if-place")).to_have_value("1")
