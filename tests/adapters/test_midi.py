"""MIDI ports by name, over a workbench on which devices come and go."""

import contextlib
import sys
from collections.abc import AsyncIterator
from importlib.util import find_spec
from pathlib import Path

import pytest

from bridge.adapters import midi
from bridge.adapters.midi import MidiHub, MidiPort, NoBackend, backend_for
from bridge.adapters.midi_backend import Link
from bridge.core.wire import Midi, Osc
from bridge.engine.ports import Found, Lost, PortGone
from tests.fakes.inbox import Inbox
from tests.fakes.midi_backend import FakeBackend

MUTE = Midi("desk", b"\xb0\x07\x00")


@contextlib.asynccontextmanager
async def opened(*ports: MidiPort) -> AsyncIterator[list[Inbox]]:
    inboxes = [Inbox() for _ in ports]
    for port, inbox in zip(ports, inboxes, strict=True):
        await port.open(inbox)
    try:
        yield inboxes
    finally:
        for port in ports:
            await port.close()


async def test_a_device_that_is_there_is_found_and_sent_to() -> None:
    bench = FakeBackend()
    bench.plug("Desk:Desk MIDI 1")
    port = MidiPort("desk", "Desk", MidiHub(bench))
    async with opened(port) as [inbox]:
        assert inbox.presence == ["found"]
        port.send(MUTE)
        assert bench.sent == [("desk", MUTE.data)]
    assert not bench.is_running


async def test_plugging_in_and_pulling_out_is_said_each_time() -> None:
    bench = FakeBackend()
    port = MidiPort("desk", "Desk", MidiHub(bench))
    async with opened(port) as [inbox]:
        for _ in range(3):
            with pytest.raises(PortGone, match="no MIDI device is called"):
                port.send(MUTE)
            bench.plug("Desk:Desk MIDI 1")
            port.send(MUTE)
            bench.unplug("Desk:Desk MIDI 1")
        assert inbox.presence == ["lost", "found"] * 3 + ["lost"]
        assert bench.links == {}
        assert port.drops == {"sent while lost": 3}


async def test_a_device_that_comes_back_elsewhere_is_connected_anew() -> None:
    bench = FakeBackend()
    bench.plug("Desk:Desk MIDI 1")
    port = MidiPort("desk", "Desk", MidiHub(bench))
    async with opened(port):
        before = bench.links["desk"]
        bench.unplug("Desk:Desk MIDI 1")
        bench.plug("Pad")
        bench.plug("Desk:Desk MIDI 1")
        assert bench.links["desk"] != before


async def test_twins_are_lost_until_one_is_named() -> None:
    bench = FakeBackend()
    bench.plug("Pedal")
    bench.plug("Pedal")
    hub = MidiHub(bench)
    port, second = MidiPort("a", "Pedal", hub), MidiPort("b", "Pedal", hub, nth=2)
    async with opened(port, second) as [inbox, other]:
        (lost,) = inbox.arrivals
        assert isinstance(lost, Lost)
        assert lost.why.startswith('"Pedal" is the name of 2 MIDI devices: ')
        assert other.presence == ["found"]
        assert bench.links["b"].source == bench._devices[1]


@pytest.mark.parametrize("goes", [0, 1])
async def test_a_twin_that_goes_and_comes_makes_the_other_no_other(goes: int) -> None:
    bench = FakeBackend()
    bench.plug("Pedal")
    bench.plug("Pedal")
    hub = MidiHub(bench)
    ports = MidiPort("one", "Pedal", hub, nth=1), MidiPort("two", "Pedal", hub, nth=2)
    stays, leaves = ports[1 - goes], ports[goes]
    async with opened(*ports) as inboxes:
        stayed, left = inboxes[1 - goes], inboxes[goes]
        known = stays.link
        for _ in range(2):
            bench.unplug_one(leaves.link)
            assert (stayed.presence, stays.link) == (["found"], known)
            assert left.presence[-1] == "lost"
            bench.plug("Pedal")  # behind the other, whichever it was
            assert left.presence[-1] == "found"
            assert stays.link == known != leaves.link
    assert isinstance(left.arrivals[1], Lost)
    assert "is out, and another of that name is there" in left.arrivals[1].why


