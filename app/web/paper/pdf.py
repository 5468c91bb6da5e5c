"""Pages of the application as PDF, printed by a browser that the system has.

The pages are served to that browser just as they are to any other, so a PDF is what somebody
gets who opens the page and prints it.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path

from flask import Flask

# Not the standard ones: while the browsers are waited for, this process serves them the pages.
from gevent import subprocess
from gevent.pool import Pool

from app.web.server import local_server

PATIENCE_SECONDS = 120
# A browser waits for much else than a processor, so two take little longer than one; and the
# smallest of computers has room for two.
AT_A_TIME = 2


class NotPrinted(Exception):
    """The browser made no PDF; the message says why."""


def print_pages(browser: str, app: Flask, paths: Iterable[str]) -> Iterator[bytes]:
    """The pages at some paths of the application, in their order, each as PDF, by the Chromium
    ``browser``, of which ``AT_A_TIME`` run at once.

    Raises NotPrinted where one cannot be made, in the place of that page.
    """
    with local_server(app) as address:
        browsers = Pool(AT_A_TIME)
        try:
            for made in browsers.imap(lambda path: _attempt(browser, address + path), paths):
                if isinstance(made, NotPrinted):
                    raise made
                yield made
        finally:
            # Nobody wants the rest once one has failed, or whoever asked has had enough.
            browsers.kill()


def _attempt(browser: str, address: str) -> bytes | NotPrinted:
    """The PDF or why there is none: an error that is raised would be told twice, for gevent
    prints what nobody has caught where it was raised."""
    try:
        return _print(browser, address)
    except NotPrinted as error:
        return error


def _print(browser: str, address: str) -> bytes:
    # A profile of its own: a browser that is open would take the page into its own window.
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
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
            done = subprocess.run(
                command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, timeout=PATIENCE_SECONDS
            )
        except subprocess.TimeoutExpired as error:
            said = f"'{browser}' did not print the page in {PATIENCE_SECONDS} seconds."
            raise NotPrinted(said) from error
        if done.returncode or not made.exists():
            lines = done.stderr.decode(errors="replace").strip().splitlines()
            why = lines[-1] if lines else "it did not say why"
            raise NotPrinted(f"'{browser}' could not print the page: {why}")
        return made.read_bytes()
