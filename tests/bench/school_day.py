"""A school day, compressed: six lessons of forty pupils, one after the other, and what stays.

``python -m tests.bench.school_day [--quick]``, or the group ``day`` of the whole benchmark.

The real server runs in a process of its own, shared with the class as in a school; each pupil has
an address of the loopback, a cookie and a stream. In each lesson, a shipped one, pupils join, some
come late, some drop out and come back, some are gone without a goodbye: the connection is torn
down, or stays and nobody reads it any more, as when a lid is closed. The teacher goes through the
scenes and asks questions in two rounds; some pupils try programs of their own; the lesson ends.

After each lesson, once the server has noticed who is gone, its memory, file handles and threads
are read from the system, and what is alive in it is asked of it (:mod:`tests.bench.watched`).
What is kept on purpose, and bounded, is filled before the first lesson: every lesson is leafed
through, and more programs are tried than are kept.

Flat means, from the second lesson to the last: memory grows by less than FLAT_MEGABYTES (forty
leaked streams take more in a single lesson), and after no lesson are there more file handles,
threads, greenlets or rooms than there were after the first.
"""

from __future__ import annotations

import argparse
import http.client
import json
import re
import selectors
import signal
import socket
import struct
import sys
import tempfile
import threading
import time
import urllib.parse
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from tests.bench import process
from tests.bench.rows import Row, table
from tests.server import ROOT, Server

PUPILS = 40
LESSONS = (
    "02-ferry-ticket-machine",
    "03-bakery-scale",
    "05-tide-gauge",
    "07-mountain-hut",
    "08-cable-car",
    "09-village-hall",
)
FLAT_MEGABYTES = 2.0
# How long the server may take to notice that a client is gone: its own patience and a little.
NOTICED_SECONDS = 60.0
CLIENT_SECONDS = 30.0
TRIED_AT_FIRST = 80
ROOM = "app.web.rooms.Room"
FORM = "application/x-www-form-urlencoded"


class Client:
    """One computer, which keeps its cookies."""

    def __init__(self, port: int, source: str = "127.0.0.1") -> None:
        self.port, self.source = port, source
        self.cookies: dict[str, str] = {}

    @property
    def heads(self) -> dict[str, str]:
        cookies = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        return {"Cookie": cookies, "Origin": f"http://127.0.0.1:{self.port}"}

    def ask(self, method: str, path: str, **form: object) -> tuple[int, str, str]:
        """The status, the address that it leads on to, and the text."""
        connection = http.client.HTTPConnection(
            "127.0.0.1", self.port, timeout=CLIENT_SECONDS, source_address=(self.source, 0)
        )
        try:
            body = urllib.parse.urlencode(form) if form else None
            connection.request(method, path, body, self.heads | {"Content-Type": FORM})
            answer = connection.getresponse()
            for name, value in answer.getheaders():
                if name.lower() == "set-cookie":
                    key, _, rest = value.partition("=")
                    self.cookies[key] = rest.split(";")[0]
            text = answer.read().decode()
            return answer.status, answer.getheader("Location") or "", text
        finally:
            connection.close()


class Pupil(Client):
    def __init__(self, port: int, number: int, path: str) -> None:
        super().__init__(port, f"127.0.1.{number + 1}")
        self.path = path
        self.stream: socket.socket | None = None
        assert self.ask("GET", path)[0] == 200

    def follow(self, least_bytes: bool = False) -> socket.socket:
        """Open the stream; with ``least_bytes`` as little as possible may be on its way."""
        self.stream = socket.socket()
        if least_bytes:
            self.stream.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        self.stream.bind((self.source, 0))
        self.stream.settimeout(CLIENT_SECONDS)
        self.stream.connect(("127.0.0.1", self.port))
        heads = "".join(f"{name}: {value}\r\n" for name, value in self.heads.items())
        head = f"GET {self.path}/stream HTTP/1.1\r\nHost: 127.0.0.1:{self.port}\r\n{heads}\r\n"
        self.stream.sendall(head.encode())
        return self.stream

    def drop(self) -> None:
        """Gone at once: the other end is told by a reset, if it is told at all."""
        assert self.stream
        self.stream.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        self.stream.close()
        self.stream = None


class Reading:
    """Reads the streams of those who look, in a thread of its own."""

    def __init__(self) -> None:
        self.frames = 0
        self._selector = selectors.DefaultSelector()
        self._lock = threading.Lock()
        self._going = True
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def look(self, stream: socket.socket) -> None:
        stream.setblocking(False)
        with self._lock:
            self._selector.register(stream, selectors.EVENT_READ)

    def look_away(self, stream: socket.socket) -> None:
        with self._lock:
            if stream in self._selector.get_map():
                self._selector.unregister(stream)

    def _read(self) -> None:
        while self._going:
            for key, _ in self._selector.select(0.2):
                with self._lock:
                    stream = key.fileobj
                    if not isinstance(stream, socket.socket) or stream.fileno() < 0:
                        continue
                    try:
                        data = stream.recv(1 << 16)
                    except (BlockingIOError, ConnectionError):
                        data = None
                    if data == b"" and stream in self._selector.get_map():
                        self._selector.unregister(stream)
                    self.frames += (data or b"").count(b"id: ")

    def close(self) -> None:
        self._going = False
        self._thread.join()
        self._selector.close()


