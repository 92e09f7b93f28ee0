"""Keyboards as the kernel shows them: which there are, and one of them held alone.

Why no library: the best one has wheels for one kind of processor only, so on most
boards it would need a compiler; and all that is used of it would be the three calls
below, whose numbers are part of the kernel's promise to programs (linux/input.h).
"""

import fcntl
import os
import stat
import struct
import time
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

from bridge.core.keys import MOST

SYSFS: Final = Path("/sys/class/input")

_GRAB: Final = 0x40044590  # EVIOCGRAB: nobody else hears it, the console least of all
_CLOCK: Final = 0x400445A0  # EVIOCSCLOCKID: stamps of the clock that the loop has
_KEY_BYTES: Final = MOST // 8 + 1
_DOWN: Final = 0x80004518 | _KEY_BYTES << 16  # EVIOCGKEY: a bit for each key


@dataclass(frozen=True, slots=True)
class Node:
    """One input device with keys. where: its socket; what is one box has one."""

    path: str
    name: str
    where: str


class Held(Protocol):
    """A device that only we hear, at an open descriptor that does not wait."""

    def fileno(self) -> int:
        """Return the descriptor."""
        ...

    def down(self) -> Collection[int]:
        """Return the codes of the keys that are down. Raises OSError."""
        ...

    def close(self) -> None:
        """Let everybody hear it again."""
        ...


Listing = Callable[[], Sequence[Node]]
Opening = Callable[[str], Held]


class KeyFile:
    """An event file of the kernel's, grabbed. Raises OSError."""

    def __init__(self, path: str) -> None:
        self._fd = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
        try:
            _only_a_device(self._fd)
            fcntl.ioctl(self._fd, _CLOCK, struct.pack("i", time.CLOCK_MONOTONIC))
            fcntl.ioctl(self._fd, _GRAB, 1)
        except BaseException:
            os.close(self._fd)
            raise

    def fileno(self) -> int:
        """Return the descriptor."""
        return self._fd

    def down(self) -> Collection[int]:
        """Return the codes of the keys that are down. Raises OSError."""
        bits = fcntl.ioctl(self._fd, _DOWN, bytes(_KEY_BYTES))
        return [k for k in range(MOST + 1) if bits[k // 8] >> k % 8 & 1]

    def close(self) -> None:
        """Close the file, which ends the grab."""
        os.close(self._fd)


def _only_a_device(fd: int) -> None:
    if not stat.S_ISCHR(os.fstat(fd).st_mode):
        msg = "this file is no device"
        raise OSError(msg)


def key_nodes(sysfs: Path = SYSFS) -> Sequence[Node]:
    """Return the devices that have keys, in the order of their sockets."""
    return sorted(_nodes(sysfs), key=lambda node: (node.where, node.path))


def _nodes(sysfs: Path) -> Iterator[Node]:
    for folder in sysfs.glob("event*"):
        device = folder / "device"
        try:
            name, phys, uniq, keys = (
                (device / file).read_text("utf-8", "replace").strip()
                for file in ("name", "phys", "uniq", "capabilities/key")
            )
        except OSError:
            continue  # it has just been pulled out
        if keys.strip("0 "):
            # A pedal is often several devices: usb-1.2/input0, usb-1.2/input1.
            where = f"{phys.rpartition('/')[0] or phys} {uniq}".strip()
            yield Node(f"/dev/input/{folder.name}", name, where)
