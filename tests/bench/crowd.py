"""Explorers who press as fast as they are answered, each with the worst of what is allowed.

``python -m tests.bench.crowd PORT EXPLORERS SECONDS [--one-address]`` is the crowd, a process of
its own, each explorer at an address of the loopback network unless told otherwise (Linux). It
prints how many of its presses were answered, with which status, and the slowest.

:func:`rows` is what the teacher's press takes meanwhile: one press in a while at the board of the
same server, on the processors that the crowd is on, too.
"""

from __future__ import annotations

import argparse
import http.client
import random
import statistics
import subprocess
import sys
import threading
import time
import urllib.parse
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

from tests.bench.rows import Row, percentile
from tests.server import ROOT, Server

# Two-hundred-odd words of memory, none of them empty, in a loop that never ends.
FULL = "\n".join(
    [*(f"w{at}: ADD w{at + 1}" for at in range(200)), "w200: OUTPUT", "JUMP w0", "x: {n}"]
)
LOOP = "again: ADD #{n}\nOUTPUT\nJUMP again\n"
# Names that are nearly those that are there.
MISTAKEN = "\n".join([*(f"labex{at}: 0" for at in range(120)), *["LOAD lebax{n}"] * 100])
WORK = (
    ("check", FULL, {}),
    ("check", LOOP, {}),
    ("check", MISTAKEN, {}),
    ("press", FULL, {"go": "end"}),
    ("press", LOOP, {"go": "end"}),
    ("press", LOOP, {"go": "forward", "predict": "on", "step": "20000"}),
    ("memory", FULL, {"step": "20000"}),
    ("memory", LOOP, {"step": "20000"}),
)
GAP_SECONDS = 0.02
TIMES_QUIET = 5.0
PATIENCE_SECONDS = 120.0


def explorer(port: int, number: int, address: str, until: float, found: Counter[str]) -> None:
    chance = random.Random(number)
    connection = http.client.HTTPConnection(
        "127.0.0.1", port, timeout=PATIENCE_SECONDS, source_address=(address, 0)
    )
    headers = {
        "Content-Type": "application/x-www-form-urlencoded",
        "Accept-Encoding": "gzip",
        "Origin": f"http://127.0.0.1:{port}",
    }
    while time.monotonic() < until:
        path, program, more = chance.choice(WORK)
        # A program that nobody has had yet, so that nothing of it is kept.
        fields = {
            "machine": "16-bit",
            "program": f"{program.format(n=chance.randrange(100))}; {chance.random()}",
            "inputs": "",
            **more,
        }
        start = time.monotonic()
        try:
            connection.request("POST", f"/explore/{path}", urllib.parse.urlencode(fields), headers)
            answer = connection.getresponse()
            answer.read()
            found[str(answer.status)] += 1
            if answer.status != 200:
                time.sleep(0.05)
        except (OSError, http.client.HTTPException) as error:
            found[type(error).__name__] += 1
            connection.close()
            time.sleep(0.05)
        found["slowest ms"] = max(found["slowest ms"], round(1e3 * (time.monotonic() - start)))


def crowd(port: int, explorers: int, seconds: float, one_address: bool) -> Counter[str]:
    found: Counter[str] = Counter()
    until = time.monotonic() + seconds
    threads = [
        threading.Thread(
            target=explorer,
            args=(port, n, "127.0.0.2" if one_address else f"127.0.1.{n + 1}", until, found),
        )
        for n in range(explorers)
    ]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    return found


def presses(server: Server, board: str, teacher: dict[str, str], seconds: float) -> list[float]:
    """How long each of the teacher's presses took, in seconds."""
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=PATIENCE_SECONDS)
    found = []
    until = time.monotonic() + seconds
    at = 0
    while time.monotonic() < until:
        at += 1
        start = time.perf_counter()
        action = "restart" if at % 20 == 0 else "step-on"
        connection.request("POST", f"{board}/{action}", headers=teacher)
        answer = connection.getresponse()
        answer.read()
        found.append(time.perf_counter() - start)
        assert answer.status == 204, answer.status
        time.sleep(GAP_SECONDS)
    connection.close()
    return found


