"""Writing a lesson in a real browser: with the keyboard alone, by pointing, and on a phone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from app.lesson.file.reader import read_lesson
from tests.browser.conftest import Errors
from tests.browser.judge import violations
from tests.server import Server

LESSON = """---
title: The till
machine: 8-bit
---

# Nine and four

```program
        LOAD  adults
        ADD   kids
        OUTPUT
        HALT
adults: 9
kids:   4
```
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("own")


@pytest.fixture(scope="module")
def own_server(folder: Path) -> Iterator[Server]:
    (folder / "till.md").write_text(LESSON, encoding="utf-8")
    with Server(folder) as running:
        yield running


@pytest.fixture
def page(own_server: Server, new_page: Callable[..., Page], folder: Path) -> Page:
    """The page on which a fresh lesson is written."""
    number = len(list(folder.glob("*.md")))
    (folder / f"till-{number}.md").write_text(LESSON, encoding="utf-8")
    page = new_page(reduced_motion="reduce")
    page.goto(f"{own_server.address}/lessons/till-{number}/write")
    return page


def text(page: Page) -> str:
    return page.locator("#text").input_value()


def file_of(page: Page, folder: Path) -> Path:
    return folder / f"{page.url.split('/')[-2]}.md"


def test_a_lesson_with_the_keyboard_alone(page: Page, folder: Path) -> None:
    """Two scenes, cues, questions and a task, and nothing is touched but keys."""
    keys = page.keyboard
    note = page.locator("#note")
    page.locator("#text").focus()
    keys.press("Control+Home")
    keys.press("Control+Enter")
    expect(page.locator("#words")).to_be_focused()
    keys.type("Two numbers wait in main memory.")
    keys.press("Enter")
    expect(note).to_contain_text("Written in line")
    expect(page.locator("#screen .sentence")).to_have_text("Two numbers wait in main memory.")
    # The cursor's line takes the board with it.
    for _ in range(2):
        keys.press("Control+Home")
    for _ in range(9):
        keys.press("ArrowDown")
    expect(page.locator("#screen .position")).to_have_text("Instruction 2 · step 8")
    keys.press("Control+Enter")
    expect(page.locator("#words")).to_be_focused()
    keys.type("The sum is there.")
    keys.press("Enter")
    expect(page.locator("#screen .sentence")).to_have_text("The sum is there.")
    # Escape leads to the board; its keys step it, and the marks go with it.
    page.locator("#text").focus()
    keys.press("Escape")
    expect(page.locator("#way-forward")).to_be_focused()
    keys.press("ArrowLeft")
    expect(page.locator("#screen .position")).to_have_text("Instruction 2 · step 7")
    expect(page.locator("#gutter .now")).to_have_count(1)
    keys.press("a")
    expect(page.locator("#subject")).to_be_focused()
    expect(page.locator(".answers-here .right")).to_contain_text("is right")
    page.locator("#prompt").focus()
    keys.press("Enter")
    expect(page.locator("#here")).to_contain_text("Asked here")
    for name, keyed in (("A scene", "Your turn"),):
        page.get_by_role("button", name=name).focus()
        keys.press("Enter")
        expect(page.locator("#scene-title")).to_be_focused()
        keys.type(keyed)
        keys.press("Enter")
    expect(page.locator("#screen .scene")).to_contain_text("Your turn")
    page.get_by_role("button", name="A task").focus()
    keys.press("Space")
    expect(page.locator("#goal")).to_be_focused()
    keys.type("Show the number that is typed.")
    keys.press("Tab")
    keys.press("Control+a")
    keys.type("INPUT\nOUTPUT\nHALT")
    keys.press("Tab")
    keys.type("3\n-5")
    keys.press("Tab")
    keys.press("Enter")
    expect(page.locator("#panel")).to_be_hidden()
    assert "input 3 gives 3\ninput -5 gives -5\n" in text(page)
    keys.press("Control+s")
    expect(page.locator("#kept")).to_contain_text("Saved as")
    made = file_of(page, folder).read_text(encoding="utf-8")
    assert made == text(page)
    assert not read_lesson("till", made).faults


