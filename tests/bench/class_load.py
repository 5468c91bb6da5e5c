"""A whole class follows: how late is a frame, and does memory grow?

``python -m tests.bench.class_load [followers ...] [--frames N] [--steps N]``

For each number of followers (35, 200 and 1,000 if none is given) as many streams are opened to
Chalkcycle and to a bare broadcast server (:mod:`tests.bench.bare_broadcast`), both in processes
of their own, in one run. The two take turns, a frame each, in the same number of bytes. The
delay of a frame is from the press (the POST is sent) until a follower has all of its bytes.
Both sides' followers are one program that reads, which has its own share of the delays and makes
the two more alike than they are: so the processor time of the two servers is compared too.
Chalkcycle has the teacher's board open besides, which a lesson never goes without. Then the board
goes 10,000 steps on before 35 followers, and the memory of the server is read.

Everything stays on this machine: all addresses are 127.0.0.1.
"""

from __future__ import annotations

import argparse
import gc
import http.client
import re
import selectors
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.bench.process import memory, processor_seconds
from tests.bench.rows import percentile
from tests.server import ROOT, Server

GAP_SECONDS = 0.05
PATIENCE_SECONDS = 20.0
# Frames that are sent before any is timed.
WARM = 3

LESSON = """---
title: A long loop
machine: 8-bit
---

# Round and round

```program
        LOAD  #0
again:  ADD   #1
        STORE count
        LOAD  count
        JUMP  again
count:  0
```
"""


class Followers:
    """Streams that are read as fast as they come, all in one thread."""

    def __init__(self, port: int, path: str, number: int) -> None:
        self.selector = selectors.DefaultSelector()
        self.streams: list[socket.socket] = []
        self.read: dict[int, bytearray] = {}
        for _ in range(number):
            stream = socket.create_connection(("127.0.0.1", port))
            stream.sendall(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
            self.streams.append(stream)
            self.read[stream.fileno()] = bytearray()
            stream.setblocking(False)
            self.selector.register(stream, selectors.EVENT_READ)
        self.drain(0.5)

    def drain(self, quiet: float) -> None:
        """Read whatever comes until it has been quiet for so many seconds."""
        while ready := self.selector.select(quiet):
            for key, _ in ready:
                self._receive(key.fileobj)  # type: ignore[arg-type]
        for each in self.read.values():
            each.clear()

    def _receive(self, stream: socket.socket) -> bytearray:
        data = stream.recv(1 << 18)
        if not data:
            raise AssertionError("the server closed a stream")
        self.read[stream.fileno()] += data
        return self.read[stream.fileno()]

    def delays(self, start: float) -> list[float]:
        """For each follower, the seconds from ``start`` until it has the next whole event."""
        delays: list[float] = []
        waiting = {each.fileno() for each in self.streams}
        while waiting:
            ready = self.selector.select(PATIENCE_SECONDS)
            if not ready:
                raise AssertionError(f"{len(waiting)} followers never got the frame")
            for key, _ in ready:
                buffer = self._receive(key.fileobj)  # type: ignore[arg-type]
                if buffer.endswith(b"\n\n\r\n"):
                    # A sign of life is no frame.
                    if b"id: " in buffer and key.fd in waiting:
                        delays.append(time.monotonic() - start)
                        waiting.discard(key.fd)
                    buffer.clear()
        return delays

    def close(self) -> None:
        self.selector.close()
        for each in self.streams:
            each.close()


class Press:
    """A connection that stays open, to press with."""

    def __init__(self, port: int, path: str) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port)
        self.path = path
        self.connection.connect()
        self.connection.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def send(self) -> float:
        """Press; the time at which it was sent. Its answer is read by :meth:`answer`."""
        start = time.monotonic()
        self.connection.putrequest("POST", self.path)
        self.connection.putheader("Content-Length", "0")
        self.connection.endheaders()
        return start

    def answer(self) -> None:
        answer = self.connection.getresponse()
        answer.read()
        assert answer.status == 204, answer.status


def line(name: str, delays: list[float]) -> str:
    middle, high, most = statistics.median(delays), percentile(delays, 0.99), max(delays)
    figures = (("p50", middle), ("p99", high), ("max", most))
    return f"{name:<12}" + "".join(f"{what} {each * 1e3:6.1f} ms   " for what, each in figures)


def open_lesson(server: Server) -> tuple[str, str]:
    """Open the lesson; the paths of its board and of its class."""
    connection = http.client.HTTPConnection("127.0.0.1", server.port)
    connection.request("POST", "/lessons/loop/teach")
    board = connection.getresponse().getheader("Location") or ""
    connection = http.client.HTTPConnection("127.0.0.1", server.port)
    connection.request("GET", board)
    page = connection.getresponse().read().decode()
    found = re.search(r"/class/(\w+)", page)
    assert found, "the board names no class"
    return board, f"/class/{found[1]}"


