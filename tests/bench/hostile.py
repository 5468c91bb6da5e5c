"""Hostile and broken input, in the numbers of the figures.

Lessons damaged at random and programs made at random are shown on every page that shows them and
taken for a walk; malformed requests are sent to every address, and others, that are no HTTP, to
the real server's port. No answer may be a failure of the server, show its insides, come late (in
processor time) or without words. The tests do the same for fewer; see tests/web/test_hostile.py,
from which the damage is taken. Each is made from its number alone, which is told where it fails.
"""

from __future__ import annotations

import os
import socket
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from random import Random

from flask.testing import FlaskClient

from app import create_app
from app.machine.machine import MACHINES
from tests.bench.rows import Row
from tests.server import Server
from tests.web import test_hostile as damage

KINDS = ("insert", "insert", "cut", "end", "word", "word", "swap", "double", "drop")
MOST_SECONDS = 5.0
# How long a client that sends nonsense waits for an answer, on the clock.
PATIENCE_SECONDS = 20.0
WORDS = (
    *("LOAD", "STORE", "ADD", "SUBTRACT", "COMPARE", "JUMP", "INPUT", "OUTPUT", "HALT"),
    *("load", "LAOD", "JUMP x IF", "IF MORE", "IF LESS", "IF EQUAL", "IF", "#", "x", "x:", "y:"),
    *("0", "1", "#1", "#15", "#255", "#256", "-1", "#-1", "15", "16", "255", "256", "0b1010", "0x"),
    *("0xFF", "99999999999999999999", "1_0", ";", "; words", ":", "::", ",", "\t", "=", "é", "\0"),
)
RIGHT = (
    *("LOAD x", "LOAD #{n}", "STORE x", "ADD x", "ADD #{n}", "SUBTRACT x", "SUBTRACT #{n}"),
    *("COMPARE x", "COMPARE #{n}", "JUMP {a}", "JUMP {a} IF LESS", "JUMP {a} IF EQUAL"),
    *("JUMP {a} IF MORE", "INPUT", "OUTPUT", "HALT", "{n}", "JUMP x", "STORE {a}"),
)
PRESSES = ("here", "forward", "back", "phase", "instruction", "end", "to", "line", "base")
INPUTS = ("", "1 2 3", "5;" * 40, "-128, 127", "many", "0b1 0x", "9" * 400)


class Count:
    """What became of so many of them, and the slowest of them in processor seconds."""

    def __init__(self) -> None:
        self.outcomes: Counter[str] = Counter()
        self.slowest = 0.0
        self.wrong: list[str] = []

    def each(self, numbers: range, work: Callable[[int], str]) -> None:
        for number in numbers:
            start = time.process_time()
            try:
                self.outcomes[work(number)] += 1
            except Exception as error:  # whatever it is, it is what is looked for
                self.outcomes["failed"] += 1
                said = " ".join(str(error).split())[:200]
                self.wrong.append(f"number {number}: {type(error).__name__}: {said}")
            self.slowest = max(self.slowest, time.process_time() - start)

    def row(self, what: str) -> Row:
        total = self.outcomes.total()
        said = ", ".join(f"{count:,} {name}" for name, count in sorted(self.outcomes.items()))
        said += f"; the slowest took {self.slowest:.2f} s"
        if self.wrong:
            said += f"; {'; '.join(self.wrong[:3])}"
        return Row(
            f"{total:,} {what}",
            "no 500, no hang",
            said,
            not self.wrong and self.slowest < MOST_SECONDS,
        )


def lessons(number: int) -> Count:
    """Damaged lessons, each on every page that shows a lesson, and taught where it can be."""
    count = Count()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "one.md"
        writer = create_app(Path(folder)).test_client()

        def one(seed: int) -> str:
            draw = Random(seed)
            source = draw.choice(damage.SOURCES)
            edits = [_edit(draw) for _ in range(draw.choice((1, 1, 1, 2, 2, 3, 8)))]
            file.write_bytes(damage.damaged(source, edits))
            # So that no lesson is taken for the one before.
            stamp = time.time_ns()
            os.utime(file, ns=(stamp, stamp))
            return _shown_and_taught(writer)

        count.each(range(number), one)
    return count