def test_pointing_and_the_way_back_over_everything(page: Page) -> None:
    page.locator("#stage .at-output").click()
    expect(page.locator("#stage .at-output")).to_have_count(0)
    assert "```show\neverything but output\n```" in text(page)
    fold = page.locator("#parts-fold summary")
    expect(fold).to_contain_text("not output")
    fold.click()
    page.locator("#part-output").click()
    expect(page.locator("#stage .at-output")).to_have_count(1)
    # What is shown is chosen from what is there, one after the other.
    expect(fold).to_contain_text("all")
    expect(page.locator("#part-output")).to_be_visible()
    page.locator("#text").focus()
    page.keyboard.press("Control+End")
    page.keyboard.type("A note.")
    for _ in range(3):
        page.keyboard.press("Control+z")
    expect(page.locator("#undo")).to_be_disabled()
    assert text(page) == LESSON
    page.locator("#redo").click()
    expect(page.locator("#stage .at-output")).to_have_count(0)


# How high the text is, and how high the rows of numbers beside it are: the same, where each number
# stands beside its line.
BESIDE = """() => {
  const text = document.getElementById("text");
  const style = getComputedStyle(text);
  const padding = parseFloat(style.paddingTop) + parseFloat(style.paddingBottom);
  const rows = document.querySelector("#gutter pre").textContent.split("\\n");
  return [text.scrollHeight - padding, rows.length * parseFloat(style.lineHeight), rows,
    text.scrollWidth - text.clientWidth];
}"""


def test_long_lines_wrap_with_their_numbers_beside_them(page: Page) -> None:
    long = "A note that is longer than a row, " * 9
    area = page.locator("#text")
    area.fill(LESSON.replace("# Nine and four\n", f"# Nine and four\n\n{long}\n" + "\n" * 30))
    expect(page.locator("#gutter .now")).to_have_count(1)
    page.locator("#say").click()
    page.locator("#words").fill("Words that are said, and that take more than a row. " * 3)
    page.keyboard.press("Enter")
    expect(page.locator("#note")).to_contain_text("Written in line")
    for width in (1366, 1100):
        page.set_viewport_size({"width": width, "height": 768})
        page.wait_for_function(
            f"() => {{ const [a, b] = ({BESIDE})(); return Math.abs(a - b) < 2; }}"
        )
        high, beside, rows, hidden = page.evaluate(BESIDE)
        assert abs(high - beside) < 2 and hidden <= 0
        assert rows.count("") > 3
        assert [each for each in rows if each] == [
            str(n + 1) for n in range(text(page).count("\n") + 1)
        ]
    # The number that is pressed is that of the line, and its mark covers all of its rows.
    number = page.locator("#gutter pre").evaluate(
        "each => each.textContent.split('\\n').indexOf('9')"
    )
    line = page.evaluate("parseFloat(getComputedStyle(document.getElementById('text')).lineHeight)")
    page.locator("#text").evaluate("each => { each.scrollTop = 0; }")
    page.locator("#gutter").click(position={"x": 12, "y": number * line + line})
    assert (
        page.evaluate(
            "document.getElementById('text').value.slice(0, "
            "document.getElementById('text').selectionStart).split('\\n').length"
        )
        == 9
    )


def test_the_run_with_the_keyboard_and_a_file_that_changes_meanwhile(
    page: Page, folder: Path
) -> None:
    keys = page.keyboard
    run = page.locator("#run")
    run.get_by_role("button", name="start").focus()
    expect(run.locator("[tabindex='0']")).to_have_count(1)
    for key in ("ArrowDown", "ArrowRight", "ArrowDown", "Enter"):
        keys.press(key)
    expect(page.locator("#screen .position")).to_have_text("Instruction 2 · step 5")
    here = run.get_by_role("button", name="decode, instruction 2")
    expect(here).to_have_attribute("aria-current", "step")
    expect(here).to_be_focused()
    keys.press("h")
    page.locator("#words").fill("The opcode says what to do.")
    keys.press("Enter")
    expect(run.locator("#run-2")).to_contain_text("The opcode says what to do.")
    # A click gives the arrows to the board.
    run.get_by_role("button", name="fetch, instruction 3").click()
    keys.press("ArrowRight")
    expect(page.locator("#screen .position")).to_have_text("Instruction 3 · step 5")
    page.locator("#save").click()
    expect(page.locator("#kept")).to_contain_text("Saved as")
    file = file_of(page, folder)
    file.write_text(file.read_text(encoding="utf-8").replace("Nine", "Ten"), encoding="utf-8")
    page.evaluate("dispatchEvent(new Event('focus'))")
    expect(page.locator("#note")).to_contain_text("changed elsewhere")
    expect(page.locator("#screen .scene")).to_contain_text("Ten")
    # What is not saved is another thing: it is told, and nothing is lost.
    page.locator("#text").press_sequentially("x")
    expect(page.locator("#kept")).to_contain_text("Not saved yet")
    file.write_text(LESSON, encoding="utf-8")
    page.evaluate("dispatchEvent(new Event('focus'))")
    expect(page.locator("#note")).to_contain_text("Save to see both")


