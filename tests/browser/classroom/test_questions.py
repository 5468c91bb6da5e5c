"""A question to the class, from the first answer to the truth."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.asking import PROMPT, REVEAL_STEP, RIGHT, STEP, write_lesson
from tests.browser.classroom.lesson import Lesson, choose, share
from tests.browser.conftest import Errors
from tests.browser.judge import violations
from tests.server import Server


@pytest.fixture
def servers() -> Iterator[list[Server]]:
    started: list[Server] = []
    yield started
    for each in started:
        if each.process.poll() is None:
            each.kill()


@pytest.fixture
def alone(tmp_path: Path, servers: list[Server], new_page: Callable[..., Page]) -> Lesson:
    """A lesson on a server of its own, the first of ``servers``. They stand before the pages
    here, so that they end after them."""
    servers.append(share(write_lesson(tmp_path)))
    return Lesson(servers[0], new_page, by_hand=True)


def test_who_scrolled_down_sees_the_question_and_the_button_that_closes_it(lesson: Lesson) -> None:
    """The list of cues had moved both out of sight."""
    desk = lesson.desk()
    desk.set_viewport_size({"width": 1366, "height": 420})
    lesson.step_to_question()
    ask = desk.locator("#class-panel").get_by_role("button", name="Ask")
    expect(ask.first).to_be_attached()
    desk.locator(".below").evaluate("e => e.scrollTo(0, e.scrollHeight)")
    expect(ask.first).not_to_be_in_viewport()
    lesson.board.press("q")
    expect(desk.get_by_role("button", name="Close", exact=True).first).to_be_in_viewport()


def test_a_question_from_the_first_answer_to_the_truth(
    alone: Lesson, servers: list[Server], tmp_path: Path, errors: Errors
) -> None:
    lesson = alone
    desk = lesson.desk()
    pupils = [lesson.pupil(size) for size in ("laptop", "square", "phone")]
    lesson.step_to_question()
    for pupil in pupils:
        pupil.wait_for_step(STEP)
    expect(desk.locator(".class-count")).to_contain_text("3 follow")

    # The first round, opened with a key on the board.
    lesson.board.press("q")
    for pupil, text in zip(pupils, ("9", "9", RIGHT), strict=True):
        choose(pupil, text)
    expect(lesson.board.page.locator("#tally")).to_have_text("3 answered")
    expect(desk.locator(".class-count")).to_contain_text("3 answered")
    # Only one choice is pressed, and another one can be taken instead.
    choose(pupils[0], "6")
    expect(pupils[0].page.locator('.choose[aria-pressed="true"]')).to_have_count(1)
    expect(desk.locator(".class-spread")).to_contain_text(re.compile(r"6\s*1"))

    # They talk, and answer again; in the middle of it the server is killed.
    desk.get_by_role("button", name="Close").click()
    expect(pupils[1].page.locator(".choose")).to_have_count(0)
    desk.get_by_role("button", name="Ask again").click()
    choose(pupils[0], RIGHT)
    servers[0].kill()
    servers.append(share(tmp_path, servers[0].port))
    for page in (lesson.board.page, desk, *(each.page for each in pupils)):
        expect(page.get_by_text("has lost its connection")).to_be_hidden(timeout=20_000)
        expect(page.locator("#frame")).to_have_attribute("data-poll", "0-1-2-open")
        expect(page.locator("#frame")).to_have_attribute("data-step", str(STEP))
    expect(pupils[0].page.locator("#mine")).to_contain_text("Your answer")
    for pupil in pupils[1:]:
        choose(pupil, RIGHT)
    expect(desk.locator(".class-count")).to_contain_text("3 answered in round 2")

    # The spread of both rounds, as large bars; nobody is told what is right yet.
    desk.get_by_role("button", name="Close").click()
    desk.get_by_role("button", name="Show the spread").click()
    for board in (lesson.board, *pupils):
        expect(board.page.locator(".question.large")).to_be_visible()
        expect(board.page.locator(".is-right")).to_have_count(0)
    widths = bars(lesson.board.page, "round-now")
    assert widths[RIGHT] > 100 and all(w == 0 for text, w in widths.items() if text != RIGHT)
    before = bars(lesson.board.page, "round-before")
    assert len({round(width) for width in before.values()}) == 1

    # The machine runs, on every page, and then the right one is marked.
    lesson.board.at_speed("++").press("q")
    pupils[0].wait_for_vehicle()
    for board in (lesson.board, *pupils):
        board.wait_for_step(REVEAL_STEP)
        board.wait_until_still()
        expect(board.page.locator(".is-right")).to_contain_text(RIGHT)
        expect(board.page.locator(".is-right")).to_contain_text("right")
        assert board.shown("ACC") == RIGHT
    errors.forgive("net::ERR", "Failed to fetch", "htmx:sse:error")


def bars(page: Page, round: str) -> dict[str, float]:
    """The drawn length of each bar of a round, in pixels, by the words of its choice."""
    found: dict[str, float] = {}
    for choice in page.locator(".choice").all():
        box = choice.locator(f".{round} .part").bounding_box()
        found[choice.locator(".said").inner_text()] = box["width"] if box else 0.0
    return found


def test_the_truth_is_not_told_before_the_machine_shows_it(lesson: Lesson) -> None:
    """While the last value travels the board still holds it back."""
    lesson.board.at_speed("--")
    pupil = lesson.pupil()
    lesson.step_to_question()
    lesson.board.press("q")
    choose(pupil, "9")
    lesson.board.press("q", "q")
    lesson.board.wait("document.querySelector('.is-shown')")
    lesson.board.press("s", "s")
    lesson.board.wait_for_step(REVEAL_STEP - 1)
    lesson.board.step_to("s", REVEAL_STEP)
    lesson.board.wait_for_vehicle()
    truth = lesson.board.page.locator(".is-right .truth")
    expect(truth).to_be_hidden()
    lesson.board.press("m")
    expect(truth).to_be_visible()


def test_no_press_goes_past_an_answer_that_is_still_on_its_way(lesson: Lesson) -> None:
    """Whichever press comes while the last value travels, it brings the answer; the next one goes
    on. Nor is it lost to two presses of which the second comes before the first has been done."""
    board = lesson.board.at_speed("-")
    lesson.step_to_question()
    answer = board.page.locator(".is-right .truth")
    board.press("PageDown")
    board.wait("document.querySelector('.question')")
    # Nobody has answered: this one runs to the answer, and the second of the two is too quick.
    board.press("PageDown", "PageDown")
    board.wait_for_step(REVEAL_STEP)
    board.wait_for_vehicle()
    expect(answer).to_be_hidden()
    # Not even the key that is held, which goes on a long way.
    for _ in range(2):
        board.page.keyboard.down("PageDown")
    board.page.keyboard.up("PageDown")
    expect(answer).to_be_visible()
    assert board.step == REVEAL_STEP
    board.press("PageDown")
    expect(board.page.locator(".question")).to_have_count(0)


def test_pages_of_the_class_are_accessible(alone: Lesson, errors: Errors) -> None:
    lesson = alone
    lesson.board.press("j")
    assert violations(lesson.board.page) == []
    lesson.board.press("Escape")
    page = lesson.new_page()
    page.goto(f"{lesson.server.address}/join")
    page.get_by_label("The code on the board").fill("nothing")
    page.get_by_role("button", name="Join").click()
    expect(page.get_by_role("alert")).to_be_visible()
    assert violations(page) == []

    pupils = [lesson.pupil(size) for size in ("laptop", "phone")]
    everybody = [lesson.board, *pupils]
    desk = lesson.desk()
    lesson.step_to_question()
    lesson.board.press("q")
    for pupil in pupils:
        choose(pupil, "9")
        assert violations(pupil.page) == []
    assert violations(desk) == []
    lesson.board.press("q")
    for state in (".is-closed", ".large"):
        for each in everybody:
            each.wait(f"document.querySelector('{state}')")
            assert violations(each.page) == []
        lesson.board.press("+", "+", "q")
    for each in everybody:
        each.wait_for_step(REVEAL_STEP)
        each.wait_until_still()
        assert violations(each.page) == []
    lesson.board.page.goto(f"{lesson.server.address}/results")
    expect(lesson.board.page.get_by_text(PROMPT)).to_be_visible()
    assert violations(lesson.board.page) == []
    errors.forgive("404")


def test_an_answer_that_comes_too_late_is_told(lesson: Lesson, errors: Errors) -> None:
    pupil = lesson.pupil()
    lesson.step_to_question()
    lesson.board.press("q")
    pupil.wait("document.querySelector('.choose')")
    # The page is held back from hearing that the question was closed.
    pupil.page.evaluate(
        "document.addEventListener('htmx:before:sse:message',"
        " (event) => { event.detail.message.cancelled = !window.mayHear; }, true)"
    )
    lesson.board.press("q")
    lesson.board.wait("document.querySelector('.is-closed')")
    pupil.page.locator(".choose").first.click()
    expect(pupil.page.locator("#mine")).to_contain_text("The question is closed")
    # It stands there until the question can be answered again.
    pupil.page.evaluate("window.mayHear = true")
    lesson.board.press("q")
    pupil.wait("document.querySelector('.is-shown')")
    expect(pupil.page.locator("#mine")).to_contain_text("The question is closed")
    lesson.desk().get_by_role("button", name="Open again").click()
    pupil.wait("document.querySelector('.is-open')")
    expect(pupil.page.locator("#mine")).to_have_text("")
    errors.forgive("409", "htmx:")
