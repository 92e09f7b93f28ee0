"""Numbers of 14 bits in the sentences of a profile: `control 7/39`, `nrpn 2/5`."""

from __future__ import annotations

import re

from bridge.core.midi_messages import control_change, nrpn
from bridge.core.midi_wide import which_control, which_parameter

MOST = 16383
"""The highest number of 14 bits."""

_WIDE = re.compile(
    r"(?:control (\d{1,2})/(\d{1,2})|nrpn (\d{1,5})(?:/(\d{1,3}))?)"
    r" on channel (\d{1,2})"
)


def which_wide(text: str) -> bytes | None:
    """What such messages are about (see core.midi_wide); None if out of range."""
    hit = _WIDE.fullmatch(text)
    if hit is None or not 1 <= int(hit[5]) <= 16:
        return None
    channel = int(hit[5]) - 1
    if hit[1] is not None:
        high, low = int(hit[1]), int(hit[2])
        is_pair = high < 32 and low == high + 32  # MIDI 1.0, Table III
        return which_control(channel, high) if is_pair else None
    number = int(hit[3])
    if hit[4] is not None:
        if number > 127 or int(hit[4]) > 127:
            return None
        number = number << 7 | int(hit[4])
    return which_parameter(channel, number) if number <= MOST else None


def wide_bytes(which: bytes, number: int) -> tuple[bytes, ...]:
    """The control changes that carry a number of 14 bits."""
    channel = (which[0] & 0x0F) + 1
    if len(which) == 4:
        return nrpn(channel, which[2] << 7 | which[3], number)
    halves = (which[1], number >> 7), (which[2], number & 0x7F)
    return tuple(control_change(channel, *half) for half in halves)
