"""Pages of the application as PDF, printed by a browser that the system has.

The pages are served to that browser just as they are to any other, so a PDF is what somebody
gets who opens the page and prints it.
"""

from __future__ import annotations

import os
import signal
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from urllib.parse import unquote

from flask import Flask, Response, request
from flask.signals import request_finished

# Not the standard ones: while the browsers are waited for, this process serves them the pages.
from gevent import subprocess
from gevent.pool import Pool

from app.machine.source.problems import printable, shortened
from app.web.server import local_server

PATIENCE_SECONDS = 120
BY_HAND = "You can open 'Paper and replay' beside the lesson in any browser, and print from there."
# A browser waits for much else than a processor, so two take little longer than one; and the
# smallest of computers has room for two.
AT_A_TIME = 2


class NotPrinted(Exception):
    """The browser made no PDF; the message says why."""


def print_pages(
    browser: str, app: Flask, paths: Iterable[str], spare: Path | None = None
) -> Iterator[bytes]:
    """The pages at some paths of the application, in their order, each as PDF, by the Chromium
    ``browser``, of which ``AT_A_TIME`` run at once.

    They write them into the system's folder for such files. A browser that sees another in its
    place (as it comes from some shops of programs) writes them into ``spare``, a folder of this
    person's. Raises NotPrinted where one cannot be made, in the place of that page.
    """
    places: list[Path | None] = [None, spare] if spare else [None]
    # A browser prints whatever it is answered, a refusal too.
    answered: dict[str, int] = {}

    def note(_: Flask, response: Response) -> None:
        answered[_named(request.path, request.query_string.decode())] = response.status_code

    with local_server(app) as address, request_finished.connected_to(note, app):
        browsers = Pool(AT_A_TIME)
        try:
            for made in browsers.imap(
                lambda path: (path, _attempt(browser, address + path, places)), paths
            ):
                path, pdf = made
                if isinstance(pdf, NotPrinted):
                    raise pdf
                name, _, query = path.partition("?")
                status = answered.get(_named(unquote(name), query))
                if status not in (None, 200):
                    raise NotPrinted(
                        f"The page {printable(unquote(name))} could not be made (status {status})."
                        f" {BY_HAND}"
                    )
                yield pdf
        finally:
            # Nobody wants the rest once one has failed, or whoever asked has had enough.
            browsers.kill()


def _named(path: str, query: str) -> str:
    return f"{path}?{query}"


def _attempt(browser: str, address: str, places: list[Path | None]) -> bytes | NotPrinted:
    """The PDF or why there is none: an error that is raised would be told twice, for gevent
    prints what nobody has caught where it was raised."""
    try:
        return _print(browser, address, places)
    except NotPrinted as error:
        return error


def _print(browser: str, address: str, places: list[Path | None]) -> bytes:
    """A page as PDF. The place that it came through is put first, for the next one."""
    why = ""
    for place in tuple(places):
        try:
            made, why = _print_in(place, browser, address)
        except OSError as error:
            made, why = b"", f"no file can be made to print into: {error.strerror}."
        if made:
            places.remove(place)
            places.insert(0, place)
            return made
    raise NotPrinted(f"'{printable(browser)}' could not print the page: {why} {BY_HAND}")


def _print_in(place: Path | None, browser: str, address: str) -> tuple[bytes, str]:
    """What the browser has written into a folder in a place (None is the system's), if that is a
    PDF; else nothing, and why. Raises OSError where there can be no such folder, and NotPrinted
    where the browser cannot be started."""
    # A profile of its own: a browser that is open would take the page into its own window.
    with tempfile.TemporaryDirectory(
        prefix="printing-", dir=place, ignore_cleanup_errors=True
    ) as profile:
        made = Path(profile) / "page.pdf"
        command = [
            browser,
            "--headless",
            "--disable-gpu",
            "--disable-background-networking",
            "--no-first-run",
            "--no-pdf-header-footer",
            f"--user-data-dir={profile}",
            f"--print-to-pdf={made}",
            address,
        ]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            # Chromium has no sandbox for root, and the page is our own.
            command.insert(1, "--no-sandbox")
        try:
            status, told = _run(command)
        except subprocess.TimeoutExpired as error:
            said = (
                f"'{printable(browser)}' did not print the page in {PATIENCE_SECONDS} seconds. Ask"
                f" for one scene alone, or try again when this machine has less to do. {BY_HAND}"
            )
            raise NotPrinted(said) from error
        except OSError as error:
            raise NotPrinted(
                f"'{printable(browser)}' cannot be run: {error.strerror}. {BY_HAND}"
            ) from error
        data = made.read_bytes() if made.is_file() else b""
        if not status and data.startswith(b"%PDF-"):
            return data, ""
        lines = told.decode(errors="replace").strip().splitlines()
        if status:
            return b"", printable(shortened(lines[-1], 200)) if lines else "it did not say why."
        return b"", "it wrote no PDF where it was told to."


def _run(command: list[str]) -> tuple[int, bytes]:
    """The exit code of a program, and what it said of errors. Whatever it has started itself ends
    with it, where it takes longer than PATIENCE_SECONDS or nobody waits any more: a browser is
    often a script that starts the browser. Raises subprocess.TimeoutExpired, and OSError."""
    process = subprocess.Popen(
        command,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=os.name == "posix",
    )
    try:
        _, told = process.communicate(timeout=PATIENCE_SECONDS)
    except BaseException:
        if os.name == "posix":
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()
        process.wait()
        raise
    return process.returncode, told
