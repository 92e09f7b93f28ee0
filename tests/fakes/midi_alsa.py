"""ALSA's sequencer on a workbench, under the library's own events and errors.

Checking machines have no sequencer, so `FakeSequencer` stands in at the narrowest
place: the library's client object. A pipe is readable when events are there, as its
descriptor is.
"""

import errno
import os
from collections import deque
from collections.abc import Sequence

from alsa_midi import (
    RW_PORT,
    ALSAError,
    Event,
    MidiBytesEvent,
    PortCaps,
    PortExitEvent,
    PortInfo,
    PortStartEvent,
)

Place = tuple[int, int]
OURS = 128


class FakePort:
    """One of our ports."""

    def __init__(self, sequencer: "FakeSequencer", port_id: int, name: str) -> None:
        self.port_id, self.name = port_id, name
        self._sequencer = sequencer

    def close(self) -> None:
        self._sequencer.work()
        self._sequencer.forget(self)


class FakeSequencer:
    """The system's sequencer and our client of it, in one."""

    def __init__(self) -> None:
        self.client_id = OURS
        self.ports: dict[int, FakePort] = {}
        self.subscriptions: list[tuple[Place, Place]] = []
        self.sent: list[tuple[int, bytes]] = []
        self.opened = 0
        self.is_open = False
        self.is_broken = False
        self.is_full = False
        self.refuses: set[Place] = set()
        self.sockets: dict[int, str] = {}
        self._devices: dict[Place, PortInfo] = {}
        self._events: deque[Event | int] = deque()
        self._read, self._write = -1, -1
        self._next = 0

    # What the test does

    def open(self) -> "FakeSequencer":
        """Give this to `AlsaBackend`."""
        self.work()
        self.opened += 1
        self.is_open = True
        self._read, self._write = os.pipe2(os.O_NONBLOCK)
        return self

    def plug(self, place: Place, client: str, name: str, caps: PortCaps) -> None:
        """Plug a device in at client and port numbers."""
        info = PortInfo(
            client_id=place[0], port_id=place[1], name=name, capability=caps
        )
        info.client_name = client
        self._devices[place] = info
        self._happens(PortStartEvent(place))

    def unplug(self, place: Place) -> None:
        """Pull a device out; its subscriptions end with it."""
        del self._devices[place]
        self.subscriptions = [s for s in self.subscriptions if place not in s]
        self._happens(PortExitEvent(place))

    def says(self, source: Place, data: bytes) -> None:
        """Let a device speak; whoever subscribed gets it."""
        for sender, dest in self.subscriptions:
            if sender == source:
                self._happens(MidiBytesEvent(data, source=source, dest=dest))

    def overrun(self) -> None:
        """Lose events, as the kernel does when nobody reads."""
        self._happens(-errno.ENOSPC)

    def break_down(self) -> None:
        """Let the driver go away."""
        self.is_broken = True
        self._happens(-errno.ENODEV)

    def _happens(self, event: Event | int) -> None:
        if self.is_open:
            self._events.append(event)
            os.write(self._write, b"!")

    def work(self) -> None:
        """Raise if the driver is gone."""
        if self.is_broken:
            raise ALSAError(os.strerror(errno.ENODEV), -errno.ENODEV)

    def forget(self, port: FakePort) -> None:
        """Take away a port of ours."""
        del self.ports[port.port_id]
        own = (OURS, port.port_id)
        self.subscriptions = [s for s in self.subscriptions if own not in s]

    # What the backend does

    def fileno(self) -> int:
        return self._read

    def create_port(self, name: str, caps: PortCaps) -> FakePort:
        self.work()
        self._next += 1
        self.ports[self._next] = FakePort(self, self._next, name)
        return self.ports[self._next]

    def list_ports(self) -> Sequence[PortInfo]:
        self.work()
        own = [
            PortInfo(client_id=OURS, port_id=k, name=port.name, capability=RW_PORT)
            for k, port in self.ports.items()
        ]
        return [*self._devices.values(), *own]

    def socket_of(self, client_id: int) -> str:
        return self.sockets.get(client_id, "")

    def subscribe_port(self, sender: object, dest: object) -> None:
        self.work()
        assert isinstance(sender, tuple)
        assert isinstance(dest, tuple)
        for place in (sender, dest):
            known = place in self._devices or place[0] in (OURS, 0)
            if not known or place in self.refuses:
                number = errno.EBUSY if place in self.refuses else errno.EINVAL
                raise ALSAError(os.strerror(number), -number)
        self.subscriptions.append((sender, dest))

    def event_input(self) -> Event:
        if not self._events:
            raise ALSAError(os.strerror(errno.EAGAIN), -errno.EAGAIN)
        os.read(self._read, 1)
        event = self._events.popleft()
        if isinstance(event, int):
            raise ALSAError(os.strerror(-event), event)
        return event

    def send(self, data: bytes, port_id: int) -> None:
        self.work()
        if self.is_full:
            raise ALSAError(os.strerror(errno.EAGAIN), -errno.EAGAIN)
        self.sent.append((port_id, data))

    def close(self) -> None:
        assert self.is_open
        self.is_open = False
        self.ports.clear()
        self.subscriptions.clear()
        self._events.clear()
        os.close(self._read)
        os.close(self._write)
