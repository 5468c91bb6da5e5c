"""A real server of which a few addresses take all that they can get."""

from __future__ import annotations

import http.client
import re
import socket
import sys
from collections.abc import Iterator

import pytest

from tests.asking import write_lesson
from tests.server import Server

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="only Linux has a whole network of loopback"
)


class Lesson:
    """A lesson under way on a server for a class of two."""

    def __init__(self, server: Server) -> None:
        self.port = server.port
        answer = self.ask("127.0.0.1", f"/?key={server.key}")
        cookie = answer.headers["Set-Cookie"].partition(";")[0]
        board = self.ask("127.0.0.1", "/lessons/asking/teach", cookie, "POST").headers["Location"]
        code = re.search(r">([A-Z0-9]{5})<", self.page("127.0.0.1", board, cookie))
        assert code
        self.path = f"/class/{code[1]}"

    def ask(
        self, address: str, path: str, cookie: str = "", method: str = "GET"
    ) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection(
            "127.0.0.1", self.port, timeout=30, source_address=(address, 0)
        )
        origin = f"http://127.0.0.1:{self.port}"
        connection.request(method, path, headers={"Cookie": cookie, "Origin": origin})
        answer = connection.getresponse()
        self.text = answer.read().decode()
        connection.close()
        return answer

    def page(self, address: str, path: str, cookie: str) -> str:
        self.ask(address, path, cookie)
        return self.text

    def join(self, address: str) -> str:
        """The cookie of a new pupil."""
        cookies = self.ask(address, self.path).headers.get_all("Set-Cookie") or []
        return next(each.partition(";")[0] for each in cookies if each.startswith("pupil="))


class Caller:
    """A connection from an address."""

    def __init__(self, lesson: Lesson, address: str, cookie: str = "") -> None:
        self.socket = socket.create_connection(
            ("127.0.0.1", lesson.port), timeout=30, source_address=(address, 0)
        )
        self.cookie = cookie

    def gets(self, path: str) -> bool:
        """Whether the head of a page comes; False also where the connection is closed."""
        # Of a stream there is more than its head; of others it would be in the way.
        method = "GET" if path.endswith("/stream") else "HEAD"
        lines = (f"{method} {path} HTTP/1.1", "Host: 127.0.0.1", f"Cookie: {self.cookie}", "", "")
        try:
            self.socket.sendall("\r\n".join(lines).encode())
            answer = b""
            while b"\r\n\r\n" not in answer and (piece := self.socket.recv(1 << 20)):
                answer += piece
        except ConnectionError:
            return False
        return answer.startswith(b"HTTP/1.1 200")

    def close(self) -> None:
        self.socket.close()


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lesson]:
    folder = write_lesson(tmp_path_factory.mktemp("lessons"))
    with Server(folder, "--share", "--address", "127.0.0.1", "--class-size", "2") as server:
        yield Lesson(server)


def test_a_page_that_is_closed_is_counted_no_more(lesson: Lesson) -> None:
    """At once, where somebody needs its place, and not only at the next sign of life."""
    path = f"{lesson.path}/stream"
    cookie = lesson.join("127.0.1.1")
    for number in range(4):
        windows = [Caller(lesson, "127.0.1.1", cookie) for _ in range(3)]
        assert all(each.gets(path) for each in windows), number
        for each in windows:
            each.close()
    for number in range(4):
        nobody = [Caller(lesson, f"127.0.1.{number + 2}") for _ in range(2)]
        assert all(each.gets(path) for each in nobody), number
        for each in nobody:
            each.close()


def test_connections_that_rest_give_way_to_who_comes_new(lesson: Lesson) -> None:
    """Nine addresses that are known keep all the connections there are. Who follows stays."""
    pupil = Caller(lesson, "127.0.2.1", lesson.join("127.0.2.1"))
    assert pupil.gets(f"{lesson.path}/stream")
    resting = []
    for number in range(9):
        address = f"127.0.3.{number + 1}"
        lesson.join(address)
        caller = Caller(lesson, address)
        while caller.gets("/join"):
            resting.append(caller)
            caller = Caller(lesson, address)
        caller.close()
    new = [Caller(lesson, f"127.0.4.{number + 1}") for number in range(12)]
    # They get in, and keep their connections.
    assert all(each.gets("/join") for each in (*new, *new))
    left = sum(each.gets("/join") for each in resting)
    # 116 connections are there for a class of two, and one of them is the pupil's.
    assert left <= 116 - 1 - len(new) < len(resting)
    pupil.socket.setblocking(False)
    with pytest.raises(BlockingIOError):
        while pupil.socket.recv(1 << 20):
            continue
    for each in (*resting, *new, pupil):
        each.close()
