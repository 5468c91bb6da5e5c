"""A connection that is lost: the page says so, tries again, and comes back to the present."""

from __future__ import annotations

import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.board import Board
from tests.browser.cable import Cable
from tests.browser.conftest import Errors, teach
from tests.server import Server

LOST = "has lost its connection"
ENDED = "The lesson has ended."


def press_elsewhere(board: str, action: str) -> None:
    """What a press in another window does."""
    request = urllib.request.Request(f"{board}/{action}", method="POST")
    urllib.request.urlopen(request).close()


def test_a_dropped_stream_comes_back_to_the_present_frame(
    server: Server, new_page: Callable[..., Page], errors: Errors
) -> None:
    address = teach(server.address, "short")
    cable = Cable(server.port)
    board = Board(new_page()).open(address.replace(f":{server.port}/", f":{cable.port}/"))
    board.step_to("PageDown", 1)
    notice = board.page.get_by_text(LOST)
    expect(notice).to_be_hidden()

    cable.cut()
    expect(notice).to_be_visible()
    press_elsewhere(address, "instruction")
    press_elsewhere(address, "instruction")
    assert board.step == 1, "the cable is cut, so nothing can have come"

    cable.mend()
    board.wait_for_step(12)
    expect(notice).to_be_hidden()
    # What was missed is not played after: the page shows where the class is now.
    assert board.page.locator(".vehicle").count() == 0
    assert board.shown("ACC") == "8"
    # And it goes on as before.
    board.step_to("PageDown", 13)
    board.wait_for_vehicle()
    errors.forgive("net::ERR", "htmx:sse:error")


def test_a_server_that_has_gone_is_told(
    lessons: Path, new_page: Callable[..., Page], errors: Errors
) -> None:
    with Server(lessons) as server:
        board = Board(new_page()).open(teach(server.address, "short"))
        board.step_to("PageDown", 1)
        server.kill()
        expect(board.page.get_by_text(LOST)).to_be_visible()
        # What it showed stays there to be talked about.
        assert board.step == 1
        board.page.close()
    errors.forgive("net::ERR", "htmx:sse:error")


def test_a_killed_server_comes_back_at_the_same_step(
    lessons: Path, new_page: Callable[..., Page], errors: Errors, tmp_path: Path
) -> None:
    """As after a crash: started again, it knows the lesson, and the page goes on by itself."""
    store = tmp_path / "kept.sqlite3"
    with Server(lessons, store=store) as server:
        board = Board(new_page()).open(teach(server.address, "short"))
        # The frame may be there before the answer to the press is.
        with board.page.expect_response("**/instruction"):
            board.step_to("i", 6)
        server.kill()
    notice = board.page.get_by_text(LOST)
    expect(notice).to_be_visible()
    with Server(lessons, store=store, port=server.port):
        expect(notice).to_be_hidden()
        assert (board.step, board.shown("ACC")) == (6, "5")
        board.step_to("PageDown", 7)
        board.wait_for_vehicle()
        board.page.close()
    errors.forgive("net::ERR", "htmx:sse:error")


def test_a_server_that_is_stopped_properly_is_told_too(
    lessons: Path, new_page: Callable[..., Page], errors: Errors
) -> None:
    with Server(lessons) as server:
        board = Board(new_page()).open(teach(server.address, "short"))
        assert server.stop()[0] == 0
        expect(board.page.get_by_text(LOST)).to_be_visible()
        board.page.close()
    errors.forgive("net::ERR", "htmx:sse:error")


def test_a_lesson_that_ends_is_not_waited_for(
    server: Server, new_page: Callable[..., Page], errors: Errors
) -> None:
    address = teach(server.address, "short")
    cable = Cable(server.port)
    near = Board(new_page()).open(address)
    away = Board(new_page()).open(address.replace(f":{server.port}/", f":{cable.port}/"))
    cable.cut()
    expect(away.page.get_by_text(LOST)).to_be_visible()

    # From Results, with the keyboard alone: the first press asks, the second one ends.
    results = new_page()
    results.goto(f"{server.address}/results")
    end = results.locator(".ask-first", has=results.locator(f'form[action$="{address[-8:]}/end"]'))
    sure = end.get_by_role("button", name="End the lesson")
    expect(sure).to_be_hidden()
    end.locator("summary").focus()
    results.keyboard.press("Enter")
    expect(sure).to_be_visible()
    expect(near.page.get_by_text(ENDED)).to_be_hidden()
    results.keyboard.press("Tab")
    results.keyboard.press("Enter")

    requests: list[str] = []
    near.page.on("request", lambda request: requests.append(request.url))
    expect(near.page.get_by_text(ENDED)).to_be_visible()
    # One that was away meanwhile is told when it comes back.
    cable.mend()
    expect(away.page.get_by_text(ENDED)).to_be_visible()
    for board in (near, away):
        expect(board.page.get_by_text(LOST)).to_be_hidden()
        assert board.step == 0, "what it showed stays there to be talked about"
    assert not requests, "nobody tries to get a lesson back that is over"
    errors.forgive("net::ERR", "htmx:sse:error", "410")