def _teachers(server: Server) -> dict[str, str]:
    """What the teacher's browser sends with a press."""
    connection = http.client.HTTPConnection("127.0.0.1", server.port)
    connection.request("GET", f"/?key={server.key}")
    answer = connection.getresponse()
    cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
    connection.close()
    return {"Cookie": cookie, "Origin": server.address}


def honest(port: int, seconds: float) -> list[float]:
    """How long somebody waits who explores a small program meanwhile, in seconds."""
    connection = http.client.HTTPConnection(
        "127.0.0.1", port, timeout=PATIENCE_SECONDS, source_address=("127.0.0.3", 0)
    )
    headers = {
        "Content-Type": "application/x-www-form-urlencoded",
        "Origin": f"http://127.0.0.1:{port}",
    }
    found = []
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        fields = {"machine": "8-bit", "program": "LOAD #3\nADD #4\nHALT", "go": "forward"}
        start = time.perf_counter()
        connection.request("POST", "/explore/press", urllib.parse.urlencode(fields), headers)
        answer = connection.getresponse()
        answer.read()
        found.append(time.perf_counter() - start)
        assert answer.status == 200, answer.status
        time.sleep(0.5)
    connection.close()
    return found


def measure(explorers: int, seconds: float, one_address: bool) -> Row:
    with Server(ROOT / "lessons", "--share", "--address", "127.0.0.1") as server:
        teacher = _teachers(server)
        connection = http.client.HTTPConnection("127.0.0.1", server.port)
        connection.request("POST", "/lessons/02-ferry-ticket-machine/teach", headers=teacher)
        answer = connection.getresponse()
        answer.read()
        board = answer.getheader("Location") or ""
        presses(server, board, teacher, 1.0)
        quiet = presses(server, board, teacher, seconds / 2)
        command = [sys.executable, "-m", "tests.bench.crowd", str(server.port), str(explorers)]
        command += [str(seconds + 2), *(["--one-address"] if one_address else [])]
        going = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
        try:
            time.sleep(1.5)
            with ThreadPoolExecutor(1) as beside:
                waits = beside.submit(honest, server.port, seconds)
                busy = presses(server, board, teacher, seconds)
            waited = waits.result()
        finally:
            said = going.communicate(timeout=PATIENCE_SECONDS)[0].strip()
        quiet += presses(server, board, teacher, seconds / 2)
    times = percentile(busy, 0.99) / percentile(quiet, 0.99)
    return Row(
        f"a press while {explorers} explore the worst, {'one address' if one_address else 'each'}",
        f"p99 under {TIMES_QUIET:g} times quiet",
        f"{times:.1f} times: p50 {_ms(statistics.median(busy))}, p99 {_ms(percentile(busy, 0.99))},"
        f" all {_ms(max(busy))} of {len(busy)} (quiet: p50 {_ms(statistics.median(quiet))},"
        f" p99 {_ms(percentile(quiet, 0.99))}, all {_ms(max(quiet))}); explorers: {said};"
        f" a pupil with a small program meanwhile: p50 {_ms(statistics.median(waited))}, all"
        f" {_ms(max(waited))}",
        times < TIMES_QUIET,
    )


def _ms(seconds: float) -> str:
    return f"{1e3 * seconds:.1f} ms"


def rows(quick: bool) -> list[Row]:
    seconds = 6 if quick else 30
    return [measure(40, seconds, one_address) for one_address in (False, True)]


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("port", type=int)
    parser.add_argument("explorers", type=int)
    parser.add_argument("seconds", type=float)
    parser.add_argument("--one-address", action="store_true")
    options = parser.parse_args()
    found = crowd(options.port, options.explorers, options.seconds, options.one_address)
    print(", ".join(f"{name}: {count}" for name, count in sorted(found.items())))


if __name__ == "__main__":
    main()
