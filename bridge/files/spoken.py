"""The sentences of a profile about messages: `control 20 on channel 1 = 127`.

Rules of this file: a message is absolute and complete. Up to the equals sign stands
what it is about, after it the numbers it carries; both are also used apart.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from typing import assert_never

from bridge.core.wire import (
    WIDE,
    Coil,
    Contact,
    Key,
    Keystroke,
    Message,
    Midi,
    Osc,
    OscArgument,
)
from bridge.files.notes import Notes
from bridge.files.spoken_wide import MOST, which_wide, wide_bytes
from bridge.files.tree import Text

GRAMMAR = (
    "control NUMBER on channel NUMBER = NUMBER",
    "control HIGH/LOW on channel NUMBER = NUMBER up to 16383, as in control 7/39",
    "note NUMBER on channel NUMBER = NUMBER",
    "program on channel NUMBER = NUMBER",
    "nrpn NUMBER or HIGH/LOW on channel NUMBER = NUMBER",
    "sysex BYTES, as in sysex 7D 01 05, or sysex BYTES (BYTES) sum",
    "show control COMMAND [cue NUMBER [of list NUMBER]] to device NUMBER as FORMAT",
    "/ADDRESS = NUMBER, as in /strip/1/to/2 = 1",
    "line = released, or line = driven",
    "coil NUMBER = off, or coil NUMBER to NUMBER = on",
)
"""How a message is written; without "= ..." it is what a message is about."""

_MIDI = re.compile(r"(?:(control|note) (\d{1,3})|program) on channel (\d{1,2})")
_OSC = re.compile(r"(?:/[^\s#*,/?\[\]{}]+)+")
_COIL = re.compile(r"coil (0|[1-9]\d{0,4})(?: to (0|[1-9]\d{0,4}))?")
_INT = re.compile(r"[-+]?\d{1,9}")
_FLOAT = re.compile(r"[-+]?\d{1,9}\.\d{1,9}")
_SYSEX = re.compile(r"sysex((?: [0-7][0-9A-Fa-f]){1,64})")

HIGHEST_CONTROL = 119
"""Controls 120 to 127 are channel mode messages (MIDI 1.0, Table IV)."""

HIGHEST_COIL = 65535
"""A coil's number has 16 bits (Modbus Application Protocol V1.1b3, 6.5)."""

MOST_TOGETHER = 16
"""Coils that move as one: two for a stereo relay; more is a slip of the pen."""

NOTE_ON, CONTROL, PROGRAM = 0x90, 0xB0, 0xC0


@dataclass(frozen=True, slots=True)
class About:
    """What messages are about, apart from the number they carry.

    which: the MIDI bytes before the last, the OSC address, "" for a line, or the
    number of a coil as text.
    """

    which: bytes | str

    @property
    def transport(self) -> str:
        """The name of the transport: midi, osc, line or modbus."""
        if isinstance(self.which, bytes):
            return "midi"
        if self.which[:1].isdecimal():
            return "modbus"
        return "osc" if self.which else "line"

    @property
    def is_wide(self) -> bool:
        """Whether the number has 14 bits, and goes in several control changes."""
        return isinstance(self.which, bytes) and len(self.which) > 2

    def key(self, port: str) -> Key:
        """Return the key of these messages on a port (see core.wire)."""
        return (port, WIDE if self.is_wide else self.transport, self.which)

    def messages(self, number: OscArgument, port: str = "") -> tuple[Message, ...]:
        """Return what carries this number, which may be several messages."""
        if isinstance(self.which, bytes) and self.is_wide:
            return tuple(
                Midi(port, data) for data in wide_bytes(self.which, int(number))
            )
        return (self._message(number, port),)

    def _message(self, number: OscArgument, port: str) -> Message:
        if isinstance(self.which, bytes):
            return Midi(port, self.which + bytes((int(number),)))
        if self.transport == "modbus":
            return self._coil(port, on=bool(number))
        if self.which:
            return Osc(port, self.which, (number,))
        return Contact(port, high=bool(number))

    def question(self) -> Message | None:
        """Return the message that asks for the present value, if there is one."""
        if self.transport == "modbus":
            return self._coil("", on=None)
        osc = isinstance(self.which, str) and self.which
        return Osc("", osc) if osc else None

    def _coil(self, port: str, *, on: bool | None) -> Coil:
        first, _, last = str(self.which).partition(" to ")
        return Coil(port, int(first), on, int(last or first) - int(first) + 1)


def read_about(text: Text, notes: Notes) -> About | None:
    """Read what messages are about; notes what is wrong and returns None."""
    try:
        about = _about(text.value)
    except ValueError as error:
        notes.error(
            "wrong-value",
            f"this message cannot be made: {error}",
            text.place,
            cure="mend the number that it names",
        )
        return None
    if about is None:
        _not_understood(text, notes)
    elif _out_of_range(text.value):
        _number_range(text, notes)
        return None
    return about


