"""One connection that asks and asks without waiting holds nobody else up."""

from __future__ import annotations

import json
import socket
from collections.abc import Callable
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import gevent
import gevent.socket
import pytest
from flask import Flask, Response, request
from gevent.pywsgi import WSGIHandler

from app import create_app
from app.classroom.guests import Busy
from app.classroom.limits import Known
from app.classroom.tokens import cookie_name
from app.web import access
from app.web import server as server_module
from app.web.line import Line
from app.web.server import (
    AT_ONCE,
    CONNECTIONS_A_PUPIL,
    HURRY,
    MOST_LINES,
    Connection,
    Handler,
    Server,
    local_server,
    open_way,
)
from app.web.stream import CONNECTION
from tests.asking import write_lesson

KEY = "a-key-of-the-teacher-1"
MANY = 300


def port_of(address: str) -> int:
    return int(address.rpartition(":")[2])


def all_of(port: int, requests: bytes) -> bytes:
    """Everything that is answered to these requests, sent at once on one connection."""
    with gevent.socket.create_connection(("127.0.0.1", port), timeout=60) as connection:
        sender = gevent.spawn(send, connection, requests)
        answer = b""
        try:
            while piece := connection.recv(1 << 20):
                answer += piece
        except ConnectionError:
            # Closed with requests unread: what was answered before is here.
            return answer
        finally:
            sender.kill()
        return answer


def send(connection: gevent.socket.socket, requests: bytes) -> None:
    try:
        connection.sendall(requests)
    except OSError:
        # It was closed: the answers tell.
        return


def asking() -> tuple[Flask, list[str]]:
    """An application that writes down who has asked."""
    asked: list[str] = []
    app = Flask(__name__)

    @app.get("/<who>")
    def answer(who: str) -> Response:
        asked.append(who)
        return Response("here")

    return app, asked


def test_requests_in_a_row_let_others_in_between() -> None:
    app, asked = asking()
    with local_server(app) as address:
        port = port_of(address)
        row = b"GET /greedy HTTP/1.1\r\nHost: x\r\n\r\n" * MANY
        last = b"GET /greedy HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
        greedy = gevent.spawn(all_of, port, row + last)
        while not asked:
            gevent.sleep(0)
        other = b"GET /other HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
        assert b"200 OK" in all_of(port, other)
        assert greedy.get().count(b"HTTP/1.1 200") == MANY + 1
    assert len(asked) == MANY + 2
    assert asked.index("other") < MANY / 4


@pytest.mark.parametrize(
    "line",
    [
        "GET /who?a=b HTTP/1.1\r\nHost: here",
        # RFC 9112, section 2.2: a line that belongs to nothing.
        "\r\nGET /who?a=b HTTP/1.1\r\nHost: here",
        # Section 3.2.2: the whole address, whose host is the one that counts.
        "GET http://here/who?a=b HTTP/1.1\r\nHost: elsewhere",
        "GET HTTP://here/who?a=b HTTP/1.1\r\nHost: here",
    ],
)
def test_what_a_client_may_write_in_front_of_a_request(line: str) -> None:
    app = Flask(__name__)

    @app.get("/who")
    def answer() -> str:
        return f"{request.host} was asked for {request.args['a']}"

    with local_server(app) as address:
        answered = all_of(port_of(address), f"{line}\r\nConnection: close\r\n\r\n".encode())
    assert answered.startswith(b"HTTP/1.1 200") and b"here was asked for b" in answered


def test_the_machine_in_an_address_is_looked_at_as_any(tmp_path: Path) -> None:
    with local_server(create_app(write_lesson(tmp_path))) as address:
        line = f"GET http://elsewhere/ HTTP/1.1\r\nHost: {address.removeprefix('http://')}\r\n"
        answered = all_of(port_of(address), f"{line}Connection: close\r\n\r\n".encode())
    assert answered.startswith(b"HTTP/1.1 421")


