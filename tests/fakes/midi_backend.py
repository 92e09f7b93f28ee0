"""A MIDI system on a workbench: devices are plugged in and pulled out by hand."""

import asyncio

from bridge.adapters.midi_backend import Device, Link, Listener
from bridge.engine.ports import PortGone


class FakeBackend:
    """Keeps what is sent, and connects at once or refuses, as it is told."""

    def __init__(self) -> None:
        self.sent: list[tuple[str, bytes]] = []
        self.links: dict[str, Link] = {}
        self.is_running = False
        self._listener: Listener | None = None
        self._devices: list[Device] = []
        self._plugged = 0
        self._refuse_joins = 0
        self._takes = True

    # What the test does

    def plug(
        self, name: str, socket: str = "", *, gives: bool = True, takes: bool = True
    ) -> None:
        """Plug a device in; its address is a new one each time."""
        self._plugged += 1
        address = f"{self._plugged}:0"
        self._devices.append(Device(name, address, gives, takes, socket))
        self._tell()

    def unplug(self, name: str) -> None:
        """Pull a device out."""
        self._devices = [d for d in self._devices if d.name != name]
        self._tell()

    def unplug_one(self, link: Link | None) -> None:
        """Pull out the device at a link, and no other of its name."""
        assert link is not None
        self._devices = [d for d in self._devices if d not in (link.source, link.sink)]
        self._tell()

    def fail(self, why: str) -> None:
        """Let the whole system go away."""
        self.links.clear()
        if self._listener is not None:
            self._listener.gone(why)

    def recover(self) -> None:
        """Let the whole system come back."""
        self._tell()

    def refuse_next_join(self) -> None:
        """Let the next connection fail."""
        self._refuse_joins += 1

    def clog(self) -> None:
        """Take no more messages."""
        self._takes = False

    def says(self, port: str, data: bytes) -> None:
        """Let the device of a port send bytes."""
        if port in self.links and self._listener is not None:
            at = asyncio.get_running_loop().time()
            self._listener.heard(port, data, at)

    def _tell(self) -> None:
        if self._listener is not None:
            self._listener.devices(tuple(self._devices))

    # What the hub does

    def start(self, listener: Listener) -> None:
        assert not self.is_running, "started twice"
        self.is_running, self._listener = True, listener
        self._tell()

    def join(self, port: str, link: Link) -> None:
        assert self._listener is not None
        if self._refuse_joins:
            self._refuse_joins -= 1
            self._listener.failed(port, "it is in use")
            return
        self.links[port] = link
        self._listener.joined(port)

    def leave(self, port: str) -> None:
        self.links.pop(port, None)

    def send(self, port: str, data: bytes) -> None:
        if port not in self.links or not self._takes:
            msg = "the cable is full"
            raise PortGone(msg)
        self.sent.append((port, data))

    async def stop(self) -> None:
        assert self.is_running, "stopped twice"
        self.is_running, self._listener = False, None
        self.links.clear()
