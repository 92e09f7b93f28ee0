"""The simulated desk, held to two other implementations of OSC and to real MIDI text.

Published source: the OSC 1.0 specification (opensoundcontrol.stanford.edu), here by
way of python-osc and of liblo's `oscsend`; both are independent of this project.
"""

from __future__ import annotations

import socket
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest
from pythonosc.osc_bundle_builder import IMMEDIATELY, OscBundleBuilder
from pythonosc.osc_message import OscMessage
from pythonosc.osc_message_builder import OscMessageBuilder

from bridge.faces.children import SimulatedDesk
from bridge.faces.simdesk import control_change
from bridge.faces.simwire import messages, packet_of

PROGRAM = [sys.executable, "-m", "bridge.faces.simdesk"]
STATE = {"/in/1/monitor": 0, "/out/monitor/level": -6.0, "/name": "desk", "/dim": False}


@pytest.fixture
def desk() -> Iterator[SimulatedDesk]:
    desk = SimulatedDesk(PROGRAM, {"state": STATE})
    yield desk
    assert desk.end() == 0


@pytest.fixture
def wire(desk: SimulatedDesk) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as wire:
        wire.connect(("127.0.0.1", desk.port))
        wire.settimeout(10)
        yield wire


def built(address: str, *arguments: object) -> bytes:
    builder = OscMessageBuilder(address)
    for argument in arguments:
        builder.add_arg(argument)  # type: ignore[arg-type]
    return builder.build().dgram


@pytest.mark.parametrize("value", [0, -7, 2**31 - 1, 0.5, -1e9, True, False, "", "ab"])
@pytest.mark.parametrize("address", ["/a", "/ab", "/abc", "/abcd"])
def test_packets_are_those_of_another_implementation(
    address: str, value: bool | float | str
) -> None:
    packet = packet_of(address, value)
    assert packet == built(address, value)
    assert OscMessage(packet).params == [value]
    assert list(messages(packet)) == [(address, [value])]


def test_bundles_within_bundles_are_taken_apart() -> None:
    inner = OscBundleBuilder(IMMEDIATELY)
    inner.add_content(OscMessage(built("/b", 2)))
    outer = OscBundleBuilder(IMMEDIATELY)
    outer.add_content(OscMessage(built("/a", 1, "x")))
    outer.add_content(inner.build())
    found = list(messages(outer.build().dgram))
    assert found == [("/a", [1, "x"]), ("/b", [2])]


def test_a_desk_may_tell_only_who_follows_it_and_elsewhere() -> None:
    table = {
        "state": STATE,
        "follow": ["/follow", 0.3],
        "asks": {"/dim/ask": ["/dim", "/dim/is"]},
    }
    desk = SimulatedDesk(PROGRAM, table)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as wire:
        wire.connect(("127.0.0.1", desk.port))
        wire.settimeout(10)
        wire.send(built("/dim/ask"))
        desk.next("asked")
        wire.send(built("/follow"))
        wire.send(built("/dim/ask"))
        assert wire.recv(100) == built("/dim/is", False)
        desk.order(hand="/dim", value=True)
        assert wire.recv(100) == built("/dim/is", True)
        time.sleep(0.35)
        desk.order(hand="/dim", value=False)
        wire.send(built("/dim/ask"))
        desk.next("asked")
        wire.settimeout(0.05)
        with pytest.raises(TimeoutError):
            wire.recv(100)
    assert desk.end() == 0


def test_a_message_of_another_program_sets_a_switch(desk: SimulatedDesk) -> None:
    url = f"osc.udp://127.0.0.1:{desk.port}"
    subprocess.run(["oscsend", url, "/in/1/monitor", "i", "1"], check=True)
    change = desk.next("address")
    assert (change["address"], change["value"], change["old"]) == (
        "/in/1/monitor",
        1,
        0,
    )
    assert desk.state() == {**STATE, "/in/1/monitor": 1}


def test_an_address_without_arguments_is_answered(
    desk: SimulatedDesk, wire: socket.socket
) -> None:
    for address, value in STATE.items():
        wire.send(built(address))
        answer = OscMessage(wire.recv(1000))
        assert (answer.address, answer.params) == (address, [value])


def test_a_hand_on_the_desk_is_told_to_whom_it_knows(
    desk: SimulatedDesk, wire: socket.socket
) -> None:
    wire.send(built("/dim"))
    wire.recv(1000)
    desk.order(hand="/in/1/monitor", value=1)
    told = OscMessage(wire.recv(1000))
    assert (told.address, told.params) == ("/in/1/monitor", [1])
    assert desk.next("address")["by"] == "hand"


def test_lost_packets_change_nothing(desk: SimulatedDesk, wire: socket.socket) -> None:
    desk.order(lose=2)
    assert desk.state() == STATE
    wire.send(built("/in/1/monitor", 1))
    wire.send(built("/dim", True))
    wire.send(built("/out/monitor/level", -20.0))
    assert desk.next("address")["address"] == "/out/monitor/level"
    assert desk.state() == {**STATE, "/out/monitor/level": -20.0}


def test_doubled_and_late_packets_arrive_so(
    desk: SimulatedDesk, wire: socket.socket
) -> None:
    desk.order(duplicate=1, delay_ms=30.0)
    assert desk.state() == STATE
    wire.send(built("/in/1/monitor", 1))
    first, second = desk.next("address"), desk.next("address")
    assert first["address"] == second["address"] == "/in/1/monitor"


def test_a_desk_without_its_tongue_still_acts(
    desk: SimulatedDesk, wire: socket.socket
) -> None:
    desk.order(mute=True)
    assert desk.state() == STATE
    wire.send(built("/dim"))
    wire.send(built("/in/1/monitor", 1))
    assert desk.next("asked")["asked"] == "/dim"
    assert desk.next("address")["value"] == 1
    wire.setblocking(False)
    with pytest.raises(BlockingIOError):
        wire.recv(1000)


@pytest.mark.parametrize(
    "packet",
    [b"", b"/", b"/a\0\0,i\0\0", b"#bundle\0", b"/a\0\0,b\0\0\0\0\0\1a", b"\xff" * 40],
)
def test_what_is_no_message_is_noted_and_survived(
    desk: SimulatedDesk, wire: socket.socket, packet: bytes
) -> None:
    wire.send(packet)
    wire.send(built("/in/1/monitor", 1))
    assert desk.next("address")["value"] == 1


def test_an_unknown_address_is_noted(desk: SimulatedDesk, wire: socket.socket) -> None:
    wire.send(built("/nowhere", 1))
    assert desk.next("unknown")["unknown"] == "/nowhere"


@pytest.mark.parametrize(
    ("line", "heard"),
    [
        ("b3 15 7f", ("cc 4 21", 127)),
        (
            " 24:0   Control change          3, controller 21, value 127",
            ("cc 4 21", 127),
        ),
        ("90 3c 01", None),
        ("b3 15", None),
        ("Source  Event                  Ch  Data", None),
        ("", None),
    ],
)
def test_lines_of_the_two_printing_programs(
    line: str, heard: tuple[str, int] | None
) -> None:
    # The second is a line of aseqdump, from memory.
    assert control_change(line) == heard
