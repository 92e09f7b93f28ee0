"""The kernel's input events to keys that go down and up.

Rules of this file, from the kernel's own description (Documentation/input, event
codes and input): an event is a time, a type, a code and a value; a key's value is 1
for down, 0 for up, 2 for repeated because it is held, which says nothing new. After
SYN_DROPPED events were lost, and those up to the next SYN_REPORT belong to nothing.
Nothing raises; what is no event is counted by cause.
"""

import struct
from collections import Counter
from dataclasses import dataclass
from typing import Final

EVENT: Final = struct.Struct("llHHi")
"""struct input_event: seconds, microseconds, type, code, value, as this machine
lays them out."""

_SYN, _KEY = 0, 1
_REPORT, _DROPPED = 0, 3
_UP, _DOWN, _REPEATED = 0, 1, 2
_MOST: Final = 0x2FF


@dataclass(frozen=True, slots=True)
class Moved:
    """A key went down or up. at_s: when, by the kernel's stamp, in seconds."""

    code: int
    down: bool
    at_s: float


@dataclass(frozen=True, slots=True)
class Missed:
    """The kernel had to drop events: which keys are down must be asked anew."""


class KeyStream:
    """Takes bytes as they come, in pieces of any size."""

    def __init__(self) -> None:
        self.drops: Counter[str] = Counter()
        self._begun = b""
        self._skips = False

    def feed(self, data: bytes) -> list[Moved | Missed]:
        """Return what these bytes say, in order."""
        whole = self._begun + data
        end = len(whole) // EVENT.size * EVENT.size
        self._begun = whole[end:]
        found: list[Moved | Missed] = []
        for seconds, micros, kind, code, value in EVENT.iter_unpack(whole[:end]):
            if kind == _SYN and code == _DROPPED:
                self._skips = True
            elif kind == _SYN and code == _REPORT and self._skips:
                self._skips = False
                self.drops["events that the kernel dropped"] += 1
                found.append(Missed())
            elif kind == _KEY and not self._skips:
                self._key(code, value, seconds + micros * 1e-6, found)
        return found

    def restart(self) -> None:
        """Forget what was begun: the bytes to come are another device's."""
        self._begun, self._skips = b"", False

    def _key(
        self, code: int, value: int, at_s: float, found: list[Moved | Missed]
    ) -> None:
        if value in (_UP, _DOWN) and code <= _MOST:
            found.append(Moved(code, value == _DOWN, at_s))
        elif value != _REPEATED:
            self.drops["not a key's event"] += 1
