"""A MIDI device file over a pseudo-terminal: MIDI 1.0 (4.2.1) on a raw wire."""

import asyncio
import contextlib
import os
from collections.abc import AsyncIterator
from pathlib import Path

import mido
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.adapters import midi_raw
from bridge.adapters.midi_raw import RawMidiPort
from bridge.core import midi_messages, midi_sensing
from bridge.core.wire import Midi
from bridge.engine.ports import Found, Heard, Lost, PortGone
from tests.fakes.inbox import Inbox, until
from tests.fakes.midi_file import MidiFile, midi_file


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(midi_raw, "AGAIN_S", 0.02)


@contextlib.asynccontextmanager
async def plugged(folder: Path) -> AsyncIterator[tuple[MidiFile, RawMidiPort, Inbox]]:
    with midi_file(folder / "midiC1D0") as device:
        device.plug()
        port, inbox = RawMidiPort("it", str(device.path)), Inbox()
        await port.open(inbox)
        try:
            yield device, port, inbox
        finally:
            await port.close()


def said(*messages: bytes) -> list[Midi]:
    return [Midi("it", message) for message in messages]


SYSEX = b"\xf0\x7d\x01\x02\xf7"
CUE = midi_messages.show_control(1, 0x10, 0x01, midi_messages.cue("12"))


async def test_a_wire_s_shorthand_and_its_clock_are_understood(tmp_path: Path) -> None:
    async with plugged(tmp_path) as (device, port, inbox):
        device.says(b"\x90\x3c\x40\x3c\x00")  # running status: page 5 and table I
        device.says(b"\xb0\xf8\x40\xfe\x7f")  # real time inside another message
        device.says(SYSEX[:2])
        device.says(b"\xfe" + SYSEX[2:])
        device.says(CUE + b"\xc0\x05")
        whole = (b"\x90\x3c\x40", b"\x90\x3c\x00", b"\xb0\x40\x7f", SYSEX, CUE)
        await until(lambda: inbox.heard == said(*whole, b"\xc0\x05"))
        assert port.drops == {"clock or time code": 1}


async def test_a_sender_that_told_that_it_is_there_and_falls_silent_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """MIDI 1.0, active sensing: its cable is out, though the file is there still."""
    monkeypatch.setattr(midi_sensing, "SILENCE_S", 0.1)
    async with plugged(tmp_path) as (device, port, inbox):
        device.says(b"\xb0\x40\xfe\x7f\xfe")
        await until(lambda: inbox.presence == ["found", "lost"])
        with pytest.raises(PortGone, match="fallen silent"):
            port.send(Midi("it", b"\xb0\x07\x40"))
        device.says(b"\xb0\x40\x00")
        await until(lambda: len(inbox.heard) == 2)
        # It is there again before what it says: what it holds is asked anew.
        kinds = [type(arrival) for arrival in inbox.arrivals]
        assert kinds[:5] == [Found, Heard, Lost, Found, Heard]
        port.send(Midi("it", b"\xb0\x07\x40"))
        device.unplug()
        await until(lambda: "the other end has gone" in _last_why(inbox))
        device.plug()  # who comes then has promised nothing
        await until(lambda: inbox.presence[-1] == "found")
        assert port._sensing._timer is None


def _last_why(inbox: Inbox) -> str:
    last = inbox.arrivals[-1]
    return last.why if isinstance(last, Lost) else ""


async def test_what_is_sent_is_read_alike_by_another_library(tmp_path: Path) -> None:
    messages = [
        *midi_messages.nrpn(3, 5 * 128 + 9, 16383),
        midi_messages.program_change(1, 7),
        midi_messages.checked_by_sum(b"\x7d\x10", b"\x01\x05"),
        CUE,
    ]
    async with plugged(tmp_path) as (device, port, _):
        for message in messages:
            port.send(Midi("it", message))
        data = await device.got(sum(map(len, messages)))
    assert [bytes(m.bytes()) for m in mido.parse_all(data)] == messages


async def test_a_device_that_takes_nothing_is_told_little_and_given_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(midi_raw, "STUCK_S", 0.05)
    async with plugged(tmp_path) as (_, port, inbox):
        while not port.drops:
            with contextlib.suppress(PortGone):
                port.send(Midi("it", b"\xb0\x07\x40"))
        assert port.drops == {"too much waits already": 1}
        await until(lambda: "lost" in inbox.presence)
        lost = inbox.arrivals[1]
        assert isinstance(lost, Lost)
        assert "it takes nothing" in lost.why