def _edit(draw: Random) -> damage.Edit:
    piece = draw.choice(damage.PIECES) if draw.random() < 0.7 else _text(draw)
    return damage.Edit(draw.choice(KINDS), draw.random(), draw.random(), piece)


def _text(draw: Random) -> str:
    return "".join(chr(draw.choice((draw.randrange(128), draw.randrange(0x2FFF)))) for _ in "12345")


def _shown_and_taught(writer: FlaskClient) -> str:
    for address in damage.PAGES:
        _checked(writer, "GET", address, query_string={"step": 7, "way": "forward"})
    answer = writer.post("/lessons/one/teach")
    assert answer.status_code == 303
    if answer.location.endswith("/problems"):
        return "refused with what is wrong"
    _checked(writer, "GET", answer.location)
    _checked(writer, "POST", f"{answer.location}/scene", data={"scene": "1"})
    for action in ("forward", "phase", "instruction", "question", "scene-on", "back", "depth"):
        _checked(writer, "POST", f"{answer.location}/{action}")
    writer.post(f"{answer.location}/end")
    return "taught"


def programs(number: int) -> Count:
    """Programs, right and wrong, assembled as they are typed and run as a pupil runs them."""
    count = Count()
    with tempfile.TemporaryDirectory() as folder:
        client = create_app(damage.write_lesson(Path(folder))).test_client()

        def one(seed: int) -> str:
            draw = Random(seed)
            form = {
                "machine": "frob" if draw.random() < 0.02 else draw.choice([*MACHINES]),
                "program": _program(draw),
                "inputs": draw.choice(INPUTS) if draw.random() < 0.3 else "1 2 3",
                "at": str(draw.randrange(40)),
                "step": str(10**30 if draw.random() < 0.02 else draw.choice((0, 1, 30, 10**6))),
                "depth": draw.choice(("phases", "transfers")),
            }
            _checked(client, "POST", "/explore/check", data=form)
            said = ""
            for go in (draw.choice(PRESSES), "end"):
                said = _checked(client, "POST", "/explore/press", data=form | {"go": go})
            return "run" if 'id="frame"' in said else "refused with what is wrong"

        count.each(range(number), one)
    return count


def _program(draw: Random) -> str:
    if draw.random() < 0.5:
        lines = [
            draw.choice(RIGHT).format(n=draw.randrange(16), a=draw.randrange(16))
            for _ in range(draw.randrange(1, 15))
        ]
        return "\n".join([*lines, f"x: {draw.randrange(100)}"])
    signs = [draw.choice(WORDS) + draw.choice((" ", "\n")) for _ in range(draw.randrange(60))]
    return "".join(signs) * draw.choice((1, 1, 1, 1, 30))


def _checked(client: FlaskClient, method: str, address: str, **more: object) -> str:
    answer = client.open(address, method=method, **more)  # type: ignore[arg-type]
    text = damage.read(answer)
    damage.check_answer(answer, text, method)
    return text


