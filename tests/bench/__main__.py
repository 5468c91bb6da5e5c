"""``python -m tests.bench [--quick]``: one table with every figure that is to be reached.

Each figure stands beside a bare one from the same run on the same machine, because a time by
itself says more about the machine and what else it does than about Chalkcycle. So it should do
nothing else meanwhile: the load (how many programs want to run) is told. All of it takes half an
hour; name groups to run only those. Linux, and a Chromium. Everything stays on this machine.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import traceback

from tests.bench import (
    classroom,
    explore,
    held,
    hostile,
    pages,
    readers,
    school_day,
    sentences,
    speed,
    year,
)
from tests.bench.rows import Row, table

GROUPS = {
    "speed": speed.rows,
    "pages": pages.rows,
    "class": classroom.rows,
    "explore": explore.rows,
    "day": school_day.rows,
    "hostile": hostile.rows,
    "readers": readers.rows,
    "held": held.rows,
    "sentences": sentences.rows,
    "year": year.rows,
}


def load() -> str:
    """How many programs wanted to run in the last minute."""
    return f"{os.getloadavg()[0]:.1f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("groups", nargs="*", metavar="GROUP", help=f"of: {', '.join(GROUPS)}")
    parser.add_argument(
        "--quick",
        action="store_true",
        help="fewer rounds, 200 followers; a fraction of what is generated",
    )
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
            try:
                rows += measure(options.quick)
            except Exception as error:
                # The other figures took a while: they are shown all the same.
                traceback.print_exc()
                rows.append(Row(name, "", f"failed: {type(error).__name__}", False))
            print(f"... load {load()}", file=sys.stderr, flush=True)
    print(table(rows))
    print(f"load {load()} at the end")


if __name__ == "__main__":
    main()
