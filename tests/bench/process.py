"""What the system tells of a process (Linux: proc(5))."""

from __future__ import annotations

import os
from pathlib import Path


def memory(process: int) -> float:
    """Megabytes of it that are in memory."""
    return int(_status(process, "VmRSS").split()[0]) / 1024


def threads(process: int) -> int:
    return int(_status(process, "Threads"))


def open_files(process: int) -> int:
    """Its file handles: files, sockets and what else it has open."""
    return sum(1 for _ in Path(f"/proc/{process}/fd").iterdir())


def processor_seconds(process: int) -> float:
    """The processor time that it has taken so far."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    # utime and stime, the fields 14 and 15, of which the first two are cut off.
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _status(process: int, name: str) -> str:
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        found, _, rest = line.partition(":")
        if found == name:
            return rest.strip()
    raise LookupError(f"the system tells no {name} of process {process}")
