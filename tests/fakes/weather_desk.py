"""A desk that speaks OSC, and the network before it: loses, doubles, delays, goes away.

No thread and no task: whoever owns it gives it the processor.
"""

from __future__ import annotations

import contextlib
import heapq
import random
import socket
import time
from collections import Counter

from bridge.faces.simwire import messages, packet_of

LIFE_S = 0.04
"""The oldest that a packet gets here; the desk's profile promises 50 ms."""


class Desk:
    """The desk, and the network before it."""

    def __init__(self, rng: random.Random) -> None:
        self._rng = rng
        self.socket = self._bound(0)
        self.port = int(self.socket.getsockname()[1])
        self.lose = self.double = self.late = 0.0
        self.fates: Counter[str] = Counter()
        self.first_set: float | None = None
        self._state: dict[str, bool | int | float | str] = {}
        self._way: list[tuple[float, int, bytes, tuple[str, int]]] = []
        self._count = 0

    def _bound(self, port: int) -> socket.socket:
        sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        sock.bind(("127.0.0.1", port))
        sock.setblocking(False)
        return sock

    def go_away(self) -> None:
        """Off: who sends is refused by this machine."""
        self.socket.close()
        self._way.clear()
        self._state.clear()
        self.fates["restarts"] += 1

    def come_back(self) -> None:
        """On again, with everything off."""
        self.socket = self._bound(self.port)

    def take(self) -> None:
        """Take what has come."""
        with contextlib.suppress(BlockingIOError):
            while True:
                packet, sender = self.socket.recvfrom(8192)
                if self.first_set is None and any(v for _, v in messages(packet)):
                    self.first_set = time.monotonic()
                self._travel(packet, sender)

    def _travel(self, packet: bytes, sender: tuple[str, int]) -> None:
        """There and back are one way here: it is lost, doubled and late once."""
        if self._rng.random() < self.lose:
            self.fates["lost"] += 1
            return
        copies = 1 + (self._rng.random() < self.double)
        self.fates["doubled"] += copies - 1
        for _ in range(copies):
            is_late = self._rng.random() < self.late
            self.fates["late"] += is_late
            delay = self._rng.uniform(0.0, LIFE_S) if is_late else 0.0
            self._count += 1
            heapq.heappush(
                self._way, (time.monotonic() + delay, self._count, packet, sender)
            )

    def work(self) -> float:
        """Do what is due; return for how long nothing is."""
        while self._way:
            at, _, packet, sender = self._way[0]
            left = at - time.monotonic()
            if left > 0:
                return left
            heapq.heappop(self._way)
            for address, values in messages(packet):
                if values:
                    self._state[address] = values[0]
                else:
                    said = packet_of(address, self._state.get(address, 0))
                    with contextlib.suppress(OSError):
                        self.socket.sendto(said, sender)
        return 1.0
