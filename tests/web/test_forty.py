"""A class of forty: real streams at a real server, which is killed in the middle of a question.

Plain HTTP over sockets, with nothing of the application. Each client has an address of its own on
the loopback, as laptops have in a school; all traffic stays on this machine, also where the
server listens more widely. Every wait has an end.
"""

from __future__ import annotations

import http.client
import re
import shutil
import signal
import socket
import sqlite3
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.asking import REVEAL_STEP, STEP, write_lesson
from tests.server import Server

CLASS = 40
PATIENCE = 60.0
# Only Linux lets a client choose any address of the loopback.
MANY_ADDRESSES = sys.platform == "linux"


def own_address(number: int) -> str:
    return f"127.0.1.{number + 1}" if MANY_ADDRESSES else "127.0.0.1"


def until(condition: Callable[[], bool], what: str) -> None:
    end = time.monotonic() + PATIENCE
    while not condition():
        assert time.monotonic() < end, f"waited in vain for {what}"
        time.sleep(0.02)


class Client:
    """One computer: asks for pages and keeps its cookies, as a browser does."""

    def __init__(self, port: int, source: str = "127.0.0.1") -> None:
        self.port = port
        self.source = source
        self.cookies: dict[str, str] = {}

    def ask(self, method: str, path: str, form: str = "") -> tuple[int, str, str]:
        """The status, the address it leads on to, and the text."""
        connection = self.open(method, path, form)
        try:
            answer = connection.getresponse()
            for name, value in answer.getheaders():
                if name.lower() == "set-cookie":
                    key, _, rest = value.partition("=")
                    self.cookies[key] = rest.split(";")[0]
            return answer.status, answer.getheader("Location") or "", answer.read().decode()
        finally:
            connection.close()

    def open(
        self, method: str, path: str, form: str = "", **headers: str
    ) -> http.client.HTTPConnection:
        connection = http.client.HTTPConnection(
            "127.0.0.1", self.port, timeout=PATIENCE, source_address=(self.source, 0)
        )
        cookies = "; ".join(f"{key}={value}" for key, value in self.cookies.items())
        every = {"Cookie": cookies, "Origin": f"http://127.0.0.1:{self.port}"}
        if form:
            every["Content-Type"] = "application/x-www-form-urlencoded"
        connection.request(method, path, form or None, every | headers)
        return connection


class Pupil(Client):
    """Follows the board in a thread of its own and connects again whenever the stream ends."""

    def __init__(self, port: int, number: int, code: str) -> None:
        super().__init__(port, own_address(number))
        self.path = f"/class/{code}"
        self.seen: list[tuple[int, int, str]] = []  # of each frame: its id, step and question
        self.connections = 0
        self.acknowledged: dict[int, int] = {}  # by round, the choice
        self._stop = threading.Event()
        self._stream: http.client.HTTPConnection | None = None
        assert self.ask("GET", self.path)[0] == 200
        self.thread = threading.Thread(target=self._follow, daemon=True)
        self.thread.start()

    def _follow(self) -> None:
        end = time.monotonic() + 4 * PATIENCE
        while not self._stop.is_set() and time.monotonic() < end:
            try:
                self._read_stream()
            except (OSError, http.client.HTTPException, ValueError):
                # The server is gone, or it was told to end: a browser tries again too.
                time.sleep(0.05)

    def _read_stream(self) -> None:
        known = {"Last-Event-ID": str(self.seen[-1][0])} if self.seen else {}
        self._stream = self.open("GET", f"{self.path}/stream", **known)
        answer = self._stream.getresponse()
        assert answer.status == 200
        self.connections += 1
        number, data = 0, ""
        while line := answer.readline():
            text = line.decode().rstrip("\n")
            if text.startswith("id: "):
                number = int(text[4:])
            elif text.startswith("data: "):
                data += text[6:]
            elif not text and data:
                tag = re.search(r'<div id="frame"[^>]*>', data)
                assert tag
                step = re.search(r'data-step="(\d+)"', tag[0])
                poll = re.search(r'data-poll="([^"]*)"', tag[0])
                assert step
                self.seen.append((number, int(step[1]), poll[1] if poll else ""))
                data = ""

    @property
    def now(self) -> tuple[int, str]:
        """The step and the question that this pupil sees."""
        return self.seen[-1][1:] if self.seen else (-1, "")

    def answer(self, choice: int, round: int) -> int:
        form = f"question=0-1&round={round}&choice={choice}"
        code, _, _ = self.ask("POST", f"{self.path}/answer", form)
        if code == 200:
            self.acknowledged[round] = choice
        return code

    def stop(self) -> None:
        self._stop.set()
        if self._stream and self._stream.sock:
            self._stream.sock.shutdown(socket.SHUT_RDWR)
        self.thread.join(PATIENCE)


