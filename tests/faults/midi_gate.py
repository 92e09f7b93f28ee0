"""Where the service meets gear that takes control changes: real MIDI, over JACK.

The devices of the studio are JACK ports of this process. What the service sends comes
to them through its helper process and the server; from here it goes to the simulated
desk, one message a packet. So there is a boundary between any two messages, as with
`relay.Relay`, whose face this has. A serial wire loses nothing and keeps its order:
there is no weather here, and nothing comes after the death of the sender.
"""

from __future__ import annotations

import socket
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import rtmidi

from bridge.faces.simwire import packet_of
from tests.faults.relay import CALM

JITTER_S: Final = 2 * 256 / 48000
"""Two periods of the server. It hands messages on once a period, so two that were sent
15 ms apart have been seen to arrive 11 ms apart (2 crossings of 686), and for so long
a control that cannot answer may still be under way when the next leg comes. The
service counts settle times from when it sent; here the order is judged in full, and
of each settle time what is left."""


class MidiGate:
    """The inputs of the devices, and the way to the desk.

    stamps: when each message came that was passed on (monotonic seconds); the desk's
    record has them in the same order, but when this process got round to it.
    """

    patience_s: Final = 0.001
    jitter_s: Final = JITTER_S
    sockets: Final[tuple[socket.socket, ...]] = ()
    next_at: Final = None

    def __init__(
        self,
        devices: Mapping[str, str],
        desk_port: int,
        at_boundary: Callable[[], None],
    ) -> None:
        """devices: gear by its name in the studio -> what its MIDI port is called."""
        self.weather = CALM
        self.is_deaf = False
        self.passed = {"service": 0, "desk": 0}
        self.fates = {"unborn": 0}
        self._at_boundary = at_boundary
        self._desk = ("127.0.0.1", desk_port)
        self._way = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._left: int | None = None
        self._is_dead = False
        self.stamps: list[float] = []
        self._heard: deque[tuple[float, str, Sequence[int]]] = deque()
        self._inputs: list[Any] = []
        for gear, device in devices.items():
            side = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=device)
            side.set_callback(self._hear, gear)
            side.open_virtual_port("in")
            self._inputs.append(side)

    def fence(self, number: int | None, *, are_late: bool = False) -> None:
        """Let the service die before its message `number` from now; None: no more."""
        self._left, self._is_dead = number, False

    def work(self) -> None:
        """Take what has come and pass it on."""
        while self._heard:
            self._pass(*self._heard.popleft())

    def close(self) -> None:
        """Leave JACK."""
        for side in self._inputs:
            side.cancel_callback()
            side.close_port()
            side.delete()
        self._way.close()

    def _hear(self, found: tuple[Sequence[int], float], gear: str) -> None:
        # On JACK's own thread: two devices are told apart in time only here.
        self._heard.append((time.monotonic(), gear, found[0]))

    def _pass(self, at: float, gear: str, data: Sequence[int]) -> None:
        if self._left is not None:
            self._left -= 1
            if self._left == 0:
                self._left, self._is_dead = None, True
                self._at_boundary()
        if self._is_dead:
            self.fates["unborn"] += 1
            return
        self.passed["service"] += 1
        self.stamps.append(at)
        status, which, value = data
        address = f"{gear} cc {(status & 15) + 1} {which}"
        self._way.sendto(packet_of(address, value), self._desk)
