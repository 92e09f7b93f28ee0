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
    """What such messages are about (see core.midi_wide); None if it is no such text.

    Raises ValueError that says which number is out of range.
    """
    hit = _WIDE.fullmatch(text)
    if hit is None:
        return None
    channel = int(hit[5])
    if hit[1] is None:
        parameter = parameter_of(hit[3], hit[4])
        nrpn(channel, parameter, 0)  # it refuses what cannot be sent
        return which_parameter(channel - 1, parameter)
    high, low = int(hit[1]), int(hit[2])
    if high > 31 or low != high + 32:  # MIDI 1.0, Table III
        msg = (
            "the halves of one number are a control in 0..31 and the one 32 above, "
            f"got {hit[1]}/{hit[2]}"
        )
        raise ValueError(msg)
    control_change(channel, high, 0)
    return which_control(channel - 1, high)


def parameter_of(first: str, second: str | None) -> int:
    """A parameter as charts print it: whole, or as its halves 2 and 5.

    Raises ValueError.
    """
    if second is None:
        return int(first)
    if int(first) > 127 or int(second) > 127:
        msg = f"both halves must be in 0..127, got {first}/{second}"
        raise ValueError(msg)
    return int(first) << 7 | int(second)


def wide_bytes(which: bytes, number: int) -> tuple[bytes, ...]:
    """The control changes that carry a number of 14 bits."""
    channel = (which[0] & 0x0F) + 1
    if len(which) == 4:
        return nrpn(channel, which[2] << 7 | which[3], number)
    halves = (which[1], number >> 7), (which[2], number & 0x7F)
    return tuple(control_change(channel, *half) for half in halves)
