"""Several real browsers in one lesson: the board, the teacher's screen, and pupils' laptops."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Page, expect

from app.board.controls import CONTROLS
from tests.asking import PROMPT, REVEAL_STEP, RIGHT, STEP, write_lesson
from tests.browser.board import Board
from tests.browser.cable import Cable
from tests.browser.conftest import Errors
from tests.browser.test_accessibility import THEMES, violations
from tests.server import Server

SIZES = {
    "projector": (1920, 1080),
    "laptop": (1366, 768),
    "square": (1024, 768),
    "phone": (390, 844),
}


class Lesson:
    """A shared lesson and the browsers in it."""

    def __init__(self, folder: Path, servers: list[Server], new_page: Callable[..., Page]) -> None:
        self.folder = write_lesson(folder)
        self.servers = servers
        self.new_page = new_page
        self.server = self.start()
        self.board = Board(new_page())
        self.board.page.goto(f"{self.server.address}/?key={self.server.key}")
        self.board.page.get_by_role("button", name="Teach Ferry tickets").click()
        self.board.wait("window.streamIsOpen")
        self.board.page.keyboard.press("j")
        self.code = self.board.page.locator("#invite .code").inner_text()
        self.board.page.keyboard.press("Escape")

    def start(self, port: int = 0) -> Server:
        options = (self.folder, "--share", "--address", "127.0.0.1")
        server = Server(*options, port=port, store=self.folder / "store.sqlite3")
        self.servers.append(server)
        return server

    def kill_and_start(self) -> None:
        self.server.kill()
        self.server = self.start(self.server.port)

    def desk(self) -> Page:
        """The teacher's own screen, in a second window of the same browser."""
        page = self.board.page.context.new_page()
        page.goto(f"{self.board.page.url}/teacher")
        Board(page).wait("window.streamIsOpen")
        return page

    def pupil(self, size: str = "laptop", **options: Any) -> Board:
        """A pupil who joins by typing the code."""
        width, height = SIZES[size]
        page = self.new_page(viewport={"width": width, "height": height}, **options)
        page.goto(self.server.address)
        page.get_by_label("The code on the board").fill(self.code.lower())
        page.get_by_role("button", name="Join").click()
        page.wait_for_selector("#frame")
        pupil = Board(page)
        pupil.wait("window.streamIsOpen")
        return pupil

    def step_to_question(self) -> None:
        """Without movement, to the step at which the question is asked: after an instruction, a
        fetch and a decode."""
        self.board.press("m", "i", "p", "p")
        self.board.wait_for_step(STEP)
        self.board.press("m")


@pytest.fixture
def servers() -> Iterator[list[Server]]:
    started: list[Server] = []
    yield started
    for each in started:
        if each.process.poll() is None:
            each.kill()


@pytest.fixture
def lesson(tmp_path: Path, servers: list[Server], new_page: Callable[..., Page]) -> Lesson:
    # The servers stand before the pages here, so that they end after them.
    return Lesson(tmp_path, servers, new_page)


def choose(pupil: Board, text: str) -> None:
    pupil.page.locator(".choose", has_text=re.compile(rf"\b{text}\b")).click()
    expect(pupil.page.locator("#mine")).to_contain_text("Your answer")


def test_a_question_from_the_first_answer_to_the_truth(lesson: Lesson, errors: Errors) -> None:
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
    lesson.kill_and_start()
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
    lesson.board.press("q")
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
    lesson.board.press("PageDown", "PageDown")
    lesson.board.wait_for_step(REVEAL_STEP - 1)
    lesson.board.step_to("PageDown", REVEAL_STEP)
    lesson.board.wait_for_vehicle()
    truth = lesson.board.page.locator(".is-right .truth")
    expect(truth).to_be_hidden()
    lesson.board.press("m")
    expect(truth).to_be_visible()


def test_looking_back_alone_and_coming_back(lesson: Lesson) -> None:
    one, other = lesson.pupil(), lesson.pupil("phone")
    for step in range(1, 6):
        lesson.board.step_to("PageDown", step)
    for pupil in (one, other):
        pupil.wait_for_step(5)
    one.page.get_by_role("button", name="Look back").click()
    one.wait_for_step(4)
    one.press("ArrowLeft")
    one.wait_for_step(3)
    assert (lesson.board.step, other.step) == (5, 5)
    # The class goes on; who looks back stays where they are.
    lesson.board.step_to("PageDown", 6)
    other.wait_for_step(6)
    assert one.step == 3
    one.page.get_by_role("button", name="On", exact=True).click()
    one.wait_for_step(4)
    one.wait_for_vehicle()
    one.page.get_by_role("button", name="Now").click()
    one.wait_for_step(6)
    expect(one.page.get_by_text("Following the board")).to_be_visible()
    lesson.board.step_to("PageDown", 7)
    one.wait_for_step(7)


def test_a_question_brings_everybody_back(lesson: Lesson) -> None:
    pupil = lesson.pupil()
    lesson.step_to_question()
    pupil.wait_for_step(STEP)
    pupil.press("ArrowLeft")
    pupil.wait_for_step(STEP - 1)
    lesson.board.press("q")
    pupil.wait_for_step(STEP)
    choose(pupil, RIGHT)
    # To think about it one may look back, and still answer.
    pupil.press("ArrowLeft")
    pupil.wait_for_step(STEP - 1)
    choose(pupil, "9")


