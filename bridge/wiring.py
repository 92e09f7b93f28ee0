"""Builds everything concrete: the only file that knows every class.

An adapter's module is imported when the studio has something for it, so that the
service is small and starts quickly.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, TextIO, assert_never

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
from bridge.core.effects import Tell
from bridge.core.entries import Kept, Question, Record, Worn
from bridge.core.flight import ports_of
from bridge.core.judge import HouseJudge
from bridge.core.machine import Machine
from bridge.core.missing import Missing
from bridge.core.plans import Navigator
from bridge.core.studio import Studio
from bridge.core.wire import OWN_DOOR, Osc
from bridge.engine.clock import MonotonicClock
from bridge.engine.loop import Engine
from bridge.engine.ports import Port, Witness
from bridge.engine.succession import Next

if TYPE_CHECKING:
    from bridge.adapters.modbus_line import Line
    from bridge.adapters.osc_frames import Framing

Imagined = Callable[[str, bool], None]
"""Told of an imagined contact: its name, and whether it is driven now."""


class Keeper(Protocol):
    """A journal that is being written."""

    @property
    def worn(self) -> tuple[Worn, ...]:
        """The relays that it counts, as of its last commit."""
        ...

    def put(self, record: Record) -> None:
        """Keep a record, without waiting; what cannot be kept is counted."""
        ...

    def close(self) -> None:
        """Write what is left, within reason."""
        ...


DOOR_HOST = "127.0.0.1"
"""Only programs of this machine may ask; see systemd/README.md to open it wider."""


def service_for(
    studio: Studio,
    judge: HouseJudge,
    navigator: Navigator,
    ports: Iterable[Port],
    record: Callable[[Tell, float], None],
    environment: Mapping[str, str],
    changed: Callable[[], None] = lambda: None,
    witness: Witness | None = None,
) -> Engine:
    """The whole service for a studio that was proved. Call it in the event loop.

    navigator: finds the ways; best the one that has found them for the proof.
    record: gets what is told and when (monotonic seconds); it must not wait.
    changed: called after each round in which something was done.
    witness: sees what comes and goes, for the journal; it must not wait either.
    """
    from bridge.adapters.ledger import Ledger, place_for
    from bridge.adapters.notify import Manager

    clock = MonotonicClock()
    ledger = Ledger(place_for(environment, studio.door_port), studio.name)
    machine = Machine(studio, judge, navigator, clock.now(), owed=ledger.kept())
    manager = Manager(environment)
    return Engine(machine, ports, clock, manager, record, changed, witness, ledger.keep)


def take_door(studio: Studio) -> socket.socket:
    """Take the service's own address. Raises OSError if another program has it.

    Done before anything else is opened: two services must never drive one desk.
    """
    from bridge.adapters.udp import bound

    return bound(DOOR_HOST, studio.door_port)


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


def next_studio(
    studio: Studio,
    judge: HouseJudge,
    navigator: Navigator,
    maker: PortMaker,
    adopted: Callable[[], None],
) -> Next:
    """What takes over from the studio that runs; its parts as for `service_for`."""

    def machine(now: float) -> Machine:
        return Machine(studio, judge, navigator, now)

    return Next(machine, partial(maker.ports, studio), adopted)


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


def self_test(
    studio: Studio, journal: Path | None, *, has_contacts: bool
) -> tuple[Missing, ...]:
    """What this computer lacks for the studio; not for the event loop: it may wait.

    has_contacts: whether lines are real ones.
    """
    from bridge.adapters.self_test import missing

    wanted = [
        connection
        for connection in studio.connections
        if has_contacts or not isinstance(connection, OutputLine | InputLine)
    ]
    return missing(wanted, journal)


def open_journal(path: Path, say: Callable[[str], None]) -> Keeper:
    """A journal, written from now on; a thread of it tells `say` of trouble."""
    from bridge.adapters.journal import Journal

    return Journal(path, say)


def system_journal(
    stream: TextIO, environment: Mapping[str, str]
) -> Callable[[Iterable[tuple[str, str]]], bool] | None:
    """What puts a record with fields into the system's journal, if that is our output.

    What it returns says whether the journal took it; it never waits.
    """
    from bridge.adapters.system_journal import SystemJournal, is_journal

    return SystemJournal().put if is_journal(stream, environment) else None


def read_journal(path: Path, question: Question) -> Kept:
    """What a journal holds. Raises NotAJournal."""
    from bridge.adapters.journal_file import kept

    return kept(path, question)


def renew_relay(path: Path, control: str, when: float) -> int | None:
    """Let a journal count a new relay from 0; what the old one had. Raises NotAJournal.

    None: no relay is counted by this name. when: Unix seconds.
    """
    from bridge.adapters.journal_file import renewed

    return renewed(path, control, when)


# What the faces need of a wire


def packet(message: Osc) -> bytes:
    """The packet that the service sends for this message; empty if it cannot."""
    from bridge.adapters.osc_codec import encode

    made = encode(message)
    return made if isinstance(made, bytes) else b""


def question(words: tuple[str, ...]) -> bytes:
    """The packet that asks the running service: ("go", "speakers")."""
    first, *rest = words
    return packet(Osc(OWN_DOOR, f"/treadle/{first}", tuple(rest)))


def answer(data: bytes) -> str | None:
    """The line of JSON in the service's answer, or None if it is no answer."""
    from bridge.adapters.osc_codec import decode
    from bridge.adapters.osc_door import ANSWER

    for message in decode(data, OWN_DOOR):
        match message:
            case Osc(_, address, (str() as text,)) if address == ANSWER:
                return text
            case _:
                pass
    return None
