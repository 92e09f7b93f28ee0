"""A MIDI device by its file, such as /dev/snd/midiC1D0: bytes in, bytes out.

For a device that no sequencer knows, and for whoever wants the failure of a *send* to
be told, which only the file does. The kernel gives the file to one program at a time.

Strategy: nothing waits. What the device does not take at once is kept, for a message
that was begun must be ended; but little is kept, and not for long, because a late
message is worse than one that was refused. Whatever fails, the file is let go of and
looked for again: a device that is plugged in anew is a new file of the same name.
"""

import asyncio
import os
import stat
import termios
import tty
from collections import Counter
from typing import Final

from bridge.adapters.attempts import Attempts, off_the_loop
from bridge.adapters.midi_sensing import SensingWatch
from bridge.adapters.presence import Adapter, in_words
from bridge.core.midi_sensing import SENSING
from bridge.core.midi_stream import BEATS, MidiStream, is_whole
from bridge.core.wire import Message, Midi
from bridge.engine.ports import Deliver

AGAIN_S: Final = 1.0
"""Between two attempts to open a file that is not there or not to be had."""

READ_BYTES: Final = 1024
"""Read before the loop gets its turn: a third of a second of a 31 250 baud wire."""

OUT_BYTES: Final = 1024
"""Waiting for the device, beside the 4096 bytes that ALSA keeps for it."""

STUCK_S: Final = 2.0
"""How long it may take nothing of what waits: a wire empties ALSA's buffer in 1.3 s."""


class RawMidiPort(Adapter):
    """One device file of the studio, heard, and sent to where it can be."""

    def __init__(self, name: str, path: str) -> None:
        super().__init__(name)
        self._path = path
        self._stream = MidiStream()
        self._sensing = SensingWatch(self._presence)
        self._fd = -1
        self._can_send = False
        self._waiting = b""
        self._stuck: asyncio.TimerHandle | None = None
        self._attempts = Attempts(self._take)

    @property
    def drops(self) -> dict[str, int]:
        """Dropped messages by cause."""
        return Counter(self._presence.drops) + self._stream.drops

    async def open(self, deliver: Deliver) -> None:
        """Open the file; says `Found`, or `Lost` and tries again."""
        self._presence.begin(deliver, asyncio.get_running_loop().time)
        await self._attempts.begin()

    def send(self, message: Message) -> None:
        """Send one whole message. Raises PortGone."""
        presence = self._presence
        if self._fd < 0 or not presence.is_found:
            presence.refuse("sent while lost", presence.why)
        if not isinstance(message, Midi) or not is_whole(message.data):
            presence.refuse("not one MIDI message", f"not one MIDI message: {message}")
        if not self._can_send:
            presence.refuse("nothing to send to", f"{self._path} can only be heard")
        if len(self._waiting) + len(message.data) > OUT_BYTES:
            presence.refuse("too much waits already", "the device takes too little")
        is_first = not self._waiting
        self._waiting += message.data
        if is_first:
            self._write()
        if self._fd < 0:
            presence.refuse("not taken", presence.why)

    async def close(self) -> None:
        """Let go of the file, and of all that waits. Safe to call twice."""
        self._presence.hush()
        await self._attempts.end()
        self._let_go()

    # Coming and going

    async def _take(self) -> None:
        # Opening may wake a device on a bus, which may take a moment.
        try:
            fd, can_send = await off_the_loop(
                lambda: _open(self._path), lambda late: os.close(late[0])
            )
        except (OSError, ValueError, termios.error) as error:
            self._fail(error)
            return
        if not self._attempts.is_wanted:
            os.close(fd)
            return
        self._fd, self._can_send = fd, can_send
        self._stream.restart()
        asyncio.get_running_loop().add_reader(fd, self._readable)
        self._presence.found()

    def _fail(self, error: Exception) -> None:
        self._let_go()
        self._presence.lost(
            f"the MIDI device file {self._path} cannot be used ({in_words(error)}): "
            "plug the device in, end the program that has it, and be a member of the "
            'group "audio"'
        )
        self._attempts.again(AGAIN_S)

    def _let_go(self) -> None:
        fd, self._fd, self._waiting = self._fd, -1, b""
        self._sensing.forget()
        self._watch_stuck(waits=False)
        if fd >= 0:
            loop = asyncio.get_running_loop()
            loop.remove_reader(fd)
            loop.remove_writer(fd)
            os.close(fd)

    # Bytes

    def _readable(self) -> None:
        at = asyncio.get_running_loop().time()
        try:
            data = os.read(self._fd, READ_BYTES)
        except BlockingIOError:
            return
        except OSError as error:
            self._fail(error)
            return
        if not data:
            self._fail(OSError("the other end has gone"))
            return
        self._sensing.came(data, at)
        for message in self._stream.feed(data):
            if message[0] in BEATS:
                self._presence.drops["clock or time code"] += 1
            elif message[0] != SENSING:
                self._presence.heard(Midi(self.name, message), at)

    def _write(self) -> None:
        """Give the device what it takes now; wait for it with the rest."""
        loop = asyncio.get_running_loop()
        try:
            taken = os.write(self._fd, self._waiting)
        except BlockingIOError:
            taken = 0
        except OSError as error:
            self._fail(error)
            return
        self._waiting = self._waiting[taken:]
        if self._waiting:
            loop.add_writer(self._fd, self._write)
        else:
            loop.remove_writer(self._fd)
        if taken or self._stuck is None:
            self._watch_stuck(waits=bool(self._waiting))

    def _watch_stuck(self, *, waits: bool) -> None:
        """Begin to count, or end it."""
        if self._stuck is not None:
            self._stuck.cancel()
            self._stuck = None
        if waits:
            loop = asyncio.get_running_loop()
            stuck = TimeoutError("it takes nothing")
            self._stuck = loop.call_later(STUCK_S, lambda: self._fail(stuck))


def _open(path: str) -> tuple[int, bool]:
    """Open a device file; say whether it can be written to.

    Raises OSError, termios.error, and ValueError for a file that is no device.
    """
    kind = os.stat(path).st_mode  # noqa: PTH116  one way for all that is here
    if not (stat.S_ISCHR(kind) or stat.S_ISFIFO(kind)):
        msg = "this file is no device"
        raise ValueError(msg)
    how = os.O_NONBLOCK | os.O_NOCTTY | os.O_CLOEXEC
    can_send = not stat.S_ISFIFO(kind)  # a pipe goes one way
    try:
        fd = os.open(path, how | (os.O_RDWR if can_send else os.O_RDONLY))
    except PermissionError:
        fd, can_send = os.open(path, how | os.O_RDONLY), False
    try:
        if os.isatty(fd):  # a serial line: no echo, no line ends, all eight bits
            tty.setraw(fd)
    except BaseException:
        os.close(fd)
        raise
    return fd, can_send
