"""One server for a pupil's own machine; each test has a page of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.browser.explore.pupil import FERRY, LESSON, Pupil
from tests.server import Server


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("explore")
    (made / "ferry.md").write_text(LESSON, encoding="utf-8")
    return made


@pytest.fixture(scope="session")
def own_server(folder: Path) -> Iterator[Server]:
    with Server(folder) as running:
        yield running


@pytest.fixture
def pupil(own_server: Server, new_page: Callable[..., Page]) -> Callable[..., Pupil]:
    def begin(path: str = FERRY, **options: object) -> Pupil:
        return Pupil(new_page(**options), own_server.address).open(path)

    return begin
