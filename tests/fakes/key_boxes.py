"""Pedals that are keyboards: real descriptors that carry the kernel's input events.

A box shows one device or several at one socket; each may be held by one at a time, is
read through a pipe, and ends when the box is pulled out, as the kernel's do.
"""

import errno
import os
import struct
import time
from collections.abc import Collection
from dataclasses import dataclass, field

from bridge.adapters.key_files import Held, Listing, Node, Opening

INPUT_EVENT = "@llHHi"
"""struct input_event of linux/input.h on this machine."""

SYN, KEY, MSC, LED = 0, 1, 4, 0x11
PEDAL = "Foot Switch"
PAGE_DOWN, B = 109, 48


def event(kind: int, code: int, value: int, at: float | None = None) -> bytes:
    """One event; its stamp is of the monotonic clock, now if not given."""
    at = time.monotonic() if at is None else at
    return struct.pack(INPUT_EVENT, int(at), int(at % 1 * 1e6), kind, code, value)


@dataclass
class Device:
    """One device file. Its keys are down until they are let go."""

    node: Node
    down: set[int] = field(default_factory=set)
    ends: tuple[int, int] | None = None
    why_not: int | None = None

    def moves(self, code: int, value: int) -> None:
        """A key goes down (1), up (0) or repeats (2): with its scan code and report."""
        (self.down.discard if value == 0 else self.down.add)(code)
        self.writes(event(MSC, 4, 0x70000) + event(KEY, code, value) + event(SYN, 0, 0))

    def writes(self, data: bytes) -> None:
        if self.ends is not None:
            os.write(self.ends[1], data)


class _Held:
    """What holds a device."""

    def __init__(self, device: Device) -> None:
        self._device = device
        device.ends = os.pipe()
        os.set_blocking(device.ends[0], False)
        self._fd = device.ends[0]

    def fileno(self) -> int:
        return self._fd

    def down(self) -> Collection[int]:
        return self._device.down

    def close(self) -> None:
        os.close(self._fd)
        if self._device.ends is not None:
            os.close(self._device.ends[1])
            self._device.ends = None


class Desktop:
    """The computer that boxes are plugged into."""

    def __init__(self) -> None:
        self.devices: list[Device] = []
        self.opened = 0
        self._numbers = 0

    @property
    def board(self) -> tuple[Listing, Opening]:
        return (
            lambda: sorted(
                (d.node for d in self.devices), key=lambda n: (n.where, n.path)
            ),
            self._open,
        )

    def plug(self, name: str = PEDAL, where: str = "usb-1.2", files: int = 1) -> Device:
        """Plug a box in; its files get new numbers each time."""
        for _ in range(files):
            self._numbers += 1
            path = f"/dev/input/event{self._numbers}"
            self.devices.append(Device(Node(path, name, where)))
        return self.devices[-1]

    def unplug(self, where: str = "usb-1.2") -> None:
        """Pull out what is at a socket: whoever reads it comes to its end."""
        gone = [d for d in self.devices if d.node.where == where]
        self.devices = [d for d in self.devices if d.node.where != where]
        for device in gone:
            if device.ends is not None:
                os.close(device.ends[1])
                device.ends = None

    def _open(self, path: str) -> Held:
        for device in self.devices:
            if device.node.path == path:
                if device.why_not is not None:
                    raise OSError(device.why_not, os.strerror(device.why_not))
                if device.ends is not None:
                    raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
                self.opened += 1
                return _Held(device)
        raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))
