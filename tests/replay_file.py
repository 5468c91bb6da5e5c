"""A lesson as one file that plays it, as the command makes it."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from app.printing import replay as replay_command

LARGEST = 500_000


def write_replay(lesson: Path) -> tuple[Path, str]:
    """The file that the command writes, and what it said on both outputs."""
    file = lesson.with_suffix(".html")
    done = CliRunner().invoke(replay_command, [str(lesson), "-o", str(file)])
    assert done.exit_code == 0, done.output
    return file, done.output
