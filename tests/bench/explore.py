"""Forty pupils explore on the teacher's laptop: what does each press cost, and does memory grow?

``python -m tests.bench.explore [--pupils N] [--seconds N]``

First the cost of one press in the server, alone: cold (the program is new), warm (its run is
kept), for a short program and for the worst one (10,000 instructions on the 16-bit machine, an
output every second one). It is compared, in the same run, with drawing one frame of the class's
board. Then the pupils press at the real server, each with programs of its own, a press every
half second and now and then a changed program; the delay is until all bytes of the answer are
there. The same pupils then press at a bare server that answers with as many bytes and does
nothing else, which says what forty clients and the machine take by themselves. At last the memory
of the server, before and after.
"""

from __future__ import annotations

import argparse
import http.client
import random
import statistics
import time
import urllib.parse
from collections import defaultdict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from flask.testing import FlaskClient

from app import create_app
from app.web.explore import trial
from tests.bench import crowd
from tests.bench.class_load import bare_server, port_of
from tests.bench.process import memory, processor_seconds
from tests.bench.rows import Row, percentile, table
from tests.server import ROOT, Server

SHORT = "LOAD fare\nADD bag\nSTORE total\nOUTPUT\nHALT\nfare: 9\nbag: 4\ntotal: {n}\n"
WORST = "again: ADD #{n}\nOUTPUT\nJUMP again\n"
PRESSES = ("forward", "back", "instruction", "to", "end", "line", "base")
THINKING_SECONDS = 0.5
# What an answer to a press has, about.
FRAME_BYTES = 10_000
# One kept run more or less of the largest is near to one.
FLAT_MEGABYTES = 4


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


def press_at_the_board(client: FlaskClient) -> Callable[[int], None]:
    """A step on, at the end of the scene from its start; with the frame that streams send."""
    board = client.post("/lessons/02-ferry-ticket-machine/teach").location
    room = client.application.extensions["rooms"].get(board.rsplit("/", 1)[1])
    client.post(f"{board}/scene", data={"scene": "2"})

    def press(number: int) -> None:
        if number % 20 == 0:
            client.post(f"{board}/restart")
        client.post(f"{board}/step-on")
        room.followers.message.event(number, still=False)

    return press


def alone(client: FlaskClient) -> None:
    def post(path: str, **fields: str) -> None:
        assert client.post(f"/explore/{path}", data=fields).status_code == 200

    one_frame = milliseconds(press_at_the_board(client), 60)
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


Delays = dict[str, list[float]]


@dataclass(frozen=True, slots=True)
class Together:
    """What the pupils found: the delays of each kind of press, those at the bare server, the
    memory of the server before, half-way and after, and its processor time for all of it."""

    delays: Delays
    bare: list[float]
    memory: tuple[float, float, float]
    work: float

    @property
    def all(self) -> list[float]:
        return [each for found in self.delays.values() for each in found]


def pupil(port: int, seed: int, until: float, delays: Delays, bare: bool = False) -> None:
    chance = random.Random(seed)
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    # A browser takes it compressed.
    headers = {"Content-Type": "application/x-www-form-urlencoded", "Accept-Encoding": "gzip"}
    program, step = SHORT.format(n=seed % 100), 0
    time.sleep(chance.random() * THINKING_SECONDS)
    while time.monotonic() < until:
        go = chance.choice((*PRESSES, "forward", "forward", "check"))
        if go == "check":
            source = WORST if chance.random() < 0.5 else SHORT
            program = source.format(n=chance.randrange(100))
        path = "/answer" if bare else f"/explore/{'check' if go == 'check' else 'press'}"
        body = urllib.parse.urlencode(form(program, go, step))
        start = time.perf_counter()
        connection.request("POST", path, body, headers)
        answer = connection.getresponse()
        answer.read()
        delays[go].append(time.perf_counter() - start)
        assert answer.status == 200, answer.status
        step = chance.randrange(30)
        time.sleep(THINKING_SECONDS * (0.5 + chance.random()))
    connection.close()


