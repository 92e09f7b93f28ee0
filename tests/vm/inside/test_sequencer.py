"""MIDI over the kernel's sequencer, to USB devices that look alike and go."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from bridge.adapters.midi import MidiHub, MidiPort
from bridge.adapters.midi_alsa import AlsaBackend
from bridge.core.wire import Midi
from bridge.engine.ports import Lost
from tests.fakes.inbox import Inbox, until
from tests.vm.inside.usb import UsbMidi

CC = Midi("it", b"\xb0\x07\x40")


@pytest.fixture
def twins() -> Iterator[tuple[UsbMidi, UsbMidi]]:
    devices = UsbMidi("Twin", 0), UsbMidi("Twin", 1)
    yield devices
    for device in devices:
        device.unplug()


async def test_two_devices_of_one_name_are_told_apart_by_nth(
    twins: tuple[UsbMidi, UsbMidi],
) -> None:
    for device in twins:
        device.plug()
    inbox, plain = Inbox(), Inbox()
    hub = MidiHub(AlsaBackend())
    vague = MidiPort("vague", "Twin", hub)
    port = MidiPort("it", "Twin", hub, nth=2)
    await vague.open(plain)
    await port.open(inbox)
    refusal = await plain.next_presence()
    assert isinstance(refusal, Lost)
    assert '"Twin" is the name of 2 MIDI devices' in refusal.why
    await until(lambda: inbox.presence[-1:] == ["found"])
    for device in twins:
        device.read()
    port.send(CC)
    await until(twins[1].peek)
    assert (twins[0].read(), twins[1].read()) == (b"", CC.data)
    await port.close()
    await vague.close()


async def test_twins_that_were_all_out_are_known_by_their_sockets(
    twins: tuple[UsbMidi, UsbMidi],
) -> None:
    """They come back the other way round, so the sequencer counts them otherwise."""
    for device in twins:
        device.plug()
    hub = MidiHub(AlsaBackend())
    ports = [MidiPort(f"it {nth}", "Twin", hub, nth=nth) for nth in (1, 2)]
    inboxes = [Inbox() for _ in ports]
    for port, inbox in zip(ports, inboxes, strict=True):
        await port.open(inbox)
        await until(lambda i=inbox: i.presence[-1:] == ["found"])  # type: ignore[misc]
    for device in twins:
        device.unplug()
    for inbox in inboxes:
        await until(lambda i=inbox: i.presence[-1] == "lost")  # type: ignore[misc]
    for device in reversed(twins):
        device.plug()
    for port, inbox, device in zip(ports, inboxes, twins, strict=True):
        await until(lambda i=inbox: i.presence[-1] == "found")  # type: ignore[misc]
        port.send(Midi(port.name, CC.data))
        await until(device.peek)
    assert [device.read() for device in twins] == [CC.data] * 2
    for port in ports:
        await port.close()


async def test_a_device_that_comes_back_under_another_number_is_found(
    twins: tuple[UsbMidi, UsbMidi],
) -> None:
    first, other = twins
    first.plug()
    inbox = Inbox()
    port = MidiPort("it", "Twin", MidiHub(AlsaBackend()))
    await port.open(inbox)
    await until(lambda: inbox.presence[-1:] == ["found"])
    first.unplug()
    await until(lambda: inbox.presence[-1] == "lost")
    other.plug()  # a new card, a new client: only the name is the same
    await until(lambda: inbox.presence[-1] == "found")
    other.read()
    port.send(CC)
    await until(other.peek)
    assert other.read() == CC.data
    other.say(b"\xb0\x07\x41\x08\x42")  # running status
    heard = [(await inbox.next_heard()).message for _ in range(2)]
    assert heard == [Midi("it", b"\xb0\x07\x41"), Midi("it", b"\xb0\x08\x42")]
    await port.close()