def test_own_wrong_answers_with_their_reasons(page: Page) -> None:
    page.locator("#text").focus()
    for _ in range(9):
        page.keyboard.press("ArrowDown")
    page.keyboard.press("Alt+ArrowLeft")
    expect(page.locator("#screen .position")).to_be_visible()
    page.locator("#way-restart").click()
    expect(page.locator("#screen .position")).to_have_text("At the start")
    for _ in range(5):
        page.locator("#way-forward").click()
    expect(page.locator("#screen .position")).to_have_text("Instruction 1 · step 5")
    page.locator("#ask").click()
    # What is unfolded while the form is on its way once more stays so.
    held: list[Route] = []
    page.route("**/panel", lambda route: held.append(route))
    page.get_by_label("What is asked about").select_option("the accumulator")
    page.get_by_text("Own wrong answers").click()
    assert "9 is right" not in page.locator("#worked-out").inner_text()
    held[0].continue_()
    page.unroute("**/panel")
    expect(page.locator("#worked-out")).to_contain_text("9 is right")
    page.get_by_label("Wrong answer 1").fill("4")
    page.get_by_label("Why answer 1 is wrong").fill("that is its address")
    page.get_by_label("Wrong answer 2").fill("13")
    page.get_by_role("button", name="Write it").click()
    expect(page.locator("#here")).to_contain_text("Asked here")
    assert "choices: 9\n  or 4 because that is its address\n  or 13\n" in text(page)


def test_a_program_is_typed_without_the_editor_moving(page: Page) -> None:
    """A new line starts below the one before, and problems take no room from the editor."""
    height = page.locator("#editor").bounding_box()
    area = page.locator("#text")
    area.focus()
    page.keyboard.press("Control+Home")
    for _ in range(8):
        page.keyboard.press("ArrowDown")
    page.keyboard.press("End")
    page.keyboard.press("Enter")
    page.keyboard.type("HOLT")
    line = text(page).split("\n")[8]
    indent = line[: len(line) - len(line.lstrip())]
    assert indent and f"{line}\n{indent}HOLT\n" in text(page)
    expect(page.locator("#problems")).to_contain_text("HOLT")
    assert page.locator("#editor").bounding_box() == height
    # Its end stands at the margin: below an indented line it would not be one.
    page.keyboard.press("Enter")
    page.keyboard.type("```")
    assert f"{line}\n{indent}HOLT\n```\n" in text(page)
    # What is said is never too long without a word.
    page.locator("#text").fill(LESSON)
    page.locator("#way-instruction").click()
    page.locator("#ask").click()
    told = page.locator("#panel .lead").first
    later = told.inner_text()
    page.get_by_role("button", name="Ask one step earlier").click()
    expect(told).not_to_have_text(later)
    page.locator("#say").click()
    page.locator("#words").fill("x" * 192)
    expect(page.locator(".room")).to_contain_text("2 letters more")
    page.locator("#words").fill("x" * 190)
    expect(page.locator(".room")).to_be_empty()


