"""The server as it is started, which besides tells at a signal what is alive in it.

``python -m tests.bench.watched serve ...``: at SIGUSR1 it writes a JSON object of counts into the
file that CHALKCYCLE_ALIVE names: greenlets that are not over, and objects by their types.
"""

# ruff: noqa: I001
from __future__ import annotations

from app.__main__ import main

import gc
import json
import os
import signal
from collections import Counter
from pathlib import Path

import gevent
from greenlet import greenlet


def tell(file: Path) -> None:
    gc.collect()
    every = gc.get_objects()
    counts = Counter(f"{type(each).__module__}.{type(each).__qualname__}" for each in every)
    counts["greenlets"] = sum(isinstance(each, greenlet) and bool(each) for each in every)
    whole = file.with_suffix(".part")
    whole.write_text(json.dumps(counts), encoding="utf-8")
    whole.replace(file)


if __name__ == "__main__":
    gevent.signal_handler(signal.SIGUSR1, tell, Path(os.environ["CHALKCYCLE_ALIVE"]))
    main()
