"""Records with fields of their own for the system's journal (journald).

Published source: systemd's "Native Journal Protocol": a datagram to one socket, a field
a line as NAME=value, or NAME, a line feed, the length as 64 bits little-endian, and the
value, where the value holds line feeds. A field may come several times.

Rules of this file: nothing here waits or raises; what the journal does not take is said
in another way, by whoever asked.
"""

import os
import socket
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final, TextIO

SOCKET: Final = Path("/run/systemd/journal/socket")

MOST_BYTES: Final = 48_000
"""Longest record. Longer ones need a file passed along; ours are a few hundred bytes,
and the kernel takes datagrams of some 200 kB."""


class SystemJournal:
    """The journal of this machine."""

    def __init__(self, path: Path = SOCKET) -> None:
        self._path = str(path)
        self._socket = socket.socket(
            socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK
        )

    def put(self, fields: Iterable[tuple[str, str]]) -> bool:
        """Hand over a record; False if the journal is not there, or full."""
        data = b"".join(_line(name, value) for name, value in fields)
        if len(data) > MOST_BYTES:
            return False
        try:
            self._socket.sendto(data, self._path)
        except OSError:
            return False
        return True

    def close(self) -> None:
        """Let go of the socket. Safe to call twice."""
        self._socket.close()


def _line(name: str, value: str) -> bytes:
    data = value.encode(errors="replace")
    if b"\n" not in data:
        return name.encode() + b"=" + data + b"\n"
    return name.encode() + b"\n" + len(data).to_bytes(8, "little") + data + b"\n"


def is_journal(stream: TextIO, environment: Mapping[str, str]) -> bool:
    """Whether what is written to this stream goes to the journal: systemd.exec(5).

    The variable is inherited by all that the service starts, so the file counts.
    """
    told = environment.get("JOURNAL_STREAM", "")
    try:
        found = os.fstat(stream.fileno())
    except (OSError, ValueError):
        return False
    return told == f"{found.st_dev}:{found.st_ino}"
