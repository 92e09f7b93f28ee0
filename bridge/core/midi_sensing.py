"""Active sensing: a sender that says that it is there, and then is silent, is gone.

MIDI 1.0 Detailed Specification 4.2.1, active sensing (FE): its use is optional; once a
receiver has had one it may expect some byte at least every 300 ms (senders are to keep
270, receivers to judge at 330), and if none comes, the connection is gone. One who
never sends it is never judged; nor is one who sends a single one, as Linux does when a
program lets go of a raw MIDI port (from memory: sound/core/rawmidi.c).
"""

from __future__ import annotations

from math import inf
from typing import Final

SENSING: Final = 0xFE

SILENCE_S: Final = 1.0
"""After so long without a byte the sender is gone. Three times the standard's 330 ms: a
sound server or a busy computer may hold bytes back for some tenths of a second, and to
call a desk lost that is there costs a crossing; a person sees no difference."""


class Sensing:
    """What one wire has said, by time in seconds that only grows."""

    def __init__(self) -> None:
        self._is_sensed = False
        self._last = self._sensed_at = -inf

    @property
    def silent_at(self) -> float:
        """When it will have been silent too long, if nothing comes; else infinite."""
        return self._last + SILENCE_S if self._is_sensed else inf

    def came(self, data: bytes, at: float) -> None:
        """Bytes of any kind came; a real-time byte may stand inside any message."""
        if SENSING in data:
            is_again = data.count(SENSING) > 1 or at - self._sensed_at <= SILENCE_S
            self._is_sensed, self._sensed_at = self._is_sensed or is_again, at
        self._last = max(self._last, at)

    def forget(self) -> None:
        """Another sender may be there now: it has promised nothing yet."""
        self._is_sensed, self._last, self._sensed_at = False, -inf, -inf