class Teacher(Client):
    def __init__(self, server: Server, key: str) -> None:
        super().__init__(server.port)
        assert self.ask("GET", f"/?key={key}")[0] == 303
        self.board = self.ask("POST", "/lessons/asking/teach")[1]
        found = re.search(r"/class/(\w+)", self.ask("GET", self.board)[2])
        code = re.search(r'class="code">(\w+)<', self.ask("GET", self.board)[2])
        self.code = (code or found)[1]  # type: ignore[index]

    def press(self, action: str, form: str = "") -> None:
        assert self.ask("POST", f"{self.board}/{action}", form)[0] == 204, action


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[[int], tuple[Server, str]]]:
    """Starts the server as a teacher does who shares it; answers it and the key it printed."""
    write_lesson(tmp_path)
    running: list[Server] = []

    def begin(port: int = 0) -> tuple[Server, str]:
        options = (tmp_path, "--share", "--address", "127.0.0.1", "--class-size", str(CLASS))
        server = Server(*options, port=port, store=tmp_path / "store.sqlite3")
        running.append(server)
        return server, server.key

    yield begin
    for each in running:
        if each.process.poll() is None:
            each.kill()


def test_forty_follow_answer_twice_and_survive_a_kill(
    start: Callable[..., tuple[Server, str]], tmp_path: Path
) -> None:
    server, key = start()
    teacher = Teacher(server, key)
    with ThreadPoolExecutor(8) as pool:
        pupils = [*pool.map(lambda at: Pupil(server.port, at, teacher.code), range(CLASS))]
    try:
        follow(pupils, (0, ""))
        # Everybody follows every step.
        for step in range(1, STEP + 1):
            teacher.press("forward")
            follow(pupils, (step, ""))
        for pupil in pupils:
            steps = [step for _, step, _ in pupil.seen]
            assert steps == [*range(STEP + 1)]
            assert pupil.connections == 1

        teacher.press("question/open", "question=1")
        follow(pupils, (STEP, "0-1-1-open"))
        with ThreadPoolExecutor(8) as pool:
            codes = [*pool.map(lambda at: pupils[at].answer(at % 3, 1), range(CLASS))]
        assert codes == [200] * CLASS
        teacher.press("question/close")
        teacher.press("question/again")
        follow(pupils, (STEP, "0-1-2-open"))

        # The second round: half have answered, the others are about to, and it is killed.
        port = server.port
        with ThreadPoolExecutor(CLASS) as pool:
            killing = pool.submit(kill_after, server, pupils)
            asking = [pool.submit(answer_through_a_kill, pupils[at], at) for at in range(CLASS)]
            killing.result(PATIENCE)
            server, same_key = start(port)
            assert same_key == key
            assert all(each.result(PATIENCE) for each in asking)

        # Scene, step, question and round are as they were, and everybody is back by themselves.
        until(lambda: all(each.connections == 2 for each in pupils), "all to connect again")
        follow(pupils, (STEP, "0-1-2-open"))
        assert kept_answers(tmp_path) == {
            (round, choice): sum(each.acknowledged[round] == choice for each in pupils)
            for round in (1, 2)
            for choice in range(3)
            if any(each.acknowledged[round] == choice for each in pupils)
        }

        teacher.press("question/show")
        follow(pupils, (STEP, "0-1-2-shown"))
        text = teacher.ask("GET", teacher.board)[2]
        shown = Counter()
        for round, count in re.findall(r"Round (\d): </span>(\d+)<", text):
            shown[int(round)] += int(count)
        assert shown == {1: CLASS, 2: CLASS}
        teacher.press("question/run")
        until(lambda: all(each.now[0] == REVEAL_STEP for each in pupils), "the answer")
        table = teacher.ask("GET", f"/results/{teacher.board.split('/')[-1]}.csv")[2]
        assert table.count("pupil ") == 2 * CLASS
    finally:
        for each in pupils:
            each.stop()


def follow(pupils: list[Pupil], now: tuple[int, str]) -> None:
    """Wait until everybody sees this step and question."""
    until(lambda: all(each.now == now for each in pupils), f"all to see {now}")


