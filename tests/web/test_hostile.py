"""Broken and hostile input: malformed requests to every route, and lessons that were damaged.

Nothing here says what the right answer is but that it is an answer: never a failure of the
server, never its insides shown, never without words, never late. The seed of a request that
went wrong is in the message, and makes the same request again.
"""

from __future__ import annotations

import http.client
import os
import re
import socket
import sys
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import quote

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

from app import create_app
from app.paths import resource
from app.web.access import LARGEST_BODY
from app.web.log_lines import LONGEST_LINE, MOST_IN_A_WHILE, WHILE_SECONDS, LogLines
from app.web.rooms import Room
from app.web.server import HEAD_SECONDS
from tests.asking import ASKING, same_origin, teach, write_lesson
from tests.conftest import BROKEN, COUNTS, LONG
from tests.server import Server

# So many requests are made and lessons damaged; a night's run asks for more.
REQUESTS = int(os.environ.get("CHALKCYCLE_REQUESTS", "1000"))
LESSONS = int(os.environ.get("CHALKCYCLE_DAMAGED_LESSONS", "120"))
# Of processor time: how busy the machine is otherwise does not matter. A replay draws up to two
# thousand frames for one file, and lets others be served in between.
MOST_SECONDS = 5.0
MOST_SECONDS_OF_A_REPLAY = 30.0
KEY = "a-key-of-the-teacher-1"

METHODS = ("GET", "POST", "HEAD", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "FROB", "get")
ODD = (
    "",
    " ",
    "0",
    "-1",
    "1",
    "007",
    "1e9",
    "0x10",  # data
    "1.5",
    "NaN",
    "\N{ARABIC-INDIC DIGIT THREE}",
    "\N{SUPERSCRIPT TWO}",
    "99999999999999999999",
    "9" * 5000,
    "-" + "9" * 5000,
    "a" * 5000,
    "\0",
    "a\0b",
    "\r\nX-Injected: yes",
    "caf\N{LATIN SMALL LETTER E WITH ACUTE}\N{RIGHT-TO-LEFT OVERRIDE}\N{COLLISION SYMBOL}",
    "\N{LINE SEPARATOR}\x0b\x85",
    "../../../../etc/passwd",
    "..\\..\\windows",
    "<script>alert(1)</script>",
    "{{ 7 * 7 }}",
    "%s%n%x",
    "' OR 1=1 --",
    "CON",
    "None",
    "[]",
)
# Names of fields and what a page of ours might send in them.
FIELDS: dict[str, tuple[str, ...]] = {
    "about": ("A title",),
    "after": ("1", "1700000000000"),
    "at": ("2",),
    "base": ("binary", "denary", "hexadecimal"),
    "by": ("on", "back"),
    "choice": ("0", "1"),
    "code": ("ABCDEF",),
    "column": ("PC", "ACC", "memory"),
    "depth": ("phases", "transfers"),
    "form": ("wide", "square", "tall"),
    "go": ("here", "forward", "back", "phase", "instruction", "end", "line", "to", "base"),
    "inputs": ("1 2 3", "-128, 127", "0b1 0x", "5;" * 2000),
    "key": (KEY,),
    "level": ("1", "2", "3"),
    "machine": ("8-bit", "16-bit"),
    "movement": ("on", "off"),
    "next": ("4",),
    "part": ("ALU", "PC", "memory"),
    "place": ("ACC",),
    "predict": ("on",),
    "program": (
        "again: ADD #1\nOUTPUT\nJUMP again",
        "LOAD #1\nHALT",
        "INPUT\nJUMP 0",
        "LAOD #1",
        ":" * 500,
        "x: " * 3000,
        "LOAD x\n" * 300,
        "0\n" * 70_000,
    ),
    "question": ("0-1", "1", "0-", "9-9"),
    "round": ("1",),
    "rows": ("steps", "instructions"),
    "scene": ("1", "0"),
    "seed": ("7B",),
    "size": ("a4", "letter"),
    "speed": ("1", "8"),
    "step": ("0", "5", "13", "999999"),
    "title": ("A title",),
    "value": ("4",),
    "version": ("0123456789abcdef",),
    "versions": ("1", "4"),
    "way": ("forward", "scene-on", "back"),
    "word": ("LOAD 4", "12"),
}
HEADERS: dict[str, tuple[str, ...]] = {
    "Accept": ("*/*", "text/event-stream", "\xff/\xff"),
    "Accept-Encoding": ("gzip;q=x", ","),
    "Content-Encoding": ("gzip", "frob"),
    "Content-Type": (
        "application/x-www-form-urlencoded",
        "application/x-www-form-urlencoded; charset=frob",
        "application/json",
        "multipart/form-data",
        "multipart/form-data; boundary=",
        "multipart/form-data; boundary=x; boundary=y",
        "text/plain; charset=\xff",
        "/",
        ";;;",
    ),
    "Cookie": ("pupil=", "pupil=x; pupil=y", "=;=;=", "pupil=" + "a" * 8000, 'pupil="\\777'),
    "HX-Request": ("true", "false"),
    "Host": ("localhost", "localhost:99999", "evil.example", "[::1", "", "a b", "localhost:x", "@"),
    "If-Modified-Since": ("yesterday", "Thu, 32 Feb 2099 99:99:99 GMT", "1"),
    "If-None-Match": ('"x"', "*", 'W/"', ","),
    "Last-Event-ID": ("1", "-1", "9" * 19, "9" * 30, "\xb2", "x"),
    "Origin": ("http://localhost", "null", "http://evil.example", "//", "http://[", "\xff"),
    "Range": ("bytes=0-", "bytes=-1", "bytes=9-1", "bytes=0-1,3-4", "frobs=1"),
    "Referer": ("http://localhost/", "javascript:alert(1)"),
    "Sec-Fetch-Site": ("cross-site",),
    "Transfer-Encoding": ("chunked", "frob"),
    "X-Forwarded-For": ("10.0.0.1", "x"),
    "X-Forwarded-Host": ("evil.example",),
    "X-HTTP-Method-Override": ("DELETE",),
}
LENGTHS = ("-1", "0", "1", "99999", "x", "", "1, 2", str(LARGEST_BODY + 1), "9" * 40)
SHOWS_INSIDES = re.compile(r"Traceback|File \"|\.py\"|site-packages|werkzeug\.|jinja2\.|sqlite3\.")