def requests(number: int) -> Count:
    """Malformed requests over all routes, from who teaches and who does not."""
    count = Count()
    with tempfile.TemporaryDirectory() as folder:
        visitors = damage.make_visitors(Path(folder))

        def one(seed: int) -> str:
            draw = Random(seed)
            visitor = visitors[seed % len(visitors)]
            rules = sorted(visitor.web.url_map.iter_rules(), key=lambda each: each.rule)
            rule = rules[seed // len(visitors) % len(rules)]
            asked = damage.request(draw, rule, visitor.room())
            answer = visitor.client.open(**asked)
            damage.check_answer(answer, damage.read(answer), asked["method"])
            return f"{answer.status_code // 100}xx"

        count.each(range(number), one)
    return count


# What is sent to the port itself: the beginnings of requests, and what comes after them.
STARTS = (
    *(b"GET / HTTP/1.1\r\n", b"POST /join HTTP/1.1\r\n", b"GET /class/X/stream HTTP/1.1\r\n"),
    *(
        b"GET / HTTP/9.9\r\n",
        b"GET /\r\n",
        b"get / http/1.1\r\n",
        b"/ GET\r\n",
        b"GET  HTTP/1.1\r\n",
    ),
    *(b"GET /%ff%00 HTTP/1.1\r\n", b"GET " + b"a" * 20_000 + b" HTTP/1.1\r\n", b"\r\n\r\n", b""),
    *(
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
        b"\0" * 64,
    ),
    *(b"CONNECT x:1 HTTP/1.1\r\n", b"OPTIONS * HTTP/1.1\r\n", b"GET http://x/ HTTP/1.1\r\n"),
)
HEADS = (
    *(b"Host: 127.0.0.1\r\n", b"Host: x\r\nHost: y\r\n", b"Host\r\n", b": \r\n", b" folded\r\n"),
    *(b"Content-Length: -1\r\n", b"Content-Length: x\r\n", b"Content-Length: 5\r\n"),
    *(
        b"Transfer-Encoding: chunked\r\n",
        b"Transfer-Encoding: frob\r\n",
        b"Expect: 100-continue\r\n",
    ),
    *(b"X: " + b"a" * 70_000 + b"\r\n", b"X: y\r\n" * 500, b"\xff\xfe: \xff\r\n", b"A: \0\r\n"),
    *(b"Upgrade: websocket\r\nConnection: upgrade\r\n", b"Cookie: pupil=\xff\r\n", b"\n", b"\r"),
)
BODIES = (
    b"",
    b"\r\n",
    b"5\r\nhello\r\n0\r\n\r\n",
    b"zz\r\n",
    b"-1\r\n",
    b"FFFFFFFFFFFFFFFF\r\n",
    b"code=x",
)


def nonsense(number: int) -> Count:
    """What is no HTTP, or hardly, sent to the real server; afterwards a page is asked for."""
    count = Count()
    with Server() as server:
        # What it says of them must not fill the pipe, which would stop it.
        said: list[str] = []
        assert server.process.stderr
        reading = threading.Thread(target=said.extend, args=(server.process.stderr,), daemon=True)
        reading.start()

        def one(seed: int) -> str:
            draw = Random(seed)
            sent = draw.choice(STARTS) + b"".join(draw.choices(HEADS, k=draw.randrange(4)))
            sent += b"\r\n" + draw.choice(BODIES) if draw.random() < 0.8 else b""
            if draw.random() < 0.2:
                sent = draw.randbytes(draw.choice((1, 20, 3000)))
            answer = _answer(server.port, sent)
            assert not answer.startswith(b"HTTP/1.1 5"), answer[:300]
            assert not damage.SHOWS_INSIDES.search(answer.decode("latin-1")), answer[:300]
            return f"{answer[9:10].decode()}xx" if answer.startswith(b"HTTP/") else "hung up"

        count.each(range(number), one)
        assert _answer(server.port, b"GET / HTTP/1.0\r\nHost: 127.0.0.1\r\n\r\n")[9:12] == b"200"
        server.kill()
        reading.join(PATIENCE_SECONDS)
    faults = sum(each.startswith("Traceback") for each in said)
    if faults:
        count.wrong.append(f"the server printed {faults} tracebacks, the last: {said[-2:]}")
    return count


def _answer(port: int, sent: bytes) -> bytes:
    """What comes first in answer, the client's end being closed."""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_SECONDS) as connection:
        try:
            connection.sendall(sent)
            connection.shutdown(socket.SHUT_WR)
            return connection.recv(1 << 16)
        except TimeoutError:
            raise
        except OSError:
            # It was refused before all of it had been sent.
            return b""


def rows(quick: bool) -> list[Row]:
    share = 20 if quick else 1
    return [
        lessons(5000 // share).row("damaged lessons, on every page and taught"),
        programs(5000 // share).row("generated programs, checked and run"),
        requests(1000 // share).row("malformed requests over every route"),
        nonsense(500 // share).row("requests that are no HTTP, to the port"),
    ]
