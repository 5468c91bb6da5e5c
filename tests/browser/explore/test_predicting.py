"""A pupil predicts what the machine will do."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Route, expect

from tests.browser.explore.pupil import Pupil, predicting
from tests.codes import word


def test_predict_three_steps(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.tab("predict")
    page.check("#predicting")
    expect(page.locator("#question")).to_contain_text("Which part will change?")
    # Right; then the address for its contents; then right again.
    page.check("input[name=place][value=MAR]")
    page.fill("#say-value", "0")
    page.keyboard.press("Enter")
    expect(page.locator("#verdict")).to_have_text("Right.")
    one.at_step(1)
    expect(page.locator("#ask-next")).to_be_focused()
    page.keyboard.press("Enter")
    page.check("input[name=place][value=MDR]")
    page.locator("input[name=value][value='0']").check()
    page.click("text=That is my prediction")
    expect(page.locator("#verdict")).to_have_text("Partly right.")
    expect(page.locator("#question")).to_contain_text("an address instead of what is stored there")
    page.click("#ask-next")
    page.check("input[name=place][value=CIR]")
    page.locator(f"input[name=value][value='{word('LOAD 5')}']").check()
    page.click("text=That is my prediction")
    expect(page.locator("#verdict")).to_have_text("Right.")
    one.at_step(3)
    expect(page.locator("#tally")).to_contain_text("5 of 6 answers right so far.")
    page.reload()
    one.tab("predict")
    expect(page.locator("#tally")).to_contain_text("5 of 6")
    one.press("forward")
    page.click("text=Just show me")
    one.at_step(4)
    page.uncheck("#predicting")
    one.press("forward")
    one.at_step(5)


def test_a_double_press_answers_one_question(pupil: Callable[..., Pupil]) -> None:
    page = predicting(one := pupil())
    page.check("input[name=place][value=MAR]")
    page.fill("#say-value", "0")
    held: list[Route] = []
    page.route("**/explore/mark", lambda route: held.append(route))
    with page.expect_request("**/explore/mark"):
        page.locator("text=That is my prediction").dblclick()
    with page.expect_response("**/explore/mark"):
        held[0].continue_()
    expect(page.locator("#verdict")).to_have_text("Right.")
    # What waited behind it has been let go by the time that the next press is answered.
    page.click("#control-faster")
    expect(page.locator("#speed-now")).to_have_text("speed 2")
    one.at_step(1)
    assert len(held) == 1
    expect(page.locator("#tally")).to_contain_text("2 of 2 answers right so far.")


def test_settings_leave_the_question_open(pupil: Callable[..., Pupil]) -> None:
    page = predicting(one := pupil())
    one.press("forward")
    page.check("input[name=place][value=MAR]")
    page.fill("#say-value", "0b0")
    for name in ("faster", "movement"):
        one.press(name)
        expect(page.locator("#say-value")).to_have_value("0b0")
    # These two change what is asked, so it is asked again, with what was said so far.
    one.press("base")
    expect(page.locator("#control-base")).to_have_text("Numbers: hexadecimal")
    expect(page.locator("#say-value")).to_have_value("0b0")
    expect(page.locator("input[name=place][value=MAR]")).to_be_checked()
    one.press("depth")
    expect(page.locator("#question")).to_contain_text("Which instruction will be fetched?")
    one.tab("program")
    one.press("depth")
    expect(page.locator("#panel-program")).to_be_visible()
    one.tab("predict")
    expect(page.locator("#question")).to_contain_text("Which part will change?")
    one.at_step(0)


def test_what_is_typed_while_a_question_is_asked_again_stays(pupil: Callable[..., Pupil]) -> None:
    """A setting asks it again; on a slow machine the pupil has typed by the time it comes."""
    page = predicting(one := pupil())
    page.check("input[name=place][value=MAR]")
    held: list[Route] = []
    page.route("**/explore/press", lambda route: held.append(route))
    with page.expect_request("**/explore/press"):
        one.press("base")
    # Its answer makes the page ask once more.
    with page.expect_request("**/explore/press"):
        held.pop().continue_()
    page.focus("#say-value")
    page.keyboard.type("0x")
    page.evaluate("document.querySelector('form.ask').dataset.before = ''")
    held.pop().continue_()
    expect(page.locator("form.ask:not([data-before])")).to_have_count(1)
    expect(page.locator("#say-value")).to_have_value("0x")
    expect(page.locator("input[name=place][value=MAR]")).to_be_checked()


def test_no_longer_predicting_stays_where_the_pupil_is(pupil: Callable[..., Pupil]) -> None:
    page = predicting(one := pupil())
    page.uncheck("#predicting")
    one.tab("program")
    one.press("forward")
    one.at_step(1)
    one.press("forward")
    one.at_step(2)
    expect(page.locator("#panel-program")).to_be_visible()


def test_keys_while_predicting(pupil: Callable[..., Pupil]) -> None:
    page = predicting(one := pupil())
    expect(page.locator("input[name=place]").first).to_be_focused()
    # The arrows and Space are the radio's own.
    page.keyboard.press("ArrowDown")
    expect(page.locator("input[name=place]").nth(1)).to_be_checked()
    page.keyboard.press("Space")
    one.at_step(0)
    page.keyboard.press("n")
    expect(page.locator("#control-base")).to_have_text("Numbers: hexadecimal")
    expect(page.locator("input[name=place]").nth(1)).to_be_focused()
    page.keyboard.press("PageDown")
    expect(page.locator("input[name=place]").nth(1)).to_be_checked()
    page.keyboard.press("i")
    one.at_step(8)
    page.keyboard.press("PageDown")
    expect(page.locator("input[name=place]").first).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator("#control-forward")).to_be_focused()


def test_the_value_is_asked_once_a_part_is_chosen(pupil: Callable[..., Pupil]) -> None:
    """A field for a number or a choice of bits would give the part away."""
    page = predicting(pupil())
    expect(page.locator("#say-value")).to_be_hidden()
    page.click("text=That is my prediction")
    expect(page.locator("#verdict")).to_have_count(0)
    page.check("input[name=place][value=CIR]")
    expect(page.locator("#say-value")).to_be_visible()


def test_the_instruction_is_named_with_its_operand(pupil: Callable[..., Pupil]) -> None:
    one = pupil()
    one.press(*["forward"] * 5)
    one.at_step(5)
    page = predicting(one)
    expect(page.locator("#question")).to_contain_text(
        "LOAD fare is carried out: its first step comes next"
    )


def test_predicting_in_the_execute_phase_alone(pupil: Callable[..., Pupil]) -> None:
    """Four steps of fetch and one of decode go by; then the question. It is so after a reload."""
    page = predicting(one := pupil())
    page.get_by_label("Only in the execute phase").check()
    expect(page.locator("form.ask")).to_have_count(0)
    for step in range(1, 6):
        one.press("forward")
        one.at_step(step)
    one.press("forward")
    expect(page.locator("form.ask")).to_contain_text("LOAD fare is carried out")
    one.at_step(5)
    page.reload()
    one.tab("predict")
    expect(page.get_by_label("Only in the execute phase")).to_be_checked()
    expect(page.locator("#predicting")).to_be_checked()