@dataclass
class Visitor:
    """Somebody with a browser, or without one: the teacher alone, the teacher, or a pupil."""

    who: str
    web: Flask
    client: FlaskClient
    teacher: FlaskClient
    rooms: list[Room] = field(default_factory=list)

    def room(self) -> Room:
        """A lesson under way: requests end it now and then."""
        known: Callable[[str], Room | None] = self.web.extensions["rooms"].get
        if not (self.rooms and known(self.rooms[-1].name)):
            self.rooms.append(teach(self.web, self.teacher))
            self.rooms[-1].session.go_to_step(13)
            self.rooms[-1].session.open_question(1)
            self.client.get(f"/class/{self.rooms[-1].code}")
        return self.rooms[-1]


@pytest.fixture
def visitors(tmp_path: Path) -> list[Visitor]:
    return make_visitors(tmp_path)


def make_visitors(folder: Path) -> list[Visitor]:
    """Everybody who may send something, with lessons in a folder."""
    write_lesson(folder)
    # Not so long that the requests for its replay, of thousands of frames, take all the time.
    for name, text in (("broken", BROKEN), ("long", LONG.replace("200", "20"))):
        (folder / f"{name}.md").write_text(text, encoding="utf-8")
    alone = create_app(folder)
    shared = create_app(folder, ["board.school.example"], teacher_key=KEY, class_size=1000)
    teacher = shared.test_client()
    assert teacher.get(f"/?key={KEY}").status_code == 303
    client = alone.test_client()
    return [
        Visitor("alone", alone, client, client),
        Visitor("teacher", shared, teacher, teacher),
        Visitor("pupil", shared, shared.test_client(), teacher),
    ]


def value(draw: Random, usual: tuple[str, ...]) -> str:
    """What a page would send, or something odd."""
    return draw.choice(usual) if usual and draw.random() < 0.65 else draw.choice(ODD)


