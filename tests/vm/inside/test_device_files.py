"""A USB MIDI device by its own file: what is said, and how a pulled plug looks."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from bridge.adapters import midi_raw
from bridge.adapters.midi_raw import RawMidiPort
from bridge.core.wire import Midi
from bridge.engine.ports import PortGone
from tests.fakes.inbox import Inbox, until
from tests.vm.inside.usb import UsbMidi

CC = Midi("it", b"\xb0\x07\x40")


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> Iterator[UsbMidi]:
    monkeypatch.setattr(midi_raw, "AGAIN_S", 0.1)
    it = UsbMidi("Loose", 2)
    it.plug()
    yield it
    it.unplug()


async def test_it_is_heard_sent_to_pulled_out_and_found_again(device: UsbMidi) -> None:
    inbox = Inbox()
    port = RawMidiPort("it", device.file())
    await port.open(inbox)
    await until(lambda: inbox.presence[-1:] == ["found"])
    for _ in range(2):
        port.send(CC)
        await until(device.peek)
        assert device.read() == CC.data
        device.say(b"\xb0\x07\xf8\x41\x08\x42")  # a clock inside, and running status
        heard = [(await inbox.next_heard()).message for _ in range(2)]
        assert heard == [Midi("it", b"\xb0\x07\x41"), Midi("it", b"\xb0\x08\x42")]
        device.unplug()
        await until(lambda: inbox.presence[-1] == "lost")
        with pytest.raises(PortGone):
            port.send(CC)
        device.plug()
        await until(lambda: inbox.presence[-1] == "found")
    await port.close()
