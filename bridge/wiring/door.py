"""The service's own door, taken from inside and spoken to from outside."""

from __future__ import annotations

import socket

from bridge.core.studio import Studio
from bridge.core.wire import OWN_DOOR, Osc

DOOR_HOST = "127.0.0.1"
"""Only programs of this machine may ask; see systemd/README.md to open it wider."""


def take_door(studio: Studio) -> socket.socket:
    """Take the service's own address. Raises OSError if another program has it.

    Done before anything else is opened: two services must never drive one desk.
    """
    from bridge.adapters.udp import bound

    return bound(DOOR_HOST, studio.door_port)


def packet(message: Osc) -> bytes:
    """The packet that the service sends for this message; empty if it cannot."""
    from bridge.adapters.osc_codec import encode

    made = encode(message)
    return made if isinstance(made, bytes) else b""


def question(words: tuple[str, ...]) -> bytes:
    """The packet that asks the running service: ("go", "speakers")."""
    first, *rest = words
    return packet(Osc(OWN_DOOR, f"/treadle/{first}", tuple(rest)))


def answer(data: bytes) -> str | None:
    """The line of JSON in the service's answer, or None if it is no answer."""
    from bridge.adapters.osc_codec import decode
    from bridge.adapters.osc_door import ANSWER

    for message in decode(data, OWN_DOOR):
        match message:
            case Osc(_, address, (str() as text,)) if address == ANSWER:
                return text
            case _:
                pass
    return None
