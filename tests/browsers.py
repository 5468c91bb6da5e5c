"""Where the browser is. Standard library only: used before anything is installed."""

from __future__ import annotations

from app.browsers import find_browser

__all__ = ["find_browser"]
