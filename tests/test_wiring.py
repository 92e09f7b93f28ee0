"""Which ports stay when a studio is read anew: those whose connections are the same."""

from dataclasses import replace

from bridge.adapters.midi import MidiPort
from bridge.core.connection import Connection, MidiDevice, OscPeer, OutputLine
from bridge.core.studio import Studio
from bridge.core.wire import OWN_DOOR
from bridge.engine.ports import Port
from bridge.wiring.door import take_door
from bridge.wiring.ports import PortMaker
from tests.fakes.studio import studio

DESK = OscPeer("desk", "127.0.0.1", 9)
PADS = MidiDevice("pads", "Pads")
RELAY = OutputLine("relay", "fake chip", 17)


def of(*connections: Connection, door_port: int = 0) -> Studio:
    return replace(studio(), connections=connections, door_port=door_port)


def by_name(ports: tuple[Port, ...]) -> dict[str, Port]:
    return {port.name: port for port in ports}


def test_the_same_connection_has_the_same_port_and_another_one_another() -> None:
    maker = PortMaker(None)
    before = by_name(maker.ports(of(DESK, RELAY)))
    after = by_name(maker.ports(of(RELAY, replace(DESK, port=10))))
    assert after["relay"] is before["relay"]
    assert after["desk"] is not before["desk"]
    back = by_name(maker.ports(of(DESK, RELAY)))
    assert back["desk"] is not before["desk"]  # that one was closed


def test_a_midi_device_that_comes_later_shares_what_the_first_one_has() -> None:
    maker = PortMaker(None)
    maker.prepare(of(DESK, PADS))
    (_, pads) = maker.ports(of(DESK, PADS))
    maker.prepare(of(PADS, MidiDevice("pedal", "Pedal")))
    (same, pedal) = maker.ports(of(PADS, MidiDevice("pedal", "Pedal")))
    assert same is pads
    assert isinstance(pads, MidiPort)
    assert isinstance(pedal, MidiPort)
    assert pads._hub is pedal._hub  # one helper process of JACK, not two


def test_the_door_that_was_taken_first_is_used_and_stays() -> None:
    door = take_door(of())
    number = int(door.getsockname()[1])
    maker = PortMaker(None, door)
    (first,) = maker.ports(of(door_port=number))
    (same,) = maker.ports(of(door_port=number))
    (other,) = maker.ports(of(door_port=number + 1))
    assert first is same
    assert first.name == other.name == OWN_DOOR
    assert other is not first
    door.close()
