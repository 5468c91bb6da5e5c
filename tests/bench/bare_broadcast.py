"""A server that does nothing but broadcast: what :mod:`tests.bench.class_load` compares with.

gevent's server, one greenlet a stream, one event for all, bytes made once. No framework, no
lesson, no frame, no store. It sends as many bytes as it is told to. What is posted to ``/answer``
is answered with as many: what :mod:`tests.bench.explore` compares with.
"""

from __future__ import annotations

import socket
import sys
from collections.abc import Callable, Iterator
from typing import Any

from gevent import event, pywsgi


class Bare:
    def __init__(self, size: int) -> None:
        self.size = size
        self.number = 0
        self.message = b""
        self.changed = event.Event()

    def __call__(self, environ: dict[str, Any], start: Callable[..., object]) -> Iterator[bytes]:
        if environ["PATH_INFO"] == "/answer":
            environ["wsgi.input"].read()
            start("200 OK", [("Content-Type", "text/html"), ("Content-Length", str(self.size))])
            return iter((b"x" * self.size,))
        if environ["REQUEST_METHOD"] == "POST":
            self.number += 1
            text = f"id: {self.number}\ndata: ".encode()
            self.message = text + b"x" * (self.size - len(text) - 2) + b"\n\n"
            changed, self.changed = self.changed, event.Event()
            changed.set()
            start("204 No Content", [])
            return iter(())
        start("200 OK", [("Content-Type", "text/event-stream")])
        return self.stream()

    def stream(self) -> Iterator[bytes]:
        yield b": open\n\n"
        known = self.number
        while True:
            self.changed.wait()
            if self.number != known:
                known = self.number
                yield self.message


class Server(pywsgi.WSGIServer):
    """Sends at once what is there to send, as Chalkcycle's does."""

    def handle(self, sock: Any, address: tuple[str, int]) -> None:
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        super().handle(sock, address)


if __name__ == "__main__":
    server = Server(("127.0.0.1", 0), Bare(int(sys.argv[1])), log=None)
    server.start()
    print(f"http://127.0.0.1:{server.server_port}/", flush=True)
    server.serve_forever()
