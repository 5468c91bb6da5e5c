"""What a pupil is asked to program, from the first look to the last case."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Route, expect

from tests.browser.conftest import Errors
from tests.browser.explore.pupil import LESSON, Pupil
from tests.codes import bits


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


def test_what_a_task_had_achieved_is_kept_and_stands_for_its_program(
    pupil: Callable[..., Pupil],
) -> None:
    page = (one := pupil()).page
    done = one.program.replace("LOAD  fare", "INPUT")
    one.type_program(done)
    one.tab("task")
    page.click("#check-task")
    expect(page.locator("#outcome")).to_contain_text("Done.")
    expect(page.locator("#tab-task")).to_have_text("Task \N{CHECK MARK}")
    page.reload()
    one.tab("task")
    expect(page.locator("#achieved")).to_contain_text("This program has done the task.")
    page.click("#check-task")
    expect(page.locator("#outcome")).to_contain_text("Done.")
    one.tab("program")
    one.type_program(done + "\n; and more")
    one.tab("task")
    # What was said of the program before is not said of this one.
    expect(page.locator("#outcome")).not_to_contain_text("Done.")
    expect(page.locator("#tab-task")).to_have_text("Task")
    expect(page.locator("#achieved")).to_contain_text("The program has been changed since.")
    page.get_by_role("button", name="Bring that program back").click()
    assert one.program == done
    expect(page.locator("#tab-task")).to_have_text("Task \N{CHECK MARK}")


def test_a_task_in_the_place_of_another_is_not_done_yet(
    pupil: Callable[..., Pupil], folder: Path
) -> None:
    file = folder / "changing.md"
    file.write_text(LESSON, encoding="utf-8")
    page = (one := pupil("/explore/changing/1")).page
    one.type_program(one.program.replace("LOAD  fare", "INPUT"))
    one.tab("task")
    page.click("#check-task")
    expect(page.locator("#tab-task")).to_have_text("Task \N{CHECK MARK}")
    file.write_text(LESSON.replace("9 gives 13", "9 gives 5"), encoding="utf-8")
    page.reload()
    one.tab("task")
    expect(page.locator("#outcome")).to_contain_text("The machine tries your program")
    expect(page.locator("#tab-task")).to_have_text("Task")
    expect(page.locator("#achieved")).to_have_text("")


def test_who_is_not_counted_reads_why(pupil: Callable[..., Pupil], errors: Errors) -> None:
    """The program has done the task all the same."""
    page = (one := pupil()).page
    said = "The class is full: too many have joined already."

    def proved(route: Route) -> None:
        answer = route.fetch()
        headers = {**answer.headers, "task-done": "/class/AAAAA/done a-proof"}
        route.fulfill(response=answer, headers=headers)

    def refused(route: Route) -> None:
        body = f'<p class="refusal">{said}</p>'
        route.fulfill(status=409, body=body, content_type="text/html")

    page.route("**/task?*", proved)
    page.route("**/class/AAAAA/done", refused)
    one.type_program(one.program.replace("LOAD  fare", "INPUT"))
    one.tab("task")
    page.click("#check-task")
    expect(page.locator("#outcome")).to_contain_text("Done.")
    expect(page.locator("#achieved")).to_contain_text(said)
    one.tab("program")
    one.type_program("HALT")
    expect(page.locator("#achieved")).not_to_contain_text(said)
    errors.forgive("status of 409")
