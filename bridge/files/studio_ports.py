"""Connections: which outside thing each gear and button is reached through.

Rules of this file: two that name the same MIDI device or the same network address
share one connection, which bears the name of the first; a contact line has one user.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from ipaddress import ip_address

from bridge.core.connection import (
    Connection,
    InputLine,
    Keyboard,
    MidiDevice,
    ModbusBoard,
    OscPeer,
    OutputLine,
    Renewal,
)
from bridge.core.finding import Place
from bridge.files.notes import Notes
from bridge.files.shapes import Said
from bridge.files.tree import Text

CHIP = "gpiochip0"
"""The chip of a line that does not name one: the header pins of most small boards."""

UDP = "udp"
"""How OSC goes unless the file says otherwise."""

_HOST = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.-]{0,252}[A-Za-z0-9])?|[0-9A-Fa-f:]+")
_ADDRESS = re.compile(r"(?P<host>[^\s/]+):(?P<port>[0-9]{1,5})")


class Ports:
    """The connections of a studio, each outside thing once."""

    def __init__(self, notes: Notes, door_port: int) -> None:
        """door_port: the UDP port of the service's own door."""
        self.notes = notes
        self._listening = {(UDP, door_port): "the service itself"}
        self.all: list[Connection] = []
        self._names: dict[tuple[object, ...], str] = {}
        self._lines: dict[tuple[str, int | str], str] = {}

    def midi(
        self, name: str, device: Text, nth: Said[int] | None, spacing_ms: float = 0.0
    ) -> str:
        """Return the name of the connection to a MIDI device."""
        which = nth.value if nth else None
        if nth is not None and device.value.startswith("/"):
            self.notes.error(
                "key-out-of-place",
                f'{name}: "nth" means nothing here',
                nth.place,
                note="a file is one device",
                cure="leave nth: out",
            )
        made = MidiDevice(name, device.value, spacing_ms, which)
        return self._once(("midi", device.value, which), made)

    def osc(
        self,
        name: str,
        address: Text,
        listen: Said[int] | None,
        over: Said[str] | None = None,
    ) -> str | None:
        """Return the name of the connection to gear that speaks OSC."""
        place = self.host_and_port(address, "192.168.4.20:9000")
        if place is None:
            return None
        local, way = listen.value if listen else 0, over.value if over else UDP
        if listen is not None and way != UDP:
            self.notes.error(
                "key-out-of-place",
                f'{name}: "listen" means nothing here',
                listen.place,
                note="over TCP answers come back on the same connection",
                cure="leave listen: out",
            )
            return None
        if listen is not None:
            self._our_port(name, listen, way)
        made = OscPeer(name, *place, local, way)
        return self._once(("osc", *place, way), made)

    def osc_sender(
        self,
        name: str,
        sender: Text,
        listen: Said[int],
        over: Said[str] | None = None,
    ) -> str | None:
        """Return the name of the connection to something that only sends OSC."""
        if not _is_host(sender.value):
            self.notes.error(
                "wrong-value",
                f'this must be a network address, got "{sender.value}"',
                sender.place,
                cure="write it like 192.168.4.21, without a port",
            )
            return None
        port, way = listen.value, over.value if over else UDP
        if way != UDP and not _is_literal(sender.value):
            self.notes.error(
                "wrong-value",
                f'over TCP this must be an address in numbers, got "{sender.value}"',
                sender.place,
                cure="write it like 192.168.4.21",
            )
            return None
        key = ("osc from", sender.value, port, way)
        if key not in self._names:
            self._our_port(name, listen, way)
        return self._once(key, OscPeer(name, sender.value, port, port, way))

    def modbus(self, board: ModbusBoard, place: Place) -> str:
        """Return the name of the connection to a relay board."""
        for other in self.all:
            if not isinstance(other, ModbusBoard) or str(other.line) != str(board.line):
                continue
            if other.line != board.line:
                self.notes.error(
                    "line-taken",
                    f"{other.name} speaks at another speed or parity on {board.line}",
                    place,
                    cure="set all boards of one line to the same speed and parity",
                )
            elif other.unit == board.unit:
                self.notes.error(
                    "line-taken",
                    f"unit {board.unit} of {board.line} is {other.name} already",
                    place,
                    cure="give each board of a line its own unit; gear that shares a "
                    "board is one profile",
                )
        self.all.append(board)
        return board.name

    def host_and_port(self, text: Text, example: str) -> tuple[str, int] | None:
        """Return a network address with its port; notes what is none."""
        hit = _ADDRESS.fullmatch(text.value)
        if hit is not None and _is_host(hit["host"]) and _is_port(hit["port"]):
            return hit["host"].strip("[]"), int(hit["port"])
        self.notes.error(
            "wrong-value",
            f'this must be an address and a port in 1..65535, got "{text.value}"',
            text.place,
            cure=f"write it like {example}",
        )
        return None

    def output(
        self,
        name: str,
        line: Said[int | str],
        chip: Text | None,
        *,
        released_high: bool,
    ) -> str:
        """Return the name of the connection to a line that we drive."""
        where = chip.value if chip else CHIP
        self._one_user(name, where, line)
        self.all.append(OutputLine(name, where, line.value, released_high))
        return name

    def input(self, name: str, line: Said[int | str], chip: Text | None) -> str:
        """Return the name of the connection to a line that a button moves."""
        where = chip.value if chip else CHIP
        self._one_user(name, where, line)
        self.all.append(InputLine(name, where, line.value))
        return name

    def keyboard(self, name: str, device: Text, nth: Said[int] | None) -> str:
        """Return the name of the connection to a pedal that is a keyboard."""
        which = nth.value if nth else None
        made = Keyboard(name, device.value, which)
        return self._once(("keyboard", device.value, which), made)

    def renew(self, name: str, renewals: Iterable[Renewal]) -> None:
        """Let a connection be told again and again that we are there."""
        for place, made in enumerate(self.all):
            if made.name == name and isinstance(made, MidiDevice | OscPeer):
                more = tuple(
                    replace(renewal, message=replace(renewal.message, port=name))
                    for renewal in renewals
                )
                all_of_them = tuple(dict.fromkeys((*made.renews, *more)))
                self.all[place] = replace(made, renews=all_of_them)

    def _once(self, key: tuple[object, ...], made: Connection) -> str:
        if key not in self._names:
            self._names[key] = made.name
            self.all.append(made)
        return self._names[key]

    def _our_port(self, name: str, listen: Said[int], way: str) -> None:
        """A port of this computer brings the messages of one sender."""
        other = self._listening.setdefault((way, listen.value), name)
        if other != name:
            self.notes.error(
                "port-taken",
                f"{name}: port {listen.value} of ours is used by {other} already",
                listen.place,
                note="each sender needs a port of ours for itself",
                cure="write another one here, and in the sender's own settings",
            )

    def _one_user(self, name: str, chip: str, line: Said[int | str]) -> None:
        other = self._lines.setdefault((chip, line.value), name)
        if other != name:
            self.notes.error(
                "line-taken",
                f"line {line.value} of {chip} is used by {other} already",
                line.place,
                cure="a line has one user: wire one of the two to another line",
            )


def missing(notes: Notes, what: str, key: str, place: Place, example: str) -> None:
    """Note that gear or a button does not say how it is reached."""
    notes.error(
        "missing-key",
        f'{what}: "{key}" is missing',
        place,
        cure=f"add {key}: {example}",
    )


def _is_host(text: str) -> bool:
    return _HOST.fullmatch(text.strip("[]")) is not None


def _is_literal(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True


def _is_port(text: str) -> bool:
    return 1 <= int(text) <= 65535
