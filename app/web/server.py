"""The server: gevent's, with bounds on connections and on how long one may hold us up."""

from __future__ import annotations

import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.client import HTTPException
from typing import Any

import gevent.socket
from flask import Flask
from gevent.pywsgi import WSGIHandler, WSGIServer

from app.classroom.limits import Places

from .log_lines import LogLines

# A client that takes nothing, or sends nothing of a request that it has begun, is dropped. Streams
# are written to more often than this, so that those of clients that are gone end too.
PATIENCE_SECONDS = 30
# How many bytes may be on their way to a client: a slow one then skips frames and does not get
# minutes of them that the system has stored up.
ON_ITS_WAY = 64 * 1024
# A browser opens at most six connections to one server.
CONNECTIONS_A_PUPIL = 8
TEACHERS_CONNECTIONS = 100
# Files that are open besides connections.
OTHER_FILES = 64

_FULL = (
    b"HTTP/1.1 503 Service Unavailable\r\nContent-Type: text/plain; charset=utf-8\r\n"
    b"Connection: close\r\n\r\nToo many connections: close some pages and try again.\n"
)
_OWN_MACHINE = ("127.0.0.1", "::1")
_log_lines = LogLines()


class Handler(WSGIHandler):
    """Ends a connection quietly where the client was too slow, has gone, or sent nonsense: the
    terminal is the teacher's."""

    def handle_error(self, t: Any, v: Any, tb: Any) -> None:
        if issubclass(t, TimeoutError):
            self.close_connection = True
        else:
            super().handle_error(t, v, tb)

    def log_error(self, msg: str, *args: object) -> None:
        line = _log_lines.line(msg % args if args else msg)
        if line:
            super().log_error(line)

    def _handle_client_error(self, ex: Exception) -> Any:
        if isinstance(ex, TimeoutError):
            self.close_connection = True
            return None
        if isinstance(ex, HTTPException):
            # Too many lines in its head: its own fault, like any other that is told in a line.
            ex = ValueError(str(ex))
        return super()._handle_client_error(ex)


class Server(WSGIServer):
    """Serves ``app`` on a listening socket to a class of a size.

    The own machine always gets a connection: the teacher sits there.
    """

    handler_class = Handler

    def __init__(self, listener: socket.socket, app: Flask, class_size: int) -> None:
        most = min(CONNECTIONS_A_PUPIL * class_size + TEACHERS_CONNECTIONS, _file_limit())
        self._places = Places(most, max(most // 2, 1))
        # The name is given, so that nobody asks the network for it.
        super().__init__(listener, app, log=None, environ={"SERVER_NAME": "127.0.0.1"})

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
        if client in _OWN_MACHINE:
            super().handle(sock, address)
        elif self._places.take(client):
            try:
                super().handle(sock, address)
            finally:
                self._places.give_back(client)
        else:
            sock.sendall(_FULL)


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
