"""Where something fails by a fault of ours: what is told, and what is printed to mend it by."""

from __future__ import annotations

import sys
import traceback
from hashlib import blake2s

from app.machine.source.problems import printable

# Versions of files whose failure has been printed.
MOST_TOLD = 100
# What is printed of one: so many of the last calls, and so much of each line.
_CALLS = 12
_LONGEST_LINE = 200

told: dict[bytes, None] = {}
"""The versions of files that something has failed at, and what, the newest last."""


def failed(error: Exception, name: str, text: str) -> tuple[str, str]:
    """What to tell of an error in the reading of a text, and how to go round it, in whole
    sentences. Where it came from is printed to stderr, once for each version of the text."""
    tell(error, f"Reading '{printable(name)}' failed.", text)
    what = f"Chalkcycle failed to read this file ({type(error).__name__}), by a fault of its own."
    return what, "Take back what you changed last, a little at a time."


def tell(error: Exception, said: str, text: str) -> None:
    """Print to stderr what has been ``said`` to have failed, and where the error came from: once
    for each version of the text that it was made from."""
    version = blake2s(f"{said}\0{text}".encode(errors="replace")).digest()
    if version not in told:
        lines = "".join(traceback.format_exception(error, limit=-_CALLS, chain=False)).split("\n")
        shown = (printable(each[:_LONGEST_LINE]) for each in lines[: 5 * _CALLS])
        print(said, *shown, sep="\n", file=sys.stderr)
        told[version] = None
        while len(told) > MOST_TOLD:
            del told[next(iter(told))]
