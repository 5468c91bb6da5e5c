"""A pupil who listens, one with the keyboard alone, one with a phone: criteria of WCAG 2.2 that
axe-core cannot judge, each named in its check."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.asking import PROMPT
from tests.browser.board import Board
from tests.browser.classroom.lesson import Lesson, choose
from tests.browser.reach import focus, heard, listen, sideways, small_targets

STATE = "document.getElementById('frame').dataset.poll?.endsWith(value)"


def asked(lesson: Lesson) -> None:
    lesson.step_to_question()
    lesson.board.press("q")
    lesson.board.wait(STATE, "open")


def on(lesson: Lesson, pupil: Board, key: str, state: str) -> None:
    lesson.board.press(key)
    pupil.wait(STATE, state)


def test_4_1_3_a_question_is_heard_from_its_prompt_to_its_reason(lesson: Lesson) -> None:
    """The prompt once; closed, the spread, the right answer and why, each when it comes."""
    pupil = lesson.pupil()
    listen(pupil.page)
    asked(lesson)
    pupil.wait(STATE, "open")
    choose(pupil, "9")
    expect(pupil.page.locator("#mine")).to_have_attribute("role", "status")
    on(lesson, pupil, "q", "closed")
    on(lesson, pupil, "q", "shown")
    lesson.board.press("q")
    pupil.wait("document.querySelector('.is-right') && !document.querySelector('.frame.moving')")
    pupil.wait("window.heard.at(-1).includes('Right:')")
    said = [each for each in heard(pupil.page) if each]
    assert sum(PROMPT in each for each in said) == 1
    assert any("Closed" in each and "1 answered" in each for each in said)
    assert any("The spread: A" in each for each in said)
    letter = pupil.page.locator(".is-right .letter").inner_text()
    assert f"Right: {letter}, 13." in said[-1]
    assert pupil.page.locator(".poll-state").inner_text() in said[-1]
    # Their own answer was wrong: they hear why, as others read it.
    assert pupil.page.locator(".why-wrong:visible").inner_text() in said[-1]
    # On the way there each step is told, not only counted; the last one with the answer.
    steps = [each for each in said if each.startswith("Instruction")]
    on_the_way = [each for each in steps if not said[-1].startswith(each)]
    assert len(on_the_way) > 2 and all(len(each.partition(". ")[2]) > 10 for each in on_the_way)
    assert not any("Following the board" in each for each in said)


def test_4_1_3_another_round_is_heard(lesson: Lesson) -> None:
    pupil = lesson.pupil()
    asked(lesson)
    pupil.wait(STATE, "open")
    on(lesson, pupil, "q", "closed")
    listen(pupil.page)
    lesson.desk().get_by_role("button", name="Ask again").click()
    pupil.wait(STATE, "2-open")
    (words,) = heard(pupil.page)
    assert words == "Round 2: the question is asked again."


def test_2_4_3_the_keyboard_keeps_its_place(lesson: Lesson) -> None:
    """A new frame while somebody stands at a choice; the buttons of a look back when they go."""
    pupil = lesson.pupil()
    asked(lesson)
    pupil.wait(STATE, "open")
    pupil.page.locator(".choose").nth(1).focus()
    value = pupil.page.locator(".choose").nth(1).get_attribute("value")
    lesson.board.press("n")
    pupil.wait("document.querySelector('#frame.base-hexadecimal')")
    assert pupil.page.evaluate("document.activeElement.value") == value
    on(lesson, pupil, "q", "closed")
    assert pupil.page.evaluate("document.activeElement.matches('.question')")
    lesson.board.press("n", "n")
    pupil.page.locator("#look-back").focus()
    pupil.press("Enter")
    expect(pupil.page.locator("#look-now")).to_be_enabled()
    pupil.page.locator("#look-now").focus()
    pupil.press("Enter")
    expect(pupil.page.locator("#look-now")).to_be_disabled()
    now = focus(pupil.page)
    assert now and now["name"] == "look-back" and now["seen"]


def test_2_1_4_a_pupils_page_has_no_single_keys(lesson: Lesson) -> None:
    keys = lesson.pupil().page.evaluate(
        "[...document.querySelectorAll('[data-keys]')].flatMap((e) => e.dataset.keys.split(' '))"
    )
    assert keys and all(len(each) > 1 for each in keys)


def test_forced_colours_keep_the_chosen_answer(lesson: Lesson) -> None:
    pupil = lesson.pupil(forced_colors="active")
    asked(lesson)
    pupil.wait(STATE, "open")
    choose(pupil, "9")
    looks = pupil.page.evaluate(
        """() => ["true", "false"].map((pressed) => {
          const choice = document.querySelector(`.choose[aria-pressed=${pressed}]`);
          const style = getComputedStyle(choice);
          return [style.backgroundColor, style.outlineStyle];
        })"""
    )
    assert looks[0][0] != looks[1][0] and looks[0][1] != looks[1][1]


def test_a_question_on_a_phone_leaves_the_machine_in_view(lesson: Lesson) -> None:
    """1.4.10 and 2.5.8 as well: at 390 and at 320 pixels nothing scrolls sideways and every answer
    can be hit."""
    pupil = lesson.pupil("phone")
    asked(lesson)
    pupil.wait(STATE, "open")
    for width, height in ((390, 844), (320, 640)):
        pupil.page.set_viewport_size({"width": width, "height": height})
        caption = pupil.page.locator(".caption").bounding_box()
        machine = pupil.page.locator(".at-processor").bounding_box()
        assert caption and machine
        assert caption["y"] - max(machine["y"], 0) >= height * 0.4
        assert sideways(pupil.page) == [] and small_targets(pupil.page) == []


def test_with_the_keyboard_alone(lesson: Lesson) -> None:
    """2.1.1 and 2.4.3: from the code to an answer and its change, without a pointer."""
    page = lesson.new_page()
    page.goto(lesson.server.address)
    # The page has the keyboard there once it has been painted: nobody types before that.
    expect(page.get_by_label("The code on the board")).to_be_focused()
    page.keyboard.type(lesson.code.lower())
    page.keyboard.press("Enter")
    page.wait_for_selector("#frame")
    pupil = Board(page)
    pupil.wait("window.streamIsOpen")
    asked(lesson)
    pupil.wait(STATE, "open")
    for _ in range(8):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('.choose')"):
            break
    page.keyboard.press("Enter")
    expect(page.locator("#mine")).to_contain_text("Your answer: A")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    expect(page.locator("#mine")).to_contain_text("Your answer: B")
    now = focus(page)
    assert now and now["seen"] and page.evaluate("document.activeElement.matches('.choose')")


def test_a_pupil_with_the_keyboard_on_the_board_of_a_teacher(
    lesson: Lesson, new_page: Callable[..., Page]
) -> None:
    """2.5.8 on the teacher's own screen."""
    assert small_targets(lesson.desk()) == []