def path(draw: Random, rule: Rule, room: Room) -> str:
    """An address of a route, its parts the right ones or odd ones."""
    usual: dict[str, tuple[str, ...]] = {
        "slug": ("asking", "broken", "long"),
        "name": (room.name, "htmx-4.min.js", "ext/hx-sse-4.min.js"),
        "code": (room.code, room.code.lower()),
        "action": ("forward", "back", "step", "scene", "part", "open", "close", "show", "end"),
        "machine": ("8-bit", "16-bit"),
        "number": ("1", "2", "3"),
        "address": ("0", "15", "255"),
        "filename": ("css/base.css", "js/teach/board.js", "css"),
    }
    # The name of a lesson under way is what most addresses need to get anywhere.
    if "name" in rule.arguments and rule.endpoint != "assets.htmx" and draw.random() < 0.7:
        usual["name"] = (room.name,)
    made = re.sub(
        r"<(?:\w+:)?(\w+)>",
        lambda found: quote(value(draw, usual.get(found[1], ())), safe=draw.choice(("", "/"))),
        rule.rule,
    )
    if draw.random() < 0.04:
        made += draw.choice(("/", "//", "%", "%zz", "%ff%fe", "%00", "/../..", ";x", "\N{SNOWMAN}"))
    return made


def body(draw: Random) -> dict[str, Any]:
    """What is sent with it: fields, or something that only looks like fields."""
    names = [name for name in FIELDS if draw.random() < 0.45] + draw.choices(ODD, k=2)
    pairs = [(name, value(draw, FIELDS.get(name, ()))) for name in names]
    how = draw.random()
    if how < 0.70:
        return {"data": dict(pairs)}
    if how < 0.80:
        return {"data": dict(pairs), "content_type": "multipart/form-data"}
    if how < 0.85:
        return {"json": {name: [each, {}] for name, each in pairs}}
    if how < 0.90:
        return {"data": draw.randbytes(draw.choice((0, 1, 50, 5000))), "content_type": "text/html"}
    if how < 0.95:
        broken = b"--x\r\nContent-Disposition: form-data; name=program\r\n" + draw.randbytes(200)
        return {"data": broken, "content_type": "multipart/form-data; boundary=x"}
    junk = b"&=%zz&program=%ff%fe&machine=8-bit&machine=&&;" * draw.choice((1, 50, 7000))
    return {"data": junk, "content_type": "application/x-www-form-urlencoded"}


def request(draw: Random, rule: Rule, room: Room) -> dict[str, Any]:
    """All of a request, as the arguments of the client."""
    own = sorted((rule.methods or set()) - {"HEAD", "OPTIONS"})
    method = draw.choice(own if draw.random() < 0.8 else METHODS)
    headers = same_origin() if draw.random() < 0.85 else {}
    for name, usual in HEADERS.items():
        if draw.random() < (0.04 if name in ("Host", "Origin", "Content-Type") else 0.07):
            headers[name] = value(draw, usual).replace("\r", "").replace("\n", "")
    # Headers travel as Latin-1.
    headers = {
        name: each.encode("latin-1", "replace").decode("latin-1") for name, each in headers.items()
    }
    names = [name for name in FIELDS if draw.random() < 0.15]
    query = [(name, value(draw, FIELDS[name])) for name in names]
    asked: dict[str, Any] = {
        "path": path(draw, rule, room),
        "method": method,
        "headers": headers,
        "query_string": "&".join(f"{name}={quote(each)}" for name, each in query),
    }
    if draw.random() < 0.03:
        asked["query_string"] = draw.choice(("%", "&&&=", "=%ff", "?" * 3000, "step=%00"))
    if method not in ("GET", "HEAD", "TRACE") or draw.random() < 0.05:
        asked |= body(draw)
    if draw.random() < 0.05:
        asked["environ_overrides"] = {"CONTENT_LENGTH": draw.choice(LENGTHS)}
    return asked


def read(answer: TestResponse) -> str:
    """The text of an answer; of a stream, which has no end, what comes first."""
    try:
        if answer.mimetype == "text/event-stream" and answer.status_code == 200:
            return next(answer.iter_encoded(), b"").decode()
        return answer.get_data().decode("utf-8", "replace")
    finally:
        answer.close()


