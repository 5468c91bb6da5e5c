"""A cable between a page and the server that a test can cut and mend."""

from __future__ import annotations

import contextlib
import socket
import threading


class Cable:
    """Passes on every connection to a port of this machine, until it is cut; while it is hushed,
    connections stay open and nothing comes through."""

    def __init__(self, port: int) -> None:
        self._server = port
        self._open: set[socket.socket] = set()
        self._passes = threading.Event()
        self._passes.set()
        self._listener = self._listen(0)
        self.port: int = self._listener.getsockname()[1]

    def _listen(self, port: int) -> socket.socket:
        listener = socket.create_server(("127.0.0.1", port), reuse_port=False)
        threading.Thread(target=self._accept, args=(listener,), daemon=True).start()
        return listener

    def _accept(self, listener: socket.socket) -> None:
        # Closing the listener ends this with an error, which is what cutting means.
        with contextlib.suppress(OSError):
            while True:
                near, _ = listener.accept()
                far = socket.create_connection(("127.0.0.1", self._server))
                self._open |= {near, far}
                for source, target in ((near, far), (far, near)):
                    threading.Thread(
                        target=self._pass_on, args=(source, target), daemon=True
                    ).start()

    def cut(self) -> None:
        """End every connection at once and take no new one."""
        # Only a shutdown wakes the thread that waits in accept.
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        for each in self._open:
            with contextlib.suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
            each.close()
        self._open = set()

    def mend(self) -> None:
        self._listener = self._listen(self.port)

    def hush(self) -> None:
        self._passes.clear()

    def speak(self) -> None:
        """Let through what comes from now on, and what has waited."""
        self._passes.set()

    def _pass_on(self, source: socket.socket, target: socket.socket) -> None:
        # The other direction, or a cut, may have closed either end already.
        with contextlib.suppress(OSError):
            while piece := source.recv(65536):
                self._passes.wait()
                target.sendall(piece)
            target.shutdown(socket.SHUT_WR)