def test_what_is_typed_while_an_answer_is_on_its_way_stays(page: Page) -> None:
    """Where the cursor goes is asked about without the text: its answer has the one of before."""
    held: list[Route] = []
    page.locator("#text").focus()
    page.keyboard.press("Control+End")
    page.route("**/now", lambda route: held.append(route))
    page.keyboard.press("Control+Home")
    with page.expect_request("**/now"):
        page.keyboard.press("ArrowDown")
    page.keyboard.type("age: 11")
    page.keyboard.press("Enter")
    with page.expect_response("**/now"):
        held[0].continue_()
    page.unroute("**/now")
    expect(page.locator("#kept")).to_contain_text("Not saved yet")
    page.locator("#way-forward").click()
    expect(page.locator("#screen .position")).to_contain_text("step 1")
    assert text(page) == LESSON.replace("title", "age: 11\ntitle", 1)
    expect(page.locator("#kept")).to_contain_text("Not saved yet")


def test_what_is_typed_outlives_the_window(page: Page) -> None:
    page.locator("#text").focus()
    page.keyboard.press("Control+End")
    page.keyboard.type("Not yet saved.")
    expect(page.locator("#kept")).to_contain_text("Not saved yet")
    page.reload()
    expect(page.locator("#text")).to_have_value(LESSON + "Not yet saved.")


def test_the_last_letters_are_there_when_the_page_is_loaded_again(page: Page) -> None:
    """Loaded in the same moment, the page is made without them, and nobody answers what is sent."""
    page.locator("#text").focus()
    page.keyboard.press("Control+End")
    page.route("**/write/now", lambda route: None)
    page.keyboard.type("Just now.")
    page.reload()
    page.unroute("**/write/now")
    expect(page.locator("#text")).to_have_value(LESSON + "Just now.")
    page.locator("#text").focus()
    page.keyboard.press("Control+End")
    page.keyboard.type(" And now.")
    page.locator("#save").click()
    expect(page.locator("#note")).to_have_text("Saved.")
    page.reload()
    expect(page.locator("#text")).to_have_value(LESSON + "Just now. And now.")


def test_another_machine_takes_neither_the_cursor_nor_a_letter_away(page: Page) -> None:
    area = page.locator("#text")
    area.focus()
    page.keyboard.press("Control+Home")
    for _ in range(2):
        page.keyboard.press("ArrowDown")
    page.keyboard.press("End")
    for _ in range(len("8-bit")):
        page.keyboard.press("Backspace")
    with page.expect_response("**/16-bit.css"):
        page.keyboard.type("16-bit")
    page.keyboard.type("\ncache: 4 lines of 4 words")
    watching = page.locator("link[href*='watching.css']")
    expect(watching).to_have_count(1)
    expect(page.locator("link[href*='8-bit.css']")).to_have_count(0)
    expect(page.locator("#stage.machine-16-bit")).to_be_visible()
    expect(area).to_be_focused()
    page.keyboard.type(", 2-way")
    assert "machine: 16-bit\ncache: 4 lines of 4 words, 2-way\n---" in text(page)


def test_a_second_press_does_nothing_while_the_first_is_on_its_way(page: Page) -> None:
    held: list[Route] = []
    page.locator("#say").click()
    page.locator("#words").fill("Two numbers wait.")
    page.keyboard.press("Enter")
    note = page.locator("#note")
    expect(note).to_contain_text("Written in line")
    page.locator("#ask").click()
    page.route("**/write/do", lambda route: held.append(route))
    write = page.locator("#panel .first")
    write.click()
    write.click()
    held[0].continue_()
    page.unroute("**/write/do")
    expect(page.locator("#here")).to_contain_text("Asked here")
    assert len(held) == 1 and text(page).count("```question") == 1
    page.locator("#here [data-change=unsay]").dblclick()
    expect(note).to_contain_text("The cue was taken away.")
    expect(page.locator("#here")).to_contain_text("Asked here")
    assert "Two numbers wait." not in text(page) and text(page).count("```question") == 1


