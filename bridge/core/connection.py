"""What the service is connected to: MIDI, OSC, contacts, relay boards, keyboards."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.wire import Message


@dataclass(frozen=True, slots=True)
class Renewal:
    """What gear must be sent again and again, or it tells nothing. It sets nothing."""

    message: Message
    every_ms: float


@dataclass(frozen=True, slots=True)
class MidiDevice:
    """A device on a MIDI port, by its stable name ("virtual": a port of our own).

    A name that begins with a slash is a device file: /dev/snd/midiC1D0.
    """

    name: str
    device: str
    spacing_ms: float = 0.0
    nth: int | None = None
    renews: tuple[Renewal, ...] = ()


def is_file(device: str) -> bool:
    """Whether a device is named by its file."""
    return device.startswith("/")


@dataclass(frozen=True, slots=True)
class OscPeer:
    """A device that speaks OSC.

    listen: our own port that it sends to; 0 if it answers to where we asked from.
    over: "udp"; "tcp", with the length before each packet; or "tcp slip". Over TCP we
    connect to gear, and whatever only sends connects to us.
    """

    name: str
    host: str
    port: int
    listen: int = 0
    over: str = "udp"
    renews: tuple[Renewal, ...] = ()


@dataclass(frozen=True, slots=True)
class OutputLine:
    """A line we drive; released (not driven) is the safe position."""

    name: str
    chip: str
    line: int | str
    released_high: bool = False


@dataclass(frozen=True, slots=True)
class InputLine:
    """A line a button is wired to."""

    name: str
    chip: str
    line: int | str


@dataclass(frozen=True, slots=True)
class SerialLine:
    """A serial device with Modbus RTU on it: 8 data bits; parity none, even or odd."""

    device: str
    baud: int = 9600
    parity: str = "none"

    def __str__(self) -> str:
        return self.device


@dataclass(frozen=True, slots=True)
class TcpAddress:
    """Where Modbus TCP is spoken."""

    host: str
    port: int

    def __str__(self) -> str:
        return f"{self.host}:{self.port}"


@dataclass(frozen=True, slots=True)
class ModbusBoard:
    """A relay board on a Modbus line, which it may share with others.

    unit: its address on the line. coils: (first, count) of those that the studio
    uses, in order; more than one move together.
    """

    name: str
    line: SerialLine | TcpAddress
    unit: int = 1
    coils: tuple[tuple[int, int], ...] = ((0, 1),)


@dataclass(frozen=True, slots=True)
class Keyboard:
    """A pedal that is a keyboard, by its name or the path of its device file."""

    name: str
    device: str
    nth: int | None = None


Connection = MidiDevice | OscPeer | OutputLine | InputLine | ModbusBoard | Keyboard