@dataclass
class Did:
    """What happened in a lesson, so that a row says what it stands for."""

    presses: int = 0
    frames: int = 0
    answers: int = 0
    tries: int = 0
    torn: int = 0
    silent: int = 0
    late: int = 0


@dataclass(frozen=True)
class State:
    """The server after a lesson; ``waited`` seconds after it had ended."""

    what: str
    megabytes: float
    files: int
    threads: int
    alive: Counter[str] = field(default_factory=Counter)
    waited: float = 0.0
    did: Did = field(default_factory=Did)

    @property
    def counts(self) -> dict[str, int]:
        return {
            "file handles": self.files,
            "threads": self.threads,
            "greenlets": self.alive["greenlets"],
            "rooms": self.alive[ROOM],
        }

    def row(self) -> Row:
        counted = ", ".join(f"{count} {name}" for name, count in self.counts.items())
        did = self.did
        happened = (
            f" ({did.presses} presses, {did.frames:,} frames read, {did.answers} answers,"
            f" {did.tries} tries, {did.torn} torn off, {did.silent} silent, {did.late} late;"
            f" noticed {self.waited:.0f} s later)"
            if did.presses
            else ""
        )
        return Row(self.what, "", f"{self.megabytes:.1f} MB, {counted}{happened}")


class Day:
    """The server, its teacher, and the classes that come."""

    def __init__(self, server: Server, alive: Path, quick: bool) -> None:
        self.server, self.alive, self.quick = server, alive, quick
        self.draw = Random(1)
        self.teacher = Client(server.port)
        assert self.teacher.ask("GET", f"/?key={server.key}")[0] == 303

    def open(self, slug: str) -> tuple[str, str, int]:
        """The addresses of the board and of the class, and the number of scenes."""
        board = self.teacher.ask("POST", f"/lessons/{slug}/teach")[1]
        page = self.teacher.ask("GET", board)[2]
        code = re.search(r'class="code">(\w+)<', page)
        assert code, "the board shows no code"
        text = (ROOT / "lessons" / f"{slug}.md").read_text(encoding="utf-8")
        return board, f"/class/{code[1]}", len(re.findall(r"^# ", text, re.MULTILINE))

    def press(self, board: str, action: str, **form: object) -> int:
        return self.teacher.ask("POST", f"{board}/{action}", **form)[0]

    def prepare(self) -> None:
        """What the teacher does before school; it fills what is kept on purpose."""
        self.teacher.ask("GET", "/")
        for slug in LESSONS:
            board, path, scenes = self.open(slug)
            pupil = Pupil(self.server.port, 0, path)
            for scene in range(1, scenes + 1):
                self.press(board, "scene", scene=scene)
                for _ in range(60):
                    self.press(board, "instruction")
            pupil.ask("GET", path)
            self.press(board, "end")
        for number in range(TRIED_AT_FIRST):
            self.try_a_program(self.teacher, number)

    def try_a_program(self, who: Client, number: int) -> None:
        program = f"LOAD x\nagain: ADD #{number % 16}\nSTORE x\nJUMP again IF LESS\nHALT\nx: 1\n"
        form = {"machine": "16-bit", "program": f"{program}; {number}", "at": "2"}
        for go in ("forward", "instruction", "end"):
            assert who.ask("POST", "/explore/press", **form, go=go, step=3)[0] == 200

    def lesson(self, slug: str) -> Did:
        did, reading = Did(), Reading()
        board, path, scenes = self.open(slug)
        silent = 0 if self.quick else 4
        with ThreadPoolExecutor(8) as pool:
            class_of = [*pool.map(lambda at: Pupil(self.server.port, at, path), range(PUPILS))]
            late, here = class_of[:5], class_of[5:]
            for at, each in enumerate(here):
                reading.look(each.follow(least_bytes=at < silent))
            for scene in range(1, scenes + 1):
                self.press(board, "scene", scene=scene)
                for at in range(12 if self.quick else 40):
                    assert self.press(board, "step-on") == 204
                    did.presses += 1
                    time.sleep(0.01)
                    if at % 10 == 5:
                        self.somebody_drops(here[silent:], reading, did)
                if scene == 1:
                    for each in here[:silent]:
                        # The lid is closed: it stays as it is, and nobody reads.
                        assert each.stream
                        reading.look_away(each.stream)
                        did.silent += 1
                if scene == 2:
                    for each in late:
                        reading.look(each.follow())
                        did.late += 1
                if scene <= (2 if self.quick else 3):
                    self.ask(board, scene, class_of, pool, did)
            tries = [*range(4 if self.quick else 10)]
            number = did.presses + 1000 * LESSONS.index(slug)
            [*pool.map(lambda at: self.try_a_program(class_of[at], number + at), tries)]
            did.tries = len(tries)
        assert self.press(board, "end") == 303
        time.sleep(0.3)
        reading.close()
        did.frames = reading.frames
        # The class goes; who has gone silent does not even do that.
        for each in class_of[5 + silent :] + late:
            if each.stream:
                each.stream.close()
        self.gone = class_of[5 : 5 + silent]
        return did

    def somebody_drops(self, pupils: list[Pupil], reading: Reading, did: Did) -> None:
        """Torn off, and back a moment later."""
        who = self.draw.choice(pupils)
        assert who.stream
        reading.look_away(who.stream)
        who.drop()
        did.torn += 1
        reading.look(who.follow())

    def ask(
        self, board: str, scene: int, pupils: list[Pupil], pool: ThreadPoolExecutor, did: Did
    ) -> None:
        """The first question of a scene, if it has one: answered, talked over, answered again."""
        # The keys may have led to the scene after it.
        self.press(board, "scene", scene=scene)
        if self.press(board, "question/open", question=1) != 204:
            return
        for round in (1, 2):

            def answer(at: int, round: int = round) -> int:
                form = {"question": f"{scene - 1}-1", "round": round, "choice": (at + round) % 2}
                return pupils[at].ask("POST", f"{pupils[at].path}/answer", **form)[0]

            statuses = [*pool.map(answer, range(len(pupils)))]
            assert statuses == [200] * len(pupils), Counter(statuses)
            did.answers += len(statuses)
            self.press(board, "question/close")
            if round == 1:
                self.press(board, "question/again")
        for action in ("show", "run", "away"):
            assert self.press(board, f"question/{action}") == 204, action
            time.sleep(0.1)

    def state(self, what: str, did: Did, files: int | None) -> State:
        """Once there are no more file handles than ``files``, or it has taken too long."""
        pid = self.server.process.pid
        start = time.monotonic()
        if files is None:
            time.sleep(2)
        else:
            _until(lambda: process.open_files(pid) <= files, NOTICED_SECONDS)
        waited = time.monotonic() - start
        # A timer that counts the class may still be about to fire.
        time.sleep(1)
        megabytes, now = process.memory(pid), process.open_files(pid)
        return State(what, megabytes, now, process.threads(pid), self._alive(), waited, did)

    def _alive(self) -> Counter[str]:
        self.alive.unlink(missing_ok=True)
        self.server.process.send_signal(signal.SIGUSR1)
        _until(self.alive.exists, CLIENT_SECONDS)
        return Counter(json.loads(self.alive.read_text(encoding="utf-8")))


