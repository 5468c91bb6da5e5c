"""A worker: answers what takes long, for the server that started it.

That is what pupils have worked out, and what a teacher asks and waits for, such as a replay.

It reads requests from its standard input and writes answers to its standard output, one at a time
(see :mod:`app.web.workers`), and ends when the server does.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
import time
from pathlib import Path
from urllib.parse import quote

from app import create_app
from app.web.workers import GIVEN, Answered, Asked, read_message, write_message

# How much less urgent than the server: the board goes first.
LESS_URGENT = 10


def answers(lessons: Path, own: Path | None = None) -> None:
    """Answer until nobody asks any more. No lesson is read that is not asked for: the first pupil
    would wait for all of a folder."""
    app = create_app(lessons, own=own)
    client = app.test_client(use_cookies=False)
    gc.freeze()
    while True:
        try:
            asked = read_message(sys.stdin.buffer)  # type: ignore[arg-type]
        except EOFError:
            return
        assert isinstance(asked, Asked)
        start = time.process_time()
        answer = client.open(
            quote(asked.path),  # it is the path itself, not the text of an address
            method=asked.method,
            query_string=asked.query,
            headers=asked.headers,
            data=asked.body,
            environ_overrides={GIVEN: asked.given},
        )
        body = answer.get_data()
        seconds = time.process_time() - start
        said = Answered(answer.status_code, [*answer.headers.items()], body, seconds)
        write_message(sys.stdout.buffer, said)  # type: ignore[arg-type]


def main() -> None:
    # Ctrl-C is for the server, which ends its workers.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(LESS_URGENT)
    answers(*map(Path, sys.argv[1:3]))


if __name__ == "__main__":
    main()