def connect(address: str, source: str, how_many: int) -> list[socket.socket]:
    """Connections of a client, made without letting the server run."""
    place = ("127.0.0.1", port_of(address))
    return [socket.create_connection(place, source_address=(source, 0)) for _ in range(how_many)]


def begun_with(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The clients of connections that servers begin with, in that order."""
    begun: list[str] = []
    handle = Server.handle

    def noted(self: Server, sock: Any, address: tuple[str, int]) -> None:
        begun.append(address[0])
        handle(self, sock, address)

    monkeypatch.setattr(Server, "handle", noted)
    return begun


def test_many_connections_at_once_let_others_in_between(monkeypatch: pytest.MonkeyPatch) -> None:
    begun = begun_with(monkeypatch)
    with local_server(Flask(__name__)) as address:
        gevent.sleep(0)
        waiting = connect(address, "127.0.0.9", 60)
        counts = [0]
        while counts[-1] < 60:
            gevent.sleep(0)
            counts.append(len(begun))
        for each in waiting:
            each.close()
    assert max(after - before for before, after in pairwise(counts)) <= AT_ONCE


def test_who_connects_last_does_not_wait_until_all_of_another_are_served(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The system has them in the order in which they came: one laptop that opened thousands in a
    second let the new page of another pupil wait for most of them."""
    begun = begun_with(monkeypatch)
    with local_server(Flask(__name__)) as address:
        gevent.sleep(0)
        waiting = connect(address, "127.0.0.9", 90) + connect(address, "127.0.0.8", 2)
        while len(begun) < len(waiting):
            gevent.sleep(0)
        for each in waiting:
            each.close()
    assert begun[:5] == ["127.0.0.9", "127.0.0.8", "127.0.0.9", "127.0.0.8", "127.0.0.9"]


def test_of_more_connections_than_can_wait_the_last_of_who_has_most_are_closed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(server_module, "TEACHERS_CONNECTIONS", 12)
    most = CONNECTIONS_A_PUPIL + 12
    begun = begun_with(monkeypatch)
    with local_server(Flask(__name__)) as address:
        gevent.sleep(0)
        other = connect(address, "127.0.0.8", 1)
        flood = connect(address, "127.0.0.9", most + 40)
        other += connect(address, "127.0.0.8", 1)
        while len(begun) < most:
            gevent.sleep(0)
        # A new request is answered only when nothing waits before it.
        assert all_of(port_of(address), b"GET / HTTP/1.0\r\n\r\n")
        with pytest.raises(ConnectionError):
            ended(flood[-1])
        assert begun.count("127.0.0.8") == 2 and begun.count("127.0.0.9") == most - 2
        for each in (*other, *flood):
            each.close()


def ended(connection: socket.socket) -> None:
    """Raises ConnectionError where the other side has closed the connection."""
    connection.settimeout(10)
    if not connection.recv(1):
        raise ConnectionResetError("closed")


def test_who_waits_when_the_server_stops_is_not_left_waiting() -> None:
    with local_server(Flask(__name__)) as address:
        gevent.sleep(0)
        waiting = connect(address, "127.0.0.9", 3 * AT_ONCE)
        # They are taken up, and most of them wait to be begun with.
        gevent.sleep(0)
    with pytest.raises(ConnectionError):
        ended(waiting[-1])
    for each in waiting:
        each.close()


def test_the_own_machine_does_not_wait_behind_all_that_have_connected(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The teacher's browser connects again after a while without a press, and came last behind
    hundreds of connections of one pupil: several seconds."""
    monkeypatch.setattr(server_module, "LOOK_UP_SECONDS", 0)
    app, asked = asking()

    def come(who: str, source: str) -> socket.socket:
        """Connects without letting the server run."""
        place = ("127.0.0.1", port_of(address))
        made = socket.create_connection(place, source_address=(source, 0))
        made.sendall(f"GET /{who} HTTP/1.1\r\nHost: x\r\n\r\n".encode())
        return made

    with local_server(app) as address:
        gevent.sleep(0)
        come_in = [come("pupil", "127.0.0.9") for _ in range(25)]
        come_in.append(come("teacher", "127.0.0.1"))
        while len(asked) < len(come_in):
            gevent.sleep(0.001)
        for each in come_in:
            each.close()
    assert asked.index("teacher") < 15


def test_nobody_waits_behind_all_the_connections_of_another_address(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """All other pupils, and a teacher who sits elsewhere, came last behind hundreds of one pupil:
    a second for each press."""
    monkeypatch.setattr(server_module, "LOOK_UP_SECONDS", 0)
    app, asked = asking()

    def ask(made: socket.socket, who: str) -> None:
        made.sendall(f"GET /{who} HTTP/1.1\r\nHost: x\r\n\r\n".encode())

    def come(source: str) -> socket.socket:
        place = ("127.0.0.1", port_of(address))
        return socket.create_connection(place, source_address=(source, 0))

    with local_server(app) as address:
        # Behind the address of that pupil there is another one, who has had the page.
        known = come("127.0.0.9")
        ask(known, "known")
        while not asked:
            gevent.sleep(0.001)
        flood = [come("127.0.0.9") for _ in range(25)]
        other = come("127.0.0.8")
        for each in flood:
            ask(each, "flood")
        ask(known, "known")
        ask(other, "other")
        while len(asked) < 1 + len(flood) + 2:
            gevent.sleep(0.001)
        for each in (known, other, *flood):
            each.close()
    assert asked.index("other") < 15
    assert asked.index("known", 1) < 15


def test_a_connection_that_is_closed_while_it_is_written_to_is_no_fault(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The client takes nothing, and the server closes it when it stops."""
    app = Flask(__name__)
    handlers: list[socket.socket] = []
    told: list[object] = []
    monkeypatch.setattr(WSGIHandler, "handle_error", lambda self, *what: told.append(what))

    @app.get("/large")
    def large() -> Response:
        handlers.append(request.environ[CONNECTION]._socket)
        return Response("x" * 20_000_000)

    with local_server(app) as address:
        made = socket.create_connection(("127.0.0.1", port_of(address)))
        made.sendall(b"GET /large HTTP/1.1\r\nHost: x\r\n\r\n")
        while not handlers:
            gevent.sleep(0.001)
        gevent.sleep(0.05)
        handlers[0]._drop_events_and_close()  # type: ignore[attr-defined]
        gevent.sleep(0.05)
        made.close()
    assert handlers and not told


def test_a_connection_that_gives_way_leaves_the_line() -> None:
    """Those of a flood stood there with all that they had sent, and took 130 MB in four seconds."""
    line = Line()
    ours, theirs = socket.socketpair()
    connection = Connection("a", ours, line)
    got: list[bool] = []

    def wait() -> None:
        with line.turn(connection.kind, connection) as mine:
            got.append(mine)

    with line.turn("another", "another"), ours, theirs:
        waits = gevent.spawn(wait)
        gevent.sleep(0)
        assert line.waiting == 1
        connection.leave()
        assert line.waiting == 0
        waits.join()
    assert got == [False]


def test_who_was_sent_away_in_the_line_is_not_served(monkeypatch: pytest.MonkeyPatch) -> None:
    """What had come of their request was worked on all the same, for nobody."""
    monkeypatch.setattr(server_module, "OWN_ADDRESSES", ())
    asked: list[str] = []
    app = Flask(__name__)

    @app.get("/one")
    def one() -> Response:
        asked.append("one")
        return Response("here")

    def sent_away(self: Server, connection: Connection) -> None:
        connection.leave()

    monkeypatch.setattr(Server, "wait_in_line", sent_away)
    with local_server(app) as address:
        got = all_of(port_of(address), b"GET /one HTTP/1.1\r\nHost: x\r\n\r\n")
    assert not got and not asked


def test_nobody_looks_whether_a_connection_that_rests_has_gone() -> None:
    """Its end comes by itself; looked for at all of them whenever one more comes, it costs more
    than the connection."""
    looked: list[str] = []
    sock = SimpleNamespace(_sock=SimpleNamespace(recv=lambda *_: looked.append("looked") or b""))
    connection = Connection("10.0.0.2", sock)
    assert not connection.gone() and not looked
    connection.busy = Busy.STAYS
    assert connection.gone() and looked


def test_who_takes_nothing_of_an_answer_gives_way_like_one_who_has_gone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Behind one address three hundred of those kept out everybody else there."""
    monkeypatch.setattr(server_module, "STALLED_SECONDS", 0)
    app = Flask(__name__)
    came: list[Connection] = []

    @app.get("/<int:size>")
    def answer(size: int) -> Response:
        came.append(request.environ[CONNECTION])
        return Response("x" * size)

    with local_server(app) as address:
        place = ("127.0.0.1", port_of(address))
        for size in (20_000_000, 10):
            made = socket.create_connection(place)
            made.sendall(f"GET /{size} HTTP/1.1\r\nHost: x\r\n\r\n".encode())
            gevent.sleep(0.2)
            connection = came[-1]
            assert connection.gone() is (size > 10), size
            assert connection.busy is (Busy.WORKS if size > 10 else Busy.RESTS)
            made.close()


def test_only_the_teacher_who_writes_sends_a_large_body(tmp_path: Path) -> None:
    """The largest text, each sign of which takes six letters, and not a byte more of anybody."""
    app = create_app(write_lesson(tmp_path), teacher_key=KEY, own=tmp_path / "own")
    text = "---\ntitle: A\n---\n# One\n" + "\0" * 250_000
    teacher = app.test_client()
    teacher.set_cookie(cookie_name(KEY), KEY)
    own_page = {"Origin": "http://localhost"}
    seen = teacher.post("/lessons/asking/write/seen", json={}, headers=own_page).json
    assert seen
    body = json.dumps({"version": seen["version"], "text": text}).encode()
    cookie = f"{cookie_name(KEY)}={KEY}"

    def status(port: int, path: str, cookie: str, length: int, body: bytes = b"") -> bytes:
        head = (
            f"POST {path} HTTP/1.1\r\nHost: localhost:{port}\r\nOrigin: http://localhost:{port}\r\n"
            f"Cookie: {cookie}\r\nContent-Type: application/json\r\nConnection: close\r\n"
            f"Content-Length: {length}\r\n\r\n"
        )
        return all_of(port, head.encode() + body).split(b" ", 2)[1]

    with local_server(app) as address:
        port = port_of(address)
        path = "/lessons/asking/write/now"
        assert len(body) > 5 * access.LARGEST_BODY
        assert status(port, path, cookie, len(body), body) == b"200"
        # Of these nothing is read, or they would be waited for.
        assert status(port, path, cookie, access.LARGEST_WRITTEN + 1) == b"413"
        assert status(port, path, "", len(body)) == b"403"
        assert status(port, "/explore/press", cookie, len(body)) == b"413"
        assert status(port, "/explore/press", "", len(body)) == b"413"


def test_an_answer_to_head_ends_with_its_head() -> None:
    """Also of a stream, whose length nobody knows: nothing stands before the next answer."""
    app = Flask(__name__)

    @app.get("/stream")
    def stream() -> Response:
        return Response(iter([b"one", b"two"]))

    with local_server(app) as address:
        head = b"HEAD /stream HTTP/1.1\r\nHost: x\r\n\r\n"
        last = b"GET /stream HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
        answer = all_of(port_of(address), head * 2 + last)
    first, second, third, body = answer.split(b"\r\n\r\n", 3)
    assert all(each.startswith(b"HTTP/1.1 200 OK\r\n") for each in (first, second, third))
    assert body == b"3\r\none\r\n3\r\ntwo\r\n0\r\n\r\n"


_PIECES = b"POST /one HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n"


@pytest.mark.parametrize(
    "sent",
    [
        # Read sign by sign, for as long as they come: meanwhile nothing else happened.
        _PIECES + b"0\r\n" + b"a: b\r\n" * 5,
        _PIECES + b"1;" + b"a" * 99 + b"\r\nb\r\n",
        _PIECES + b"1\r\na\r\n" * 5 + b"0\r\n\r\n",
        # A hundred lines of which each was thousands to whoever read them next, and once more to
        # whoever put together those of one name.
        b"POST /one HTTP/1.1\r\n" + b"X: a\rX: a\r\n\r\n",
        b"POST /one HTTP/1.1\r\n" + b"X: a\r\r\n\r\n",
        b"POST /one HTTP/1.1\r\n"
        + b"".join(b"X: %s\r\n" % (b"a" * 9000) for _ in "1234")
        + b"\r\n",
        # A list of four thousand things to accept, each looked at for every answer.
        b"POST /one HTTP/1.1\r\nAccept-Encoding: " + b"a," * 5000 + b"\r\n\r\n",
        # The same in several lines, which are put together before they are looked at.
        b"POST /one HTTP/1.1\r\n" + b"Accept-Encoding: %s\r\n" % (b"a," * 1500) * 3 + b"\r\n",
        # A thousand words about a body that nobody sends, looked at by whoever reads the head.
        b"POST /one HTTP/1.1\r\nContent-Type: a/b;" + b" a*0=b;" * 1000 + b"\r\n\r\n",
        # What is no text to those who look for fields.
        b"POST /one?a=\xff HTTP/1.1\r\nHost: x\r\n\r\n",
        # A number without the one after the dot, which is a fault inside of whoever counts them.
        b"POST /one HTTP/1\r\nHost: x\r\n\r\n",
    ],
)
def test_what_no_browser_sends_is_not_read_on(
    sent: bytes, capfd: pytest.CaptureFixture[str]
) -> None:
    asked: list[str] = []
    app = Flask(__name__)

    @app.post("/one")
    def one() -> Response:
        asked.append("one")
        return Response("here")

    with local_server(app) as address:
        answer = all_of(port_of(address), sent)
    assert answer.startswith(b"HTTP/1.1 400 ") and not asked
    assert "Traceback" not in capfd.readouterr().err


def test_a_head_of_thousands_of_lines_is_not_read_to_its_end() -> None:
    """Of all that has come at once nobody else gets a turn in between: a few hundred of these kept
    the teacher's press waiting for seconds."""
    sent = BytesIO(b"a\n" * 16_000 + b"\r\n")
    with pytest.raises(ValueError, match="headers"):
        Handler.MessageClass(SimpleNamespace(rfile=sent))  # type: ignore[arg-type]
    assert sent.tell() <= 2 * (MOST_LINES + 2)


def test_a_cookie_of_another_that_is_no_text_is_in_nobodys_way(tmp_path: Path) -> None:
    """It made a failure of every request: whoever sent it filled the terminal."""
    app = create_app(write_lesson(tmp_path), teacher_key=KEY)
    key = f"{cookie_name(KEY)}={KEY}"
    with local_server(app) as address:
        port = port_of(address)

        def status(path: str, cookie: bytes) -> bytes:
            head = f"GET {path} HTTP/1.1\r\nHost: localhost:{port}\r\nConnection: close\r\nCookie: "
            return all_of(port, head.encode() + cookie + b"\r\n\r\n").split(b" ", 2)[1]

        odd = b"a=\xff\xed\xa0\x80; pupil=\xff; class=\xff; "
        assert [status(each, odd) for each in ("/join", "/explore/")] == [b"200"] * 2
        assert status("/results", odd) == b"403"
        assert status("/results", odd + key.encode()) == b"200"


def test_a_head_of_a_browser_with_the_cookies_of_others_is_read() -> None:
    app = Flask(__name__)

    @app.get("/one")
    def one() -> Response:
        return Response(str(len(request.headers["Cookie"])))

    cookie = "; ".join(f"name{at}=é{'v' * 100}" for at in range(100))
    sent = f"GET /one HTTP/1.1\r\nHost: x\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"
    with local_server(app) as address:
        answer = all_of(port_of(address), sent.encode())
    assert answer.startswith(b"HTTP/1.1 200 ") and len(cookie) > 10_000


def test_who_is_not_known_is_hurried_where_seats_are_short() -> None:
    app = Flask(__name__)
    app.extensions["known"] = Known()
    app.extensions["known"].add("10.0.0.2")
    server = Server(gevent.socket.socket(), app, class_size=1)
    clients = ("10.0.0.2", "10.0.0.3", "127.0.0.1")
    assert [server.part_of_time(each) for each in clients] == [1.0, 1.0, 1.0]
    for number in range(200):
        server._seats.take(f"10.0.1.{number}")
    assert [server.part_of_time(each) for each in clients] == [1.0, HURRY, 1.0]


def bad_host(port: int) -> bytes:
    return b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"


def no_origin(port: int) -> bytes:
    return f"POST /join HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Length: 0\r\n\r\n".encode()


def teachers_page(port: int) -> bytes:
    return f"GET /board/x HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode()


@pytest.mark.parametrize("request_of", [bad_host, no_origin, teachers_page])
def test_a_refusal_ends_the_connection(tmp_path: Path, request_of: Callable[[int], bytes]) -> None:
    app = create_app(write_lesson(tmp_path), teacher_key=KEY)
    with local_server(app) as address:
        port = port_of(address)
        answer = all_of(port, request_of(port) * MANY)
    assert answer.count(b"HTTP/1.1 4") == 1


def test_refusals_count_as_requests(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access, "REQUESTS_AT_ONCE", 4)
    monkeypatch.setattr(access, "REQUESTS_A_SECOND", 0.0)
    app = create_app(write_lesson(tmp_path), teacher_key=KEY, class_size=1)
    client = app.test_client()
    codes = [client.get("/join", base_url="http://elsewhere.example").status_code for _ in "123"]
    codes += [client.post("/join").status_code for _ in "12"]
    assert codes == [421, 421, 421, 403, 429]
    assert client.get("/join").status_code == 429
    # Nor are wrong keys and tickets free, once their own limit is reached.
    assert "Too many requests" in client.get("/?key=wrong").text
    assert "Too many requests" in client.get("/?ticket=wrong").text
    # The teacher at the same address is refused no more than before.
    teacher = app.test_client()
    assert teacher.get(f"/?key={KEY}").status_code == 303
    assert [teacher.post("/join").status_code for _ in range(9)] == [403] * 9
    assert teacher.get("/").status_code == 200


def test_the_class_is_let_in_again_where_it_was() -> None:
    """Also while the system remembers who was connected there, or somebody still is: the pages that
    are open ask at that address."""
    first = open_way(Flask(__name__), "127.0.0.1", 0, 1)
    port = port_of(first.address.rstrip("/"))
    # It is the side that closes which is remembered.
    gone = socket.create_connection(("127.0.0.1", port))
    stays = gevent.socket.create_connection(("127.0.0.1", port))
    stays.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
    assert stays.recv(100)
    gone.sendall(b"GET / HTTP/1.0\r\n\r\n")
    gevent.sleep(0.05)
    gone.close()
    first.close()
    again = open_way(Flask(__name__), "127.0.0.1", port, 1)
    try:
        assert again.address == first.address
    finally:
        again.close()
        stays.close()
