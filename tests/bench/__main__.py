"""``python -m tests.bench [--quick]``: one table with every figure that is to be reached.

Each figure stands beside a bare one from the same run on the same machine, because a time by
itself says more about the machine and what else it does than about Chalkcycle. Linux, and a
Chromium. Everything stays on this machine.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys

from . import classroom, explore, hostile, pages, school_day, speed
from .rows import Row, table

# What is not a matter of speed is held by tests, which fail where it does not hold.
TESTED = [
    Row(
        "no violation in axe-core, any page, any theme",
        "none",
        "tests/browser/test_accessibility.py",
    ),
    Row("killed mid-lesson", "same step, every answer", "tests/browser/test_connection.py"),
]
GROUPS = {
    "speed": speed.rows,
    "pages": pages.rows,
    "class": classroom.rows,
    "explore": explore.rows,
    "day": school_day.rows,
    "hostile": hostile.rows,
}


def load() -> str:
    """How many programs wanted to run in the last minute."""
    return f"{os.getloadavg()[0]:.1f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("groups", nargs="*", metavar="GROUP", help=f"of: {', '.join(GROUPS)}")
    parser.add_argument("--quick", action="store_true", help="fewer rounds, 200 followers")
    options = parser.parse_args()
    unknown = set(options.groups) - set(GROUPS)
    if unknown:
        parser.error(
            f"there is no group {', '.join(sorted(unknown))}; they are {', '.join(GROUPS)}"
        )
    print(
        f"Python {platform.python_version()}, {platform.machine()}, {os.cpu_count()} processors,"
        f" load {load()} at the start"
    )
    rows: list[Row] = []
    for name, measure in GROUPS.items():
        if not options.groups or name in options.groups:
            print(f"measuring: {name} ...", file=sys.stderr, flush=True)
            rows += measure(options.quick)
    print(table([*rows, *TESTED]))
    print(f"load {load()} at the end")


if __name__ == "__main__":
    main()
