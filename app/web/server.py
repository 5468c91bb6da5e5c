"""The server: gevent's, with bounds on connections and on how long one may hold us up."""

from __future__ import annotations

import errno
import re
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from io import BytesIO
from typing import Any

import gevent
import gevent.socket
from flask import Flask
from gevent import Timeout
from gevent.pywsgi import WSGIHandler, WSGIServer, headers_factory

from app.classroom.guests import Busy, Guest, Guests
from app.classroom.limits import Known, Seats

from .access import largest_body
from .line import InTurn, Line
from .log_lines import LogLines
from .sharing import FROM_CLASS, OWN_ADDRESSES, NoWay, Way
from .stream import CONNECTION

# A client that takes nothing, or sends nothing of a request that it has begun, is dropped. Streams
# are written to more often than this, so that those of clients that are gone end too.
PATIENCE_SECONDS = 30
# What a head, or a body, may take from its first byte to its last.
HEAD_SECONDS = 10
# What a head may have, besides its request line. A browser's has a few hundred bytes, and beside
# them the cookies of whatever else is served by this machine.
LARGEST_HEAD = 32 * 1024
# What all of its lines may have together that hold no cookies: what those say is taken apart sign
# by sign, and what is said in several lines is put together before.
LARGEST_REST = 8 * 1024
# A line that says of what kind the body is: it is taken apart whoever asks for it or not.
LONGEST_KIND = 512
# More lines are not read: who sends thousands of short ones costs ten times as much by each head.
MOST_LINES = 100
# After an answer the loop looks what others have asked for. One who sends request after request
# without waiting keeps it from that otherwise: there is always more to be read, and room to write.
PAUSE_SECONDS = 0.0005
# Who takes nothing of an answer for so long gives way to others, where connections are short.
STALLED_SECONDS = 3
# Where seats are short, who is not known has this part of those times.
HURRY = 0.2
# For so long heads are read that have come, before the loop looks what else has.
LOOK_UP_SECONDS = 0.002
# How many bytes may be on their way to a client: a slow one then skips frames and does not get
# minutes of them that the system has stored up.
ON_ITS_WAY = 64 * 1024
# So many connections are begun with before the loop looks what else has come. It has to be more
# than are served meanwhile (a few: see Server.wait_in_line), or who comes waits behind all others.
AT_ONCE = 16
# So many are taken from the system meanwhile: its row is in the order of coming, so who comes last
# waits there for all that others have opened. It costs a tenth of beginning with one.
TAKEN_AT_ONCE = 256
# So many connections may wait to be taken up, where the system lets that many. One beyond it is
# only tried again after a second, and then after two more.
MOST_WAITING = 4096
# A browser opens at most six connections to one server.
CONNECTIONS_A_PUPIL = 8
TEACHERS_CONNECTIONS = 100
# Files that are open besides connections.
OTHER_FILES = 64

# An address in a request line with the machine in front of it, as clients of a proxy write it.
_WHOLE_ADDRESS = re.compile(r"https?://(?P<host>[^/?#]+)(?P<path>/[^#]*)?", re.IGNORECASE)

_FULL = (
    b"HTTP/1.1 503 Service Unavailable\r\nContent-Type: text/plain; charset=utf-8\r\n"
    b"Connection: close\r\n\r\nToo many connections: close some pages and try again.\n"
)
_log_lines = LogLines()


class _Body(BytesIO):
    """A body that has been read."""

    def _discard(self) -> None:
        """There is nothing to be read that would be taken for the next request."""


class Connection(Guest):
    """A connection to an address, which gives way to another while nothing is answered by it, or
    else while its answer is no stream."""

    __slots__ = ("_greenlet", "_line", "_socket", "writes_since")

    def __init__(self, client: str, sock: Any, line: Line | None = None) -> None:
        """``line`` is the one in which it may wait."""
        super().__init__(client, self._close)
        self._socket = sock
        self._line = line or Line()
        self._greenlet = gevent.getcurrent()
        self.gone = self._is_closed
        # Since when what is to be sent waits until some of it is taken; None while nothing is.
        self.writes_since: float | None = None

    @property
    def kind(self) -> tuple[str, bool]:
        """Those who take turns with others: of one address, who has had an answer or not."""
        return self.client, self.answered

    def _close(self) -> None:
        self.left = True
        self._line.leave(self.kind, self)
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)

    def _is_closed(self) -> bool:
        if self.busy is Busy.RESTS:
            # It is being read from, so its end is noticed without being looked for.
            return False
        if self.writes_since and time.monotonic() - self.writes_since > STALLED_SECONDS:
            return True
        try:
            return not self._socket._sock.recv(1, socket.MSG_PEEK)
        except BlockingIOError:
            return False
        except OSError:
            return True

    def end_stream(self) -> None:
        if self.busy is Busy.STAYS:
            self._greenlet.kill(block=False)


