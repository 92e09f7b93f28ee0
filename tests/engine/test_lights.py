"""Lamps in the engine: after everything else, a few at a time, counted if dropped."""

from __future__ import annotations

from dataclasses import replace

from bridge.core.effects import Light
from bridge.core.lamp import Lamp, Shows, Sign
from bridge.core.wire import Message, Midi, Osc
from bridge.engine.lights import AT_ONCE, PAUSE_S, Lights
from tests.fakes.clock import SimulatedClock
from tests.fakes.engine_rig import Rig
from tests.fakes.port import FakePort
from tests.fakes.studio import studio


def note(number: int, velocity: int) -> Midi:
    return Midi("pedal", bytes((0x90, number, velocity)))


def light(number: int, velocity: int = 127) -> Light:
    return Light(f"light {number}", (note(number, velocity),))


def lamp(number: int, *scenes: str) -> Lamp:
    messages: dict[Sign, tuple[Message, ...]] = {
        Sign.DARK: (note(number, 0),),
        Sign.LIT: (note(number, 127),),
    }
    shows = Shows.SCENES if scenes else Shows.EVERYTHING
    return Lamp(f"light {number}", "pedal", shows, scenes, messages)


async def test_a_few_are_sent_at_a_time_and_the_newest_look_counts() -> None:
    port = FakePort("pedal", SimulatedClock())
    await port.open(lambda _: None)
    lights = Lights()
    for number in range(AT_ONCE + 2):
        lights.put(light(number))
    lights.put(light(0, 1))
    ports = {"pedal": port}
    lights.send(ports, 10.0)
    assert port.received == [note(n, 127) for n in range(1, AT_ONCE + 1)]
    lights.send(ports, 10.0 + PAUSE_S / 2)
    assert len(port.received) == AT_ONCE
    assert lights.due == 10.0 + PAUSE_S
    lights.send(ports, 10.0 + PAUSE_S)
    assert port.received[AT_ONCE:] == [note(AT_ONCE + 1, 127), note(0, 1)]
    assert lights.due is None
    assert lights.drops == {"lamps: overtaken by what is newer": 1}


async def test_a_lamp_whose_port_does_not_take_it_is_counted_and_forgotten() -> None:
    port = FakePort("pedal", SimulatedClock())
    await port.open(lambda _: None)
    port.unplug()
    lights = Lights()
    lights.put(light(1))
    lights.put(Light("sign", (Midi("nobody", b"\xf8"),)))
    lights.send({"pedal": port}, 1.0)
    assert lights.due is None
    assert lights.drops == {"lamps: not taken by their port": 1}


async def test_a_press_is_on_the_wire_before_any_lamp() -> None:
    lamps = (lamp(1, "quiet"), lamp(2, "phones"), lamp(3))
    rig = Rig(replace(studio(start="quiet"), lamps=lamps))
    wire: list[Message] = []
    desk = rig.desk

    def seen(message: Message) -> list[Message]:
        wire.append(message)
        return desk(message) if message.port == "desk" else []

    for port in rig.ports.values():
        port.answer = seen
    rig.after(3.0, wire.clear)
    rig.press(3.0)
    rig.ask(5.0, "status")
    await rig.run(6.0)
    kinds = ["lamp" if m.port == "pedal" else "way" for m in wire]
    first = kinds.index("lamp")
    sent = [m for m in wire[:first] if isinstance(m, Osc) and m.arguments]
    assert sent, "the way had begun"
    assert wire[first:].count(note(2, 127)) >= 1
    assert rig.answers["status"]["lamps"] == {
        "light 1": "dark",
        "light 2": "lit",
        "light 3": "lit",
    }
    assert set(wire[-2:]) == {note(2, 0), note(3, 0)}, "dark at the end"
