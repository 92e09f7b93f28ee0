"""Keys that say how something is reached: alike for gear and for buttons."""

from __future__ import annotations

from bridge.files.parts import maybe
from bridge.files.shapes import Choice, Words

MIDI = maybe(
    "midi", Words(), "the name of its MIDI device, or its file: /dev/snd/midiC1D0"
)

OVER = maybe(
    "over",
    Choice(("udp", "tcp", "tcp slip")),
    "how its OSC goes: udp if not said, tcp with the length before each packet "
    "(OSC 1.0), or tcp slip (OSC 1.1)",
)

CHIP = maybe("chip", Words(), "the chip of the line; gpiochip0 if not said")
