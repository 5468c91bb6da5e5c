"""A built wheel works as well as the clone: everything that is not Python is inside."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import urllib.request
import zipfile
from pathlib import Path

import pytest

from tests.server import ROOT, Server

# What a build of its own, or a run, leaves behind.
NOT_SOURCE = shutil.ignore_patterns(".*", "__pycache__", "build", "dist", "*.egg-info", "tests")


def pip(*arguments: str | Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "pip", "--disable-pip-version-check", *map(str, arguments)],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from a copy so that the clone stays clean."""
    folder = tmp_path_factory.mktemp("wheel")
    shutil.copytree(ROOT, folder / "source", ignore=NOT_SOURCE)
    out = folder / "out"
    pip("wheel", "--quiet", "--no-deps", "--no-build-isolation", "-w", out, folder / "source")
    (made,) = out.glob("*.whl")
    return made


def test_everything_is_inside(wheel: Path) -> None:
    inside = {each for each in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in each}
    expected = {
        each.relative_to(ROOT).as_posix()
        for each in (ROOT / "app").rglob("*.py")
        if "__pycache__" not in each.parts
    } | {
        f"app/{each.relative_to(ROOT).as_posix()}"
        for folder in ("templates", "static", "lessons")
        for each in (ROOT / folder).rglob("*")
        if each.is_file()
    }
    assert expected <= inside, f"missing: {sorted(expected - inside)}"
    assert all(each.startswith("app/") for each in inside)


def test_an_installed_wheel_serves(wheel: Path, tmp_path: Path) -> None:
    target = tmp_path / "installed"
    pip("install", "--quiet", "--no-deps", "--no-index", "--target", target, wheel)
    script = next((target / "bin").glob("chalkcycle*"))
    # The folder before the clone's own, and a working directory that has no 'app' in it.
    with Server(
        "--own",
        tmp_path / "own",
        command=[sys.executable, str(script)],
        folder=tmp_path,
        environment={"PYTHONPATH": str(target), "PYTHONSAFEPATH": "1"},
    ) as server:
        page = urllib.request.urlopen(server.address).read().decode()
        assert page.count("<h2>") == len(list((ROOT / "lessons").glob("*.md")))
        for name in ("css/board.css", "js/teach/board.js", "icon.svg"):
            with urllib.request.urlopen(f"{server.address}/static/{name}") as answer:
                assert answer.read() == (ROOT / "static" / name).read_bytes()
        teach = f"{server.address}/lessons/02-ferry-ticket-machine/teach"
        board = urllib.request.urlopen(urllib.request.Request(teach, method="POST"))
        assert "Main memory" in board.read().decode()
    # It was the installed one that answered.
    where = subprocess.run(
        [sys.executable, "-c", "import app; print(app.__file__)"],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(target), "PYTHONSAFEPATH": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(where.stdout.strip()).is_relative_to(target)
