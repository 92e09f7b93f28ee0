"""Where one OSC packet ends and the next begins in a stream of bytes.

Two ways, both from the standard: OSC 1.0 puts a packet's length before it, as 32 bits;
OSC 1.1 ends it with END (192) and escapes what looks like one, which is SLIP (RFC
1055), with an END before it too, so that noise on the line ends with it.

Rules of this file: nothing that comes in raises; what is kept of an unfinished packet
has a limit; a cause of a drop is one of a fixed set of words.
"""

import re
from typing import Final, Literal, Protocol

from bridge.adapters.osc_codec import PACKET_BYTES, Dropped

Framing = Literal["length", "slip"]

_LENGTH_BYTES: Final = 4
_END: Final = b"\xc0"
_ESC: Final = b"\xdb"
_ESC_END, _ESC_ESC = b"\xdb\xdc", b"\xdb\xdd"
_BAD_ESCAPE: Final = re.compile(rb"\xdb(?![\xdc\xdd])")

SLIP_BYTES: Final = 2 * PACKET_BYTES
"""The longest packet with every byte of it escaped."""


class Frames(Protocol):
    """One direction of one connection."""

    @property
    def lost_track(self) -> str:
        """Why no later byte can be understood either; empty while all is well."""
        ...

    def feed(self, data: bytes) -> list[bytes | Dropped]:
        """Return the packets that these bytes complete, and what had to be dropped."""
        ...

    def framed(self, packet: bytes) -> bytes:
        """Return what goes over the wire for a packet."""
        ...


def frames(framing: Framing) -> Frames:
    """Return a fresh reader and writer."""
    return LengthFrames() if framing == "length" else SlipFrames()


class LengthFrames:
    """A length of 32 bits before each packet. A wrong one is the end of all sense."""

    def __init__(self) -> None:
        self.lost_track = ""
        self._begun = b""

    def feed(self, data: bytes) -> list[bytes | Dropped]:
        """Return whole packets; after a length that cannot be, nothing more."""
        taken: list[bytes | Dropped] = []
        begun, place = self._begun + data, 0
        while not self.lost_track and len(begun) - place >= _LENGTH_BYTES:
            start = place + _LENGTH_BYTES
            size = int.from_bytes(begun[place:start])
            if size > PACKET_BYTES or size % 4:
                self.lost_track = "what came is no packet with its length before it"
                taken.append(Dropped("not a packet's length"))
            elif len(begun) < start + size:
                break
            else:
                taken.append(begun[start : start + size])
                place = start + size
        self._begun = b"" if self.lost_track else begun[place:]
        return taken

    def framed(self, packet: bytes) -> bytes:
        """Put the length before it."""
        return len(packet).to_bytes(_LENGTH_BYTES) + packet


class SlipFrames:
    """Packets between END bytes; whatever goes wrong ends at the next END."""

    lost_track = ""

    def __init__(self) -> None:
        self._begun = b""
        self._skips = False

    def feed(self, data: bytes) -> list[bytes | Dropped]:
        """Return whole packets, with their escapes undone."""
        taken: list[bytes | Dropped] = []
        *whole, rest = data.split(_END)
        for part in whole:
            if not self._skips:
                self._add(part, taken)
            if not self._skips and self._begun:
                taken.append(_unescaped(self._begun))
            self._begun, self._skips = b"", False
        if not self._skips:
            self._add(rest, taken)
        return taken

    def framed(self, packet: bytes) -> bytes:
        """Escape it, and put an END on either side."""
        escaped = packet.replace(_ESC, _ESC_ESC).replace(_END, _ESC_END)
        return _END + escaped + _END

    def _add(self, part: bytes, taken: list[bytes | Dropped]) -> None:
        if len(self._begun) + len(part) > SLIP_BYTES:
            self._begun, self._skips = b"", True
            taken.append(Dropped("packet too long"))
        else:
            self._begun += part


def _unescaped(part: bytes) -> bytes | Dropped:
    if _BAD_ESCAPE.search(part):
        return Dropped("escape that SLIP does not have")
    return part.replace(_ESC_END, _END).replace(_ESC_ESC, _ESC)
