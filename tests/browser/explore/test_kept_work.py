"""A pupil's work is kept: over a reload, a lost server, in a link and in a file."""

from __future__ import annotations

import base64
import re
import zlib
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.board import NO_STORAGE
from tests.browser.conftest import Errors
from tests.browser.explore.pupil import FERRY, LESSON, Pupil
from tests.server import Server


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


def test_a_browser_that_keeps_nothing_says_so(
    new_page: Callable[..., Page], own_server: Server
) -> None:
    page = new_page(reduced_motion="reduce")
    page.add_init_script(NO_STORAGE)
    one = Pupil(page, own_server.address).open(FERRY)
    one.type_program("LOAD #1\nOUTPUT\nHALT")
    expect(page.locator("#kept")).to_contain_text("This browser cannot keep your work")
    one.press("forward")
    one.at_step(1)


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
    # So does one that unpacks to what fills a computer, or to something else (RFC 1951).
    for words, why in ((" " * 5_000_000, "RangeError"), ("7", "."), ('{"a": 1}', ".")):
        squeezed = zlib.compressobj(9, zlib.DEFLATED, -15)
        packed = squeezed.compress(words.encode()) + squeezed.flush()
        letters = base64.urlsafe_b64encode(packed).decode().rstrip("=")
        other.goto("about:blank")
        other.goto(f"{link.split('#')[0]}#p={letters}")
        expect(other.locator("#kept")).to_contain_text(re.compile(f"damaged.*{re.escape(why)}"))
        expect(other.locator("#program")).to_have_value("HALT")


def test_download_and_upload(pupil: Callable[..., Pupil], tmp_path: Path) -> None:
    page = (one := pupil()).page
    page.fill("#inputs", "3 8")
    with page.expect_download() as started:
        page.click("#download")
    assert started.value.suggested_filename == "the-ferry-ticket-machine-one-fare-one-bag.txt"
    for title, name in (("Δύο θέσεις: 2", "δύο-θέσεις-2.txt"), ("?!", "program.txt")):
        page.evaluate("title => { document.title = title + ' · your machine'; }", title)
        with page.expect_download() as another:
            page.click("#download")
        assert another.value.suggested_filename == name
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


def test_a_file_comes_back_as_it_went(pupil: Callable[..., Pupil], tmp_path: Path) -> None:
    """Its first lines are the machine and the inputs; a comment that looks like them is none."""
    page = (one := pupil()).page
    program = "; inputs: two ages\n; machine: any\nINPUT\nHALT"
    one.type_program(program)
    page.fill("#inputs", "3 8")
    with page.expect_download() as started:
        page.click("#download")
    saved = tmp_path / "mine.txt"
    started.value.save_as(saved)
    one.type_program("HALT")
    page.set_input_files("#file", saved)
    expect(page.locator("#program")).to_have_value(program)
    expect(page.locator("#inputs")).to_have_value("3 8")
    # One that was too large can be chosen again once it is smaller.
    saved.write_text("HALT\n" * 20_000, encoding="utf-8")
    page.set_input_files("#file", saved)
    expect(page.locator("#kept")).to_contain_text("too large")
    expect(page.locator("#file")).to_have_value("")


def test_a_program_that_was_not_changed_is_that_of_the_lesson(
    pupil: Callable[..., Pupil], folder: Path
) -> None:
    """The teacher has mended it since; who has changed the one before keeps that."""
    file = folder / "mended.md"
    file.write_text(LESSON, encoding="utf-8")
    page = (one := pupil("/explore/mended/1")).page
    one.press("base", "forward")
    one.at_step(1)
    file.write_text(LESSON.replace("fare:   9", "fare:   8"), encoding="utf-8")
    page.reload()
    expect(page.locator("#program")).to_have_value(re.compile("fare: +8"))
    one.at_step(0)
    expect(page.locator("#control-base")).to_have_text("Numbers: hexadecimal")
    one.type_program("HALT")
    expect(page.locator("#problems")).to_contain_text("1 of 16 words")
    file.write_text(LESSON, encoding="utf-8")
    page.reload()
    assert one.program == "HALT"


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


def test_a_link_opened_in_the_open_page_loads(pupil: Callable[..., Pupil]) -> None:
    """Only what stands behind the '#' changes then, so that the browser loads no page."""
    page = (one := pupil()).page
    page.click("#link")
    expect(page.locator("#link-text")).to_have_value(re.compile("#p="))
    link = page.input_value("#link-text")
    one.type_program("LOAD #1\nHALT")
    # It stood there still, and carried the program before.
    expect(page.locator("#link-line")).to_be_hidden()
    page.evaluate("(link) => { location.href = link; }", link)
    expect(page.locator("#kept")).to_contain_text("This program came with the link.")
    expect(page.locator("#program")).to_have_value(re.compile("LOAD  fare"))
    page.click("text=Bring mine back")
    assert one.program == "LOAD #1\nHALT"


def test_two_tabs_lose_nothing(pupil: Callable[..., Pupil]) -> None:
    """Both tabs have one place in the browser for their work: what the other wrote is put aside."""
    page = (one := pupil()).page
    other = Pupil(page.context.new_page(), one.address).open()
    one.type_program("LOAD #1\nHALT")
    other.type_program("LOAD #2\nHALT")
    expect(other.page.locator("#kept")).to_contain_text("Both are kept")
    one.type_program("LOAD #1\nOUTPUT\nHALT")
    expect(page.locator("#kept")).to_contain_text("Both are kept")
    for tab in (one, other):
        tab.page.reload()
        seen = {tab.program}
        for _ in range(3):
            if tab.page.locator("#kept button").is_visible():
                tab.page.click("#kept button")
                seen.add(tab.program)
        assert {"LOAD #1\nOUTPUT\nHALT", "LOAD #2\nHALT"} <= seen
