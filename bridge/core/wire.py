"""What goes over a wire: messages as values, and how an answer is understood.

Rules of this file: a message is absolute (it sets a value; the exception is in
`core.toggling`), it names the port it belongs to, and it can be compared and printed.
Turning it into the bytes that are sent is an adapter's work, except for MIDI, whose
bytes *are* the message; a coil can tell its own to whoever shows them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.core.keys import key_name

Value = bool | str | float
"""A control's value: switch (bool), selector position (str), level in dB (float)."""

OscArgument = bool | int | float | str


@dataclass(frozen=True, slots=True)
class Midi:
    """One whole MIDI 1.0 message, full status byte included."""

    port: str
    data: bytes

    def __str__(self) -> str:
        return f"{self.port}: {self.data.hex(' ').upper()}"


@dataclass(frozen=True, slots=True)
class Osc:
    """One OSC message; the type of each argument is the type of the Python value."""

    port: str
    address: str
    arguments: tuple[OscArgument, ...] = ()

    def __str__(self) -> str:
        words = " ".join(str(argument) for argument in self.arguments)
        return f"{self.port}: {self.address} {words}".rstrip()


@dataclass(frozen=True, slots=True)
class Contact:
    """One output line driven, or one input line seen, high (True) or low."""

    port: str
    high: bool

    def __str__(self) -> str:
        return f"{self.port}: line {'driven' if self.high else 'released'}"


@dataclass(frozen=True, slots=True)
class Coil:
    """A coil of a relay board: set on or off, or (None) asked how it stands.

    number: counted from 0, as it goes over the wire (Modbus Application Protocol
    V1.1b3, 4.4: what a manual calls coil 1 is number 0). count: so many from there
    on, moved in one message, where a relay has one coil for each side of a pair.
    """

    port: str
    number: int
    on: bool | None
    count: int = 1

    def __str__(self) -> str:
        words = {None: "?", True: " on", False: " off"}[self.on]
        return f"{self.port}: coil {self.which}{words}"

    @property
    def which(self) -> str:
        """Its number, or the first and the last, as a profile writes them."""
        last = self.number + self.count - 1
        return f"{self.number} to {last}" if self.count > 1 else str(self.number)

    @property
    def pdu(self) -> bytes:
        """What the board gets: read coils (6.1), write one (6.5) or more (6.11)."""
        number, count = self.number.to_bytes(2, "big"), self.count.to_bytes(2, "big")
        if self.on is None:
            return b"\x01" + number + count
        if self.count == 1:
            return b"\x05" + number + (b"\xff\x00" if self.on else b"\x00\x00")
        size = -(-self.count // 8)
        bits = (2**self.count - 1 if self.on else 0).to_bytes(size, "little")
        return b"\x0f" + number + count + bytes((size,)) + bits


@dataclass(frozen=True, slots=True)
class Keystroke:
    """One key of a keyboard seen going down (True) or up; code: the kernel's number."""

    port: str
    code: int
    down: bool

    def __str__(self) -> str:
        return f"{self.port}: {key_name(self.code)} {'down' if self.down else 'up'}"


Message = Midi | Osc | Contact | Coil | Keystroke

OWN_DOOR = "treadle"
"""The port of the service's own OSC address; nothing of a studio may be called so."""

WIDE, WHOLE = "midi 14", "midi whole"
"""Kinds of keys besides those of single messages: a number of 14 bits that comes in
several control changes (see core.midi_wide), and a MIDI message as it is, all of it."""

Key = tuple[str, str, bytes | str]
"""What a message is about, apart from its value.

(port, "midi"|"osc"|"line"|"modbus"|"key", which); of a coil its number as text. Instead
of "midi" it may be WIDE or WHOLE.
"""


def key_and_number(message: Message) -> tuple[Key, float | None] | None:
    """Split a message into what it is about and the number it carries.

    MIDI control changes and notes carry their last data byte (a note-off carries 0),
    program changes the program; OSC carries its only number; a line or a key carries
    0 or 1.
    The number is None where the message has none (an OSC question). Returns None for
    a message that is about nothing a profile could name (clock, two arguments, ...).
    """
    match message:
        case Midi(port, data):
            return _midi_key(port, data)
        case Osc(port, address, ()):
            return (port, "osc", address), None
        case Osc(port, address, (bool() | int() | float() as number,)):
            return (port, "osc", address), float(number)
        case Osc():
            return None
        case Contact(port, high):
            return (port, "line", ""), float(high)
        case Coil(port, _, on):
            return (port, "modbus", message.which), None if on is None else float(on)
        case Keystroke(port, code, down):
            return (port, "key", key_name(code)), float(down)


def said_by(message: Message) -> Iterator[tuple[Key, float | None]]:
    """Return all that a message may be about: a number, and itself as a whole."""
    found = key_and_number(message)
    if found is not None:
        yield found
    if isinstance(message, Midi):
        yield (message.port, WHOLE, message.data), None


def _midi_key(port: str, data: bytes) -> tuple[Key, float | None] | None:
    if not data:
        return None
    kind, channel = data[0] & 0xF0, data[0] & 0x0F
    if kind == 0xB0 and len(data) == 3:
        return (port, "midi", data[:2]), float(data[2])
    if kind == 0x90 and len(data) == 3:
        return (port, "midi", data[:2]), float(data[2])
    if kind == 0x80 and len(data) == 3:
        return (port, "midi", bytes((0x90 | channel, data[1]))), 0.0
    if kind == 0xC0 and len(data) == 2:
        return (port, "midi", data[:1]), float(data[1])
    return None


@dataclass(frozen=True, slots=True)
class Meaning:
    """What the numbers under one key mean for one control.

    `points` are (number, value), sorted by number. A switch or selector takes the
    value of the nearest point at or below the number, and of the first point below
    the first (so 0 off, 64 on follows the MIDI switch convention); a level is
    interpolated between its points, in dB.
    """

    control: str
    points: tuple[tuple[float, Value], ...]

    def value_of(self, number: float) -> Value:
        """The control's value when this number is heard."""
        below = [point for point in self.points if point[0] <= number]
        above = [point for point in self.points if point[0] > number]
        low = below[-1] if below else above[0]
        high = above[0] if above else low
        (x0, y0), (x1, y1) = low, high
        if not (isinstance(y0, float) and isinstance(y1, float)) or x0 == x1:
            return y0
        if y0 == float("-inf"):
            return y0 if number == x0 else y1
        return y0 + (y1 - y0) * (number - x0) / (x1 - x0)
