"""What is no matter of speed: the tests that hold it are run, and what they said is told."""

from __future__ import annotations

import re
import subprocess
import sys

from tests.bench.rows import Row
from tests.server import ROOT

# What is to be reached, the tests that hold it, and whether a quick run has the time for them.
HELD = (
    (
        "no violation in axe-core, any page, any theme",
        "none",
        ("tests/browser/test_accessibility.py",),
        False,
    ),
    (
        "killed mid-lesson (SIGKILL)",
        "same step, every answer",
        (
            *("tests/web/test_forty.py", "tests/browser/test_connection.py"),
            *("tests/classroom/test_store.py", "-k", "kill"),
        ),
        True,
    ),
)


def rows(quick: bool) -> list[Row]:
    return [
        _run(what, reach, tests) if short or not quick else Row(what, reach, f"see {tests[0]}")
        for what, reach, tests, short in HELD
    ]


def _run(what: str, reach: str, tests: tuple[str, ...]) -> Row:
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-o", "addopts=", "-p", "no:cacheprovider", *tests],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    counts = re.findall(r"(\d+) (passed|failed|errors?|skipped)", done.stdout)
    said = ", ".join(" ".join(each) for each in counts) or f"ended with {done.returncode}"
    passed = any(each == "passed" for _, each in counts)
    files = ", ".join(each for each in tests if each.endswith(".py"))
    return Row(what, reach, f"{said} ({files})", done.returncode == 0 and passed)