def kill_after(server: Server, pupils: list[Pupil]) -> None:
    """Kill the server as soon as some of the class have had their answers acknowledged."""
    until(lambda: sum(2 in each.acknowledged for each in pupils) >= CLASS // 4, "answers")
    server.process.send_signal(signal.SIGKILL)
    server.process.communicate()


def answer_through_a_kill(pupil: Pupil, number: int) -> bool:
    """Answer the second round; who got no word sends it again once the server is back."""
    time.sleep(number * 0.004)
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        try:
            return pupil.answer((number + 1) % 3, 2) == 200
        except (OSError, http.client.HTTPException):
            time.sleep(0.05)
    return False


def kept_answers(folder: Path) -> dict[tuple[int, int], int]:
    """How many answers of each round and choice the file holds, by SQLite alone. It reads a copy:
    the file itself belongs to the server."""
    copies = folder / "copies"
    copies.mkdir(exist_ok=True)
    for each in folder.glob("store.sqlite3*"):
        shutil.copy(each, copies)
    with sqlite3.connect(copies / "store.sqlite3") as store:
        rows = store.execute("SELECT round, choice, count(*) FROM answer GROUP BY 1, 2").fetchall()
    return {(round, choice): count for round, choice, count in rows}


def test_a_client_that_reads_nothing_holds_nobody_up(
    start: Callable[..., tuple[Server, str]],
) -> None:
    """It is sent the newest frame when it reads again, not all that it has missed."""
    server, key = start()
    teacher = Teacher(server, key)
    lazy = Client(server.port, own_address(1))
    lazy.ask("GET", f"/class/{teacher.code}")
    with socket.socket() as stream:
        # As little as the system allows may be on its way.
        stream.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        stream.bind((lazy.source, 0))
        stream.settimeout(PATIENCE)
        stream.connect(("127.0.0.1", server.port))
        host = f"127.0.0.1:{server.port}"
        stream.sendall(
            f"GET /class/{teacher.code}/stream HTTP/1.1\r\nHost: {host}\r\n\r\n".encode()
        )
        pupil = Pupil(server.port, 2, teacher.code)
        try:
            presses = 300
            for at in range(presses):
                teacher.press("forward" if at % 2 == 0 else "back")
            teacher.press("step", "step=7")
            follow([pupil], (7, ""))
            received = b""
            while b'data-step="7"' not in received:
                received += stream.recv(1 << 16)
            frames = received.count(b'id="frame"')
            # The buffers of the system hold what was on its way; the server keeps no queue.
            assert frames < presses / 4, f"{frames} frames of {presses} were kept for it"
        finally:
            pupil.stop()


def test_places_of_clients_that_are_gone_come_back(
    start: Callable[..., tuple[Server, str]],
) -> None:
    server, key = start()
    teacher = Teacher(server, key)

    def following() -> int:
        found = re.search(
            r"<strong>(\d+)</strong> follow", teacher.ask("GET", f"{teacher.board}/teacher")[2]
        )
        assert found
        return int(found[1])

    def nobody_after_a_frame() -> bool:
        # That a client is gone is noticed when something is sent to it.
        teacher.press("base")
        return following() == 0

    for _ in range(2):
        pupils = [Pupil(server.port, at, teacher.code) for at in range(CLASS)]
        until(lambda: following() == CLASS, "all to be counted")
        for each in pupils:
            each.stop()
        until(nobody_after_a_frame, "the places to come back")


def test_shared_or_not(tmp_path: Path) -> None:
    """Without --share the server listens on the own machine's address alone."""
    write_lesson(tmp_path)
    with Server(tmp_path) as alone:
        assert listening(alone.port) == {"0100007F"}
        assert "key=" not in alone.line
    with Server(tmp_path, "--share", "--address", "127.0.0.1") as shared:
        assert listening(shared.port) == {"00000000"}
        assert Client(shared.port).ask("GET", "/")[:2] == (303, "/join")


def listening(port: int) -> set[str]:
    """The addresses on which the kernel says that the port is listened to, as it writes them."""
    table = Path("/proc/net/tcp")
    if not table.exists():
        pytest.skip("this system does not say so in a file")
    rows = [line.split() for line in table.read_text().splitlines()[1:]]
    return {
        row[1].split(":")[0] for row in rows if row[3] == "0A" and row[1].endswith(f":{port:04X}")
    }
