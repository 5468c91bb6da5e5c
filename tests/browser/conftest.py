"""A real Chromium at the real server. Each test has a fresh context and a lesson of its own."""

from __future__ import annotations

import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    expect,
    sync_playwright,
)

from tests.browser.board import PATIENCE_MILLISECONDS, Board
from tests.browsers import find_headless
from tests.server import Server

LAPTOP = {"width": 1366, "height": 768}
OPTIONS = [
    # Root, as in CI, has no sandbox; and nothing may be asked of any other server.
    "--no-sandbox",
    "--disable-background-networking",
    # What draws and what asks the network are threads of the browser: a page opens sooner.
    "--in-process-gpu",
    "--enable-features=NetworkServiceInProcess2",
]
# Runs before the page's own scripts. A refusal is an error like any other; and only once the
# stream is open does the next step come in as a movement.
LISTENER = """
addEventListener("securitypolicyviolation", (event) => {
  console.error(`refused by the policy: ${event.violatedDirective} ${event.blockedURI}`);
});
addEventListener("htmx:after:sse:connection", () => { window.streamIsOpen = true; });
"""

# Two slow cores are slow, not wrong.
expect.set_options(timeout=PATIENCE_MILLISECONDS)


@pytest.fixture(scope="session")
def server(lessons: Path) -> Iterator[Server]:
    with Server(lessons) as running:
        yield running


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=find_headless(), args=OPTIONS)
        yield launched
        launched.close()


class Errors(list[str]):
    """What the consoles of a test's pages said in anger. It must stay empty."""

    def watch(self, context: BrowserContext) -> None:
        context.add_init_script(LISTENER)
        context.on("page", self._watch_page)

    def _watch_page(self, page: Page) -> None:
        page.on("console", self._listen)
        page.on("pageerror", lambda error: self.append(f"{page.url}: {error}"))

    def _listen(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.append(f"{message.location.get('url')}: {message.text}")

    def forgive(self, *words: str) -> None:
        """Forget what the test has provoked: messages with one of these words."""
        self[:] = [each for each in self if not any(word in each for word in words)]


@pytest.fixture
def errors() -> Iterator[Errors]:
    found = Errors()
    yield found
    assert not found


@pytest.fixture
def new_page(browser: Browser, errors: Errors) -> Iterator[Callable[..., Page]]:
    """Opens a page in a context of its own; keywords go to the context."""
    contexts: list[BrowserContext] = []

    def open_page(**options: Any) -> Page:
        context = browser.new_context(**{"viewport": LAPTOP, "color_scheme": "light"} | options)
        context.set_default_timeout(PATIENCE_MILLISECONDS)
        errors.watch(context)
        contexts.append(context)
        return context.new_page()

    yield open_page
    for context in contexts:
        context.close()


def teach(address: str, slug: str) -> str:
    """Open a lesson on a server; the address of its board."""
    request = urllib.request.Request(f"{address}/lessons/{slug}/teach", method="POST")
    with urllib.request.urlopen(request) as answer:
        return answer.url


@pytest.fixture
def open_board(server: Server, new_page: Callable[..., Page]) -> Callable[..., Board]:
    """Opens a lesson on the board, in a page of its own."""

    def open_lesson(slug: str = "short", **options: Any) -> Board:
        return Board(new_page(**options)).open(teach(server.address, slug))

    return open_lesson
