"""A lesson with a class: each test teaches it anew, from one server."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page

from tests.asking import write_lesson
from tests.browser.classroom.lesson import Lesson, share
from tests.server import Server


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with share(write_lesson(tmp_path_factory.mktemp("class"))) as running:
        yield running


@pytest.fixture
def lesson(shared: Server, new_page: Callable[..., Page]) -> Lesson:
    return Lesson(shared, new_page)