@pytest.mark.parametrize("order", [(1, 2), (2, 1)])
async def test_twins_that_were_all_out_are_known_by_their_sockets(
    order: tuple[int, int],
) -> None:
    """The hub lost its power: who comes first is another one each time."""
    bench = FakeBackend()
    for socket in ("usb 1", "usb 2"):
        bench.plug("Desk", socket)
    hub = MidiHub(bench)
    ports = [MidiPort(f"desk {nth}", "Desk", hub, nth=nth) for nth in (1, 2)]
    async with opened(*ports):
        for _ in range(2):
            bench.unplug("Desk")
            for number in order:
                bench.plug("Desk", f"usb {number}")
                there = [bench.links[p].sink for p in bench.links]
                assert f"usb {number}" in [device.socket for device in there if device]
            sinks = [port.link.sink for port in ports if port.link is not None]
            assert [sink.socket for sink in sinks if sink] == ["usb 1", "usb 2"]


async def test_twins_that_were_all_out_are_not_guessed_without_sockets() -> None:
    bench = FakeBackend()
    bench.plug("Desk")
    bench.plug("Desk")
    hub = MidiHub(bench)
    ports = [MidiPort(f"desk {nth}", "Desk", hub, nth=nth) for nth in (1, 2)]
    async with opened(*ports) as inboxes:
        links = [port.link for port in ports]
        bench.fail("more MIDI came at once than ALSA could keep")
        bench.recover()  # nobody was out: nobody is another one
        assert [port.link for port in ports] == links
        bench.unplug("Desk")
        bench.plug("Desk")
        bench.plug("Desk")
        for port, inbox in zip(ports, inboxes, strict=True):
            last = inbox.arrivals[-1]
            assert isinstance(last, Lost)
            assert "start the service anew and see which one follows" in last.why
            with pytest.raises(PortGone, match="nobody knows"):
                port.send(Midi(port.name, MUTE.data))
        assert bench.sent == []


async def test_a_twin_that_no_port_holds_helps_to_know_the_other_again() -> None:
    bench = FakeBackend()
    bench.plug("Desk")
    bench.plug("Desk")
    port = MidiPort("desk", "Desk", MidiHub(bench), nth=1)
    async with opened(port):
        (_, other) = bench._devices
        bench.unplug_one(port.link)
        bench.plug("Desk")  # it is the second by the count now
        assert port.link is not None
        assert port.link.sink not in (None, other)


async def test_each_direction_is_found_by_itself() -> None:
    bench = FakeBackend()
    bench.plug("keys:out", takes=False)
    bench.plug("keys:in", gives=False)
    bench.plug("pedal", takes=False)
    hub = MidiHub(bench)
    both = MidiPort("both", "keys", hub)
    apart = MidiPort("apart", "keys:in", hub, hears="pedal")
    pedal = MidiPort("pedal", "pedal", hub)
    async with opened(both, apart, pedal):
        there = {d.name: d for d in bench._devices}
        assert bench.links == {
            "both": Link(there["keys:out"], there["keys:in"]),
            "apart": Link(there["pedal"], there["keys:in"]),
            "pedal": Link(there["pedal"], None),
        }
        with pytest.raises(PortGone, match='nothing called "pedal" takes messages'):
            pedal.send(Midi("pedal", b"\xb0\x07\x00"))
        assert pedal.drops == {"nothing to send to": 1}


async def test_a_virtual_device_is_there_with_the_system() -> None:
    bench = FakeBackend()
    port = MidiPort("desk", "virtual", MidiHub(bench))
    async with opened(port) as [inbox]:
        assert bench.links == {"desk": Link()}
        port.send(MUTE)
        bench.plug("anything")
        assert inbox.presence == ["found"]
        bench.fail("the MIDI system is gone")
        assert inbox.presence == ["found", "lost"]
        bench.recover()
        port.send(MUTE)
        assert inbox.presence == ["found", "lost", "found"]


async def test_what_a_device_says_is_heard_whole() -> None:
    bench = FakeBackend()
    bench.plug("Pedal")
    port = MidiPort("pedal", "Pedal", MidiHub(bench))
    async with opened(port) as [inbox]:
        bench.says("pedal", b"\xb0\x40\x7f\xb0\x40\x00")
        bench.says("pedal", b"\xf0\x7d")  # ALSA gives long ones in pieces
        bench.says("pedal", b"\x01\xf7")
        assert inbox.heard == [
            Midi("pedal", b"\xb0\x40\x7f"),
            Midi("pedal", b"\xb0\x40\x00"),
            Midi("pedal", b"\xf0\x7d\x01\xf7"),
        ]
        assert port.drops == {}


async def test_what_sets_nothing_and_what_is_broken_is_counted() -> None:
    bench = FakeBackend()
    bench.plug("Pedal")
    port = MidiPort("pedal", "Pedal", MidiHub(bench))
    async with opened(port) as [inbox]:
        bench.says("pedal", b"\xf8\xfe\xf1\x01\x40\xf4")
        assert inbox.heard == []
        assert port.drops == {
            "clock or time code": 2,
            "data without a status": 1,
            "undefined status": 1,
        }


