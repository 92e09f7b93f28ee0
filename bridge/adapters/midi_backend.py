"""What a MIDI system is to the rest: devices that come and go, links, and bytes."""

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Device:
    """One port of somebody else, at which messages come out, go in, or both.

    `address` is the backend's own way to find it and may change with each plugging in.
    `socket` is where it is plugged in, which does not; "" if the system does not tell.
    """

    name: str
    address: str
    gives: bool
    takes: bool
    socket: str = ""


@dataclass(frozen=True, slots=True)
class Link:
    """What a port is to be connected to; to neither means that others connect."""

    source: Device | None = None
    sink: Device | None = None


class Listener(Protocol):
    """What a backend talks to. From the event loop only."""

    def devices(self, devices: tuple[Device, ...]) -> None:
        """Tell what is there now, at the start and after each change."""

    def joined(self, port: str) -> None:
        """Tell that a port is connected."""

    def failed(self, port: str, why: str) -> None:
        """Tell that a port could not be connected, or is no more."""

    def heard(self, port: str, data: bytes, at: float) -> None:
        """Tell what came in at a port at `at` (monotonic seconds)."""

    def gone(self, why: str) -> None:
        """Tell that the MIDI system itself is not there; nothing is connected."""


class Backend(Protocol):
    """One MIDI system."""

    def start(self, listener: Listener) -> None:
        """Begin to tell the listener."""

    def join(self, port: str, link: Link) -> None:
        """Connect a port; `joined` or `failed` follows, here or later."""

    def leave(self, port: str) -> None:
        """Take a port away; unknown ports are no matter."""

    def send(self, port: str, data: bytes) -> None:
        """Send one whole message. Raises PortGone."""

    async def stop(self) -> None:
        """End everything."""
