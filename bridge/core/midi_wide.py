"""Numbers of 14 bits that come in as several control changes, put together again.

Rules of this file, from the MIDI 1.0 Detailed Specification 4.2.1: controllers 0 to 31
carry the high seven bits and 32 to 63 the low seven of the same; controllers 99 and 98
choose a non-registered parameter, 6 and 38 then carry its value, and 101 and 100 turn
to registered ones. A number counts when its low half has come, which comes second; a
parameter without a low half counts when something else comes. Half a number would be
another one, and a fader would seem to have been moved by a hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

_DATA_HIGH, _DATA_LOW = 6, 38
_NRPN_LOW, _NRPN_HIGH, _RPN_LOW, _RPN_HIGH = 98, 99, 100, 101
_CONTROL = 0xB0

Wide = tuple[bytes, float]
"""What it is about, as `which_control` and `which_parameter` say it; the number."""


def which_control(channel: int, high: int) -> bytes:
    """The key of controllers `high` and `high` + 32; channel 0 to 15."""
    return bytes((_CONTROL | channel, high, high + 32))


def which_parameter(channel: int, parameter: int) -> bytes:
    """The key of a non-registered parameter; channel 0 to 15, parameter 0 to 16383."""
    return bytes((_CONTROL | channel, _NRPN_HIGH, parameter >> 7, parameter & 0x7F))


@dataclass(slots=True)
class _Channel:
    """highs: the high half heard last of each controller. parameter: its two halves."""

    highs: dict[int, int] = field(default_factory=dict)
    parameter: dict[int, int] = field(default_factory=dict)
    value: int | None = None


@dataclass(slots=True)
class WideEars:
    """Hears the control changes of one port; sixteen channels are all it remembers."""

    _channels: dict[int, _Channel] = field(default_factory=dict)

    def hear(self, data: bytes) -> Iterator[Wide]:
        """Return the numbers that this message completes."""
        if len(data) != 3 or data[0] & 0xF0 != _CONTROL:
            return
        number, control, value = data[0] & 0x0F, data[1], data[2]
        channel = self._channels.setdefault(number, _Channel())
        if control != _DATA_LOW:
            yield from self._parameter(number, channel, 0)
        if control in (_NRPN_HIGH, _NRPN_LOW):
            channel.parameter[control] = value
        elif control in (_RPN_HIGH, _RPN_LOW):
            channel.parameter.clear()
        elif len(channel.parameter) == 2 and control == _DATA_HIGH:
            channel.value = value
        elif len(channel.parameter) == 2 and control == _DATA_LOW:
            yield from self._parameter(number, channel, value)
        elif control < 32:
            channel.highs[control] = value
        elif control < 64 and control - 32 in channel.highs:
            high = channel.highs[control - 32]
            yield which_control(number, control - 32), float(high << 7 | value)

    @staticmethod
    def _parameter(number: int, channel: _Channel, low: int) -> Iterator[Wide]:
        high, channel.value = channel.value, None
        if high is not None:
            halves = channel.parameter
            parameter = halves[_NRPN_HIGH] << 7 | halves[_NRPN_LOW]
            yield which_parameter(number, parameter), float(high << 7 | low)
