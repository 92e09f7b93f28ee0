"""How another program asks the service: one OSC message in, one line of JSON back."""

from __future__ import annotations

import json
import random
import socket
from itertools import count
from typing import Any

from bridge.faces.simwire import messages, packet_of

Answer = dict[str, Any]


class Door:
    """The service's own address, at a port that nobody else has, and our socket."""

    def __init__(self) -> None:
        self.port = kept_port()
        self.socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.socket.bind(("127.0.0.1", 0))
        self.socket.setblocking(False)

    def ask(self, address: str, *words: str) -> None:
        """Ask, and forget what is still to come from an earlier life."""
        while self.answer() is not None:
            pass
        packet = packet_of(address, words[0]) if words else _bare(address)
        self.socket.sendto(packet, ("127.0.0.1", self.port))

    def answer(self) -> Answer | None:
        """An answer that has come, or None; never waits."""
        try:
            packet = self.socket.recv(65536)
        except (BlockingIOError, ConnectionRefusedError):
            return None
        ((_, values),) = messages(packet)
        answer = json.loads(str(values[0]))
        assert isinstance(answer, dict)
        assert "error" not in answer, answer
        return answer


def kept_port() -> int:
    """A free UDP port that no program is given while the service that has it is dead.

    Linux gives those that ask for any from 32768 on (ip(7), ip_local_port_range).
    """
    draws = random.SystemRandom()
    for tries in count(1):
        port = draws.randrange(10_000, 32_768)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            try:
                sock.bind(("127.0.0.1", port))
            except OSError:
                assert tries < 100, "no port is free"
            else:
                return port
    raise AssertionError


def _bare(address: str) -> bytes:
    """An OSC 1.0 message without arguments."""
    text = address.encode("ascii")
    return text + bytes(4 - len(text) % 4) + b",\0\0\0"
