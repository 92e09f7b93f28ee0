"""MIDI over ALSA's sequencer, which checking machines do not have.

What is a stand-in is the library's client object (tests/fakes/midi_alsa.py); events,
errors and capabilities are the library's own. Where there is a sequencer, the contract
suite runs over it too.
"""

import contextlib
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from alsa_midi import READ_PORT, RW_PORT, WRITE_PORT
from alsa_midi.client import SequencerClientBase

from bridge.adapters import midi, midi_alsa
from bridge.adapters.midi import SEQUENCER, MidiHub, MidiPort
from bridge.adapters.midi_alsa import AT_ONCE, AlsaBackend, Sequencer
from bridge.core.wire import Midi
from bridge.engine.ports import Found, Lost, PortGone
from tests.fakes.inbox import Inbox, until
from tests.fakes.midi_alsa import OURS, FakeSequencer

HAS_SEQUENCER = SEQUENCER.exists()
DESK = (24, 0)
PEDAL = (28, 0)
MUTE = Midi("desk", b"\xb0\x07\x00")


@pytest.fixture
def bench() -> FakeSequencer:
    return FakeSequencer()


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


def hub_on(bench: FakeSequencer) -> MidiHub:
    return MidiHub(AlsaBackend(bench.open))


async def test_a_device_is_subscribed_both_ways_and_let_go(
    bench: FakeSequencer,
) -> None:
    bench.plug(DESK, "Desk", "Desk MIDI 1", RW_PORT)
    port = MidiPort("desk", "Desk MIDI 1", hub_on(bench))
    async with opened(port) as [inbox]:
        assert inbox.presence == ["found"]
        own = next(k for k, p in bench.ports.items() if p.name == "desk")
        assert (DESK, (OURS, own)) in bench.subscriptions
        assert ((OURS, own), DESK) in bench.subscriptions
        port.send(MUTE)
        assert bench.sent == [(own, MUTE.data)]
    assert not bench.is_open


async def test_a_device_that_only_gives_is_not_sent_to(bench: FakeSequencer) -> None:
    bench.plug(PEDAL, "Pedal", "Pedal MIDI 1", READ_PORT)
    bench.plug(DESK, "Desk", "Desk MIDI 1", WRITE_PORT)
    port = MidiPort("pedal", "Pedal", hub_on(bench))
    async with opened(port):
        assert [s for s in bench.subscriptions if DESK in s] == []
        with pytest.raises(PortGone, match='nothing called "Pedal" takes messages'):
            port.send(Midi("pedal", b"\xb0\x07\x00"))


