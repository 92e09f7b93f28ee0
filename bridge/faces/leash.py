"""The end of standard input is the end of the service, if it was started that way.

A program that starts the service holds the other end of that pipe. However it ends,
also if it is killed, the system closes the pipe, and no service is left behind.
"""

from __future__ import annotations

import asyncio
import os
import sys
from collections.abc import Callable
from typing import Final

from bridge.faces.outcome import CouldNotRunError

MOST_BYTES: Final = 65536
"""So much of what is written there is read at once; it means nothing."""


def input_descriptor() -> int:
    """Where standard input is. Raises CouldNotRunError if there is none."""
    if sys.stdin is None:
        msg = "there is no standard input that could end"
        raise CouldNotRunError(msg, "leave out --while-input")
    return sys.stdin.fileno()


class Leash:
    """Stops the service once: a second word would mean "at once"."""

    def __init__(self, descriptor: int | None, stop: Callable[[], None]) -> None:
        """Begin, in the event loop. descriptor: what must last; None: nothing."""
        self._descriptor, self._stop = descriptor, stop
        self._loop = asyncio.get_running_loop()
        if descriptor is None:
            return
        try:
            self._loop.add_reader(descriptor, self._look, descriptor)
        except OSError:  # nothing, or a file on a disk: it does not last
            self.stop()

    def stop(self) -> None:
        """Somebody asks for the end, with a signal; what then ends means no more."""
        if self._descriptor is not None:
            self._loop.remove_reader(self._descriptor)
        self._stop()

    def _look(self, descriptor: int) -> None:
        try:
            has_ended = not os.read(descriptor, MOST_BYTES)
        except OSError:  # a terminal that was closed
            has_ended = True
        if has_ended:
            self.stop()