def check_answer(answer: TestResponse, text: str, method: str) -> None:
    """What holds for every answer."""
    assert answer.status_code < 500, text
    assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert "X-Injected" not in answer.headers
    if answer.mimetype in ("text/html", "text/plain", "text/event-stream"):
        assert not SHOWS_INSIDES.search(text)
        assert "<script>alert" not in text
    if answer.status_code >= 400 and method != "HEAD":
        words = re.search(r"<p[^>]*>([^<]{12,})</p>", text)
        assert words, f"no explanation: {text[:300]!r}"
        assert "<h1>" in text or 'class="refusal"' in text


def test_malformed_requests(
    visitors: list[Visitor], record_property: Callable[[str, object], None]
) -> None:
    """A thousand requests over all routes, from who teaches and who does not."""
    statuses: Counter[str] = Counter()
    reached: set[str] = set()
    slowest = 0.0
    for seed in range(REQUESTS):
        draw = Random(seed)
        visitor = visitors[seed % len(visitors)]
        rules = sorted(visitor.web.url_map.iter_rules(), key=lambda each: each.rule)
        # Each has its turn, whatever is drawn.
        rule = rules[seed // len(visitors) % len(rules)]
        asked = request(draw, rule, visitor.room())
        start = time.process_time()
        try:
            answer = visitor.client.open(**asked)
            text = read(answer)
            check_answer(answer, text, asked["method"])
        except Exception as error:
            shown = {name: str(each)[:300] for name, each in asked.items()}
            raise AssertionError(f"seed {seed}, {visitor.who}: {shown}") from error
        seconds = time.process_time() - start
        most = MOST_SECONDS_OF_A_REPLAY if "replay" in rule.rule else MOST_SECONDS
        assert seconds < most, f"seed {seed}: {seconds:.1f} s for {rule.rule}"
        slowest = max(slowest, seconds)
        statuses[f"{answer.status_code // 100}xx"] += 1
        if answer.status_code < 400:
            reached.add(rule.endpoint)
    record_property(
        COUNTS,
        f"{statuses.total()} malformed requests: {dict(sorted(statuses.items()))};"
        f" the slowest took {slowest:.2f} s of processor time",
    )
    assert statuses.total() == REQUESTS
    # Neither refused at the door nor all harmless: both count.
    assert statuses["2xx"] > REQUESTS // 10 and statuses["4xx"] > REQUESTS // 10
    assert len(reached) > len({each.endpoint for each in rules}) * 0.7


@pytest.mark.parametrize(
    "data",
    [b"\0" * 100, b"a" * (LARGEST_BODY + 1), b"program=" + b"%00" * 60_000],
    ids=["nothing but NUL", "too long", "a program of NUL"],
)
def test_a_huge_or_empty_body_is_answered(visitors: list[Visitor], data: bytes) -> None:
    for name in ("press", "check", "mark", "memory", "memory/3"):
        form = {"data": data, "content_type": "application/x-www-form-urlencoded"}
        answer = visitors[0].client.post(f"/explore/{name}", **form)
        check_answer(answer, read(answer), "POST")
        assert answer.status_code in (400, 413)


def test_what_is_no_http_is_refused_without_a_fuss() -> None:
    """The terminal in which it was started is not filled with the server's insides."""
    nonsense = (
        b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 500 + b"\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"\x16\x03\x01\x02\0\x01\0\r\n",
        # Two requests of a client that goes without waiting for its second refusal.
        b"GET / HTTP/1.1\r\nHost: x\r\n\r\nzz\r\n",
        # Signs that would move the cursor of a terminal, or fill it.
        b"\x1b[2J\x07" * 1000 + b"\r\n\r\n",
    )
    with Server() as server:
        for sent in nonsense * 3:
            with socket.create_connection(("127.0.0.1", server.port), timeout=30) as connection:
                connection.sendall(sent)
                # It need not be read to its end to be refused.
                with suppress(ConnectionResetError):
                    assert connection.recv(1 << 16).startswith(b"HTTP/1.1 4")
        _, _, said = server.stop()
    assert "Traceback" not in said and "more than 100 headers" in said
    assert "\x1b" not in said and max(len(line) for line in said.splitlines()) < 500


def test_what_is_no_http_leaves_few_and_short_lines() -> None:
    with Server() as server:
        for number in range(100):
            with socket.create_connection(("127.0.0.1", server.port), timeout=30) as connection:
                sent = b"\x1b[31m" + b"%s%n\x07" * 900 + b" %d\r\n\r\n" % number
                with suppress(ConnectionResetError, BrokenPipeError):
                    connection.sendall(sent)
                    assert connection.recv(1 << 16).startswith(b"HTTP/1.1 4")
        _, _, said = server.stop()
    lines = said.splitlines()
    assert 2 < len(lines) <= 2 * MOST_IN_A_WHILE + 2
    assert max(map(len, lines)) < LONGEST_LINE + 100
    assert "Traceback" not in said and "not told" in said and said.replace("\n", "").isprintable()


def test_lines_come_again_after_a_while() -> None:
    lines = LogLines()
    found = [lines.line("x", 100.0) for _ in range(MOST_IN_A_WHILE + 5)]
    assert found.count("x") == MOST_IN_A_WHILE and found[-4:] == [""] * 4
    assert lines.line("x", 100.0 + WHILE_SECONDS) == "x"


# Lessons.

SHIPPED = [each.read_text("utf-8") for each in sorted(resource("lessons").glob("*.md"))]
SOURCES = [*SHIPPED, ASKING, LONG, BROKEN]
PIECES = (
    "---",
    "# ",
    "```",
    "```program\n",
    "```cues\n",
    "```question\n",
    "```scale\n",
    "```speed\n",
    "```task\n",
    "```show\n",
    "```inputs\n",
    "machine: 16-bit\n",
    "depth: frob\n",
    "limit: 999999999999\n",
    "JUMP ",
    "again: JUMP again\n",
    "INPUT\n",
    "before first ADD: ",
    "end: ",
    "choices: 1 or 2\n",
    "ask: the accumulator\n",
    "&a [*a, *a]\n",
    "!!python/object:os.system x\n",
    "<script>alert(1)</script>",
    "\0",
    "\r",
    "\N{LINE SEPARATOR}",
    "\ufeff",
    "\ud800",
    "\N{COLLISION SYMBOL}",
    "9" * 5000,
    "-1",
    "> " * 200,
    "[" * 200,
    "x" * 3000,
)


@dataclass(frozen=True)
class Edit:
    """Damage to one place of a text; ``at`` and ``to`` are shares of its length."""

    kind: str
    at: float
    to: float
    piece: str

    def do(self, text: str) -> str:
        start, end = sorted((int(self.at * len(text)), int(self.to * len(text))))
        lines = text.split("\n")
        line, other = (min(int(each * len(lines)), len(lines) - 1) for each in (self.at, self.to))
        if self.kind == "insert":
            return text[:start] + self.piece + text[start:]
        if self.kind == "cut":
            return text[:start] + text[min(end, start + 200) :]
        if self.kind == "end":
            return text[:start]
        if self.kind == "word":
            words = list(re.finditer(r"\S+", text))
            if not words:
                return self.piece
            found = words[min(int(self.at * len(words)), len(words) - 1)]
            return text[: found.start()] + self.piece.strip() + text[found.end() :]
        if self.kind == "swap":
            lines[line], lines[other] = lines[other], lines[line]
        elif self.kind == "double":
            lines[line:line] = lines[line : line + 20]
        elif self.kind == "drop":
            del lines[line]
        return "\n".join(lines)


EDITS = st.builds(
    Edit,
    st.sampled_from(["insert", "insert", "cut", "end", "word", "word", "swap", "double", "drop"]),
    st.floats(0, 1),
    st.floats(0, 1),
    st.sampled_from(PIECES) | st.text(max_size=12),
)


def damaged(source: str, edits: list[Edit]) -> bytes:
    for edit in edits:
        source = edit.do(source)
    return source.encode("utf-8", "surrogatepass")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("damaged")


@pytest.fixture(scope="module")
def writer(folder: Path) -> FlaskClient:
    return create_app(folder).test_client()


PAGES = ("/", "/lessons/one/problems", "/lessons/one/preview", "/explore/one/1", "/paper/one/plan")


@settings(
    max_examples=LESSONS,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)
@given(source=st.sampled_from(SOURCES), edits=st.lists(EDITS, max_size=8), first=st.booleans())
def test_damaged_lessons(
    folder: Path, writer: FlaskClient, source: str, edits: list[Edit], first: bool
) -> None:
    """Every page that shows a lesson shows a damaged one, or what to mend in it, and in time."""
    file = folder / "one.md"
    file.unlink(missing_ok=True)
    data = damaged(source, edits)
    file.write_bytes(data)
    # So that no lesson is taken for the one before.
    stamp = time.time_ns()
    os.utime(file, ns=(stamp, stamp))
    start = time.process_time()
    for address in PAGES:
        answer = writer.get(address, query_string={"step": 7, "way": "forward"})
        text = read(answer)
        check_answer(answer, text, "GET")
        if address in PAGES[:3]:
            assert answer.status_code == 200, address
    answer = writer.post("/lessons/one/teach")
    assert answer.status_code == 303
    if not answer.location.endswith("/problems"):
        board = writer.get(answer.location)
        assert board.status_code == 200
        assert writer.post(f"{answer.location}/scene", data={"scene": "1"}).status_code == 204
        for action in ("forward", "phase", "instruction", "question", "scene-on", "back", "depth"):
            moved = writer.post(f"{answer.location}/{action}")
            check_answer(moved, read(moved), "POST")
    assert time.process_time() - start < MOST_SECONDS


def test_what_is_wrong_is_said_with_its_place(folder: Path, writer: FlaskClient) -> None:
    """The damage that is certain to make a lesson wrong is told on its page, with the line."""
    for source in SHIPPED:
        for damage in ("```program\n  LAOD #1\n```", "```frob\n```", "```inputs\nmany\n```"):
            (folder / "one.md").write_text(f"{source}\n# X\n\n{damage}\n", encoding="utf-8")
            stamp = time.time_ns()
            os.utime(folder / "one.md", ns=(stamp, stamp))
            page = writer.get("/lessons/one/problems")
            assert page.status_code == 200
            assert re.search(r"[Ll]ine \d+", page.text), damage


BEGINNINGS = {
    "a head": b"GET /join HTTP/1.1\r\nX",
    "a request line": b"GET /jo",
    "a body": b"POST /join HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n"
    b"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 9999\r\n\r\ncode=",
}


@pytest.mark.skipif(
    not sys.platform.startswith("linux"),
    reason="only Linux has a whole network of loopback addresses",
)
def test_slow_requests_take_neither_all_connections_nor_for_long() -> None:
    # Each has a server of its own, and most of it is waiting.
    with ThreadPoolExecutor() as pool:
        list(pool.map(send_slowly, BEGINNINGS.values()))


def send_slowly(begins: bytes) -> None:
    """Two addresses open all the connections they can get and send a request byte by byte; so does
    a third, which came before and has only one, and it is given its time."""
    slow: list[socket.socket] = []
    with Server("--share", "--address", "127.0.0.1", "--class-size", "5") as server:
        refused = 0
        for last in (4, *(2 + number % 2 for number in range(160))):
            connection = socket.create_connection(
                ("127.0.0.1", server.port), timeout=30, source_address=(f"127.0.0.{last}", 0)
            )
            connection.sendall(begins)
            slow.append(connection)
        begun = time.monotonic()
        # Somebody else still gets in.
        other = http.client.HTTPConnection(
            "127.0.0.1", server.port, timeout=30, source_address=("127.0.0.9", 0)
        )
        other.request("GET", "/join")
        assert other.getresponse().status == 200
        other.close()
        # However slowly they go on, they are not waited for.
        while slow and time.monotonic() - begun < 4 * HEAD_SECONDS:
            for each in [*slow]:
                try:
                    each.sendall(b"-")
                except OSError:
                    slow.remove(each)
                    refused += 1
            time.sleep(0.2)
        assert not slow and refused == 161, begins
        assert time.monotonic() - begun >= HEAD_SECONDS / 2
