"""Where the service meets gear that takes control changes: real MIDI, over JACK.

The devices of the studio are JACK ports of this process. What the service sends comes
to them through its helper process and the server; from here it goes to the simulated
desk, one message a packet. So there is a boundary between any two messages, as with
`relay.Relay`, whose face this has. A serial wire loses nothing and keeps its order:
there is no weather here, and nothing comes after the death of the sender.
"""

from __future__ import annotations

import socket
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import rtmidi

from bridge.faces.simdesk import packet_of
from tests.faults.relay import CALM


class MidiGate:
    """The inputs of the devices, and the way to the desk."""

    patience_s: Final = 0.001
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
        self._inputs: list[tuple[str, Any]] = []
        for gear, device in devices.items():
            side = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=device)
            side.open_virtual_port("in")
            self._inputs.append((gear, side))

    def fence(self, number: int | None, *, are_late: bool = False) -> None:
        """Let the service die before its message `number` from now; None: no more."""
        self._left, self._is_dead = number, False

    def work(self) -> None:
        """Take what has come and pass it on."""
        for gear, side in self._inputs:
            while (found := side.get_message()) is not None:
                self._pass(gear, found[0])

    def close(self) -> None:
        """Leave JACK."""
        for _, side in self._inputs:
            side.close_port()
            side.delete()
        self._way.close()

    def _pass(self, gear: str, data: Sequence[int]) -> None:
        if self._left is not None:
            self._left -= 1
            if self._left == 0:
                self._left, self._is_dead = None, True
                self._at_boundary()
        if self._is_dead:
            self.fates["unborn"] += 1
            return
        self.passed["service"] += 1
        status, which, value = data
        address = f"{gear} cc {(status & 15) + 1} {which}"
        self._way.sendto(packet_of(address, value), self._desk)
