"""A shared lesson and real browsers in it: the board, the teacher's screen, pupils' laptops."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

from tests.asking import STEP
from tests.browser.board import Board
from tests.server import Server

SIZES = {
    "projector": (1920, 1080),
    "laptop": (1366, 768),
    "square": (1024, 768),
    "phone": (390, 844),
}


def share(folder: Path, port: int = 0) -> Server:
    """Serve the lesson of a folder to a class, and keep it there."""
    options = (folder, "--share", "--address", "127.0.0.1")
    return Server(*options, port=port, store=folder / "store.sqlite3")


class Lesson:
    """A shared lesson and the browsers in it."""

    def __init__(self, server: Server, new_page: Callable[..., Page]) -> None:
        self.server = server
        self.new_page = new_page
        self.board = Board(new_page())
        self.board.page.goto(f"{self.server.address}/?key={self.server.key}")
        self.board.page.get_by_role("button", name="Teach Ferry tickets").click()
        self.board.wait("window.streamIsOpen")
        self.board.page.keyboard.press("j")
        self.code = self.board.page.locator("#invite .code").inner_text()
        self.board.page.keyboard.press("Escape")

    def desk(self) -> Page:
        """The teacher's own screen, in a second window of the same browser."""
        page = self.board.page.context.new_page()
        page.goto(f"{self.board.page.url}/teacher")
        Board(page).wait("window.streamIsOpen")
        return page

    def pupil(self, size: str = "laptop", script: str = "", **options: Any) -> Board:
        """A pupil who joins by typing the code; ``script`` runs before those of each page."""
        width, height = SIZES[size]
        page = self.new_page(viewport={"width": width, "height": height}, **options)
        if script:
            page.add_init_script(script)
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


def choose(pupil: Board, text: str) -> None:
    pupil.page.locator(".choose", has_text=re.compile(rf"\b{text}\b")).click()
    expect(pupil.page.locator("#mine")).to_contain_text("Your answer")