def all_press(port: int, pupils: int, seconds: float, bare: bool = False) -> Delays:
    """Everybody presses for so many seconds."""
    delays: Delays = defaultdict(list)
    until = time.monotonic() + seconds
    with ThreadPoolExecutor(pupils) as pool:
        going = [pool.submit(pupil, port, seed, until, delays, bare) for seed in range(pupils)]
        for each in going:
            each.result()
    return delays


def together(pupils: int, seconds: float) -> Together:
    # Half of the bare presses before and half after, so that both have the same quiet moments.
    with Server(ROOT / "lessons", "--store", "none") as server, bare_server(FRAME_BYTES) as bare:
        port = port_of(bare)
        found = [all_press(port, pupils, seconds / 4, bare=True)]
        before, begun = memory(server.process.pid), processor_seconds(server.process.pid)
        delays = all_press(server.port, pupils, seconds / 2)
        half = memory(server.process.pid)
        for go, more in all_press(server.port, pupils, seconds / 2).items():
            delays[go] += more
        after = memory(server.process.pid)
        work = processor_seconds(server.process.pid) - begun
        found.append(all_press(port, pupils, seconds / 4, bare=True))
    every = [each for delay in found for kind in delay.values() for each in kind]
    return Together(delays, every, (before, half, after), work)


def rows(quick: bool) -> list[Row]:
    """What a press costs alone beside one at the class's board, and before forty pupils."""
    return [
        *press_rows(20 if quick else 60),
        *pupils_rows(40, 8 if quick else 60),
        *crowd.rows(quick),
    ]


def press_rows(times: int) -> list[Row]:
    client = create_app(ROOT / "lessons").test_client()
    client.environ_base["HTTP_HOST"] = "127.0.0.1:8000"

    def post(path: str, fields: dict[str, str]) -> None:
        answer = client.post(f"/explore/{path}", data=fields, headers={"Accept-Encoding": "gzip"})
        assert answer.status_code == 200

    frame = milliseconds(press_at_the_board(client), times)
    found = [Row("a press at the board, in the server alone", "", f"{frame:.1f} ms")]
    for name, source in (("short", SHORT), ("worst", WORST)):
        warm = form(source.format(n=1), "forward", 3)
        kept = milliseconds(lambda n, f=warm: post("press", f), times)
        new = milliseconds(
            lambda n, s=source: post("press", form(s.format(n=n), "end")), times // 3
        )
        said = f"{kept:.1f} ms, {kept / frame:.1f} of the board's; a new program {new:.1f} ms"
        found.append(Row(f"a press in explore, the {name} program", "", said))
    return found


def pupils_rows(pupils: int, seconds: float) -> list[Row]:
    found = together(pupils, seconds)
    rows = []
    late = percentile(found.bare, 0.99)
    for name, delays in [*sorted(found.delays.items()), ("all of them", found.all)]:
        middle, high = statistics.median(delays), percentile(delays, 0.99)
        said = f"p50 {1e3 * middle:.1f} ms, p99 {1e3 * high:.1f} ms of {len(delays)}"
        if name == "all of them":
            said += (
                f"; p99 {high / late:.1f} of bare"
                f" (p50 {1e3 * statistics.median(found.bare):.1f} ms, p99 {1e3 * late:.1f} ms)"
            )
        rows.append(Row(f"{pupils} pupils explore: {name}", "", said))
    said = f"{1e3 * found.work / len(found.all):.1f} ms a press, {found.work / seconds:.0%} of one"
    rows.append(Row("... the server's processor time", "", said))
    before, half, after = found.memory
    said = f"{before:.1f} MB before, {half:.1f} MB half-way, {after:.1f} MB at the end"
    # The runs that are kept have filled up by then, unless it is over too soon.
    flat = after - half < FLAT_MEGABYTES if seconds > 30 else None
    rows.append(Row("... memory of the server", "flat from half-way", said, flat))
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pupils", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=20)
    options = parser.parse_args()
    client = create_app(ROOT / "lessons").test_client()
    client.environ_base["HTTP_HOST"] = "127.0.0.1:8000"
    alone(client)
    print(f"at most {trial.MOST_TRIALS} runs are kept")
    print(table(pupils_rows(options.pupils, options.seconds)))


if __name__ == "__main__":
    main()
