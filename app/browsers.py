"""Where the system's Chromium is. Standard library only: used before anything is installed."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "msedge",
)
MAC_APPLICATIONS = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
)
# Below each of the folders that Windows has for programs.
WINDOWS_FOLDERS = ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")
WINDOWS_APPLICATIONS = (
    "Chromium/Application/chrome.exe",
    "Google/Chrome/Application/chrome.exe",
    "Microsoft/Edge/Application/msedge.exe",
)


def find_browser() -> str | None:
    """The path of a Chromium, or of a browser made from it, that the system has."""
    for name in NAMES:
        if found := shutil.which(name):
            return found
    return next((each for each in _usual_places() if Path(each).exists()), None)


def _usual_places() -> list[str]:
    if sys.platform == "darwin":
        return list(MAC_APPLICATIONS)
    if sys.platform == "win32":
        folders = [os.environ[each] for each in WINDOWS_FOLDERS if each in os.environ]
        return [str(Path(folder, each)) for folder in folders for each in WINDOWS_APPLICATIONS]
    return []
