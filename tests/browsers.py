"""Where the browser is. Standard library only: used before anything is installed."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
MAC_APPLICATIONS = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)


def find_browser() -> str | None:
    """The path of a Chromium that the system has."""
    for name in NAMES:
        if found := shutil.which(name):
            return found
    if sys.platform == "darwin":
        return next((each for each in MAC_APPLICATIONS if Path(each).exists()), None)
    return None