async def test_a_device_is_told_by_the_socket_that_the_kernel_shows(
    bench: FakeSequencer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Published source: /sys/class/sound/card*/device, a link into the USB's tree."""
    place = tmp_path / "usb1" / "1-1.2"
    place.mkdir(parents=True)
    (tmp_path / "card3").mkdir()
    (tmp_path / "card3" / "device").symlink_to(place)
    monkeypatch.setattr(midi_alsa, "CARDS", tmp_path)
    bench.sockets[DESK[0]] = midi_alsa.plugged(3)
    bench.plug(DESK, "Desk", "Desk MIDI 1", RW_PORT)
    port = MidiPort("desk", "Desk", hub_on(bench))
    async with opened(port):
        assert port.link is not None
        assert port.link.sink is not None
        assert port.link.sink.socket == f"{place} port 0"
    with pytest.raises(OSError, match="No such file"):
        midi_alsa.plugged(4)


async def test_two_devices_are_heard_apart(bench: FakeSequencer) -> None:
    bench.plug(DESK, "Desk", "Desk MIDI 1", RW_PORT)
    bench.plug(PEDAL, "Pedal", "Pedal MIDI 1", RW_PORT)
    hub = hub_on(bench)
    desk, pedal = MidiPort("desk", "Desk", hub), MidiPort("pedal", "Pedal", hub)
    async with opened(desk, pedal) as [at_desk, at_pedal]:
        bench.says(PEDAL, b"\xb0\x40\x7f")
        bench.says(DESK, b"\xb0\x07\x01")
        heard = await at_pedal.next_heard()
        assert heard.message == Midi("pedal", b"\xb0\x40\x7f")
        assert (await at_desk.next_heard()).message == Midi("desk", b"\xb0\x07\x01")


async def test_announcements_find_and_lose_without_being_asked(
    bench: FakeSequencer,
) -> None:
    port = MidiPort("desk", "Desk", hub_on(bench))
    async with opened(port) as [inbox]:
        assert isinstance(await inbox.next_presence(), Lost)
        for client in (24, 32):  # another number each time
            bench.plug((client, 0), "Desk", "Desk MIDI 1", RW_PORT)
            assert isinstance(await inbox.next_presence(), Found)
            port.send(MUTE)
            bench.unplug((client, 0))
            lost = await inbox.next_presence()
            assert isinstance(lost, Lost)
            assert 'no MIDI device is called "Desk"' in lost.why
            with pytest.raises(PortGone):
                port.send(MUTE)
        assert [p.name for p in bench.ports.values()] == ["watch"]


async def test_a_burst_is_read_to_its_end_and_the_loop_gets_its_turn(
    bench: FakeSequencer,
) -> None:
    bench.plug(DESK, "Desk", "Desk MIDI 1", RW_PORT)
    port = MidiPort("desk", "Desk", hub_on(bench))
    async with opened(port) as [inbox]:
        for k in range(5 * AT_ONCE):
            bench.says(DESK, bytes((0xB0, 7, k % 128)))
        sizes = set()

        def all_heard() -> bool:
            sizes.add(len(inbox.heard))
            return len(inbox.heard) == 5 * AT_ONCE

        await until(all_heard)
        values = [m.data[2] for m in inbox.heard if isinstance(m, Midi)]
        assert values == [k % 128 for k in range(5 * AT_ONCE)]


async def test_an_overrun_makes_every_port_be_asked_anew(bench: FakeSequencer) -> None:
    bench.plug(DESK, "Desk", "Desk MIDI 1", RW_PORT)
    port = MidiPort("desk", "Desk", hub_on(bench))
    async with opened(port) as [inbox]:
        await inbox.next_presence()
        bench.overrun()
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert lost.why == "more MIDI came at once than ALSA could keep"
        assert isinstance(await inbox.next_presence(), Found)
        bench.says(DESK, b"\xb0\x07\x01")
        await inbox.next_heard()
        assert len(inbox.heard) == 1


async def test_a_full_kernel_is_refused_in_words(bench: FakeSequencer) -> None:
    bench.plug(DESK, "Desk", "Desk MIDI 1", RW_PORT)
    port = MidiPort("desk", "Desk", hub_on(bench))
    async with opened(port):
        bench.is_full = True
        with pytest.raises(
            PortGone, match="ALSA does not send it: Resource temporarily"
        ):
            port.send(MUTE)
        bench.is_full = False
        port.send(MUTE)


async def test_a_device_in_use_is_tried_again(
    bench: FakeSequencer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(midi, "AGAIN_S", 0.01)
    bench.plug(DESK, "Desk", "Desk MIDI 1", RW_PORT)
    bench.refuses.add(DESK)
    port = MidiPort("desk", "Desk", hub_on(bench))
    async with opened(port) as [inbox]:
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert lost.why == "ALSA does not connect it: Device or resource busy"
        bench.refuses.clear()
        assert isinstance(await inbox.next_presence(), Found)
        assert sorted(p.name for p in bench.ports.values()) == ["desk", "watch"]


async def test_a_driver_that_goes_away_is_opened_again(
    bench: FakeSequencer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(midi_alsa, "AGAIN_S", 0.01)
    bench.plug(DESK, "Desk", "Desk MIDI 1", RW_PORT)
    port = MidiPort("desk", "Desk", hub_on(bench))
    async with opened(port) as [inbox]:
        assert isinstance(await inbox.next_presence(), Found)
        bench.break_down()
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert lost.why.startswith("the ALSA sequencer has failed: No such device")
        bench.is_broken = False
        assert isinstance(await inbox.next_presence(), Found)
        port.send(MUTE)
        assert bench.opened == 2


async def test_the_real_client_says_what_this_machine_lacks() -> None:
    port = MidiPort("desk", "no such device", MidiHub(AlsaBackend()))
    async with opened(port) as [inbox]:
        (lost,) = inbox.arrivals
        assert isinstance(lost, Lost)
        assert lost.why.startswith(
            'no MIDI device is called "no such device"'
            if HAS_SEQUENCER
            else "the ALSA sequencer cannot be opened (No such file or directory): run "
            '"sudo modprobe snd-seq", and be a member of the group "audio"'
        )


def test_the_real_client_has_everything_that_is_used_of_it() -> None:
    used = {name for name in vars(Sequencer) if not name.startswith("_")}
    assert used - {"client_id"} <= set(dir(midi_alsa._Client))
    assert "client_id" in SequencerClientBase.__annotations__