def test_letters_of_this_moment_are_written_before_what_is_done_with_them(page: Page) -> None:
    bodies: list[dict[str, object]] = []
    page.on(
        "request", lambda each: bodies.append(each.post_data_json) if "/do" in each.url else None
    )
    page.evaluate(
        """() => {
          const area = document.getElementById("text");
          area.setRangeText("A note.", area.value.length, area.value.length, "end");
          area.dispatchEvent(new Event("input", { bubbles: true }));
          document.querySelector("#stage .at-output").dispatchEvent(
            new MouseEvent("click", { bubbles: true }));
        }"""
    )
    expect(page.locator("#note")).to_contain_text("hidden from here on")
    first, second = bodies
    assert first.pop("text") == LESSON + "A note." and "text" not in second
    assert first.pop("version") != second.pop("version") and first == second
    assert "everything but output" in text(page) and text(page).endswith("\nA note.")
    page.keyboard.press("Control+z")
    expect(page.locator("#stage .at-output")).to_have_count(1)
    assert text(page) == LESSON + "A note."


def test_the_cursor_stays_between_its_letters(page: Page) -> None:
    """After the way back it is where something was changed, and else where it was in the words."""
    caret = "document.getElementById('text').selectionStart"
    end = LESSON.index("The till") + len("The till")
    area = page.locator("#text")
    area.focus()
    area.evaluate("(area, at) => area.setSelectionRange(at, at)", end)
    page.keyboard.type(" again")
    page.keyboard.press("Control+z")
    expect(page.locator("#redo")).to_be_enabled()
    assert text(page) == LESSON and page.evaluate(caret) == end
    page.keyboard.press("Control+y")
    expect(page.locator("#redo")).to_be_disabled()
    assert page.evaluate(caret) == end + len(" again")
    # Another window writes above it.
    other = page.context.new_page()
    other.goto(page.url)
    other.locator("#text").fill(text(page).replace("title", "age: 11\ntitle", 1))
    expect(other.locator("#kept")).to_contain_text("Not saved yet")
    page.bring_to_front()
    page.evaluate("dispatchEvent(new Event('focus'))")
    expect(page.locator("#note")).to_contain_text("changed elsewhere")
    assert page.evaluate(caret) == end + len("age: 11\n again")


def test_what_is_half_changed_comes_back_to_that_question_alone(page: Page) -> None:
    for prompt in ("What comes?", "And then?"):
        page.locator("#ask").click()
        page.locator("#prompt").fill(prompt)
        page.locator("#prompt").press("Enter")
        expect(page.locator("#here")).to_contain_text(prompt)
    change = page.locator("#here [data-panel=ask]")
    expect(change).to_have_count(2)
    change.first.click()
    page.locator("#prompt").fill("Half changed?")
    page.locator("#prompt").press("Escape")
    change.first.click()
    expect(page.locator("#prompt")).to_have_value("Half changed?")
    expect(page.locator("#panel")).to_contain_text("What you had typed is back.")
    page.locator("#prompt").press("Escape")
    # It is taken away, and the other one comes to stand in its lines.
    page.locator("#here [data-change=unask]").first.click()
    expect(change).to_have_count(1)
    change.click()
    expect(page.locator("#prompt")).to_have_value("And then?")


def test_the_speed_is_that_of_the_step_on_the_board(page: Page) -> None:
    speed = page.locator("#speed")
    for step in (1, 2):
        page.locator("#way-forward").click()
        expect(page.locator("#screen .position")).to_contain_text(f"step {step}")
    speed.select_option("2")
    expect(page.locator("#note")).to_contain_text("Speed 2 from here on.")
    page.locator("#way-back").click()
    expect(speed).to_have_value("1")
    page.locator("#way-forward").click()
    expect(page.locator("#screen .position")).to_contain_text("step 2")
    expect(speed).to_have_value("2")
    page.locator("#undo").click()
    expect(speed).to_have_value("1")


def test_a_fault_stands_at_its_line_and_leads_there(page: Page) -> None:
    page.locator("#text").fill(LESSON.replace("HALT", "HOLT"))
    expect(page.locator("#gutter .fault")).to_have_count(1)
    expect(page.locator("#problems")).to_contain_text("Line 12")
    page.get_by_role("button", name="Line 12").click()
    expect(page.locator("#text")).to_be_focused()
    assert page.evaluate("getSelection().toString()") == "HOLT"
    expect(page.locator("#stage #frame")).to_have_count(1)
    assert violations(page) == []


