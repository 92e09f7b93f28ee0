"""Tells a MIDI port that the sender at its other end fell silent, or spoke again."""

from __future__ import annotations

import asyncio
from typing import Final

from bridge.adapters.presence import Presence
from bridge.core.midi_sensing import Sensing

WHY: Final = (
    "it told several times a second that it is there (active sensing), and has fallen "
    "silent: see its cable and its power"
)


class SensingWatch:
    """One timer for one port, only while its sender uses active sensing."""

    def __init__(self, presence: Presence) -> None:
        self._presence = presence
        self._sensing = Sensing()
        self._timer: asyncio.TimerHandle | None = None
        self._is_silent = False

    def came(self, data: bytes, at: float) -> None:
        """Bytes came, at `at`; call it before they are passed on."""
        self._sensing.came(data, at)
        if self._is_silent:
            self._is_silent = False
            self._presence.found()
        if self._timer is None:
            self._wait()

    def forget(self) -> None:
        """The link is another one from now on, or none."""
        self._sensing.forget()
        self._is_silent = False
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _wait(self) -> None:
        at = self._sensing.silent_at
        if at != float("inf"):
            self._timer = asyncio.get_running_loop().call_at(at, self._due)

    def _due(self) -> None:
        # What waits to be read is read first: a loop that was held up is no silence.
        self._timer = asyncio.get_running_loop().call_later(0.0, self._judge)

    def _judge(self) -> None:
        self._timer = None
        if self._sensing.silent_at > asyncio.get_running_loop().time():
            self._wait()
            return
        self._is_silent = True
        self._presence.lost(WHY)
