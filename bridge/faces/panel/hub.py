"""Everything that goes down to open pages: one text for all, the newest only.

Strategy: a page needs the present, not the history of it, so each stream holds at
most one text that it has not sent yet, and a newer one takes its place. A slow page
thus costs one text, never a queue. With no page open nothing is reckoned at all.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator

MOST_STREAMS = 64
"""Open pages. Each costs a socket and a few kB; one more is told to wait."""

BEAT_S = 2.0
"""Between two signs of life. A page that has heard none for 5 s says that it is cut
off; nothing else wakes the service while nothing happens."""


class Full(Exception):
    """As many pages are open as may be."""


class _Stream:
    """What one page has not been sent yet."""

    def __init__(self) -> None:
        self.event = asyncio.Event()
        self.text: bytes | None = None
        self.beats = False


class Hub:
    """The open pages."""

    def __init__(self) -> None:
        self._streams: set[_Stream] = set()
        self._timer: asyncio.TimerHandle | None = None
        self._is_closed = False
        self.wanted = asyncio.Event()

    def __len__(self) -> int:
        return len(self._streams)

    def publish(self, text: bytes) -> None:
        """Show this to every page, as soon as each can take it."""
        for stream in self._streams:
            stream.text = text
            stream.event.set()

    def close(self) -> None:
        """End every stream, now."""
        self._is_closed = True
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        for stream in self._streams:
            stream.event.set()

    async def stream(self) -> AsyncGenerator[bytes]:
        """Server-sent events for one page, until it or we go. Raises Full."""
        if len(self._streams) >= MOST_STREAMS or self._is_closed:
            raise Full
        mine = _Stream()
        self._streams.add(mine)  # whoever opens it has the present published
        self.wanted.set()
        self._beat_on()
        try:
            # Tried again after one second, and never later.
            yield b"retry: 1000\n\n"
            while not self._is_closed:
                await mine.event.wait()
                mine.event.clear()
                if mine.text is not None:
                    text, mine.text = mine.text, None
                    yield b"data: " + text + b"\n\n"
                elif mine.beats:
                    yield b"event: beat\ndata:\n\n"
                mine.beats = False
            yield b"event: bye\ndata:\n\n"
        finally:
            self._streams.discard(mine)
            if not self._streams:
                self.wanted.clear()

    def _beat_on(self) -> None:
        if self._timer is None and not self._is_closed:
            loop = asyncio.get_running_loop()
            self._timer = loop.call_later(BEAT_S, self._beat)

    def _beat(self) -> None:
        """One timer for all pages; it stops when the last one has gone."""
        self._timer = None
        for stream in self._streams:
            stream.beats = True
            stream.event.set()
        if self._streams:
            self._beat_on()
