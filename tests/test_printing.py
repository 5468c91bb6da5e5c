"""The file that the command ``replay`` writes of each lesson that ships; what ``print`` has nothing
of."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask import Flask

from app import printing
from app.lesson.file.reader import read_file
from app.printing import print_lesson
from tests.processes import wait_until_ended
from tests.replay_file import LARGEST, write_replay
from tests.server import ROOT


@pytest.mark.parametrize(
    "lesson", sorted((ROOT / "lessons").glob("*.md")), ids=lambda each: each.stem
)
def test_shipped_lessons_fit(lesson: Path, tmp_path: Path) -> None:
    copy = tmp_path / lesson.name
    copy.write_bytes(lesson.read_bytes())
    made, said = write_replay(copy)
    assert made.stat().st_size < LARGEST
    # Whole, but for runs that no class steps through to their end.
    for scene in re.findall(r"scene '([^']*)' only the first", said):
        (found,) = [each for each in read_file(lesson).scenes if each.title == scene]
        assert found.run.reaches(1001)
        assert int(re.search(r"only the first ([\d,]+)", said)[1].replace(",", "")) > 1000


@pytest.mark.parametrize(
    ("name", "scene", "what"),
    [("sums", 1, "sums"), ("quiz", 2, "questions"), ("answers", 2, "program")],
)
def test_of_a_scene_that_has_nothing_of_a_kind_no_empty_sheet_is_printed(
    name: str, scene: int, what: str, tmp_path: Path
) -> None:
    lesson = tmp_path / "two.md"
    lesson.write_text(
        "---\ntitle: Two\nmachine: 8-bit\n---\n\n# One\n\n```program\nLOAD #4\nHALT\n```\n\n"
        "```question\nbefore first LOAD: What will it hold?\nask: the accumulator\n```\n\n"
        "# A zoom\n\n```scale\na hand: 10 cm\na hair: 80 µm\n```\n\n"
        "# Three\n\n```program\nLOAD #4\nADD #4\nHALT\n```\n",
        encoding="utf-8",
    )
    done = CliRunner().invoke(print_lesson, [str(lesson), "--only", name, "--scene", str(scene)])
    assert done.exit_code == 1
    assert f"There is nothing to print for '{name}': scene {scene} has no {what}." in done.output


def test_a_word_for_the_numbers_need_be_no_text(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def print_pages(browser: str, app: Flask, pages: list[str], spare: Path) -> list[bytes]:
        asked.extend(pages)
        return [b""] * len(pages)

    monkeypatch.setattr(printing, "find_browser", lambda: "chromium")
    monkeypatch.setattr(printing, "print_pages", print_pages)
    lesson = next((ROOT / "lessons").glob("*.md"))
    for each in (b"\xff", b"\xfe"):
        options = ["--only", "card", "--seed", os.fsdecode(each), "-o", str(tmp_path)]
        done = CliRunner().invoke(print_lesson, [str(lesson), *options])
        assert done.exit_code == 0 and done.exception is None
    assert len(set(asked)) == 2, "another word, other numbers"


@pytest.mark.skipif(os.name == "nt", reason="a script is no program on Windows")
@pytest.mark.parametrize("how", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_whoever_ends_printing_ends_its_browser(
    how: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Nothing of it stays: no program, and none of its files."""
    # Where the tests run in the background of a shell, what they start is told to ignore Ctrl+C.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    request.addfinalizer(lambda: signal.signal(signal.SIGINT, before))
    started, files = tmp_path / "started", tmp_path / "files"
    files.mkdir()
    browser = tmp_path / "chromium"
    browser.write_text(
        f"#!/bin/sh\nsleep 600 &\necho $! > '{started}.new'\nmv '{started}.new' '{started}'\nwait\n"
    )
    browser.chmod(0o755)
    lesson = next((ROOT / "lessons").glob("*.md"))
    command = [sys.executable, "-m", "app", "print", lesson, "--only", "card", "-o", tmp_path / "o"]
    places = {"PATH": f"{tmp_path}:{os.environ['PATH']}", "TMPDIR": str(files)}
    with subprocess.Popen(
        command, cwd=ROOT, env=os.environ | places, stderr=subprocess.PIPE
    ) as run:
        while not started.exists():
            assert run.poll() is None
            time.sleep(0.05)
        run.send_signal(getattr(signal, how))
        run.communicate(timeout=30)
    assert run.returncode and list(files.iterdir()) == []
    wait_until_ended(int(started.read_text()))
