"""Relay boards in profiles and studio files: what is read, and what is wrong."""

from __future__ import annotations

import pytest

from bridge.core.connection import ModbusBoard, SerialLine, TcpAddress
from bridge.core.wire import Coil
from bridge.files.notes import Notes
from bridge.files.profile import read_profile
from bridge.files.shelf import profile_folders, shipped_profiles, shipped_studios
from bridge.files.studio import Loaded, load_text
from bridge.files.studio_gear import Shelf

BOARD = (shipped_profiles() / "changeover-modbus.yaml").read_text()
STUDIO = (shipped_studios() / "observatory.yaml").read_text()
GPIO = "{profile: changeover-gpio, line: 17}"


def loaded(modbus: str, more: str = "") -> Loaded:
    gear = f"{{profile: changeover-modbus, modbus: {modbus}}}{more}"
    text = STUDIO.replace(GPIO, gear)
    return load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))


def board(modbus: str) -> ModbusBoard:
    studio = loaded(modbus).studio
    assert studio is not None
    (found,) = (c for c in studio.connections if isinstance(c, ModbusBoard))
    return found


def test_a_board_on_a_serial_line_and_one_on_the_network() -> None:
    line = SerialLine("/dev/ttyUSB0")
    assert board("{serial: /dev/ttyUSB0}") == ModbusBoard(
        "changeover", line, 1, ((0, 2),)
    )
    fast = board("{serial: /dev/ttyS1, baud: 19200, parity: even, unit: 12}")
    assert (fast.line, fast.unit) == (SerialLine("/dev/ttyS1", 19200, "even"), 12)
    there = board('{address: "192.168.4.30:502", unit: 255}')
    assert (there.line, there.unit) == (TcpAddress("192.168.4.30", 502), 255)


def test_its_coils_are_set_read_back_and_fall_without_power() -> None:
    studio = loaded("{serial: /dev/ttyUSB0}").studio
    assert studio is not None
    control = studio.controls["changeover: position"]
    assert control.messages["pulled"] == (Coil("changeover", 0, True, 2),)
    assert control.ask == (Coil("changeover", 0, None, 2),)
    assert (control.at_rest, control.at_power_up) == ("rest", "rest")
    assert control.settle_to_ms == {"pulled": 15.0, "rest": 10.0}


def test_coils_go_over_the_wire_as_the_standard_says() -> None:
    # Modbus Application Protocol V1.1b3: 6.1 reads 19 coils from number 19 on, 6.5 sets
    # number 172, 6.11 sets ten from number 19 on (there to mixed values).
    assert Coil("", 19, None, 19).pdu == bytes.fromhex("01 0013 0013")
    assert Coil("", 172, True).pdu == bytes.fromhex("05 00AC FF00")
    assert Coil("", 172, False).pdu == bytes.fromhex("05 00AC 0000")
    assert Coil("", 19, True, 10).pdu == bytes.fromhex("0F 0013 000A 02 FF03")


@pytest.mark.parametrize(
    ("modbus", "words"),
    [
        ("{unit: 1}", "on a serial line or at an address: say one of the two"),
        ('{serial: /dev/ttyUSB0, address: "h:502"}', "say one of the two"),
        ("{serial: COM3}", 'a serial device, got "COM3"'),
        ("{serial: /dev/ttyUSB0, unit: 0}", "in 1..247, got 0"),
        ("{serial: /dev/ttyUSB0, unit: 248}", "in 1..247, got 248"),
        ("{serial: /dev/ttyUSB0, parity: mark}", "one of: none"),
        ("{address: 192.168.4.30}", "an address and a port"),
        ('{address: "192.168.4.30:502", baud: 9600}', "baud is for a serial line"),
        ('{adress: "192.168.4.30:502"}', "adress"),
    ],
)
def test_what_is_wrong_with_a_board_is_said(modbus: str, words: str) -> None:
    found = loaded(modbus)
    assert found.studio is None
    assert any(words in finding.message for finding in found.findings)
    assert all(f.place is not None and f.place.line for f in found.findings)


@pytest.mark.parametrize(
    ("second", "words"),
    [
        ("{serial: /dev/ttyUSB0, unit: 3}", "unit 3 of /dev/ttyUSB0 is changeover"),
        ("{serial: /dev/ttyUSB0, baud: 19200}", "another speed or parity"),
    ],
)
def test_two_boards_on_one_line_must_get_along(second: str, words: str) -> None:
    more = f"\n  other: {{profile: relay-board-modbus, modbus: {second}}}"
    found = loaded("{serial: /dev/ttyUSB0, unit: 3}", more)
    assert any(words in finding.message for finding in found.findings)
    more = more.replace(second, "{serial: /dev/ttyUSB0, unit: 4}")
    assert not any(
        f.rule == "line-taken"
        for f in loaded("{serial: /dev/ttyUSB0, unit: 3}", more).findings
    )


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("coil 0 to 1", "coil 1 to 0", "from a lower to a higher one"),
        ("coil 0 to 1", "coil 0 to 16", "16 at most"),
        ("coil 0 to 1", "coil 65536", "in 0..65535"),
        ("coil 0 to 1", "coil one", "is not how a message is written"),
        ("rest: off", "rest: released", "must be off or on"),
        ("speaks: modbus", "speaks: line", "set over modbus"),
        ("speaks: modbus", "speaks: modbus\nanswers: true", "always read back"),
        ("life:", "settle: 20 ms\n    life:", "settle and operate"),
    ],
)
def test_what_is_wrong_with_a_profile_is_said(old: str, new: str, words: str) -> None:
    notes = Notes()
    assert old in BOARD
    read_profile(BOARD.replace(old, new).encode(), "x.yaml", notes)
    assert any(words in finding.message for finding in notes.findings)