def test_both_versions_are_shown_where_the_file_has_changed(
    page: Page, folder: Path, errors: Errors
) -> None:
    page.locator("#text").fill(LESSON.replace("Nine", "Ten"))
    expect(page.locator("#screen .scene")).to_contain_text("Ten")
    theirs = LESSON.replace("kids:   4", "kids:   5")
    file_of(page, folder).write_text(theirs, encoding="utf-8")
    page.locator("#save").click()
    expect(page.locator("#choose fieldset")).to_have_count(2)
    assert file_of(page, folder).read_text(encoding="utf-8") == theirs
    page.locator("#choose [value=theirs]").last.check()
    page.get_by_role("button", name="Keep what I chose").click()
    expect(page.locator("#choose")).to_have_count(0)
    page.locator("#save").click()
    expect(page.locator("#kept")).to_contain_text("Saved as")
    both = LESSON.replace("Nine", "Ten").replace("kids:   4", "kids:   5")
    assert file_of(page, folder).read_text(encoding="utf-8") == both
    # That it could not be saved at once is told as an error by the browser, rightly.
    errors.forgive("409")


@pytest.mark.parametrize("way", ["save", "not now"])
def test_nothing_is_saved_before_one_of_two_versions_was_chosen(
    page: Page, folder: Path, errors: Errors, way: str
) -> None:
    theirs = LESSON.replace("kids:   4", "kids:   5")
    file = file_of(page, folder)
    file.write_text(theirs, encoding="utf-8")
    page.locator("#text").focus()
    page.keyboard.press("Control+End")
    page.keyboard.type("A note.")
    expect(page.locator("#choose fieldset")).to_have_count(2)
    expect(page.locator("#kept")).to_contain_text("Not saved")
    if way == "not now":
        page.get_by_role("button", name="Not now").click()
    page.locator("#save").click()
    expect(page.locator("#note")).to_contain_text("Not saved")
    expect(page.locator("#choose fieldset")).to_have_count(2)
    page.locator("#text").focus()
    page.keyboard.press("Control+End")
    page.keyboard.type(" More.")
    page.keyboard.press("Control+s")
    expect(page.locator("#choose")).to_contain_text("A note. More.")
    assert file.read_text(encoding="utf-8") == theirs
    # What only the file has changed is proposed as the file has it, and the note as it is here.
    page.get_by_role("button", name="Keep what I chose").click()
    expect(page.locator("#choose")).to_have_count(0)
    expect(page.locator("#note")).to_contain_text("not saved yet")
    expect(page.locator("#text")).to_have_value(theirs + "A note. More.")
    page.locator("#save").click()
    expect(page.locator("#kept")).to_contain_text("Saved as")
    assert file.read_text(encoding="utf-8") == theirs + "A note. More."
    errors.forgive("409")


def test_a_form_goes_with_the_board_and_keeps_what_is_typed(page: Page) -> None:
    page.locator("#way-forward").click()
    page.locator("#way-forward").click()
    page.locator("#say").click()
    expect(page.locator("#panel")).to_contain_text("at step 2")
    page.locator("#words").fill("Half a sentence")
    page.locator("#way-forward").click()
    expect(page.locator("#panel")).to_contain_text("at step 3")
    expect(page.locator("#words")).to_have_value("Half a sentence")
    # Neither the key that closes it nor the end of the window takes it away.
    page.keyboard.press("Escape")
    page.locator("#say").focus()
    page.reload()
    page.locator("#way-forward").click()
    page.locator("#say").click()
    expect(page.locator("#words")).to_have_value("Half a sentence")
    page.get_by_role("button", name="Write it").click()
    expect(page.locator("#screen .sentence")).to_have_text("Half a sentence")
    expect(page.locator("#screen .position")).to_have_text("Instruction 1 · step 1")
    # A cue goes to the moment to which the board goes while its form is open.
    page.get_by_role("button", name="Change the words or the moment").click()
    page.locator("#way-instruction").click()
    expect(page.locator("#panel")).to_contain_text("at step 8")
    page.locator("#panel [name=place]").nth(1).check()
    page.get_by_role("button", name="Write it").click()
    expect(page.locator("#screen .sentence")).to_have_text("Half a sentence")
    expect(page.locator("#screen .position")).not_to_have_text("Instruction 1 · step 1")
    # What was written is half typed no more.
    page.locator("#way-forward").click()
    expect(page.locator("#note")).to_have_text("")
    page.locator("#say").click()
    expect(page.locator("#words")).to_have_value("")


