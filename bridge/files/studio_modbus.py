"""Relay boards: on which line they are, and which of their coils the studio uses."""

from __future__ import annotations

import re

from bridge.core.connection import ModbusBoard, SerialLine, TcpAddress
from bridge.core.wire import Coil
from bridge.files.profile_model import Profile
from bridge.files.schema_modbus import ModbusPart
from bridge.files.studio_ports import Ports
from bridge.files.tree import Text

EXAMPLE = "{serial: /dev/ttyUSB0, unit: 1}, or {address: 192.168.4.30:502}"

HIGHEST_ON_A_LINE = 247
"""Units on a serial line are 1 to 247; 0 is for all, and nobody answers to that (Modbus
over Serial Line V1.02, 2.2). Over TCP 0 and 255 stand for the device itself."""

_DEVICE = re.compile(r"/dev/[A-Za-z0-9._/+:-]{1,200}")


def modbus_port(ports: Ports, name: str, part: ModbusPart, profile: Profile) -> str:
    """Return the name of the connection to a board; notes what is wrong."""
    line = _line(ports, part)
    if line is None:
        return name
    unit = part.unit.value if part.unit else 1
    is_serial = isinstance(line, SerialLine)
    if part.unit and is_serial and not 1 <= unit <= HIGHEST_ON_A_LINE:
        ports.notes.error(
            "wrong-value",
            f"a unit on a serial line must be in 1..{HIGHEST_ON_A_LINE}, got {unit}",
            part.unit.place,
            cure="write the number that the board's switches are set to",
        )
    return ports.modbus(ModbusBoard(name, line, unit, coils_of(profile)), part.place)


def coils_of(profile: Profile) -> tuple[tuple[int, int], ...]:
    """Return (first, count) of all coils that a board's controls and lamps use."""
    controls, lamps = profile.controls.values(), profile.lamps.values()
    said = [each for control in controls for each in control.messages.values()]
    said += [each for lamp in lamps for each in lamp.messages.values()]
    used = {
        (coil.number, coil.count)
        for messages in said
        for coil in messages
        if isinstance(coil, Coil)
    }
    return tuple(sorted(used)) or ((0, 1),)


def _line(ports: Ports, part: ModbusPart) -> SerialLine | TcpAddress | None:
    if (part.serial is None) is (part.address is None):
        ports.notes.error(
            "missing-key",
            "a Modbus board is on a serial line or at an address: say one of the two",
            part.place,
            cure=f"write {EXAMPLE}",
        )
        return None
    if part.serial is not None:
        return _serial(ports, part, part.serial)
    for key, said in (("baud", part.baud), ("parity", part.parity)):
        if said is not None:
            ports.notes.error(
                "key-out-of-place",
                f"{key} is for a serial line, and this board is on the network",
                said.place,
                cure=f"leave {key}: out",
            )
    assert part.address is not None  # one of the two is there
    place = ports.host_and_port(part.address, "192.168.4.30:502")
    return None if place is None else TcpAddress(*place)


def _serial(ports: Ports, part: ModbusPart, device: Text) -> SerialLine | None:
    if not _DEVICE.fullmatch(device.value):
        ports.notes.error(
            "wrong-value",
            f'this must be a serial device, got "{device.value}"',
            device.place,
            note="a name in /dev/serial/by-id stays the same when it is replugged",
            cure="write it like /dev/ttyUSB0",
        )
        return None
    baud = part.baud.value if part.baud else 9600
    return SerialLine(device.value, baud, part.parity.value if part.parity else "none")
