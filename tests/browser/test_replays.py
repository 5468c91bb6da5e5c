"""The folder of all replays, opened from disk with the network off."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from playwright.sync_api import Page, expect

from app.printing import replay
from tests.browser.judge import violations_of_plain
from tests.conftest import SHORT
from tests.web.paper.paper_lesson import ASKING


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    lessons = tmp_path_factory.mktemp("lessons")
    (lessons / "Tür-λ 1.md").write_text(ASKING, "utf-8")
    (lessons / "short.md").write_text(SHORT, "utf-8")
    out = lessons / "out"
    done = CliRunner().invoke(replay, [str(lessons), "-o", str(out)])
    assert done.exit_code == 0, done.output
    return out


def test_from_the_start_page_into_a_lesson_and_back(
    new_page: Callable[..., Page], folder: Path
) -> None:
    page = new_page(offline=True, reduced_motion="reduce")
    page.goto((folder / "index.html").as_uri())
    page.get_by_role("link", name="The garden gate").click()
    expect(page.locator("body[data-ready]")).to_have_count(1)
    page.keyboard.press("]")
    expect(page.locator(".sentence").first).to_contain_text("Two numbers decide about the gate.")
    page.go_back()
    page.get_by_role("link", name="A short sum").click()
    expect(page.locator("body[data-ready]")).to_have_count(1)


@pytest.mark.parametrize("width", [1366, 390])
def test_the_start_page_is_for_everyone(
    new_page: Callable[..., Page], folder: Path, width: int
) -> None:
    page = new_page(viewport={"width": width, "height": 844}, bypass_csp=True)
    page.goto((folder / "index.html").as_uri())
    assert violations_of_plain(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
