"""Pages are printed two at a time, in their order, and no further than the first that fails.

The browser here is a program of the tests that writes down when it starts and ends; what a real
one prints is in tests/browser/test_pdf.py.
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

import pytest
from flask import Flask

from app.paths import resource
from app.web.paper.pdf import AT_A_TIME, NotPrinted, print_pages
from tests.processes import wait_until_ended

LIST = "teach/lessons/list.html"

pytestmark = pytest.mark.skipif(os.name == "nt", reason="a script is no program on Windows")

# It waits until as many run as ever will at once, and ends the sooner the later its page comes.
BROWSER = """#!{python}
import sys, time, urllib.request
log = "{log}"
address = sys.argv[-1]
text = urllib.request.urlopen(address).read().decode()
def note(word):
    with open(log, "a") as file:
        file.write(word + " " + text + "\\n")
note("start")
end = time.monotonic() + 20
while open(log).read().count("start") < {together} and time.monotonic() < end:
    time.sleep(0.01)
if text == "bad":
    print("the printer is on fire", file=sys.stderr)
    sys.exit(3)
if text in ("0", "slow"):
    time.sleep(0.5 if text == "0" else 60)
made = next(each for each in sys.argv if each.startswith("--print-to-pdf="))
with open(made.split("=", 1)[1], "w") as file:
    file.write("%PDF-printed " + text)
note("end")
"""


@pytest.fixture
def app() -> Flask:
    made = Flask(__name__)
    made.add_url_rule("/<text>", "page", lambda text: text)
    return made


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "log"


@pytest.fixture
def browser(tmp_path: Path, log: Path) -> str:
    script = tmp_path / "browser"
    script.write_text(BROWSER.format(python=sys.executable, log=log, together=AT_A_TIME))
    script.chmod(0o755)
    return str(script)


def test_two_at_a_time_and_in_their_order(app: Flask, browser: str, log: Path) -> None:
    made = list(print_pages(browser, app, [f"/{each}" for each in range(5)]))
    # The first one takes the longest.
    assert made == [f"%PDF-printed {each}".encode() for each in range(5)]
    running = most = 0
    for line in log.read_text().splitlines():
        running += 1 if line.startswith("start") else -1
        most = max(most, running)
    assert (running, most) == (0, AT_A_TIME)


def test_the_first_that_fails_ends_it(app: Flask, browser: str, log: Path) -> None:
    pages = print_pages(browser, app, ["/bad", "/slow", *(f"/{each}" for each in range(5, 9))])
    with pytest.raises(NotPrinted, match="could not print the page: the printer is on fire"):
        next(pages)
    # What was under way is ended, and nothing has begun but what took the place of the failed.
    lines = log.read_text().splitlines()
    assert "end slow" not in lines and len(lines) <= 2 + 1 + 1


def test_a_browser_that_takes_too_long_is_told_with_what_to_do(
    app: Flask, browser: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where it leads is called as on the list of lessons."""
    monkeypatch.setattr("app.web.paper.pdf.PATIENCE_SECONDS", 0.01)
    with pytest.raises(NotPrinted, match="did not print") as caught:
        list(print_pages(browser, app, ["/slow"]))
    link = re.search(r">(Paper[^<]*)<", (resource("templates") / LIST).read_text("utf-8"))
    assert link and f"'{link[1]}'" in str(caught.value) and "try again" in str(caught.value)


def test_what_a_browser_has_started_ends_with_it(
    app: Flask, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A browser is often a script that starts the browser: both have to go, and nobody waits for
    what the second one might still say."""
    pid = tmp_path / "pid"
    script = tmp_path / "wrapper"
    script.write_text(f"#!/bin/sh\nsleep 600 &\necho $! > '{pid}'\nwait\n")
    script.chmod(0o755)
    place = tmp_path / "files"
    place.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(place))
    monkeypatch.setattr("app.web.paper.pdf.PATIENCE_SECONDS", 1)
    with pytest.raises(NotPrinted, match="did not print"):
        list(print_pages(str(script), app, ["/slow"]))
    wait_until_ended(int(pid.read_text()))
    assert list(place.iterdir()) == []


def test_a_page_that_tells_of_a_failure_is_not_what_was_asked_for(
    app: Flask, tmp_path: Path
) -> None:
    """A browser prints whatever it is answered."""
    app.add_url_rule("/gone away", "gone", lambda: ("Not any more.", 404))
    script = tmp_path / "browser"
    script.write_text(
        f"#!{sys.executable}\n"
        "import sys, urllib.error, urllib.request\n"
        "try:\n    urllib.request.urlopen(sys.argv[-1])\n"
        "except urllib.error.HTTPError:\n    pass\n"
        "made = next(each for each in sys.argv if each.startswith('--print-to-pdf='))\n"
        "open(made.split('=', 1)[1], 'w').write('%PDF-')\n"
    )
    script.chmod(0o755)
    pages = print_pages(str(script), app, ["/well%20made?a=%C3%A4&b=", "/gone%20away?a=1"])
    assert next(pages) == b"%PDF-"
    with pytest.raises(NotPrinted, match=r"/gone away could not be made \(status 404\)"):
        next(pages)


def test_the_path_of_a_browser_does_nothing_to_the_terminal(app: Flask, tmp_path: Path) -> None:
    with pytest.raises(NotPrinted, match=r"\\x1b\[31mb' cannot be run") as told:
        list(print_pages(str(tmp_path / "\x1b[31mb"), app, ["/x"]))
    assert "\x1b" not in str(told.value)