def test_no_key_of_a_pupil_moves_the_board(lesson: Lesson) -> None:
    pupil = lesson.pupil()
    lesson.board.step_to("PageDown", 1)
    pupil.wait_for_step(1)
    for control in CONTROLS:
        for key in control.keys:
            pupil.press("+" if key == "+" else key)
    pupil.press("Escape")
    pupil.wait_for_step(1)
    assert (lesson.board.step, lesson.board.scene) == (1, 0)
    lesson.board.wait_until_still()
    settings = lesson.board.page.get_attribute("#frame", "class")
    lesson.board.step_to("PageDown", 2)
    lesson.board.wait_until_still()
    assert lesson.board.page.get_attribute("#frame", "class") == settings


def test_the_picture_to_join_by_is_read_by_another_program(lesson: Lesson) -> None:
    """ZXing, which reads bar codes for a living, reads the QR code off the screen."""
    page = lesson.board.page
    for theme in THEMES:
        page.evaluate("theme => { document.documentElement.dataset.theme = theme; }", theme)
        page.keyboard.press("j")
        expect(page.locator("#invite .picture svg")).to_be_visible()
        read = zxingcpp.read_barcode(Image.open(io.BytesIO(page.screenshot())))
        assert read and read.text == f"{lesson.server.address}/class/{lesson.code}"
        page.keyboard.press("Escape")
    laptop = lesson.new_page()
    laptop.goto(read.text)
    expect(laptop.locator("#frame")).to_be_visible()


@pytest.mark.parametrize("size", SIZES)
def test_everything_of_a_question_is_on_the_screen(lesson: Lesson, size: str) -> None:
    pupil = lesson.pupil(size)
    lesson.step_to_question()
    width = SIZES[size][0]
    lesson.board.press("q")
    pupil.wait("document.querySelector('.choose')")
    bar = pupil.page.locator(".follow-bar").bounding_box()
    assert bar
    checked = 0
    for state in (".is-open", ".is-closed", ".large"):
        pupil.wait(f"document.querySelector('{state}')")
        for part in pupil.page.locator(f"{state} .sentence, {state} .said, {state} .count").all():
            box = part.bounding_box()
            assert box, part
            left, top = box["x"], box["y"]
            assert left >= 0 and left + box["width"] <= width, (state, box)
            assert top >= 0 and top + box["height"] <= bar["y"] + 1, (state, box)
            checked += 1
        lesson.board.press("q")
    assert checked >= 12
    if size != "phone":
        assert pupil.page.evaluate(
            "[document.documentElement.scrollWidth <= innerWidth,"
            " document.documentElement.scrollHeight <= innerHeight]"
        ) == [True, True]


@pytest.mark.parametrize("theme", THEMES)
def test_pages_of_the_class_are_accessible(lesson: Lesson, errors: Errors, theme: str) -> None:
    lesson.board.page.evaluate(f"document.documentElement.dataset.theme = '{theme}'")
    lesson.board.press("j")
    assert violations(lesson.board.page) == []
    lesson.board.press("Escape")
    page = lesson.new_page(color_scheme=theme)
    page.goto(f"{lesson.server.address}/join")
    page.get_by_label("The code on the board").fill("nothing")
    page.get_by_role("button", name="Join").click()
    expect(page.get_by_role("alert")).to_be_visible()
    assert violations(page) == []

    pupil = lesson.pupil("phone" if theme == "dark" else "laptop", color_scheme=theme)
    desk = lesson.desk()
    lesson.step_to_question()
    lesson.board.press("q")
    choose(pupil, "9")
    assert violations(pupil.page) == [] and violations(desk) == []
    lesson.board.press("q")
    for state in (".is-closed", ".large"):
        pupil.wait(f"document.querySelector('{state}')")
        assert violations(pupil.page) == [] and violations(lesson.board.page) == []
        lesson.board.press("+", "+", "q")
    lesson.board.wait_for_step(REVEAL_STEP)
    lesson.board.wait_until_still()
    pupil.wait_until_still()
    assert violations(pupil.page) == [] and violations(lesson.board.page) == []
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
        " (event) => { event.detail.message.cancelled = true; }, true)"
    )
    lesson.board.press("q")
    lesson.board.wait("document.querySelector('.is-closed')")
    pupil.page.locator(".choose").first.click()
    expect(pupil.page.locator("#mine")).to_contain_text("The question is closed")
    errors.forgive("409", "htmx:")


