"""What a pupil answers arrives, is one pupil's, and belongs to what was asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.asking import REVEAL_STEP, RIGHT, write_lesson
from tests.browser.board import Board
from tests.browser.cable import Cable
from tests.browser.classroom.lesson import SIZES, Lesson, choose, share
from tests.browser.conftest import Errors
from tests.server import Server


@pytest.fixture
def own_server(tmp_path: Path) -> Iterator[Server]:
    with share(write_lesson(tmp_path)) as running:
        yield running


@pytest.fixture
def own_lesson(own_server: Server, new_page: Callable[..., Page]) -> Lesson:
    """A lesson whose file may be changed."""
    return Lesson(own_server, new_page)


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


def test_a_version_on_the_other_machine_brings_its_own_page(
    own_lesson: Lesson, tmp_path: Path
) -> None:
    pupil, desk = own_lesson.pupil(), own_lesson.desk()
    file = tmp_path / "asking.md"
    file.write_text(file.read_text().replace("machine: 8-bit", "machine: 16-bit"))
    desk.get_by_role("button", name="Use it now").click()
    for page in (pupil.page, desk, own_lesson.board.page):
        expect(page.locator("#stage.machine-16-bit")).to_be_visible()
        expect(page.locator('#frame[data-machine="16-bit"]')).to_be_visible()
    pupil.wait("window.streamIsOpen")
    own_lesson.board.wait("window.streamIsOpen")
    own_lesson.board.step_to("PageDown", 1)
    pupil.wait_for_step(1)


def test_what_was_asked_before_a_change_is_not_marked_after_it(
    own_lesson: Lesson, tmp_path: Path
) -> None:
    pupil, desk = own_lesson.pupil(), own_lesson.desk()
    own_lesson.step_to_question()
    own_lesson.board.press("q")
    choose(pupil, RIGHT)
    file = tmp_path / "asking.md"
    changed = file.read_text().replace("bag:    4", "bag:    5").replace("13 or 9", "14 or 9")
    file.write_text(changed)
    desk.get_by_role("button", name="Use it now").click()
    expect(pupil.page.locator(".question")).to_have_count(0)
    expect(pupil.page.locator("#mine")).to_have_text("")
    expect(desk.locator("#class-panel")).to_contain_text("another one in the new version")
    own_lesson.board.press("q")
    choose(pupil, "14")
    own_lesson.board.at_speed("+++").press("q", "q", "q")
    own_lesson.board.wait_for_step(REVEAL_STEP)
    own_lesson.board.wait_until_still()
    expect(own_lesson.board.page.locator(".is-right")).to_contain_text("14")
    assert own_lesson.board.shown("ACC") == "14"


def test_a_question_that_comes_while_a_look_back_is_on_its_way_stays(lesson: Lesson) -> None:
    pupil = lesson.pupil()
    held = pupil.hold("**/at?*")
    lesson.step_to_question()
    pupil.press("ArrowLeft")
    look = pupil.wait_for_route(held)
    lesson.board.press("q")
    pupil.wait("document.querySelector('.choose')")
    with pupil.page.expect_response("**/at?*"):
        look.continue_()
    pupil.page.evaluate("() => new Promise(requestAnimationFrame)")
    expect(pupil.page.locator(".choose").first).to_be_visible()
    expect(pupil.page.locator("#where")).to_have_text("Following the board")


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
