"""Where the files that are not Python lie: beside the package in a clone, inside it in a wheel."""

from __future__ import annotations

import os
import sys
from pathlib import Path

_PACKAGE = Path(__file__).parent


def resource(name: str) -> Path:
    """The folder ``templates``, ``static`` or ``lessons``."""
    inside = _PACKAGE / name
    return inside if inside.is_dir() else _PACKAGE.parent / name


def usual_store() -> Path:
    """The file in which this person's lessons and their answers are kept."""
    if sys.platform == "win32":
        root = os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local"
    else:
        root = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
    return Path(root) / "chalkcycle" / "lessons.sqlite3"
