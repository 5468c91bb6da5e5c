"""Forty pupils explore on the teacher's laptop: what does each press cost, and does memory grow?

``python -m tests.bench.explore [--pupils N] [--seconds N]``

First the cost of one press in the server, alone: cold (the program is new), warm (its run is
kept), for a short program and for the worst one (10,000 instructions on the 16-bit machine, an
output every second one). It is compared, in the same run, with drawing one frame of the class's
board. Then the pupils press at the real server, each with programs of its own, a press every
half second and now and then a changed program; the delay is until all bytes of the answer are
there. At last the memory of the server, before and after.
"""

from __future__ import annotations

import argparse
import http.client
import random
import statistics
import threading
import time
import urllib.parse
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

from flask.testing import FlaskClient

from app import create_app
from app.web import explore_trial
from tests.server import ROOT, Server

SHORT = "LOAD fare\nADD bag\nSTORE total\nOUTPUT\nHALT\nfare: 9\nbag: 4\ntotal: {n}\n"
WORST = "again: ADD #{n}\nOUTPUT\nJUMP again\n"
PRESSES = ("forward", "back", "instruction", "to", "end", "line", "base")
THINKING_SECONDS = 0.5


def milliseconds(work: Callable[[int], object], times: int) -> float:
    """The median of several goes."""
    found = []
    for number in range(times):
        start = time.perf_counter()
        work(number)
        found.append(time.perf_counter() - start)
    return 1000 * statistics.median(found)


def form(program: str, go: str = "here", step: int = 0, **more: str) -> dict[str, str]:
    return {"machine": "16-bit", "program": program, "go": go, "step": str(step), "at": "2"} | more


def alone(client: FlaskClient) -> None:
    def post(path: str, **fields: str) -> None:
        assert client.post(f"/explore/{path}", data=fields).status_code == 200

    board = client.post("/lessons/02-ferry-ticket-machine/teach").location
    one_frame = milliseconds(lambda number: client.post(f"{board}/forward"), 60)
    print(f"a press at the class's board: {one_frame:.1f} ms")
    for name, source in (("a short program", SHORT), ("the worst program", WORST)):
        cold = milliseconds(lambda n, s=source: post("press", **form(s.format(n=n), "end")), 12)
        print(f"{name}, new: {cold:.1f} ms ({cold / one_frame:.1f} times)")
        for go in PRESSES:
            same = form(source.format(n=1), go, 3)
            warm = milliseconds(lambda n, f=same: post("press", **f), 60)
            print(f"{name}, {go}: {warm:.1f} ms ({warm / one_frame:.1f} times)")
        asked = form(source.format(n=1), "forward", 3, predict="on")
        print(
            f"{name}, a question: {milliseconds(lambda n, f=asked: post('press', **f), 30):.1f} ms"
        )
        typed = milliseconds(lambda n, s=source: post("check", **form(s.format(n=n))), 30)
        print(f"{name}, checked as typed: {typed:.1f} ms")
        memory = form(source.format(n=1))
        print(f"{name}, memory: {milliseconds(lambda n, f=memory: post('memory', **f), 30):.1f} ms")


def resident(pid: int) -> int | None:
    """The memory of a process in MB; None where the system does not tell."""
    status = Path(f"/proc/{pid}/status")
    if not status.exists():
        return None
    line = next(each for each in status.read_text().splitlines() if each.startswith("VmRSS"))
    return int(line.split()[1]) // 1024


def pupil(server: Server, seed: int, until: float, delays: dict[str, list[float]]) -> None:
    chance = random.Random(seed)
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    program, step = SHORT.format(n=seed % 100), 0
    time.sleep(chance.random() * THINKING_SECONDS)
    while time.monotonic() < until:
        go = chance.choice((*PRESSES, "forward", "forward", "check"))
        if go == "check":
            source = WORST if chance.random() < 0.5 else SHORT
            program = source.format(n=chance.randrange(100))
        path = "check" if go == "check" else "press"
        body = urllib.parse.urlencode(form(program, go, step))
        start = time.perf_counter()
        connection.request("POST", f"/explore/{path}", body, headers)
        answer = connection.getresponse()
        answer.read()
        delays[go].append(time.perf_counter() - start)
        assert answer.status == 200, answer.status
        step = chance.randrange(30)
        time.sleep(THINKING_SECONDS * (0.5 + chance.random()))
    connection.close()


def together(pupils: int, seconds: float) -> None:
    with Server(ROOT / "lessons", "--store", "none") as server:
        before = resident(server.process.pid)
        delays: dict[str, list[float]] = defaultdict(list)
        until = time.monotonic() + seconds
        threads = [
            threading.Thread(target=pupil, args=(server, seed, until, delays))
            for seed in range(pupils)
        ]
        for each in threads:
            each.start()
        half = None
        time.sleep(seconds / 2)
        half = resident(server.process.pid)
        for each in threads:
            each.join()
        after = resident(server.process.pid)
    every = [each for found in delays.values() for each in found]
    print(f"{pupils} pupils, {len(every)} presses in {seconds:.0f} s:")
    for name, found in [*sorted(delays.items()), ("all", every)]:
        ordered = sorted(found)
        middle, late = ordered[len(ordered) // 2], ordered[int(len(ordered) * 0.99)]
        print(f"  {name}: half under {1000 * middle:.0f} ms, 99 of 100 under {1000 * late:.0f} ms")
    print(f"memory of the server: {before} MB, half-way {half} MB, at the end {after} MB")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pupils", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=20)
    options = parser.parse_args()
    client = create_app(ROOT / "lessons").test_client()
    client.environ_base["HTTP_HOST"] = "127.0.0.1:8000"
    alone(client)
    print(f"at most {explore_trial.MOST_TRIALS} runs are kept")
    together(options.pupils, options.seconds)


if __name__ == "__main__":
    main()
