"""The real server in a process of its own, as a teacher starts it."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

ROOT = Path(__file__).resolve().parent.parent
PATIENCE = 30


class Server:
    """``python -m app`` on a free port (or ``port``); ``address`` is the one that it printed,
    ``line`` all of the line."""

    def __init__(
        self,
        *arguments: str | Path,
        port: int = 0,
        command: Sequence[str] = (sys.executable, "-m", "app"),
        folder: Path = ROOT,
        environment: dict[str, str] | None = None,
        store: str | Path = "none",
    ) -> None:
        # Unless a test says otherwise nothing is kept: least of all among a person's own lessons.
        kept = ["--store", str(store)]
        whole = [*command, "serve", *map(str, arguments), *kept]
        whole += ["--no-browser", "--port", str(port)]
        self.process = subprocess.Popen(
            whole,
            cwd=folder,
            env=os.environ | (environment or {}),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert self.process.stdout
        line = self.process.stdout.readline()
        found = re.search(r"(http://127\.0\.0\.1:(\d+))/", line)
        if not found:
            self.process.kill()
            raise AssertionError(f"no address: {line}{self.process.communicate()[1]}")
        self.line = line
        self.address = found[1]
        self.port = int(found[2])

    @property
    def key(self) -> str:
        """The teacher's key in the printed address; empty where there is none."""
        found = re.search(r"[?]key=(\S+)", self.line)
        return found[1] if found else ""

    def stop(self, how: signal.Signals = signal.SIGINT) -> tuple[int, str, str]:
        """Stop it; its exit code and what it said further, on the two outputs."""
        self.process.send_signal(how)
        try:
            said, wrong = self.process.communicate(timeout=PATIENCE)
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise
        return self.process.returncode, said, wrong

    def kill(self) -> None:
        """End it at once, as a power cut does."""
        self.process.kill()
        self.process.communicate()

    def __enter__(self) -> Server:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self.process.poll() is None:
            self.kill()