def frame_size(server: Server, board: str, path: str) -> int:
    """The bytes of one event of a frame that moves."""
    followers = Followers(server.port, f"{path}/stream", 1)
    press = Press(server.port, f"{board}/step-on")
    press.send()
    press.answer()
    while followers.selector.select(0.5):
        followers._receive(followers.streams[0])
    size = len(followers.read[followers.streams[0].fileno()])
    followers.close()
    return size


@contextmanager
def bare_server(size: int) -> Iterator[subprocess.Popen[str]]:
    """The bare server in a process of its own; the port is in what it says first."""
    bare = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.bare_broadcast", str(size)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        yield bare
    finally:
        bare.kill()
        bare.communicate()


def port_of(bare: subprocess.Popen[str]) -> int:
    assert bare.stdout
    return int(bare.stdout.readline().rsplit(":", 1)[1].strip("/\n"))


@dataclass(frozen=True, slots=True)
class Compared:
    """The delays of every frame to every follower in seconds, and the processor time that a
    frame took in the two servers."""

    ours: list[float]
    bare: list[float]
    our_work: float
    bare_work: float
    size: int


def compare(server: Server, board: str, path: str, number: int, frames: int) -> Compared:
    """Measure the delays of a number of followers, and print them."""
    size = frame_size(server, board, path)
    with bare_server(size) as bare:
        port = port_of(bare)
        sides = {
            "Chalkcycle": (
                Followers(server.port, f"{path}/stream", number),
                server.port,
                "forward",
            ),
            "bare": (Followers(port, "/", number), port, ""),
        }
        screen = Followers(server.port, f"{board}/stream", 1)
        delays: dict[str, list[float]] = {name: [] for name in sides}
        presses = {
            name: Press(to, f"{board}/step-on" if action else "/")
            for name, (_, to, action) in sides.items()
        }
        processes = {"Chalkcycle": server.process.pid, "bare": bare.pid}
        taken = dict.fromkeys(sides, 0.0)
        # Our own rest from collecting garbage would be counted as theirs.
        gc.disable()
        try:
            for at in range(frames + WARM):
                if at == WARM:
                    taken = {name: processor_seconds(each) for name, each in processes.items()}
                for name, (followers, _, _) in sides.items():
                    start = presses[name].send()
                    found = followers.delays(start)
                    presses[name].answer()
                    if at >= WARM:
                        delays[name] += found
                    screen.drain(0.001)
                    time.sleep(GAP_SECONDS)
        finally:
            gc.enable()
        work = {
            name: (processor_seconds(process) - taken[name]) / frames
            for name, process in processes.items()
        }
        print(f"\n{number} followers, {frames} frames of {size} bytes")
        for name in processes:
            print(f"{line(name, delays[name])}processor {work[name] * 1e3:6.1f} ms a frame")
        ratio = percentile(delays["Chalkcycle"], 0.99) / percentile(delays["bare"], 0.99)
        print(
            f"p99 is {ratio:.2f} times that of the bare server; memory"
            f" {memory(server.process.pid):.0f} MB, bare {memory(bare.pid):.0f} MB"
        )
        for followers in (*(each for each, _, _ in sides.values()), screen):
            followers.close()
        return Compared(
            delays["Chalkcycle"], delays["bare"], work["Chalkcycle"], work["bare"], size
        )


def go_on(server: Server, board: str, path: str, steps: int) -> list[float]:
    """Go many steps on before 35 followers; print the memory (MB) on the way, and give it."""
    followers = Followers(server.port, f"{path}/stream", 35)
    press = Press(server.port, f"{board}/step-on")
    print(f"\n{steps} steps before 35 followers: memory in MB", end="")
    marks = [memory(server.process.pid)]
    for at in range(1, steps + 1):
        press.send()
        press.answer()
        if at % 50 == 0:
            followers.drain(0.001)
        if at % (steps // 10) == 0:
            marks.append(memory(server.process.pid))
    followers.close()
    print(f"\n{'  '.join(f'{each:.1f}' for each in marks)}")
    print(f"grown by {marks[-1] - marks[1]:.1f} MB after the first tenth")
    return marks


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("followers", type=int, nargs="*", default=[35, 200, 1000])
    parser.add_argument("--frames", type=int, default=100)
    parser.add_argument("--steps", type=int, default=10_000)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        lesson = Path(folder) / "loop.md"
        lesson.write_text(LESSON, encoding="utf-8")
        store = Path(folder) / "store.sqlite3"
        with Server(lesson, "--class-size", "2000", store=store) as server:
            board, path = open_lesson(server)
            for number in options.followers:
                compare(server, board, path, number, options.frames)
            if options.steps:
                go_on(server, board, path, options.steps)


if __name__ == "__main__":
    main()
