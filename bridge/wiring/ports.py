"""A port for each connection of a studio, and none made twice.

An adapter is imported when a studio has a connection for it.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable, Iterable
from functools import partial
from typing import TYPE_CHECKING, assert_never

from bridge.core.connection import (
    Connection,
    InputLine,
    Keyboard,
    MidiDevice,
    ModbusBoard,
    OscPeer,
    OutputLine,
    SerialLine,
    TcpAddress,
    is_file,
)
from bridge.core.control import ports_of
from bridge.core.studio import Studio
from bridge.core.wire import OWN_DOOR
from bridge.engine.ports import Port
from bridge.wiring.door import DOOR_HOST

if TYPE_CHECKING:
    from bridge.adapters.modbus_line import Line
    from bridge.adapters.osc_frames import Framing

Imagined = Callable[[str, bool], None]
"""Told of an imagined contact: its name, and whether it is driven now."""


def build_ports(studio: Studio, imagined: Imagined | None) -> tuple[Port, ...]:
    """A port for each connection of the studio.

    imagined: contacts drive nothing but tell this; None for real ones.
    Call it before the event loop runs: it looks at what this computer has.
    """
    maker = PortMaker(imagined)
    maker.prepare(studio)
    return maker.ports(studio)


class PortMaker:
    """Makes ports, and none twice: a connection that is the same keeps its port.

    imagined: contacts drive nothing but tell this; None for real ones.
    door: what `take_door` gave; without it there is no door.
    """

    def __init__(
        self, imagined: Imagined | None, door: socket.socket | None = None
    ) -> None:
        self._imagined = imagined
        self._taken, self._has_door = door, door is not None
        self._midi: Callable[[MidiDevice], Port] | None = None
        self._board = _board_maker()
        self._made: dict[object, Port] = {}

    def prepare(self, studio: Studio) -> None:
        """Look at what this computer has, and import: not for the event loop."""
        if self._midi is None and _has_midi(studio.connections):
            self._midi = _midi_maker()
        for key, made in self._wanted(studio).items():
            if key not in self._made:
                made()  # only to import what makes it

    def ports(self, studio: Studio) -> tuple[Port, ...]:
        """A port for each connection, and the service's own door last, if any."""
        wanted = self._wanted(studio)
        if self._has_door:
            wanted[OWN_DOOR, studio.door_port] = partial(self._door, studio.door_port)
        self._made = {k: self._made.get(k) or made() for k, made in wanted.items()}
        return tuple(self._made.values())

    def _wanted(self, studio: Studio) -> dict[object, Callable[[], Port]]:
        driven = {
            port for control in studio.controls.values() for port in ports_of(control)
        }
        lamps = {lamp.port for lamp in studio.lamps} - driven
        told = self._imagined
        return {
            (connection, connection.name in driven | lamps): partial(
                self._port,
                connection,
                driven | lamps,
                # A lamp that blinks is no news.
                _unsaid if told and connection.name in lamps else told,
            )
            for connection in studio.connections
        }

    def _port(
        self, connection: Connection, driven: set[str], imagined: Imagined | None
    ) -> Port:
        parts = self._midi, self._board, driven, imagined
        return _renewing(_port(connection, *parts), connection)

    def _door(self, port: int) -> Port:
        from bridge.adapters.osc_door import OscDoor

        taken, self._taken = self._taken, None
        return OscDoor(OWN_DOOR, port, host=DOOR_HOST, taken=taken)


def _unsaid(_name: str, _driven: bool) -> None:  # noqa: FBT001
    """An imagined contact whose moves are not told."""