def _until(condition: Callable[[], bool], seconds: float) -> None:
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.1)


def school_day(quick: bool) -> list[State]:
    """The server before the first lesson and after each."""
    with tempfile.TemporaryDirectory() as folder:
        alive = Path(folder) / "alive.json"
        server = Server(
            *("--share", "--address", "127.0.0.1", "--class-size", str(PUPILS)),
            store=Path(folder) / "store.sqlite3",
            command=(sys.executable, "-m", "tests.bench.watched"),
            environment={"CHALKCYCLE_ALIVE": str(alive)},
        )
        with server:
            day = Day(server, alive, quick)
            day.prepare()
            states = [day.state("a day: before the first lesson", Did(), None)]
            for number, slug in enumerate(LESSONS, start=1):
                did = day.lesson(slug)
                states.append(day.state(f"... after lesson {number}", did, states[0].files))
                for each in day.gone:
                    assert each.stream
                    each.stream.close()
        return states


def verdicts(states: list[State]) -> list[Row]:
    after = states[1:]
    grown = max(each.megabytes for each in after[1:]) - after[1].megabytes
    most = {
        name: max(each.counts[name] for each in after[1:]) - count
        for name, count in after[0].counts.items()
    }
    more = [f"{count} more {name}" for name, count in most.items() if count > 0]
    return [
        Row(
            f"... memory from lesson 2 to {len(after)}",
            f"under {FLAT_MEGABYTES:.0f} MB more",
            f"{grown:+.1f} MB at the most, {after[-1].megabytes - after[1].megabytes:+.1f} MB at"
            " the end",
            grown < FLAT_MEGABYTES,
        ),
        Row(
            "... what else is left of a lesson",
            "no more than after the first",
            ", ".join(more) or "nothing: file handles, threads, greenlets and rooms are as before",
            not more,
        ),
    ]


def growing(states: list[State]) -> list[str]:
    """The types of which every lesson from the second on leaves more objects."""
    after = [each.alive for each in states[2:]]
    found = []
    for name in after[-1]:
        counts = [each[name] for each in after]
        if counts == sorted(set(counts)) and counts[-1] - counts[0] >= 2 * len(counts):
            found.append((counts[-1] - counts[0], f"{name}: {counts}"))
    return [told for _, told in sorted(found, reverse=True)[:12]]


def rows(quick: bool) -> list[Row]:
    states = school_day(quick)
    reached = verdicts(states)
    if not all(each.reached for each in reached):
        # Where to look for it.
        for told in growing(states):
            print(f"more of it after each lesson: {told}", file=sys.stderr)
    return [*(each.row() for each in states), *reached]


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="shorter, and nobody is silent")
    print(table(rows(parser.parse_args().quick)))


if __name__ == "__main__":
    main()
