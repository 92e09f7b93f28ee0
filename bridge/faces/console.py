"""What the running service says, line by line, without ever waiting for a reader.

Strategy: a terminal that is held, or a pipe that nobody reads, blocks whoever writes
to it. So a thread writes, and the service only puts lines into a bounded queue; what
does not fit is dropped and counted.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable
from typing import Final, TextIO

from bridge.faces.outcome import write

LINES_KEPT: Final = 1000
"""Lines that wait for a reader: an hour of pressing once every few seconds."""

Line = str | Callable[[], str | None]
"""A line, or what makes one, or has told it elsewhere: the thread does it, so that a
press does not wait."""

CLOSE_S: Final = 1.0
"""How long a reader may take for the last lines when the service ends."""


class Console:
    """Writes lines to a stream from a thread of its own."""

    def __init__(self, stream: TextIO) -> None:
        self.dropped = 0
        self._stream = stream
        self._lines: queue.Queue[Line | None] = queue.Queue(LINES_KEPT)
        # A daemon, because a reader that never reads would keep it for ever.
        self._writer = threading.Thread(
            target=self._write_all, name="console", daemon=True
        )
        self._writer.start()

    def say(self, line: Line) -> None:
        """Put a line; it is made and written soon, or dropped if nobody reads."""
        try:
            self._lines.put_nowait(line)
        except queue.Full:
            self.dropped += 1

    def close(self) -> None:
        """Write what is left, within reason."""
        with contextlib.suppress(queue.Full):
            self._lines.put(None, timeout=CLOSE_S)
        self._writer.join(CLOSE_S)

    def _write_all(self) -> None:
        while (line := self._lines.get()) is not None:
            text = line if isinstance(line, str) else line()
            if text is None:
                continue
            # A reader that has gone away is no reason to stop the service.
            with contextlib.suppress(OSError, ValueError):
                write(self._stream, text)