def test_an_answer_that_could_not_be_sent_says_so_and_is_sent_again(
    lesson: Lesson, errors: Errors
) -> None:
    cable = Cable(lesson.server.port)
    pupil = Board(lesson.new_page())
    pupil.page.goto(f"http://127.0.0.1:{cable.port}/class/{lesson.code}")
    pupil.wait("window.streamIsOpen")
    lesson.step_to_question()
    lesson.board.press("q")
    pupil.wait("document.querySelector('.choose')")
    cable.cut()
    first, second = (pupil.page.locator(".choose").nth(at) for at in (0, 1))
    first.click()
    expect(pupil.page.locator("#mine")).to_contain_text("could not be sent")
    expect(lesson.board.page.locator("#tally")).to_have_text("0 answered")
    # What is chosen last is what counts.
    second.click()
    cable.mend()
    expect(pupil.page.locator("#mine")).to_contain_text("Your answer: B")
    expect(second).to_have_attribute("aria-pressed", "true")
    expect(lesson.board.page.locator("#tally")).to_have_text("1 answered")
    errors.forgive("net::ERR", "htmx:sse:error")


def test_two_tabs_of_one_pupil_agree(lesson: Lesson) -> None:
    pupil = lesson.pupil()
    other = Board(pupil.page.context.new_page())
    other.page.goto(pupil.page.url)
    other.wait("window.streamIsOpen")
    lesson.step_to_question()
    lesson.board.press("q")
    for chooses, sees, text in ((pupil, other, "9"), (other, pupil, RIGHT)):
        chooses.wait("document.querySelector('.choose')")
        sees.wait("document.querySelector('.choose')")
        choose(chooses, text)
        pressed = sees.page.locator('.choose[aria-pressed="true"]')
        expect(pressed).to_have_count(1)
        expect(pressed).to_contain_text(text)
    expect(lesson.board.page.locator("#tally")).to_have_text("1 answered")


def test_a_look_back_that_fails_goes_on_following(lesson: Lesson, errors: Errors) -> None:
    pupil = lesson.pupil()
    for step in range(1, 4):
        lesson.board.step_to("PageDown", step)
    pupil.wait_for_step(3)
    where = pupil.page.locator("#where")
    pupil.page.route("**/at?*", lambda route: route.abort())
    pupil.press("ArrowLeft")
    expect(where).to_have_text("Chalkcycle cannot be reached")
    expect(pupil.page.locator("#look-now")).to_be_disabled()
    lesson.board.step_to("PageDown", 4)
    pupil.wait_for_step(4)
    expect(where).to_have_text("Following the board")
    pupil.page.unroute("**/at?*")
    pupil.press("ArrowLeft")
    pupil.wait_for_step(3)
    expect(where).to_have_text("Looking back")
    errors.forgive("net::ERR")


def test_a_version_on_the_other_machine_brings_its_own_page(lesson: Lesson) -> None:
    pupil, desk = lesson.pupil(), lesson.desk()
    file = lesson.folder / "asking.md"
    file.write_text(file.read_text().replace("machine: 8-bit", "machine: 16-bit"))
    desk.get_by_role("button", name="Use it now").click()
    for page in (pupil.page, desk, lesson.board.page):
        expect(page.locator("#stage.machine-16-bit")).to_be_visible()
        expect(page.locator('#frame[data-machine="16-bit"]')).to_be_visible()
    pupil.wait("window.streamIsOpen")
    lesson.board.wait("window.streamIsOpen")
    lesson.board.step_to("PageDown", 1)
    pupil.wait_for_step(1)


def test_what_was_asked_before_a_change_is_not_marked_after_it(lesson: Lesson) -> None:
    pupil, desk = lesson.pupil(), lesson.desk()
    lesson.step_to_question()
    lesson.board.press("q")
    choose(pupil, RIGHT)
    file = lesson.folder / "asking.md"
    changed = file.read_text().replace("bag:    4", "bag:    5").replace("13 or 9", "14 or 9")
    file.write_text(changed)
    desk.get_by_role("button", name="Use it now").click()
    expect(pupil.page.locator(".question")).to_have_count(0)
    expect(pupil.page.locator("#mine")).to_have_text("")
    expect(desk.locator("#class-panel")).to_contain_text("another one in the new version")
    lesson.board.press("q")
    choose(pupil, "14")
    lesson.board.press("q", "q", "q")
    lesson.board.wait_for_step(REVEAL_STEP)
    lesson.board.wait_until_still()
    expect(lesson.board.page.locator(".is-right")).to_contain_text("14")
    assert lesson.board.shown("ACC") == "14"


def test_on_a_phone_what_is_said_of_an_answer_fits_the_bar(lesson: Lesson, errors: Errors) -> None:
    pupil = lesson.pupil("phone")
    lesson.step_to_question()
    lesson.board.press("q")
    pupil.wait("document.querySelector('.choose')")
    pupil.page.route("**/answer", lambda route: route.abort())
    pupil.page.locator(".choose").first.click()
    expect(pupil.page.locator("#mine")).to_contain_text("could not be sent")
    said = pupil.page.locator("#mine").bounding_box()
    bar = pupil.page.locator(".follow-bar").bounding_box()
    assert said and bar
    assert said["y"] >= bar["y"] and said["y"] + said["height"] <= bar["y"] + bar["height"]
    assert said["x"] + said["width"] <= SIZES["phone"][0]
    pupil.page.unroute("**/answer")
    expect(pupil.page.locator("#mine")).to_contain_text("Your answer: A")
    errors.forgive("net::ERR")