async def test_a_slow_device_gets_every_message_whole(tmp_path: Path) -> None:
    async with plugged(tmp_path) as (device, port, _):
        sent = 0
        while len(port._waiting) < 500:  # the terminal's own buffer is full by then
            port.send(Midi("it", b"\xb0\x07" + bytes((sent % 128,))))
            sent += 1
        data = await device.got(3 * sent)
        assert data[2::3] == bytes(k % 128 for k in range(sent))
        assert port.drops == {}


async def test_replugged_at_any_byte_it_hears_what_comes_then(tmp_path: Path) -> None:
    stream = b"\x90\x3c\x40" + SYSEX + b"\xb0\x40\x7f"
    async with plugged(tmp_path) as (device, _, inbox):
        for cut in range(1, len(stream)):
            device.says(stream[:cut])
            device.unplug()
            await until(lambda: inbox.presence[-1] == "lost")
            device.plug()
            await until(lambda: inbox.presence[-1] == "found")
            heard = len(inbox.heard)
            device.says(stream)
            await until(lambda h=heard: len(inbox.heard) == h + 3)  # type: ignore[misc]
            whole = (stream[:3], SYSEX, stream[-3:])
            assert inbox.heard[heard:] == said(*whole)


async def test_unplugged_inside_a_message_it_begins_afresh(tmp_path: Path) -> None:
    async with plugged(tmp_path) as (device, port, inbox):
        device.says(b"\x90\x3c")
        await until(lambda: port._stream._message != b"")
        device.unplug()
        await until(lambda: inbox.presence[-1] == "lost")
        device.plug()
        await until(lambda: inbox.presence[-1] == "found")
        device.says(b"\x40\x90\x3c\x41")
        await until(lambda: inbox.heard == said(b"\x90\x3c\x41"))
        assert port.drops == {"data without a status": 1}


async def test_a_pipe_is_heard_and_not_sent_to(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    port, inbox = RawMidiPort("it", str(path)), Inbox()
    await port.open(inbox)
    end = os.open(path, os.O_WRONLY | os.O_NONBLOCK)
    os.write(end, b"\xb0\x40\x7f")
    await until(lambda: inbox.heard == said(b"\xb0\x40\x7f"))
    with pytest.raises(PortGone, match="can only be heard"):
        port.send(Midi("it", b"\xb0\x07\x40"))
    os.close(end)
    await until(lambda: inbox.presence[:3] == ["found", "lost", "found"])
    await port.close()


@pytest.mark.parametrize("kind", ["nothing", "a text", "a folder"])
async def test_what_is_no_device_is_said(tmp_path: Path, kind: str) -> None:
    path = tmp_path / kind
    if kind == "a text":
        path.write_text("MThd")
    elif kind == "a folder":
        path.mkdir()
    port, inbox = RawMidiPort("it", str(path)), Inbox()
    await port.open(inbox)
    lost = await inbox.next_presence()
    assert isinstance(lost, Lost)
    why = "No such file or directory" if kind == "nothing" else "this file is no device"
    assert f"{path} cannot be used ({why}): plug the device in" in lost.why
    await port.close()


async def test_a_file_that_opens_too_late_is_closed_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop, may_open = asyncio.get_running_loop(), asyncio.Event()
    opened: list[int] = []

    def slow(_: str) -> tuple[int, bool]:
        asyncio.run_coroutine_threadsafe(may_open.wait(), loop).result(20)
        opened.append(os.open(os.devnull, os.O_RDONLY))
        return opened[-1], False

    monkeypatch.setattr(midi_raw, "_open", slow)
    port = RawMidiPort("it", "/x")
    task = loop.create_task(port.open(Inbox()))
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    may_open.set()
    await until(lambda: opened != [])
    await until(lambda: not Path(f"/proc/self/fd/{opened[0]}").exists())
    await port.close()


@given(pieces=st.lists(st.binary(min_size=1, max_size=40), max_size=12))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40)
def test_any_bytes_end_in_messages_or_causes(
    tmp_path: Path, pieces: list[bytes]
) -> None:
    async def live() -> None:
        async with plugged(tmp_path) as (device, port, inbox):
            for piece in pieces:
                device.says(piece)
            device.says(b"\xf7\xff")  # RESET, which nothing can be inside of
            await until(lambda: said(b"\xff")[0] in inbox.heard[-1:])
            assert inbox.presence == ["found"]
            assert len(port._stream._message) <= 3

    asyncio.run(live())
