"""A shared lesson and real browsers in it: the board, the teacher's screen, pupils' laptops."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import APIRequestContext, Page, expect

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
    """A shared lesson and the browsers in it. ``by_hand``: the teacher comes by the list of
    lessons, and each pupil types the code; else they come by the addresses to which that leads,
    with two pages less to open."""

    def __init__(
        self, server: Server, new_page: Callable[..., Page], by_hand: bool = False
    ) -> None:
        self.server = server
        self.new_page = new_page
        self.by_hand = by_hand
        self.board = Board(new_page())
        if by_hand:
            self.board.page.goto(f"{self.server.address}/?key={self.server.key}")
            self.board.page.get_by_role("button", name="Teach Ferry tickets").click()
            self.board.wait("window.streamIsOpen")
            self.board.page.keyboard.press("j")
            self.code = self.board.page.locator("#invite .code").inner_text()
            self.board.page.keyboard.press("Escape")
        else:
            self.board.open(self._teach(self.board.page.context.request))
            self.code = self.board.page.locator("#invite .code").text_content() or ""

    def _teach(self, teacher: APIRequestContext) -> str:
        """Open the lesson as a teacher's browser does; the address of its board."""
        address = self.server.address
        assert teacher.get(f"{address}/?key={self.server.key}").ok
        answer = teacher.post(f"{address}/lessons/asking/teach", headers={"Origin": address})
        assert answer.ok, answer.text()
        return answer.url

    def desk(self) -> Page:
        """The teacher's own screen, in a second window of the same browser."""
        page = self.board.page.context.new_page()
        page.goto(f"{self.board.page.url}/teacher")
        Board(page).wait("window.streamIsOpen")
        return page

    def pupil(self, size: str = "laptop", script: str = "", **options: Any) -> Board:
        """A pupil who joins; ``script`` runs before those of each page."""
        width, height = SIZES[size]
        page = self.new_page(viewport={"width": width, "height": height}, **options)
        if script:
            page.add_init_script(script)
        if self.by_hand:
            page.goto(self.server.address)
            page.get_by_label("The code on the board").fill(self.code.lower())
            page.get_by_role("button", name="Join").click()
            page.wait_for_selector("#frame")
        else:
            page.goto(f"{self.server.address}/class/{self.code}")
        pupil = Board(page)
        pupil.wait("window.streamIsOpen")
        return pupil

    def step_to_question(self) -> None:
        """At once to the step at which the question is asked: after an instruction, a fetch and a
        decode."""
        self.board.jump(STEP)


def choose(pupil: Board, text: str) -> None:
    pupil.page.locator(".choose", has_text=re.compile(rf"\b{text}\b")).click()
    expect(pupil.page.locator("#mine")).to_contain_text("Your answer")
