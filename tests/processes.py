"""Programs that were started by others."""

from __future__ import annotations

import time
from pathlib import Path

PATIENCE_SECONDS = 20.0


def wait_until_ended(pid: int) -> None:
    """Until a program that was told to end has come to it, where the system tells of programs in
    /proc. One that only waits for whoever has taken it over to notice has ended (proc(5): state
    Z)."""
    if not Path("/proc/self").exists():
        return
    status = Path(f"/proc/{pid}/stat")
    patience = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < patience:
        try:
            state = status.read_text().rpartition(")")[2].split()[0]
        except (FileNotFoundError, ProcessLookupError):
            return
        if state == "Z":
            return
        time.sleep(0.01)
    raise AssertionError(f"the program {pid} goes on")