class Handler(WSGIHandler):
    """Ends a connection quietly where the client was too slow, has gone, or sent nonsense: the
    terminal is the teacher's. A head has to come as a whole in time, not only byte by byte."""

    wsgi_input: Any
    path: str
    connection: Connection

    def get_environ(self) -> Any:
        # RFC 9112, section 3.2.2: such an address is taken, and its host in the place of another.
        whole = _WHOLE_ADDRESS.fullmatch(self.path)
        if whole:
            self.path = whole["path"] or "/"
        environ = super().get_environ()
        if whole:
            environ["HTTP_HOST"] = whole["host"]
        environ[CONNECTION] = self.connection
        return environ

    def read_requestline(self) -> Any:
        self.connection.busy = Busy.RESTS
        with self._in_time(PATIENCE_SECONDS, "no request came"):
            # Connections rest between requests; what has begun is finished soon.
            if not self.rfile.peek(1):
                return ""
        if self.connection.answered:
            # Whoever else comes from the same address takes no place of somebody who asks.
            self.connection.busy = Busy.WORKS
        self.server.wait_in_line(self.connection)
        self.connection.busy = Busy.RESTS
        if self.connection.left:
            return ""
        with self._in_time(HEAD_SECONDS, "a slow request line"):
            line = super().read_requestline()
            # RFC 9112, section 2.2: some end a body with a line that belongs to nothing.
            return super().read_requestline() if line in ("\r\n", "\n") else line

    def read_request(self, raw_requestline: str) -> Any:
        if not raw_requestline.isascii():
            raise ValueError("an address with signs that no browser sends")
        with self._in_time(HEAD_SECONDS, "a slow head"):
            read = super().read_request(raw_requestline)
        if "transfer-encoding" in self.headers:
            # No page of ours sends a body in pieces. Who sends them fast enough is read from for
            # ever: nobody else gets a turn, nor does the clock.
            raise ValueError("a body in pieces")
        return read

    def MessageClass(self, *args: object) -> Any:
        """The head, read line by line up to LARGEST_HEAD: what is in it is looked at more than
        once, and in more ways than one. All that has come of it is read at once, and nobody else
        gets a turn meanwhile: so it must cost little, whatever it is. Raises ValueError for one
        that no browser sends."""
        head: list[bytes] = []
        left = LARGEST_HEAD
        rest = LARGEST_REST
        while True:
            line = self.rfile.readline(left + 1)
            left -= len(line)
            if left < 0:
                raise ValueError(f"a head of more than {LARGEST_HEAD} bytes")
            name = line[:13].lower()
            rest -= 0 if name.startswith(b"cookie:") else len(line)
            if rest < 0:
                raise ValueError(f"a head of more than {LARGEST_REST} bytes without its cookies")
            if name == b"content-type:" and len(line) > LONGEST_KIND:
                raise ValueError(f"a kind of body of more than {LONGEST_KIND} bytes")
            if len(head) > MOST_LINES:
                raise ValueError(f"got more than {MOST_LINES} headers")
            if b"\r" in line.removesuffix(b"\n").removesuffix(b"\r"):
                # To some who read it a line ends there.
                raise ValueError("a line that ends in the middle")
            head.append(line)
            if line in (b"\r\n", b"\n", b""):
                return headers_factory(BytesIO(b"".join(head)))

    def handle_one_response(self) -> None:
        """The body is read before anything else is done, so that nobody waits for a slow one. One
        that is too large to be taken is not read at all; its connection ends with the answer."""
        largest = largest_body(self.server.application, self.environ)
        if self.content_length is None or 0 <= self.content_length <= largest:
            try:
                with self._in_time(HEAD_SECONDS, "a slow body"):
                    body = self.wsgi_input.read(largest + 1)
            except TimeoutError:
                self.close_connection = True
                return
            except OSError:
                # It is no body: whoever reads on is told the same, and answers it.
                super().handle_one_response()
                return
        else:
            body = b""
        if len(body) > largest or (self.content_length or 0) > largest:
            self.close_connection = True
        self.wsgi_input = self.environ["wsgi.input"] = _Body(body)
        self.connection.busy = Busy.WORKS
        super().handle_one_response()
        self.connection.answered = True
        gevent.sleep(PAUSE_SECONDS)

    def _sendall(self, data: bytes) -> None:
        self.connection.writes_since = time.monotonic()
        super()._sendall(data)
        self.connection.writes_since = None

    def finalize_headers(self) -> None:
        super().finalize_headers()
        if self.command == "HEAD":
            # A head has no body, not even the piece that ends one: it would be taken for the
            # beginning of the next answer.
            self.response_use_chunked = False

    def _in_time(self, seconds: float, late: str) -> Timeout:
        part = self.server.part_of_time(self.client_address[0])
        return Timeout(seconds * part, TimeoutError(late))

    def handle_error(self, t: Any, v: Any, tb: Any) -> None:
        # Who was sent away while we waited for it finds its connection closed.
        closed = isinstance(v, OSError) and v.errno == errno.EBADF
        if issubclass(t, TimeoutError) or closed:
            self.close_connection = True
        else:
            super().handle_error(t, v, tb)

    def log_error(self, msg: str, *args: object) -> None:
        line = _log_lines.line(msg % args if args else msg)
        if line:
            # Without what the socket is called in memory, which tells a teacher nothing.
            self.server.error_log.write(f"{line}\n")

    def _handle_client_error(self, ex: Exception) -> Any:
        if isinstance(ex, OSError):
            # Too slow, or the connection has ended at one of its sides.
            self.close_connection = True
            return None
        # Whatever cannot be read in it (too many lines, a version without a dot) is its own fault,
        # and told in a line.
        return super()._handle_client_error(
            ex if isinstance(ex, ValueError) else ValueError(str(ex))
        )


