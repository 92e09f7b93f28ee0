"""Lamps come last: what they are to look like waits here until nothing else does.

Rules of this file: one lamp has one place, and what is newer takes it. A few messages
are sent at a time, so that a press that comes meanwhile finds the wire nearly free: a
message takes 1 ms on a serial MIDI wire.
"""

from __future__ import annotations

from collections import Counter
from typing import Final, Protocol

from bridge.core.effects import Light
from bridge.engine.ports import Port, PortGone

AT_ONCE: Final = 4
"""Messages in one go: 4 ms of a serial MIDI wire; nobody feels a press so late."""

PAUSE_S: Final = 0.02
"""Between two goes: a pad of 16 lights is told within a tenth of a second."""


class Ports(Protocol):
    """Where ports are found."""

    def get(self, name: str) -> Port | None:
        """The port of this name, if there is one."""
        ...


class Lights:
    """What lamps are to look like and have not been told yet.

    drops: by cause; a lamp whose message was dropped is told again by the machine.
    """

    def __init__(self) -> None:
        self.drops: Counter[str] = Counter()
        self._waiting: dict[str, Light] = {}
        self._free_at = 0.0

    def put(self, light: Light) -> None:
        """Let a lamp look so, soon."""
        if self._waiting.pop(light.lamp, None) is not None:
            self.drops["lamps: overtaken by what is newer"] += 1
        self._waiting[light.lamp] = light

    @property
    def due(self) -> float | None:
        """When the next may be sent, in seconds of the clock; None: nothing waits."""
        return self._free_at if self._waiting else None

    def send(self, ports: Ports, now: float) -> None:
        """Send a few, if it is time."""
        if now < self._free_at:
            return
        sent = 0
        while self._waiting and sent < AT_ONCE:
            sent += self._send_first(ports)
        if sent:
            self._free_at = now + PAUSE_S

    def send_all(self, ports: Ports) -> None:
        """Send what waits, as the service ends."""
        while self._waiting:
            self._send_first(ports)

    def _send_first(self, ports: Ports) -> int:
        """Send what has waited longest; returns of how many messages it is."""
        light = self._waiting.pop(next(iter(self._waiting)))
        for message in light.messages:
            port = ports.get(message.port)
            try:
                if port is not None:
                    port.send(message)
            except PortGone:
                self.drops["lamps: not taken by their port"] += 1
        return len(light.messages)
