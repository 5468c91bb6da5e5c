"""Letting the class in, and shutting it out again, while a lesson runs.

A server that was started for the own machine alone opens a second way in: a listener at this
machine's address in its network. Whoever comes by that one is of the class and nobody else, so that
there is no key to be kept; the teacher stays on the own machine. A server that has listened to the
network from its start has its key, and only says no to the class while it is shut out.
"""

from __future__ import annotations

import http.client
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlsplit

from flask import current_app, request

# What a request that came by the class's own listener carries; no client can set it.
FROM_CLASS = "chalkcycle.class"
TRY_SECONDS = 3.0
# Who comes from one of these is on this machine.
OWN_ADDRESSES = ("127.0.0.1", "::1")


class NoWay(Exception):
    """The class cannot be let in, with what to do about it in words."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way in that has been opened: the address that the class types, such as
    ``http://10.0.0.5:8730/``, the names it may be asked for by, and what closes it."""

    address: str
    names: frozenset[str]
    close: Callable[[], None]


class Sharing:
    """Whether the class may come in, and what is known of how it gets here.

    ``address`` is where the class finds a server that listens to the network anyway, None where
    it does not. ``opens`` makes a way in, and raises NoWay.
    """

    def __init__(self, address: str | None = None) -> None:
        self._listens_at = address
        self._shut_out = False
        self._way: Way | None = None
        self._lock = threading.Lock()
        self.opens: Callable[[], Way] | None = None
        # Called when something has changed that the teacher's pages show.
        self.on_change: Callable[[], object] = bool
        self.trouble = ""
        # Whether this machine itself gets an answer at the address.
        self.answers = True
        # Whether another machine has come by it.
        self.reached = False

    @property
    def address(self) -> str | None:
        """Where the class goes; None while it cannot come in."""
        if self._way:
            return self._way.address
        return None if self._shut_out else self._listens_at

    @property
    def can_change(self) -> bool:
        """Whether the class can be let in and shut out."""
        return self.opens is not None or self._listens_at is not None

    @property
    def names(self) -> frozenset[str]:
        """The names by which the class asks for this machine."""
        way = self._way
        return way.names if way else frozenset()

    def let_in(self) -> None:
        """Let the class in. What is in the way is told in ``trouble``."""
        with self._lock:
            if self.address is None:
                self._shut_out, self.trouble, self.reached = False, "", False
                if self._listens_at is None and self.opens is not None:
                    try:
                        self._way = self.opens()
                    except NoWay as no_way:
                        self.trouble = str(no_way)
            self.answers = self.address is not None and answers(self.address)
        self.on_change()

    def shut_out(self) -> None:
        """Nobody of the class comes in any more, and who is in is sent away."""
        with self._lock:
            self._shut_out, self.trouble = True, ""
            way, self._way = self._way, None
        # Streams end by themselves, and then what else is connected.
        self.on_change()
        if way:
            way.close()

    def comes(self, client: str) -> None:
        """Somebody of the class has asked for something, from an address."""
        if not self.reached and not is_own(client):
            self.reached = True
            self.on_change()


def is_own(address: str) -> bool:
    """Whether an address is one of this machine's: no other can be listened at. The class's own may
    be a name, and where that leads is not asked of the network for every request."""
    if address in OWN_ADDRESSES:
        return True
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    with socket.socket(family) as trial:
        try:
            trial.bind((address, 0))
        except OSError:
            return False
    return True


def answers(address: str) -> bool:
    """Whether a page for pupils comes from an address. That says nothing of what stands between
    this machine and others."""
    at = urlsplit(address)
    connection = http.client.HTTPConnection(at.hostname or "", at.port, timeout=TRY_SECONDS)
    try:
        connection.request("GET", "/join")
        return connection.getresponse().status == 200
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()


def from_class() -> bool:
    """Whether this request came by the class's own listener."""
    return bool(request.environ.get(FROM_CLASS))


def sharing_now() -> Sharing:
    """How the application that answers this request is shared."""
    found: Sharing = current_app.extensions["sharing"]
    return found
