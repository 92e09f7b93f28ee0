"""MIDI 1.0 bytes to whole messages, whatever comes.

Rules of this file, from the MIDI 1.0 Detailed Specification 4.2.1: a channel message
may leave its status byte out if it is the same as before (running status); a real-time
byte may stand anywhere, even inside another message, and changes nothing around it;
system messages end running status; an exclusive message ends with F7, and any other
status spoils it. Nothing raises; what is not a whole message is counted by cause.
"""

from collections import Counter
from collections.abc import Iterable
from typing import Final

EXCLUSIVE_BYTES: Final = 4096
"""Longest exclusive message kept, F0 and F7 included. Desks dump a scene in some
hundreds of bytes; a sender that never ends one must not fill the memory."""

BEATS: Final = frozenset((0xF1, 0xF8))
"""Time code and clock: tens to hundreds a second that set nothing."""

_DATA_BYTES: Final = {
    # channel messages, by the high half of the status byte
    0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2,
    # system common messages
    0xF1: 1, 0xF2: 2, 0xF3: 1, 0xF6: 0,
}  # fmt: skip
"""Data bytes after each status byte (Tables I and V)."""

_EXCLUSIVE, _END, _REAL_TIME = 0xF0, 0xF7, 0xF8
_UNDEFINED_REAL_TIME: Final = frozenset((0xF9, 0xFD))


class MidiStream:
    """Takes bytes as they come, in pieces of any size; gives whole messages."""

    def __init__(self) -> None:
        self.drops: Counter[str] = Counter()
        self._status = 0  # 0: data bytes belong to nothing
        self._needed = 0
        self._message = bytearray()  # of which the status byte is the first

    def feed(self, data: Iterable[int]) -> list[bytes]:
        """Return the messages that these bytes complete, each with its status byte."""
        whole = []
        for byte in data:
            message = self._status_byte(byte) if byte & 0x80 else self._data_byte(byte)
            if message:
                whole.append(message)
        return whole

    def restart(self) -> None:
        """Forget what was begun: the bytes to come are another sender's."""
        self._forget()

    def _status_byte(self, byte: int) -> bytes:
        if byte >= _REAL_TIME:
            if byte in _UNDEFINED_REAL_TIME:
                return self._drop("undefined status")
            return bytes((byte,))
        if byte == _END and self._status == _EXCLUSIVE:
            self._message.append(_END)
            return self._done()
        if self._message[1:] or self._status >= _EXCLUSIVE:
            self._drop("message cut short")
        return self._begin(byte)

    def _begin(self, byte: int) -> bytes:
        self._status = byte
        self._message = bytearray((byte,))
        if byte == _EXCLUSIVE:
            return b""
        if byte == _END:
            self._forget()
            return self._drop("end without a beginning")
        needed = _DATA_BYTES.get(byte & 0xF0 if byte < _EXCLUSIVE else byte)
        if needed is None:
            self._forget()
            return self._drop("undefined status")
        self._needed = needed
        return b"" if needed else self._done()

    def _data_byte(self, byte: int) -> bytes:
        if not self._status:
            return self._drop("data without a status")
        self._message.append(byte)
        if self._status == _EXCLUSIVE:
            if len(self._message) < EXCLUSIVE_BYTES:
                return b""
            self._forget()
            return self._drop("exclusive message too long")
        return self._done() if len(self._message) > self._needed else b""

    def _done(self) -> bytes:
        whole = bytes(self._message)
        if self._status < _EXCLUSIVE:
            self._message = bytearray((self._status,))
        else:
            self._forget()
        return whole

    def _forget(self) -> None:
        self._status, self._message = 0, bytearray()

    def _drop(self, cause: str) -> bytes:
        self.drops[cause] += 1
        return b""


def is_whole(data: bytes) -> bool:
    """Tell whether these bytes are exactly one MIDI message, status byte included."""
    stream = MidiStream()
    return stream.feed(data) == [data] and not stream.drops