class Server(WSGIServer):
    """Serves ``app`` on a listening socket to a class of a size; where it is ``for_class``, nobody
    who comes by it is taken for the teacher.

    The own machine always gets a connection: the teacher sits there.
    """

    handler_class = Handler
    max_accept = TAKEN_AT_ONCE

    def __init__(
        self, listener: socket.socket, app: Flask, class_size: int, for_class: bool = False
    ) -> None:
        most = CONNECTIONS_A_PUPIL * class_size + TEACHERS_CONNECTIONS
        # As many again may have arrived and wait.
        most = min(most, _file_limit() // 2)
        # A half is kept for addresses at which somebody has joined, or teaches.
        self._seats = Seats(most, max(most // 2, 1), kept=most // 2)
        self._guests = Guests(self._seats, renewed=True)
        self._line = Line()
        self._looked = 0.0
        self._most_arrived = most
        self._arrived: InTurn[Any, tuple[str, int]] = InTurn()
        self._doorman: gevent.Greenlet | None = None
        # Of an application that lets no class in, nobody is known.
        self._known: Known = app.extensions.get("known") or Known()
        # The name is given, so that nobody asks the network for it.
        environ: dict[str, Any] = {"SERVER_NAME": "127.0.0.1"}
        if for_class:
            environ[FROM_CLASS] = True
        super().__init__(listener, app, log=None, environ=environ)

    def do_handle(self, sock: Any, address: tuple[str, int]) -> None:
        """Clients take turns also in being begun with. Of who opens more than can be served the
        last are closed: they cost little, and keep nobody else waiting."""
        client = address[0]
        if client in OWN_ADDRESSES:
            super().do_handle(sock, address)
            return
        self._arrived.put(client, sock, address)
        if len(self._arrived) > self._most_arrived:
            surplus, _ = self._arrived.pop_surplus()
            surplus.close()
        if not self._doorman:
            self._doorman = gevent.spawn(self._let_in)

    def _let_in(self) -> None:
        while self._arrived:
            for _ in range(min(AT_ONCE, len(self._arrived))):
                super().do_handle(*self._arrived.pop())
            gevent.sleep(PAUSE_SECONDS)

    def close(self) -> None:
        while self._arrived:
            self._arrived.pop()[0].close()
        super().close()

    def wait_in_line(self, connection: Connection) -> None:
        """Wait until a request that has come may be read. Hundreds that come at once are read a few
        at a time, and connections are taken up in between: whoever opens one after the other, and
        waits for no answer, would else keep the teacher's next one waiting behind all of them.
        Clients take turns, and of each those who have had an answer already take turns with those
        who come new: a class does not wait for all that one of it sends. The own machine does not
        wait: the teacher sits there."""
        if connection.client in OWN_ADDRESSES:
            return
        with self._line.turn(connection.kind, connection) as mine:
            if mine and time.perf_counter() - self._looked >= LOOK_UP_SECONDS:
                gevent.sleep(PAUSE_SECONDS)
                self._looked = time.perf_counter()

    def part_of_time(self, client: str) -> float:
        """The part of the usual times that a client may keep us waiting."""
        hurried = client not in OWN_ADDRESSES and self._seats.short and client not in self._known
        return HURRY if hurried else 1.0

    def handle(self, sock: Any, address: tuple[str, int]) -> None:
        # Who has gone gets no answer, a refusal neither.
        with suppress(ConnectionError, TimeoutError):
            self._serve(sock, address)

    def _serve(self, sock: Any, address: tuple[str, int]) -> None:
        client = address[0]
        sock.settimeout(PATIENCE_SECONDS)
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, ON_ITS_WAY)
        if hasattr(socket, "TCP_USER_TIMEOUT"):
            # What a client does not acknowledge: its lid was closed.
            milliseconds = 1000 * PATIENCE_SECONDS
            sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, milliseconds)
        handler = self.handler_class(sock, address, self)
        handler.connection = Connection(client, sock, self._line)
        if client in OWN_ADDRESSES:
            handler.handle()
        elif self._guests.take(handler.connection, client in self._known):
            try:
                handler.handle()
            finally:
                self._guests.give_back(handler.connection)
        else:
            sock.sendall(_FULL)


def open_way(app: Flask, address: str | None, port: int, class_size: int) -> Way:
    """Serve the class at an address of this machine, at the port if it is free there. Raises
    NoWay."""
    if address is None:
        raise NoWay(
            "This computer is in no network. Connect it to that of the room, then let the class in."
        )
    listener = _listener_at(address, port) or _listener_at(address, 0)
    if listener is None:
        raise NoWay(f"This computer's own address, {address}, cannot be used at this moment.")
    server = Server(listener, app, class_size, for_class=True)
    server.start()
    host = socket.gethostname().casefold()
    return Way(
        f"http://{address}:{listener.getsockname()[1]}/",
        frozenset({address, host, f"{host}.local"} - {"", ".local"}),
        lambda: server.stop(timeout=1),
    )


def _listener_at(address: str, port: int) -> socket.socket | None:
    """A listening socket; None where there can be none. It is gevent's own, for this may be called
    where the standard library waits in its own way."""
    listener: socket.socket = gevent.socket.socket()
    try:
        if sys.platform != "win32":
            # The system remembers for a while who was connected before: the class would be let in
            # at another port than its open pages ask. (Elsewhere this means another thing.)
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((address, port))
        listener.listen(MOST_WAITING)
    except OSError:
        listener.close()
        return None
    return listener


@contextmanager
def local_server(app: Flask) -> Iterator[str]:
    """The app served to the own machine alone while something is done; gives its address.

    What is done must let gevent run, or nothing is served.
    """
    # gevent's own, for this may be called where the standard library waits in its own way.
    listener = gevent.socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen()
    server = Server(listener, app, class_size=1)
    server.start()
    try:
        yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    finally:
        server.stop(timeout=1)


def _file_limit() -> int:
    """How many connections this process may hold open, once it has asked for all it can get."""
    if sys.platform == "win32":
        return 10_000
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if hard == resource.RLIM_INFINITY or hard > 65_536:
        hard = max(65_536, soft)
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))
        soft = hard
    except (OSError, ValueError) as error:
        print(f"Chalkcycle stays with {soft} open files: {error}", file=sys.stderr)
    return max(soft - OTHER_FILES, OTHER_FILES)
