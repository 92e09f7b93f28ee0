"""The network between the service and a desk: loses, delays, doubles, reorders.

No thread and no task: whoever owns it gives it the processor. So what has passed and
what has not is known at every moment, and the owner can act between two packets.
"""

from __future__ import annotations

import heapq
import random
import socket
import struct
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

Address = tuple[str, int]

PACKET_BYTES: Final = 8192

LIFE_S: Final = 0.045
"""The oldest that a packet gets here. The profiles promise 50 ms; what is left is for
the desk to wake up. A packet that is older because this machine was busy is lost, and
counted: a network that breaks its promise is not what is tested."""

SO_TIMESTAMPNS: Final = 35
"""Linux: each packet carries the moment at which the kernel got it (socket(7))."""


@dataclass(frozen=True, slots=True)
class Weather:
    """Shares of packets: lost, doubled, and as late as a packet can be."""

    lose: float = 0.0
    double: float = 0.0
    late: float = 0.0


CALM: Final = Weather()


def storm(rng: random.Random) -> Weather:
    """Weather of its own for each run; extremes find more than averages."""
    return Weather(
        lose=rng.choice((0.0, 0.1, 0.3)),
        double=rng.choice((0.0, 0.2, 0.5)),
        late=rng.choice((0.0, 0.3, 0.6)),
    )


class Relay:
    """Two sockets, and the packets on their way between them.

    at_boundary: called before the packet is passed on that `fence` counted down to.
    passed: packets of the service and of the desk, as they came in.
    is_deaf: nothing that the desk says gets through.
    """

    def __init__(
        self, desk_port: int, rng: random.Random, at_boundary: Callable[[], None]
    ) -> None:
        self.weather = CALM
        self.is_deaf = False
        self.passed = {"service": 0, "desk": 0}
        self.fates = {"lost": 0, "doubled": 0, "late": 0, "too old": 0, "unborn": 0}
        self._rng, self._at_boundary = rng, at_boundary
        self._desk = ("127.0.0.1", desk_port)
        self._front, self._back = _socket(), _socket()
        self._way: list[tuple[float, int, float, bytes, bool]] = []
        self._count = 0
        self._left: int | None = None
        self._service: Address | None = None
        self._dead: Address | None = None
        self._are_late = False

    @property
    def port(self) -> int:
        """Where the service thinks that the desk is."""
        return int(self._front.getsockname()[1])

    @property
    def sockets(self) -> tuple[socket.socket, socket.socket]:
        """What to wait for."""
        return self._front, self._back

    @property
    def service(self) -> Address:
        """Where the service that spoke last is heard."""
        assert self._service is not None
        return self._service

    patience_s: Final = 0.05
    jitter_s: Final = 0.0  # what answers is waited for; see midi_gate for what cannot

    @property
    def next_at(self) -> float | None:
        """When the next packet is due (monotonic seconds)."""
        return self._way[0][0] if self._way else None

    def fence(self, number: int | None, *, are_late: bool = False) -> None:
        """Let the service die before its packet `number` from now; None: no more.

        are_late: what it had sent by then is on its way and comes late; else it had
        not been sent, and never comes.
        """
        self._left, self._are_late = number, are_late

    def work(self) -> None:
        """Take what has come, and pass on what is due."""
        for sock in self.sockets:
            while (found := _received(sock)) is not None:
                packet, sent_at, sender = found
                if sock is self._front:
                    self._from_service(packet, sent_at, sender)
                elif not self.is_deaf:
                    self.passed["desk"] += 1
                    self._send_off(packet, sent_at, to_desk=False)
        now = time.monotonic()
        while self._way and self._way[0][0] <= now:
            _, _, sent_at, packet, to_desk = heapq.heappop(self._way)
            if now - sent_at > LIFE_S:
                self.fates["too old"] += 1
            elif to_desk:
                self._back.sendto(packet, self._desk)
            elif self._service is not None:
                self._front.sendto(packet, self._service)

    def close(self) -> None:
        """Let go of both sockets."""
        self._front.close()
        self._back.close()

    def _from_service(self, packet: bytes, sent_at: float, sender: Address) -> None:
        if sender == self._dead:
            self._after_death(packet, sent_at)
            return
        self._service = sender
        if self._left is not None:
            self._left -= 1
            if self._left == 0:
                self._left, self._dead = None, sender
                self._at_boundary()
                self._after_death(packet, sent_at)
                return
        self.passed["service"] += 1
        self._send_off(packet, sent_at, to_desk=True)

    def _after_death(self, packet: bytes, sent_at: float) -> None:
        if self._are_late:
            self._put(packet, sent_at, self._late(), to_desk=True)
        else:
            self.fates["unborn"] += 1

    def _send_off(self, packet: bytes, sent_at: float, *, to_desk: bool) -> None:
        rng, weather = self._rng, self.weather
        if rng.random() < weather.lose:
            self.fates["lost"] += 1
            return
        copies = 1
        if rng.random() < weather.double:
            self.fates["doubled"] += 1
            copies = 2
        for _ in range(copies):
            if rng.random() < weather.late:
                self.fates["late"] += 1
                delay = self._late()
            else:
                delay = rng.uniform(0.0, 0.002)
            self._put(packet, sent_at, delay, to_desk=to_desk)

    def _late(self) -> float:
        return self._rng.uniform(0.03, LIFE_S - 0.003)

    def _put(
        self, packet: bytes, sent_at: float, delay: float, *, to_desk: bool
    ) -> None:
        self._count += 1
        item = (sent_at + delay, self._count, sent_at, packet, to_desk)
        heapq.heappush(self._way, item)


def _socket() -> socket.socket:
    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sock.bind(("127.0.0.1", 0))
    sock.setblocking(False)
    sock.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
    return sock


def _received(sock: socket.socket) -> tuple[bytes, float, Address] | None:
    """A packet, when it was sent (monotonic seconds), and by whom."""
    while True:
        try:
            packet, extra, _, sender = sock.recvmsg(PACKET_BYTES, 64)
        except BlockingIOError:
            return None
        except ConnectionRefusedError:
            continue  # whom we sent to is dead; that is what happens here
        stamps = [s for level, kind, s in extra if kind == SO_TIMESTAMPNS]
        seconds, nanoseconds = struct.unpack("@qq", stamps[0])
        age = max(0.0, time.time() - (seconds + nanoseconds / 1e9))
        return packet, time.monotonic() - age, sender
