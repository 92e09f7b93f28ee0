"""Benches of MIDI: stand-ins, a server of JACK, a sequencer, a device file."""

import asyncio
import contextlib
from collections.abc import AsyncIterator
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory

from alsa_midi import RW_PORT, MidiBytesEvent, SequencerClient
from alsa_midi import Port as AlsaPort

from bridge.adapters.midi import SEQUENCER, MidiHub, MidiPort, backend_for
from bridge.adapters.midi_alsa import AlsaBackend
from bridge.adapters.midi_raw import RawMidiPort
from bridge.core.wire import Message, Midi
from tests.adapters.rigs.rig import CC, Rig, lever
from tests.fakes import jack
from tests.fakes.inbox import until
from tests.fakes.midi_alsa import FakeSequencer
from tests.fakes.midi_backend import FakeBackend
from tests.fakes.midi_file import midi_file
from tests.fakes.programs import Program

HAS_ALSA = SEQUENCER.exists()

HAS_RTMIDI = find_spec("rtmidi") is not None
"""It has no wheel for Python 3.13, where it is optional."""


@contextlib.asynccontextmanager
async def midi_on_a_bench() -> AsyncIterator[Rig]:
    bench = FakeBackend()
    port = MidiPort("it", "Desk", MidiHub(bench))

    async def received() -> Message:
        name, data = bench.sent.pop(0)
        return Midi(name, data)

    yield Rig(
        port,
        sends=CC,
        received=received,
        hears=CC,
        say=lever(lambda: bench.says("it", CC.data)),
        plug=lever(lambda: bench.plug("Desk:Desk MIDI 1")),
        unplug=lever(lambda: bench.unplug("Desk:Desk MIDI 1")),
    )


@contextlib.asynccontextmanager
async def midi_over_alsa() -> AsyncIterator[Rig]:
    """The sequencer is a stand-in."""
    bench = FakeSequencer()
    port = MidiPort("it", "Desk", MidiHub(AlsaBackend(bench.open)))

    async def received() -> Message:
        _, data = bench.sent.pop(0)
        return Midi("it", data)

    yield Rig(
        port,
        sends=CC,
        received=received,
        hears=CC,
        say=lever(lambda: bench.says((24, 0), CC.data)),
        plug=lever(lambda: bench.plug((24, 0), "Desk", "Desk MIDI 1", RW_PORT)),
        unplug=lever(lambda: bench.unplug((24, 0))),
    )


@contextlib.asynccontextmanager
async def midi_over_a_real_sequencer() -> AsyncIterator[Rig]:
    """Where there is one: the device is another client of the sequencer."""
    stack = contextlib.ExitStack()
    devices: list[tuple[SequencerClient, AlsaPort]] = []
    port = MidiPort("it", "Desk", MidiHub(AlsaBackend()))

    def plug() -> None:
        client = SequencerClient("Desk")
        stack.callback(client.close)
        devices.append((client, client.create_port("Desk MIDI 1", RW_PORT)))

    async def received() -> Message:
        client, _ = devices[-1]
        while True:
            event = await asyncio.to_thread(client.event_input, True, 20.0)
            if isinstance(event, MidiBytesEvent):
                return Midi("it", event.midi_bytes)

    def say() -> None:
        client, own = devices[-1]
        client.event_output(MidiBytesEvent(CC.data), port=own)
        client.drain_output()

    with stack:
        yield Rig(port, CC, received, CC, lever(say), lever(plug), lever(stack.close))


@contextlib.asynccontextmanager
async def midi_over_jack() -> AsyncIterator[Rig]:
    """A real server, which must be running, and its example programs as the device."""
    stack = contextlib.AsyncExitStack()
    dumps: list[Program] = []
    note = Midi("it", b"\x90\x3c\x40")

    async def plug() -> None:
        dumps.append(await stack.enter_async_context(jack.dump("desk")))

    async def received() -> Message:
        line = await dumps[-1].line()  # "  9984: b0 07 40 control change ..."
        return Midi("it", bytes.fromhex("".join(line.split(":")[1].split()[:3])))

    async def say() -> None:
        await stack.enter_async_context(jack.player("player"))
        await until(lambda: port.link is not None and port.link.source is not None)

    async with stack:
        port = MidiPort("it", "desk", MidiHub(backend_for("jack")), hears="player")
        yield Rig(port, CC, received, note, say, plug, stack.aclose)


@contextlib.asynccontextmanager
async def midi_file_device() -> AsyncIterator[Rig]:
    """A device file that is a pseudo-terminal."""
    with TemporaryDirectory() as folder, midi_file(Path(folder, "midiC1D0")) as device:

        async def received() -> Message:
            return Midi("it", await device.got(len(CC.data)))

        say = lever(lambda: device.says(CC.data))
        port = RawMidiPort("it", str(device.path))
        levers = lever(device.plug), lever(device.unplug)
        yield Rig(port, CC, received, CC, say, *levers)