def test_on_a_phone_a_lost_connection_leaves_the_board_in_sight(
    lessons: Path, new_page: Callable[..., Page], errors: Errors
) -> None:
    with Server(lessons) as server:
        phone = {"width": 390, "height": 844}
        board = Board(new_page(viewport=phone)).open(teach(server.address, "short"))
        server.kill()
        notice = board.page.get_by_text(LOST)
        expect(notice).to_be_visible()
        box = notice.bounding_box()
        assert box and box["width"] >= 389 and box["y"] <= 1 and box["height"] < 45
        assert "board" not in notice.inner_text()
        board.page.close()
    errors.forgive("net::ERR", "htmx:sse:error")


def test_a_network_that_goes_silent_is_noticed(
    server: Server, new_page: Callable[..., Page], errors: Errors
) -> None:
    """Nothing is closed and nothing comes, not even an error."""
    address = teach(server.address, "short")
    cable = Cable(server.port)
    page = new_page()
    page.clock.install()
    board = Board(page).open(address.replace(f":{server.port}/", f":{cable.port}/"))
    board.step_to("PageDown", 1)
    cable.hush()
    press_elsewhere(address, "instruction")
    notice = page.get_by_text(LOST)
    page.clock.fast_forward(20_000)
    expect(notice).to_be_hidden()
    page.clock.fast_forward(20_000)
    expect(notice).to_be_visible()
    assert board.step == 1
    # It had asked again, and has no answer to that either.
    page.clock.fast_forward(40_000)
    cable.speak()
    page.clock.fast_forward(40_000)
    board.wait_for_step(6)
    expect(notice).to_be_hidden()
    # The press that got no answer is given up.
    errors.forgive("net::ERR", "htmx:sse:error", "signal is aborted")


@pytest.mark.parametrize(
    ("status", "body", "words"),
    [
        (429, '<p class="refusal">Too many wrong codes.</p>', "Too many wrong codes."),
        (503, '<p class="refusal">The file is away.</p>', "The file is away."),
        # Something on the way that is not Chalkcycle.
        (503, "<h1>No</h1>", "too busy"),
        (0, "", LOST),
    ],
)
def test_a_first_stream_that_is_refused_or_lost_is_tried_again(
    server: Server,
    new_page: Callable[..., Page],
    errors: Errors,
    status: int,
    body: str,
    words: str,
) -> None:
    page = new_page()

    def refuse(route: Route) -> None:
        if status:
            route.fulfill(status=status, body=body, content_type="text/html")
        else:
            route.abort()

    page.route("**/stream?*", refuse)
    page.goto(teach(server.address, "short"))
    expect(page.get_by_text(words)).to_be_visible()
    # What came with the refusal is no frame.
    assert Board(page).step == 0 and page.get_by_text("No", exact=True).count() == 0
    page.unroute("**/stream?*")
    expect(page.get_by_text(words)).to_be_hidden()
    board = Board(page)
    board.wait("window.streamIsOpen")
    board.step_to("PageDown", 1)
    errors.forgive("net::ERR", "status of 429", "status of 503", "htmx:error")


def test_a_stream_that_is_refused_when_it_comes_back_says_why(
    server: Server, new_page: Callable[..., Page], errors: Errors
) -> None:
    """It goes on trying, until it is told that the lesson has ended (410, 'Gone': RFC 9110)."""
    address = teach(server.address, "short")
    cable = Cable(server.port)
    page = new_page()
    board = Board(page).open(address.replace(f":{server.port}/", f":{cable.port}/"))
    status, words = 503, "The file of this lesson has a fault."

    def refuse(route: Route) -> None:
        body = f'<p class="refusal">{words}</p>'
        route.fulfill(status=status, body=body, content_type="text/html")

    page.route("**/stream?*", refuse)
    cable.cut()
    expect(page.locator("#connection")).to_contain_text(words)
    words = "Too many requests came from this computer."
    status = 429
    expect(page.locator("#connection")).to_contain_text(words)
    status = 410
    expect(page.get_by_text(ENDED)).to_be_visible()
    expect(page.locator("#connection")).to_be_hidden()
    assert board.step == 0
    errors.forgive("net::ERR", "htmx:sse:error", "status of")