async def test_half_a_message_dies_with_its_cable() -> None:
    bench = FakeBackend()
    bench.plug("Pedal")
    port = MidiPort("pedal", "Pedal", MidiHub(bench))
    async with opened(port) as [inbox]:
        bench.says("pedal", b"\xb0\x40")
        bench.unplug("Pedal")
        bench.plug("Pedal")
        bench.says("pedal", b"\x7f")
        assert inbox.heard == []
        assert port.drops == {"data without a status": 1}


@pytest.mark.parametrize(
    "message", [Midi("desk", b"\xb0\x07"), Midi("desk", b""), Osc("desk", "/a", (1,))]
)
async def test_what_is_not_one_midi_message_is_refused(message: Midi | Osc) -> None:
    bench = FakeBackend()
    bench.plug("Desk")
    port = MidiPort("desk", "Desk", MidiHub(bench))
    async with opened(port):
        with pytest.raises(PortGone, match=r"^desk: not one MIDI message: desk: "):
            port.send(message)
        assert bench.sent == []
        assert port.drops == {"not one MIDI message": 1}


async def test_a_system_that_takes_no_more_is_said_so() -> None:
    bench = FakeBackend()
    bench.plug("Desk")
    bench.clog()
    port = MidiPort("desk", "Desk", MidiHub(bench))
    async with opened(port):
        with pytest.raises(PortGone, match=r"^desk: the cable is full$"):
            port.send(MUTE)
        assert port.drops == {"not taken": 1}


async def test_a_device_that_refuses_is_tried_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(midi, "AGAIN_S", 0.01)
    bench = FakeBackend()
    bench.plug("Desk")
    bench.refuse_next_join()
    port = MidiPort("desk", "Desk", MidiHub(bench))
    async with opened(port) as [inbox]:
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert lost.why == "it is in use"
        assert isinstance(await inbox.next_presence(), Found)


async def test_a_port_that_closes_leaves_the_others_alone() -> None:
    bench = FakeBackend()
    bench.plug("Desk")
    bench.plug("Pedal")
    hub = MidiHub(bench)
    desk, pedal = MidiPort("desk", "Desk", hub), MidiPort("pedal", "Pedal", hub)
    async with opened(desk, pedal) as [inbox, _]:
        await pedal.close()
        bench.says("pedal", b"\xb0\x40\x7f")
        await pedal.close()
        desk.send(MUTE)
        assert inbox.presence == ["found"]
        assert bench.is_running
        await pedal.open(inbox)
        assert inbox.presence == ["found", "found"]
    assert not bench.is_running


async def test_a_missing_library_is_lost_with_its_cure() -> None:
    port = MidiPort("desk", "Desk", MidiHub(NoBackend("no library: install it")))
    async with opened(port) as [inbox]:
        (lost,) = inbox.arrivals
        assert isinstance(lost, Lost)
        assert lost.why == "no library: install it"
        with pytest.raises(PortGone):
            port.send(MUTE)


@pytest.mark.parametrize(
    ("choice", "module", "version", "cure"),
    [
        ("alsa", "alsa_midi", (3, 13), "pip install alsa-midi"),
        ("jack", "rtmidi", (3, 12), "pip install treadle[jack]"),
        ("jack", "rtmidi", (3, 13), "pip install python-rtmidi"),
    ],
)
def test_a_choice_without_its_library_names_the_command(
    monkeypatch: pytest.MonkeyPatch,
    choice: midi.Choice,
    module: str,
    version: tuple[int, int],
    cure: str,
) -> None:
    for ours in ("bridge.adapters.midi_alsa", "bridge.adapters.midi_rtmidi"):
        monkeypatch.delitem(sys.modules, ours, raising=False)
    monkeypatch.setitem(sys.modules, module, None)
    with monkeypatch.context() as this_python:
        this_python.setattr(sys, "version_info", version)
        backend = backend_for(choice)
    assert isinstance(backend, NoBackend)
    assert cure in backend.why


def test_auto_is_the_sequencer_where_there_is_one_else_jack(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(midi, "SEQUENCER", tmp_path)
    assert type(backend_for("auto")).__name__ == "AlsaBackend"
    monkeypatch.setattr(midi, "SEQUENCER", tmp_path / "none")
    jack = "RtmidiBackend" if find_spec("rtmidi") is not None else "AlsaBackend"
    assert type(backend_for("auto")).__name__ == jack