def test_what_cannot_be_done_looks_so_and_says_so(page: Page, errors: Errors) -> None:
    note = page.locator("#note")
    for _ in range(4):
        page.locator("#way-instruction").click()
    forward = page.locator("#way-forward")
    expect(forward).to_have_attribute("aria-disabled", "true")
    forward.click(force=True)
    expect(note).to_have_text("The scene ends here.")
    page.locator("#say").click()
    page.locator("#words").fill("[Done]")
    page.get_by_role("button", name="Write it").click()
    expect(page.locator("#panel .wrong")).not_to_have_text("")
    expect(note).to_have_text("")
    page.locator("#words").fill("Done.")
    page.get_by_role("button", name="Write it").click()
    expect(note).to_contain_text("Written in line")
    page.locator("#undo").click()
    expect(page.locator("#text")).to_have_value(LESSON)
    expect(note).to_have_text("")
    page.locator("#text").fill(LESSON.replace("kids:   4", "kids:   5"))
    expect(page.locator("#kept")).to_contain_text("Not saved yet")
    page.get_by_role("button", name="Teach").click()
    expect(note).to_contain_text("Teach again")
    page.locator("#text").fill(LESSON.replace("HALT", "HOLT"))
    for each in ("#say", "#ask"):
        expect(page.locator(each)).to_have_attribute("aria-disabled", "true")
    errors.forgive("422")


def test_every_form_is_accessible(page: Page, errors: Errors) -> None:
    page.locator("#way-instruction").click()
    for name in (
        "Say something here",
        "Ask what follows",
        "A scene",
        "Inputs",
        "A task",
        "About this lesson",
        "Which words?",
    ):
        page.get_by_role("button", name=name).click()
        expect(page.locator("#panel h2")).to_be_visible()
        assert violations(page) == [], name
        # Only what is under the board scrolls, never the page.
        assert page.evaluate("[scrollY, document.documentElement.scrollHeight]") == [0, 768]
        page.keyboard.press("Escape")
        expect(page.locator("#panel")).to_be_hidden()


def test_on_a_phone_a_fault_can_be_mended(
    own_server: Server, new_page: Callable[..., Page], folder: Path
) -> None:
    file = folder / "phone.md"
    file.write_text(LESSON.replace("HALT", "HOLT"), encoding="utf-8")
    page = new_page(viewport={"width": 390, "height": 844}, has_touch=True)
    page.goto(f"{own_server.address}/lessons/phone/write")
    expect(page.locator("#problems")).to_contain_text("Line 12")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.locator("#text").fill(LESSON)
    expect(page.locator("#problems")).to_contain_text("Nothing is wrong")
    expect(page.locator("#stage #frame")).to_have_count(1)
    page.locator("#save").tap()
    expect(page.locator("#kept")).to_contain_text("Saved as")
    assert file.read_text(encoding="utf-8") == LESSON
    assert violations(page) == []
    # The keys that move the board cover nothing that stands over the board.
    forward = page.locator("#way-forward")
    words = page.get_by_role("button", name="Which words?")
    for top in range(0, page.evaluate("document.body.scrollHeight"), 150):
        page.evaluate("(top) => scrollTo(0, top)", top)
        here, bar = words.bounding_box(), page.locator(".steps").bounding_box()
        assert here and bar and here["y"] + here["height"] <= bar["y"], top
    # The key that moves the board stays under the finger, whatever comes above it.
    page.locator("#screen .position").scroll_into_view_if_needed()
    page.evaluate("document.querySelector('.page-of-board').scrollIntoView()")
    place = forward.bounding_box()
    for step in (1, 2, 3):
        forward.tap()
        expect(page.locator("#screen .position")).to_have_text(f"Instruction 1 · step {step}")
        assert forward.bounding_box() == place
    expect(forward).to_be_in_viewport()
