"""Where the files that are not Python lie: beside the package in a clone, inside it in a wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).parent


def resource(name: str) -> Path:
    """The folder ``templates``, ``static`` or ``lessons``."""
    inside = _PACKAGE / name
    return inside if inside.is_dir() else _PACKAGE.parent / name