def read_number(about: About, text: Text, notes: Notes) -> float | None:
    """Read the number (or yes or no) that a message carries; notes what is wrong."""
    number = _number(about, text)
    if number is None:
        must = {
            "midi": f"a whole number in 0..{MOST if about.is_wide else 127}",
            "osc": "a number, true or false",
            "line": "released or driven",
            "modbus": "off or on",
        }[about.transport]
        notes.error(
            "wrong-value", f'this must be {must}, got "{text.value}"', text.place
        )
    return number


def read_message(text: Text, notes: Notes) -> tuple[Message, ...]:
    """Read a whole message (its port is still ""); notes what is wrong."""
    if hit := _SYSEX.fullmatch(text.value):
        return (Midi("", b"\xf0" + bytes.fromhex(hit[1]) + b"\xf7"),)
    left, equals, right = text.value.partition(" = ")
    if not equals:
        if is_osc_address(text.value):
            return (Osc("", text.value),)
        _not_understood(text, notes)
        return ()
    about = read_about(Text(left.strip(), text.part(0, len(left))), notes)
    if about is None:
        return ()
    start = len(left) + len(equals)
    place = text.part(start, len(text.value))
    number = read_number(about, Text(right.strip(), place), notes)
    return () if number is None else about.messages(number)


def language_of(message: Message) -> str:
    """Return how a message goes: midi, osc, line or modbus."""
    match message:
        case Midi():
            return "midi"
        case Osc():
            return "osc"
        case Contact():
            return "line"
        case Coil():
            return "modbus"
        case Keystroke():
            return "key"
        case _:
            assert_never(message)


def single(value: float) -> float:
    """Return the value as OSC carries it: 32 bits."""
    rounded: float = struct.unpack(">f", struct.pack(">f", value))[0]
    return rounded


def is_osc_address(text: str) -> bool:
    """Whether this is one exact OSC address, and no pattern."""
    is_plain = text.isascii() and text.isprintable()
    return is_plain and _OSC.fullmatch(text) is not None


def _about(text: str) -> About | None:
    """What it is about; None if it is no such text. Raises ValueError."""
    if hit := _MIDI.fullmatch(text):
        channel = (int(hit[3]) - 1) & 0x0F
        if hit[1] is None:
            return About(bytes((PROGRAM | channel,)))
        kind = CONTROL if hit[1] == "control" else NOTE_ON
        return About(bytes((kind | channel, int(hit[2]) & 0x7F)))
    if (which := which_wide(text)) is not None:
        return About(which)
    if is_osc_address(text):
        return About(text)
    if hit := _COIL.fullmatch(text):
        return About(text.removeprefix("coil "))
    return About("") if text == "line" else None


def _out_of_range(text: str) -> bool:
    if hit := _COIL.fullmatch(text):
        first, last = int(hit[1]), int(hit[2] or hit[1])
        is_group = hit[2] is None or first < last < first + MOST_TOGETHER
        return last > HIGHEST_COIL or not is_group
    hit = _MIDI.fullmatch(text)
    if hit is None:
        return False
    most = HIGHEST_CONTROL if hit[1] == "control" else 127
    return int(hit[2] or 0) > most or not 1 <= int(hit[3]) <= 16


def _number(about: About, text: Text) -> float | None:
    word = text.value
    if about.transport == "line":
        return {"released": False, "driven": True}.get(word)
    if about.transport == "modbus":
        return {"off": False, "on": True}.get(word)
    if about.transport == "midi":
        most = MOST if about.is_wide else 127
        fits = _INT.fullmatch(word) and 0 <= int(word) <= most
        return int(word) if fits else None
    if word in ("true", "false"):
        return word == "true"
    if _FLOAT.fullmatch(word):
        return single(float(word))
    return int(word) if _INT.fullmatch(word) else None


def _number_range(text: Text, notes: Notes) -> None:
    if text.value.startswith("coil"):
        notes.error(
            "wrong-value",
            f"coils must be in 0..{HIGHEST_COIL}, and from a lower to a higher one, "
            f'{MOST_TOGETHER} at most, got "{text.value}"',
            text.place,
            note="they are counted from 0: what a manual calls coil 1 is coil 0",
        )
        return
    notes.error(
        "wrong-value",
        f"channels must be in 1..16, notes in 0..127, controls in "
        f'0..{HIGHEST_CONTROL}, got "{text.value}"',
        text.place,
        note="controls 120 to 127 are mode messages (MIDI 1.0, Table IV)",
    )


def _not_understood(text: Text, notes: Notes) -> None:
    notes.error(
        "message-not-understood",
        f'"{text.value}" is not how a message is written',
        text.place,
        note="; ".join(GRAMMAR),
        cure="write it in one of these ways",
    )
