"""A pupil's own machine in a real browser: everything that a lesson asks of it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Errors
from tests.browser.test_accessibility import THEMES, violations
from tests.codes import bits, word
from tests.server import Server

FERRY = "/explore/ferry/1"
LESSON = """---
title: The ferry ticket machine
machine: 8-bit
---

# One fare, one bag

```program
        LOAD  fare
        ADD   bag
        STORE total
        OUTPUT
        HALT
fare:   9
bag:    4
total:  0
```

```task
goal: Output what the passenger types plus the price of a bag, 4.
inputs 9 gives 13
inputs 1 gives 5
inputs -4 gives 0
```
"""
# Steps of the program: LOAD 1-8, ADD 9-16, STORE 17-24, OUTPUT 25-30, HALT 31-36.
SIZES = [(1366, 768), (1024, 768), (1920, 1080), (390, 844)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("explore")
    (made / "ferry.md").write_text(LESSON, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def own_server(folder: Path) -> Iterator[Server]:
    with Server(folder) as running:
        yield running


class Pupil:
    """What a pupil does with the page and sees on it."""

    def __init__(self, page: Page, address: str) -> None:
        self.page = page
        self.address = address

    def open(self, path: str = FERRY) -> Pupil:
        self.page.goto(self.address + path)
        self.page.wait_for_selector("#frame", state="attached")
        return self

    def type_program(self, text: str) -> None:
        self.page.fill("#program", text)

    def press(self, *names: str) -> None:
        for name in names:
            self.page.click(f"#control-{name}")

    def tab(self, name: str) -> None:
        self.page.click(f"#tab-{name}")

    def at_step(self, number: int) -> None:
        expect(self.page.locator("#frame")).to_have_attribute(
            "data-step", str(number), timeout=20_000
        )

    def register(self, place: str) -> str:
        return self.page.locator(f".register[data-place={place}] .value").inner_text()

    @property
    def program(self) -> str:
        return self.page.input_value("#program")


@pytest.fixture
def pupil(own_server: Server, new_page: Callable[..., Page]) -> Callable[..., Pupil]:
    def begin(path: str = FERRY, **options: object) -> Pupil:
        return Pupil(new_page(**options), own_server.address).open(path)

    return begin


# The page.


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_machine_and_the_bench_have_their_sides(
    pupil: Callable[..., Pupil], width: int, height: int
) -> None:
    """The board at the left; on a phone under the tabs. A key leads through them in this order."""
    page = (one := pupil(viewport={"width": width, "height": height})).page
    phone = width == 390
    if phone:
        one.tab("machine")
    stage, tabs = (page.locator(each).bounding_box() for each in (".place", ".tabs"))
    assert stage and tabs
    if phone:
        assert tabs["y"] + tabs["height"] <= stage["y"] + 1
    else:
        assert stage["x"] + stage["width"] <= tabs["x"] + 1
    order = page.locator("main > section").evaluate_all("all => all.map((each) => each.className)")
    assert order == (["bench", "machine"] if phone else ["machine", "bench"])
    # Turned the other way, the page follows, and keeps what is written.
    one.tab("program")
    one.type_program("HALT ; mine")
    page.set_viewport_size({"width": 1366 if phone else 390, "height": 768})
    first = page.locator("main > section").first
    expect(first).to_have_class("machine" if phone else "bench")
    assert one.program == "HALT ; mine"


# The editor.


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
    expect(wrong).to_have_text("'abc' is not a number. Write one such as 7.")
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


# The machine.


def test_step_back_and_the_timeline(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("forward", "forward", "forward")
    one.at_step(3)
    one.press("back")
    one.at_step(2)
    one.press("instruction")
    one.at_step(8)
    timeline = page.locator("#timeline")
    timeline.focus()
    page.keyboard.press("End")
    one.at_step(36)
    expect(page.locator("#timeline-label")).to_have_text("Instruction 5 of 5")
    page.keyboard.press("ArrowLeft")
    one.at_step(30)
    timeline.fill("2")
    one.at_step(16)
    assert one.register("ACC") == "13"
    one.press("restart")
    one.at_step(0)


def test_quick_presses_are_all_done(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    page.locator("#stage").click(position={"x": 5, "y": 5})
    for _ in range(12):
        page.keyboard.press("ArrowRight")
    one.at_step(12)


def test_values_travel_on_a_step(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("slower", "forward")
    expect(page.locator(".vehicle")).to_have_count(1)
    expect(page.locator("#frame")).to_have_class(re.compile("moving"))
    one.press("forward")
    expect(page.locator(".vehicle")).to_have_count(2)


def test_play_goes_on_and_stops(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("faster", "faster", "faster", "play")
    expect(page.locator("#control-play")).to_have_text("Pause")
    while int(page.get_attribute("#frame", "data-step") or 0) < 4:
        page.wait_for_timeout(50)
    one.press("play")
    expect(page.locator("#control-play")).to_have_text("Play")
    page.wait_for_timeout(150)
    step = page.get_attribute("#frame", "data-step")
    page.wait_for_timeout(700)
    assert page.get_attribute("#frame", "data-step") == step
    one.press("play")
    one.at_step(36)
    expect(page.locator("#control-play")).to_have_text("Play")


def test_run_to_a_line(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    gutter = page.locator("#gutter pre").bounding_box()
    assert gutter
    page.mouse.click(gutter["x"] + 8, gutter["y"] + gutter["height"] / 8 * 2.5)
    one.at_step(16)
    page.click("#program")
    page.keyboard.press("Control+Home")
    for _ in range(3):
        page.keyboard.press("ArrowDown")
    expect(page.locator("#control-line")).to_have_text("Run to line 4")
    page.keyboard.press("Escape")
    page.keyboard.press("l")
    one.at_step(24)
    expect(page.locator("#gutter .now")).to_have_count(1)
    page.keyboard.press("l")
    expect(page.locator("#note")).to_contain_text("does not come to line 4 again")


def test_settings_leave_play_alone(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("play")
    for name in ("faster", "faster", "faster", "base", "slower", "movement", "depth"):
        one.press(name)
        expect(page.locator("#control-play")).to_have_text("Pause")
    one.at_step(36)
    one.press("restart", "play", "back")
    expect(page.locator("#control-play")).to_have_text("Play")


def test_a_run_that_never_halts(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil("/explore/")).page
    one.type_program("again: ADD #1\nJUMP again")
    expect(page.locator("#problems")).to_contain_text("Nothing to mend")
    expect(page.locator("#timeline-label")).to_contain_text("it does not stop")
    one.press("end")
    expect(page.locator(".sentence")).to_contain_text("has not stopped after 10000 instructions")
    one.press("back")
    one.at_step(59_999)


# Predicting.


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


def predicting(one: Pupil) -> Page:
    one.tab("predict")
    one.page.check("#predicting")
    expect(one.page.locator("form.ask")).to_be_visible()
    return one.page


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
    expect(page.locator("#question")).to_contain_text("carries out LOAD fare, step 1")


# Tasks.


def test_task_failed_walked_through_and_done(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.tab("task")
    expect(page.locator("#panel-task")).to_contain_text("Output what the passenger types plus")
    page.click("#check-task")
    # The program gives 13 whatever is typed: right by chance for the first input only.
    expect(page.locator("#outcome")).to_contain_text("With inputs 1 the program should give 5")
    page.click("#walk-through")
    expect(page.locator("#inputs")).to_have_value("1")
    one.press("end")
    one.at_step(36)
    one.tab("program")
    one.type_program(one.program.replace("LOAD  fare", "INPUT"))
    one.tab("task")
    page.click("#check-task")
    expect(page.locator("#outcome")).to_contain_text("Done. All 3 cases are right.")


# Work is kept.


def test_nothing_is_lost_on_reload(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.type_program("LOAD #1\nOUTPUT\nHALT")
    page.fill("#inputs", "5")
    expect(page.locator("#problems")).to_contain_text("3 of 16 words")
    one.press("base", "instruction", "forward")
    one.at_step(7)
    page.reload()
    assert one.program == "LOAD #1\nOUTPUT\nHALT"
    one.at_step(7)
    expect(page.locator("#inputs")).to_have_value("5")
    expect(page.locator("#control-base")).to_have_text("Numbers: hexadecimal")
    page.click("#afresh")
    expect(page.locator("#program")).to_have_value(re.compile("LOAD  fare"))
    page.click("text=Bring mine back")
    assert one.program == "LOAD #1\nOUTPUT\nHALT"


def test_no_program_is_lost_by_bringing_another_back(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    lesson = one.program
    one.type_program("LOAD #1\nHALT")
    page.click("#afresh")
    expect(page.locator("#kept")).to_contain_text("as it was at first")
    page.click("#program")
    page.keyboard.press("Control+Home")
    page.keyboard.type("; newer\n")
    # Words and button no longer speak of what was there before the edit.
    expect(page.locator("#kept")).to_contain_text("Your work is kept in this browser.")
    expect(page.locator("text=Bring mine back")).to_have_count(0)
    newer = "; newer\n" + lesson
    back = page.locator("#kept button")
    back.click()
    assert one.program == "LOAD #1\nHALT"
    back.click()
    assert one.program == newer
    # A second fresh start puts this aside too, and loses neither; nor does a reload.
    page.click("#afresh")
    back.click()
    assert one.program == newer
    page.reload()
    seen = set()
    for _ in range(3):
        back.click()
        seen.add(one.program)
    assert seen == {"LOAD #1\nHALT", newer, lesson}


def test_nothing_is_lost_when_the_server_goes(
    folder: Path, new_page: Callable[..., Page], errors: Errors
) -> None:
    with Server(folder) as server:
        page = (one := Pupil(new_page(), server.address).open()).page
        one.type_program("LOAD #1\nHALT")
        expect(page.locator("#problems")).to_contain_text("2 of 16 words")
        one.press("forward")
        one.at_step(1)
        server.kill()
        one.press("forward")
        expect(page.locator("#note")).to_contain_text("Your work is kept in this browser")
        with Server(folder, port=server.port):
            one.press("forward")
            one.at_step(2)
            expect(page.locator("#note")).to_be_hidden()
            assert one.program == "LOAD #1\nHALT"
    errors.forgive("Failed to load resource", "Failed to fetch")


def test_a_link_carries_the_program(
    pupil: Callable[..., Pupil], new_page: Callable[..., Page]
) -> None:
    page = (one := pupil()).page
    one.type_program("LOAD #7 ; größer\nOUTPUT\nHALT")
    page.fill("#inputs", "1 2")
    page.click("#link")
    expect(page.locator("#link-text")).to_have_value(re.compile("#p="))
    link = page.input_value("#link-text")
    assert len(link) < 300
    other = new_page()
    other.goto(link)
    expect(other.locator("#program")).to_have_value("LOAD #7 ; größer\nOUTPUT\nHALT")
    expect(other.locator("#inputs")).to_have_value("1 2")
    expect(other.locator(".row").first).to_contain_text("LOAD #7")
    # What is changed since is not undone by a reload.
    other.fill("#program", "HALT")
    other.reload()
    expect(other.locator("#program")).to_have_value("HALT")
    # A link does not wipe out what the reader had; and a damaged one says so.
    other.goto("about:blank")
    other.goto(link)
    expect(other.locator("#program")).to_have_value("LOAD #7 ; größer\nOUTPUT\nHALT")
    other.click("text=Bring mine back")
    expect(other.locator("#program")).to_have_value("HALT")
    other.goto("about:blank")
    other.goto(link[:-9])
    expect(other.locator("#kept")).to_contain_text("damaged")
    expect(other.locator("#program")).to_have_value("HALT")


def test_download_and_upload(pupil: Callable[..., Pupil], tmp_path: Path) -> None:
    page = (one := pupil()).page
    page.fill("#inputs", "3 8")
    with page.expect_download() as started:
        page.click("#download")
    assert started.value.suggested_filename == "the-ferry-ticket-machine-one-fare-one-bag.txt"
    saved = tmp_path / "mine.txt"
    started.value.save_as(saved)
    text = saved.read_text(encoding="utf-8")
    assert text.startswith("; machine: 8-bit\n; inputs: 3 8\n        LOAD  fare\n")
    before = one.program
    one.type_program("HALT")
    page.set_input_files("#file", saved)
    expect(page.locator("#program")).to_have_value(before)
    expect(page.locator("#inputs")).to_have_value("3 8")
    expect(page.locator("#kept")).to_contain_text("The file is in the editor.")


# For everyone.


def test_by_keyboard_alone(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    page.keyboard.press("w")
    expect(page.locator("#program")).to_be_focused()
    page.keyboard.press("Control+a")
    page.keyboard.type("LOAD #1\nOUTPUT\nHALT")
    expect(page.locator("#problems")).to_contain_text("3 of 16 words")
    page.keyboard.press("Escape")
    expect(page.locator("#control-forward")).to_be_focused()
    page.keyboard.press("Space")
    one.at_step(1)
    page.keyboard.press("ArrowRight")
    one.at_step(2)
    page.keyboard.press("e")
    one.at_step(18)
    page.keyboard.press("w")
    page.keyboard.press("Shift+Tab")
    expect(page.locator("#tab-program")).to_be_focused()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#tab-memory")).to_be_focused()
    expect(page.locator("#word-0")).to_be_visible()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Tab")
    expect(page.locator("#predicting")).to_be_focused()
    page.keyboard.press("?")
    expect(page.locator("#help")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#help")).to_be_hidden()


def test_each_step_is_heard_once(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    page.evaluate(
        """() => {
            window.heard = [];
            const region = document.getElementById("announce");
            const listen = new MutationObserver(() => window.heard.push(region.textContent));
            listen.observe(region, { childList: true });
        }"""
    )
    one.press("forward")
    one.at_step(1)
    one.press("forward")
    one.at_step(2)
    one.press("back")
    one.at_step(1)
    heard = page.evaluate("window.heard")
    assert len(heard) == 3
    assert "The address of the next instruction, 0, is copied" in heard[0]
    assert "Memory is told to read" in heard[1]


@pytest.mark.parametrize("theme", THEMES)
def test_accessible_on_every_tab(pupil: Callable[..., Pupil], theme: str) -> None:
    page = (one := pupil(color_scheme=theme)).page
    assert violations(page) == []
    for tab in ("memory", "task", "card", "predict"):
        one.tab(tab)
        page.wait_for_timeout(200)
        assert violations(page) == [], tab
    page.check("#predicting")
    page.wait_for_selector("form.ask")
    assert violations(page) == []
    page.check("input[name=place][value=PC]")
    page.fill("#say-value", "5")
    page.keyboard.press("Enter")
    page.wait_for_selector("#verdict")
    assert violations(page) == []
    one.tab("program")
    one.type_program("LAOD 5")
    page.wait_for_selector("#problems li")
    assert violations(page) == []


def test_accessible_on_a_phone(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil(viewport={"width": 390, "height": 844})).page
    assert violations(page) == []
    one.press("forward")
    one.at_step(1)
    assert violations(page) == []


def test_on_a_phone_the_machine_and_the_panels_take_turns(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil(viewport={"width": 390, "height": 844}, has_touch=True)).page
    expect(page.locator("#program")).to_be_visible()
    expect(page.locator("#stage")).to_be_hidden()
    one.type_program("LOAD #1\nHALT")
    expect(page.locator("#problems")).to_contain_text("2 of 16 words")
    page.tap("#control-forward")
    one.at_step(1)
    expect(page.locator("#stage")).to_be_visible()
    expect(page.locator("#program")).to_be_hidden()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


SMALL_TEXT = """([root, least]) => {
  const walker = document.createTreeWalker(document.querySelector(root), NodeFilter.SHOW_TEXT);
  const found = [];
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.textContent.trim() || !element.checkVisibility()) continue;
    const size = parseFloat(getComputedStyle(element).fontSize);
    if (size < least) found.push(`${walker.currentNode.textContent.trim()} ${size}`);
  }
  return found;
}"""


def test_text_can_be_read_on_a_laptop(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    one.press("instruction")
    one.at_step(8)
    assert page.evaluate(SMALL_TEXT, ["#stage", 13]) == []
    for tab in ("program", "memory", "predict", "task", "card"):
        one.tab(tab)
        page.wait_for_timeout(150)
        assert page.evaluate(SMALL_TEXT, [f"#panel-{tab}", 15]) == []


@pytest.mark.parametrize(("width", "height"), SIZES[:3])
def test_one_screen_without_scrolling(pupil: Callable[..., Pupil], width: int, height: int) -> None:
    page = (one := pupil(viewport={"width": width, "height": height})).page
    one.press("end")
    one.at_step(36)
    scrolls = "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
    assert page.evaluate(scrolls) == [width, height]
    for name in ("#stage", ".caption", "#control-end", "#timeline", "#tab-card", "#control-help"):
        box = page.locator(name).bounding_box()
        assert box and box["x"] >= 0 and box["y"] >= 0, name
        assert box["x"] + box["width"] <= width and box["y"] + box["height"] <= height, name
    # The words of the caption stay in it.
    words, caption = page.locator(".words").bounding_box(), page.locator(".caption").bounding_box()
    assert words and caption and words["height"] <= caption["height"]


def test_what_will_not_be_run_to_is_said(pupil: Callable[..., Pupil]) -> None:
    page = (one := pupil()).page
    page.click("#program")
    page.keyboard.press("Control+End")
    page.keyboard.press("ArrowUp")
    one.press("line")
    expect(page.locator("#note")).to_contain_text("is data, so the machine never carries it out")


def test_the_card_is_the_instruction_table(pupil: Callable[..., Pupil]) -> None:
    from app.machine.instructions import INSTRUCTIONS

    page = (one := pupil()).page
    one.tab("card")
    rows = page.locator(".card tbody tr")
    expect(rows).to_have_count(len(INSTRUCTIONS))
    assert rows.locator("th").all_inner_texts() == [each.written for each in INSTRUCTIONS]


def test_a_pupil_who_has_never_seen_it(pupil: Callable[..., Pupil]) -> None:
    """Change a program, break it, read why, mend it, predict three steps, complete the task:
    with what is on the screen alone, by its names."""
    page = (one := pupil()).page
    editor = page.get_by_role("textbox", name="Program")
    editor.fill(one.program.replace("LOAD  fare", "INPTU"))
    expect(page.get_by_text("Did you mean INPUT?")).to_be_visible()
    page.get_by_role("button", name="Line 1", exact=True).click()
    page.keyboard.type("INPUT")
    expect(page.get_by_text("Nothing to mend.")).to_be_visible()
    page.get_by_role("tab", name="Predict").click()
    page.get_by_label("Ask me before each step what will happen").check()
    for place, value in (
        ("Memory address register", "0"),
        ("Memory data register", bits("INPUT")),
        ("Current instruction register", bits("INPUT")),
    ):
        page.get_by_label(place).check()
        field = page.get_by_label("What will it hold then?")
        if value == "0":
            field.fill(value)
        else:
            page.locator("label", has_text=value).get_by_role("radio").check()
        page.get_by_role("button", name="That is my prediction").click()
        expect(page.get_by_role("heading", name="Right.")).to_be_visible()
        if "Current" not in place:
            page.get_by_role("button", name="Next question").click()
    page.get_by_role("tab", name="Task").click()
    page.get_by_role("button", name="Check my program").click()
    expect(page.get_by_text("Done.")).to_be_visible()


def test_a_busy_server_says_what_to_do(pupil: Callable[..., Pupil], errors: Errors) -> None:
    one = pupil().open()
    said = "Many are trying their programs at this moment. Press again."
    one.page.route(
        "**/explore/press",
        lambda route: route.fulfill(
            status=503, body=f'<p class="refusal">{said}</p>', content_type="text/html"
        ),
    )
    one.page.locator('button[value="forward"]').first.click()
    expect(one.page.locator("#note")).to_have_text(said)
    # The machine stays in sight.
    expect(one.page.locator("#frame")).to_be_visible()
    errors.forgive("status of 503")
