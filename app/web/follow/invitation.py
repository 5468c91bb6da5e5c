"""How a class reaches this machine: its address, and the code and the picture to join by."""

from __future__ import annotations

import socket
from dataclasses import dataclass

import segno
from markupsafe import Markup

from app.web.rooms import Room
from app.web.sharing import sharing_now

# An address for examples (RFC 5737) that no machine has. Nothing is sent to it.
_ELSEWHERE = ("192.0.2.1", 9)


@dataclass(frozen=True, slots=True)
class Invitation:
    """What the board shows of how to join: the address to type, the code, and both at once."""

    address: str
    code: str
    link: str

    @property
    def picture(self) -> Markup:
        """A QR code of the link, as SVG."""
        code = segno.make(self.link, error="m", micro=False)
        # Its size comes from the style sheet; the white round it is part of what is scanned.
        return Markup(code.svg_inline(scale=4, border=3, light="#fff", dark="#000", omitsize=True))


def invitation_to(room: Room) -> Invitation | None:
    """How to join a room; None where the class cannot come in."""
    # Such as http://10.0.0.5:8730/
    address = sharing_now().address
    return Invitation(address, room.code, f"{address}class/{room.code}") if address else None


def own_address() -> str | None:
    """The address of this machine in its network; None where it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # For a datagram socket this only chooses the way out: nothing is sent.
            probe.connect(_ELSEWHERE)
        except OSError:
            return None
        found = str(probe.getsockname()[0])
    return None if found.startswith("127.") or found == "0.0.0.0" else found
