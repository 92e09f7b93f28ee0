"""A MIDI device's file, by a pseudo-terminal: real descriptors, real bytes.

As with a real one, the file bears the same name after each plugging in, what is
written at one end comes out at the other, and who holds it when the device goes gets
an error at once.
"""

import asyncio
import contextlib
import os
import tty
from collections.abc import Iterator
from pathlib import Path

PATIENCE_S = 20.0


class MidiFile:
    """The device's own end of a file at `path`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._end = -1

    @property
    def end(self) -> int:
        """The descriptor of the device's own end."""
        return self._end

    def plug(self) -> None:
        self._end, other = os.openpty()
        tty.setraw(other)
        os.set_blocking(self._end, False)
        self.path.symlink_to(os.ttyname(other))
        os.close(other)

    def unplug(self) -> None:
        if self._end >= 0:
            self.path.unlink()
            os.close(self._end)
            self._end = -1

    def says(self, data: bytes) -> None:
        """Send bytes to whoever holds the file; nobody does, then they are lost."""
        if self._end >= 0:
            os.write(self._end, data)

    async def got(self, size: int) -> bytes:
        """Exactly so many bytes of what came in."""
        data = b""
        async with asyncio.timeout(PATIENCE_S):
            while len(data) < size:
                with contextlib.suppress(BlockingIOError, OSError):
                    data += os.read(self._end, size - len(data))
                await asyncio.sleep(0)
        return data


@contextlib.contextmanager
def midi_file(path: Path) -> Iterator[MidiFile]:
    """A device for as long as the block lasts, not plugged in yet."""
    it = MidiFile(path)
    try:
        yield it
    finally:
        it.unplug()