def _port(
    connection: Connection,
    midi: Callable[[MidiDevice], Port] | None,
    board: Callable[[ModbusBoard], Port],
    driven: set[str],
    imagined: Imagined | None,
) -> Port:
    match connection:
        case MidiDevice(name, device) if is_file(device):
            from bridge.adapters.midi_raw import RawMidiPort

            return RawMidiPort(name, device)
        case MidiDevice():
            assert midi is not None
            return midi(connection)
        case OscPeer(name, host, port, listen, over):
            is_ear = name not in driven and listen and _is_literal(host)
            if over != "udp":
                framing: Framing = "slip" if over == "tcp slip" else "length"
                return _over_tcp(connection, framing, is_ear=bool(is_ear))
            if is_ear:
                return _button_door(name, host, listen)
            from bridge.adapters.osc import OscPort

            return OscPort(name, host, port, listen=listen)
        case ModbusBoard() if imagined is not None:
            from bridge.adapters.imagined import ImaginedBoard

            return ImaginedBoard(connection.name, imagined)
        case ModbusBoard():
            return board(connection)
        case OutputLine(name) | InputLine(name) if imagined is not None:
            from bridge.adapters.imagined import ImaginedContact

            return ImaginedContact(name, partial(imagined, name))
        case OutputLine(name, chip, line, released_high):
            from bridge.adapters.contacts import ContactOut

            return ContactOut(name, line, chip, active_low=released_high)
        case InputLine(name, chip, line):
            from bridge.adapters.contacts import ContactIn

            return ContactIn(name, line, chip)
        case Keyboard(name, device, nth):
            from bridge.adapters.keyboard import KeyboardPort

            return KeyboardPort(name, device, nth)
        case _:
            assert_never(connection)


def _renewing(port: Port, connection: Connection) -> Port:
    """The port itself, or one that also sends what its gear wants again and again."""
    match connection:
        case MidiDevice(renews=renews) | OscPeer(renews=renews) if renews:
            from bridge.adapters.renewal import RenewingPort

            return RenewingPort(port, renews)
        case _:
            return port


def _button_door(name: str, sender: str, listen: int) -> Port:
    """Something that only sends: it is never spoken to, so it is never "not there"."""
    from bridge.adapters.osc_door import OscDoor

    return OscDoor(name, listen, host=_where_heard(sender), allow=(sender,))


def _over_tcp(peer: OscPeer, framing: Framing, *, is_ear: bool) -> Port:
    """Gear that we connect to, or a button that connects to us."""
    if is_ear:
        from bridge.adapters.osc_tcp_door import OscTcpDoor

        where, allow = _where_heard(peer.host), (peer.host,)
        return OscTcpDoor(peer.name, peer.listen, framing, host=where, allow=allow)
    from bridge.adapters.osc_tcp import OscTcpPort

    return OscTcpPort(peer.name, peer.host, peer.port, framing)


def _where_heard(sender: str) -> str:
    """The address of ours at which a sender, a literal address, can be heard."""
    local = ipaddress.ip_address(sender).is_loopback
    return sender if local else "::" if ":" in sender else "0.0.0.0"


def _has_midi(connections: Iterable[Connection]) -> bool:
    """Whether the MIDI system is needed; a device file does without it."""
    devices = (c.device for c in connections if isinstance(c, MidiDevice))
    return any(not is_file(device) for device in devices)


def _midi_maker() -> Callable[[MidiDevice], Port]:
    """Makes the MIDI ports of one studio; they share one connection to the system."""
    from bridge.adapters.midi import MidiHub, MidiPort, backend_for

    hub = MidiHub(backend_for("auto"))

    def made(device: MidiDevice) -> Port:
        return MidiPort(device.name, device.device, hub, nth=device.nth)

    return made


def _board_maker() -> Callable[[ModbusBoard], Port]:
    """Makes the relay boards of one studio; those on one line share it."""
    lines: dict[SerialLine | TcpAddress, Line] = {}

    def made(board: ModbusBoard) -> Port:
        from bridge.adapters.modbus import ModbusPort
        from bridge.adapters.modbus_line import Line

        line = lines.setdefault(board.line, Line(board.line))
        return ModbusPort(board, line)

    return made


def _is_literal(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True
