"""Where the browser is. Standard library only: used before anything is installed."""

from __future__ import annotations

import shutil

from app.browsers import find_browser

# Chromium without its windows, as its own package. What a page does there is the same, and a test
# takes less than half of the processor's time: no window is drawn around each page.
HEADLESS = "chromium-headless-shell"


def find_headless() -> str | None:
    """The path of what the tests open pages in: Chromium without windows where the system has it,
    else the browser that :func:`find_browser` finds."""
    return shutil.which(HEADLESS) or find_browser()


__all__ = ["HEADLESS", "find_browser", "find_headless"]
