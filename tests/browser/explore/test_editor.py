"""The editor of a pupil's own machine: the program, its inputs, and memory word by word."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.explore.pupil import Pupil


def test_faults_are_marked_as_they_are_typed_and_go_when_mended(
    pupil: Callable[..., Pupil],
) -> None:
    page = (one := pupil()).page
    page.click("#program")
    page.keyboard.press("Control+Home")
    page.keyboard.type("LAOD #1\n")
    problem = page.locator("#problems li")
    expect(problem).to_contain_text("There is no instruction called 'LAOD'. Did you mean LOAD?")
    expect(page.locator("#gutter .fault")).to_have_count(1)
    expect(page.locator("#program")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#program")).to_have_attribute("aria-describedby", "problems")
    expect(page.locator("#note")).to_contain_text("as it was before")
    # The mark stands behind the very letters.
    mark = page.locator("#behind .fault").bounding_box()
    line = page.locator("#gutter .fault").bounding_box()
    assert (
        mark and line and abs(mark["y"] + mark["height"] / 2 - line["y"] - line["height"] / 2) < 8
    )
    one.press("forward")
    expect(page.locator("#note")).to_contain_text("Line 1 of the program needs mending")
    one.at_step(0)
    problem.locator("button").click()
    page.keyboard.type("LOAD")
    expect(page.locator("#problems")).to_contain_text("Nothing to mend. 9 of 16 words")
    expect(page.locator("#gutter .fault")).to_have_count(0)
    expect(page.locator(".row").first).to_contain_text("LOAD #1")
    assert "faulty" not in (page.get_attribute("body", "class") or "")


def test_inputs_before_and_when_the_machine_asks(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil("/explore/")).page
    one.type_program("again: INPUT\nOUTPUT\nJUMP again")
    expect(page.locator("#problems")).to_contain_text("3 of 16 words")
    page.fill("#inputs", "7")
    expect(page.locator("[data-place=input]")).to_contain_text("7")
    one.press("end")
    expect(page.locator("#give")).to_be_visible()
    expect(page.locator("#given")).to_be_focused()
    page.keyboard.type("0b1001")
    page.keyboard.press("Enter")
    expect(page.locator("#give")).to_be_hidden()
    assert page.input_value("#inputs") == "7 0b1001"
    one.press("end")
    expect(page.locator("[data-place=output] .queue")).to_contain_text(re.compile("7.*9|9.*7"))
    page.fill("#inputs", "7 nine")
    expect(page.locator("#input-problems")).to_contain_text("'nine' is not a number")


@pytest.mark.parametrize("width", [1366, 390])
def test_what_is_given_is_checked_before_it_is_taken(
    pupil: Callable[..., Pupil], width: int
) -> None:
    page = (one := pupil("/explore/", viewport={"width": width, "height": 844})).page
    one.type_program("INPUT\nOUTPUT\nHALT")
    expect(page.locator("#problems")).to_contain_text("3 of 16 words")
    one.press("end")
    given, wrong = page.locator("#given"), page.locator("#given-wrong")
    given.fill("abc")
    page.click("#give button")
    expect(wrong).to_have_text(
        "'abc' is not a number. Write numbers such as 7, with commas between them."
    )
    expect(given).to_be_focused()
    expect(given).to_have_attribute("aria-invalid", "true")
    expect(wrong).to_be_in_viewport()
    assert page.input_value("#inputs") == ""
    given.fill("900")
    page.keyboard.press("Enter")
    expect(wrong).to_contain_text("does not fit a word of 8 bits")
    given.fill("7")
    page.keyboard.press("Enter")
    expect(page.locator("#give")).to_be_hidden()
    expect(wrong).to_be_hidden()
    assert page.input_value("#inputs") == "7"
    one.at_step(6)


def test_memory_word_by_word(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.tab("memory")
    fare = page.locator("#word-5")
    expect(fare).to_have_value("9")
    fare.fill("0xF")
    fare.press("Tab")
    expect(page.locator("#words")).to_contain_text("0000 1111")
    assert "fare:   0xF" in one.program
    expect(page.locator(".row").nth(5)).to_contain_text("15")
    fare.fill("nonsense")
    fare.press("Tab")
    expect(page.locator("#wrong-word")).to_be_visible()
    expect(fare).to_have_value("nonsense")
    assert "fare:   0xF" in one.program
    one.press("end")
    expect(page.locator("#words")).to_contain_text("now 19")
    expect(page.locator("#wrong-word")).to_be_visible()
    expect(fare).to_have_value("nonsense")
    fare.fill("15")
    fare.press("Tab")
    expect(page.locator("#wrong-word")).to_have_count(0)
    expect(page.locator(".row").nth(5)).to_contain_text("15")


def test_a_word_is_not_lost_when_memory_is_shown_anew_while_it_is_typed(
    pupil: Callable[..., Pupil],
) -> None:
    page = (one := pupil()).page
    one.tab("memory")
    bag = page.locator("#word-6")
    expect(bag).to_have_value("4")
    bag.fill("12")
    # Without a blur in between, as when an answer comes in late.
    page.locator("#control-end").dispatch_event("click")
    one.at_step(36)
    expect(page.locator("#words")).to_contain_text("now 13")
    expect(bag).to_have_value("12")
    expect(bag).to_be_focused()
    bag.press("Tab")
    expect(page.locator(".row").nth(6)).to_contain_text("12")
    assert "bag:    12" in one.program


# In the page: what is written into it while a letter is typed, outside of the text area itself.
TYPED = """
async () => {
  const written = [];
  const watch = new MutationObserver((changes) => {
    for (const each of changes) written.push(each.target.id || each.target.nodeName);
  });
  watch.observe(document.body, { childList: true, characterData: true, subtree: true });
  await new Promise((resolve) => {
    document.getElementById("program").addEventListener("input", () => {
      requestAnimationFrame(() => requestAnimationFrame(resolve));
    }, { once: true });
    window.watching = true;
  });
  window.written = written;
}
"""


# The page's policy refuses code made of text, so the page itself waits.
WRITTEN = """
async () => {
  while (!window.written) await new Promise(requestAnimationFrame);
  return window.written;
}
"""


def test_a_letter_changes_nothing_but_its_line(pupil: Callable[..., Pupil]) -> None:
    """Whatever else is written into the page is laid out before the letter is painted."""
    page = pupil().page
    # The answer of the check comes later than any letter; here it does not come at all.
    page.route("**/explore/check", lambda route: None)
    page.click("#program")
    page.keyboard.type("; a")
    # Where the cursor went is told by an event of its own, which may come after the letters.
    before = page.locator("#program").evaluate("(it) => it.value.slice(0, it.selectionStart)")
    line = before.count("\n") + 1
    expect(page.locator("#control-line")).to_have_text(f"Run to line {line}")
    page.evaluate(f"() => {{ window.written = null; ({TYPED})(); }}")
    page.keyboard.type("b")
    assert page.evaluate(WRITTEN) == []


def test_the_line_under_way_is_in_sight(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.type_program("".join("ADD #1\n" for _ in range(14)) + "HALT\n" + "; the end\n" * 40)
    expect(page.locator("#problems")).to_contain_text("Nothing to mend. 15 of 16 words")
    page.locator("#program").evaluate("(text) => { text.scrollTop = text.scrollHeight; }")
    one.press("instruction")
    expect(page.locator("#gutter .now")).to_have_count(1)
    expect(page.locator("#gutter .now")).to_be_in_viewport(ratio=1)
    # Who is writing is left where they are.
    page.locator("#program").evaluate("(text) => { text.scrollTop = text.scrollHeight; }")
    page.focus("#program")
    far = page.locator("#program").evaluate("(text) => text.scrollTop")
    page.evaluate("document.getElementById('control-instruction').click()")
    expect(page.locator('[data-place="ACC"]')).to_contain_text("2")
    assert page.locator("#program").evaluate("(text) => text.scrollTop") == far
