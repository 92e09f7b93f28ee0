"""Tell the service manager how the service is (sd_notify, by its documented wire form).

Rules of this file: nothing here waits or raises. A manager that is not there, or does
not read, is no reason for the service to do anything else. Its queue may be short (10
datagrams are the kernel's default), so what must be known is said again until it is.
"""

import os
import socket
from collections.abc import Mapping
from typing import Final

STATUS_BYTES: Final = 200
"""Longest status line; it is shown in one line of a terminal."""


class Manager:
    """The service manager of this process, if it was started by one.

    Published source: the manual page sd_notify(3): datagrams of NAME=VALUE lines to
    the socket that NOTIFY_SOCKET names, "@" standing for the abstract namespace.
    """

    def __init__(self, environment: Mapping[str, str]) -> None:
        self._address = environment.get("NOTIFY_SOCKET", "")
        if self._address.startswith("@"):
            self._address = "\0" + self._address[1:]
        self._watchdog = _watchdog_s(environment)
        self._socket: socket.socket | None = None
        self._said = ""
        self._owed: list[str] = []
        if self._address:
            self._socket = socket.socket(
                socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK
            )

    @property
    def is_there(self) -> bool:
        """Whether a manager has started this process."""
        return bool(self._address)

    @property
    def ping_s(self) -> float | None:
        """How often `alive` must be said: half the manager's patience; None: never."""
        return self._watchdog

    def ready(self) -> None:
        """The service does its work now."""
        self._must("READY=1")

    def alive(self) -> None:
        """The service goes round."""
        self._say("WATCHDOG=1")

    def stopping(self) -> None:
        """The service is about to end."""
        self._must("STOPPING=1")

    def status(self, words: str) -> None:
        """What `systemctl status` shows; said only when it changes."""
        line = " ".join(words.split())
        if line != self._said:
            self._said = line
            shown = line.encode()[:STATUS_BYTES].decode(errors="ignore")
            self._say(f"STATUS={shown}")

    def close(self) -> None:
        """Say nothing more. Safe to call twice."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _must(self, text: str) -> None:
        """Say it now, or before the next thing that is said."""
        self._owed.append(text)
        self._settle()

    def _say(self, text: str) -> None:
        self._settle()
        self._is_taken(text)

    def _settle(self) -> None:
        while self._owed and self._is_taken(self._owed[0]):
            del self._owed[0]

    def _is_taken(self, text: str) -> bool:
        if self._socket is None:
            return False
        try:
            self._socket.sendto(text.encode(), self._address)
        except OSError:
            return False
        return True


def _watchdog_s(environment: Mapping[str, str]) -> float | None:
    """Half of WATCHDOG_USEC, if it is meant for this process (sd_watchdog_enabled)."""
    for_process = environment.get("WATCHDOG_PID", str(os.getpid()))
    microseconds = environment.get("WATCHDOG_USEC", "")
    if not microseconds.isdecimal() or for_process != str(os.getpid()):
        return None
    return int(microseconds) / 2e6 or None
