"""The overview of a large memory: a cell for each word."""

from __future__ import annotations

from functools import lru_cache

from markupsafe import Markup

# The names of the classes of a cell.
USED, SEEN, NEXT, LIT = "used", "seen", "next", "lit"


@lru_cache(maxsize=128)
def overview_cells(cells: tuple[str, ...]) -> Markup:
    """The cells as HTML, from the class names of each. One frame after another has them alike or
    nearly, and to write each out in a template takes as long as all the rest of a frame."""
    return Markup("".join(f'<i class="{each}"></i>' for each in cells))
