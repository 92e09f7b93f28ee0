"""One test bench for each kind of port, with the same levers.

A lever that a kind does not have is None: a pedal is not sent to, an imagined contact
is never absent.
"""

import asyncio
import contextlib
import itertools
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory

from alsa_midi import RW_PORT, MidiBytesEvent, SequencerClient
from alsa_midi import Port as AlsaPort

from bridge.adapters.contacts import ContactIn, ContactOut
from bridge.adapters.imagined import ImaginedBoard, ImaginedContact
from bridge.adapters.keyboard import KeyboardPort
from bridge.adapters.midi import SEQUENCER, MidiHub, MidiPort, backend_for
from bridge.adapters.midi_alsa import AlsaBackend
from bridge.adapters.midi_raw import RawMidiPort
from bridge.adapters.modbus import ModbusPort
from bridge.adapters.modbus_line import Line
from bridge.adapters.osc import OscPort
from bridge.adapters.osc_codec import NOTHING, decode, encode
from bridge.adapters.osc_door import OscDoor
from bridge.adapters.osc_frames import Framing, frames
from bridge.adapters.osc_tcp import OscTcpPort
from bridge.adapters.osc_tcp_door import OscTcpDoor
from bridge.adapters.renewal import RenewingPort
from bridge.core.connection import ModbusBoard, Renewal, SerialLine, TcpAddress
from bridge.core.wire import Coil, Contact, Keystroke, Message, Midi, Osc
from bridge.engine.ports import Port
from tests.fakes import jack
from tests.fakes.clock import SimulatedClock
from tests.fakes.contacts import FakeBoard, FakeChip
from tests.fakes.inbox import until
from tests.fakes.key_boxes import PAGE_DOWN, PEDAL, Desktop
from tests.fakes.lines import FakeBoard as FakeRelayBoard
from tests.fakes.lines import FakePedal, FakeRelay
from tests.fakes.midi import FakeMidiPort
from tests.fakes.midi_alsa import FakeSequencer
from tests.fakes.midi_backend import FakeBackend
from tests.fakes.midi_file import midi_file
from tests.fakes.modbus_board import Board, over_serial, over_tcp
from tests.fakes.osc import FakeOscPort
from tests.fakes.port import FakePort
from tests.fakes.programs import Program
from tests.fakes.tcp_peer import TcpPeer, caller, tcp_peer, tcp_port_with_nobody
from tests.fakes.udp_peer import UdpPeer, port_with_nobody, udp_peer

HAS_ALSA = SEQUENCER.exists()
HAS_RTMIDI = find_spec("rtmidi") is not None
"""It has no wheel for Python 3.13, where it is optional."""
CC = Midi("it", b"\xb0\x07\x40")
SWITCH = Osc("it", "/in/1/monitor", (True,))
LEVEL = Osc("it", "/in/1/level", (-12.5,))
DRIVEN = Contact("it", high=True)
PULLED = Coil("it", 0, on=True)
FALLEN = Coil("it", 0, on=False)

PATIENT_S = 2.0
"""A Modbus board's time to answer: on a busy machine a server may need it."""

Lever = Callable[[], Awaitable[None]]


@dataclass
class Rig:
    """A port called "it", and what can be done at its other end."""

    port: Port
    sends: Message | None
    received: Callable[[], Awaitable[Message]] | None
    hears: Message | None
    say: Lever | None
    plug: Lever | None
    unplug: Lever | None


def lever(does: Callable[[], object]) -> Lever:
    """Make something that is done at once awaitable."""

    async def pull() -> None:
        does()

    return pull


@contextlib.asynccontextmanager
async def _fake(port: FakePort, sends: Message, hears: Message) -> AsyncIterator[Rig]:
    port.unplug()
    taken = itertools.count()

    async def received() -> Message:
        return port.received[next(taken)]

    yield Rig(
        port=port,
        sends=sends,
        received=received,
        hears=hears,
        say=lever(lambda: port.says(hears)),
        plug=lever(port.plug),
        unplug=lever(port.unplug),
    )


def fake_osc() -> AbstractAsyncContextManager[Rig]:
    return _fake(FakeOscPort("it", SimulatedClock()), SWITCH, LEVEL)


def fake_midi() -> AbstractAsyncContextManager[Rig]:
    return _fake(FakeMidiPort("it", SimulatedClock()), CC, CC)


def fake_relay() -> AbstractAsyncContextManager[Rig]:
    return _fake(FakeRelay("it", SimulatedClock()), DRIVEN, DRIVEN)


def fake_relay_board() -> AbstractAsyncContextManager[Rig]:
    return _fake(FakeRelayBoard("it", SimulatedClock()), PULLED, FALLEN)


@contextlib.asynccontextmanager
async def fake_pedal() -> AsyncIterator[Rig]:
    port = FakePedal("it", SimulatedClock())
    async with _fake(port, DRIVEN, DRIVEN) as rig:
        rig.sends = rig.received = None
        rig.say = lever(port.drive_high)
        yield rig


@contextlib.asynccontextmanager
async def kept_telling() -> AsyncIterator[Rig]:
    """Gear that is sent something again and again: first of all when it is found."""
    gear = FakeOscPort("it", SimulatedClock())
    follow = Osc("it", "/follow")
    async with _fake(gear, SWITCH, LEVEL) as rig:
        taken = itertools.count()

        async def received() -> Message:
            assert gear.received[0] == follow
            return [m for m in gear.received if m != follow][next(taken)]

        rig.port = RenewingPort(gear, [Renewal(follow, 60_000.0)])
        rig.received = received
        yield rig


@contextlib.asynccontextmanager
async def osc_over_udp() -> AsyncIterator[Rig]:
    """Gear at a socket; unplugged, nobody listens there and the kernel refuses."""
    number = port_with_nobody()
    stack = contextlib.ExitStack()
    peer: list[UdpPeer] = []

    async def plug() -> None:
        peer.append(stack.enter_context(udp_peer(number)))

    async def unplug() -> None:
        stack.close()
        with contextlib.suppress(OSError):  # only a message finds out
            port.send(SWITCH)

    async def received() -> Message:
        while (packet := await peer[-1].packet()) == NOTHING:
            pass
        (message,) = decode(packet, "it")
        assert isinstance(message, Osc)
        return message

    async def say() -> None:
        if peer[-1]._from is None:
            await peer[-1].packet()
        packet = encode(LEVEL)
        assert isinstance(packet, bytes)
        peer[-1].answer(packet)

    port = OscPort("it", "127.0.0.1", number)
    with stack:
        yield Rig(port, SWITCH, received, LEVEL, say, plug, unplug)


@contextlib.asynccontextmanager
async def osc_door() -> AsyncIterator[Rig]:
    """The service's own address; absent while another program has it."""
    stack = contextlib.ExitStack()
    number = port_with_nobody()
    stack.enter_context(udp_peer(number))
    packet = encode(LEVEL)
    assert isinstance(packet, bytes)

    async def say() -> None:
        with udp_peer() as peer:
            peer.say(packet, number)

    with stack:
        port = OscDoor("it", number)
        yield Rig(port, None, None, LEVEL, say, lever(stack.close), None)


@contextlib.asynccontextmanager
async def _osc_over_tcp(framing: Framing) -> AsyncIterator[Rig]:
    """Gear that accepts a connection; unplugged, it hangs up and listens no more."""
    number = tcp_port_with_nobody()
    stack = contextlib.ExitStack()
    peer: list[TcpPeer] = []
    packet, answer = encode(SWITCH), encode(LEVEL)
    assert isinstance(packet, bytes)
    assert isinstance(answer, bytes)

    async def plug() -> None:
        peer.append(stack.enter_context(tcp_peer(number)))

    async def unplug() -> None:
        if peer[-1].is_free:
            await peer[-1].accept()
        stack.close()

    async def received() -> Message:
        if peer[-1].is_free:
            await peer[-1].accept()
        data = await peer[-1].read(len(frames(framing).framed(packet)))
        (whole,) = frames(framing).feed(data)
        assert isinstance(whole, bytes)
        (message,) = decode(whole, "it")
        assert isinstance(message, Osc)
        return message

    async def say() -> None:
        await peer[-1].say(frames(framing).framed(answer))

    port = OscTcpPort("it", "127.0.0.1", number, framing)
    with stack:
        yield Rig(port, SWITCH, received, LEVEL, say, plug, unplug)


def osc_over_tcp() -> AbstractAsyncContextManager[Rig]:
    return _osc_over_tcp("length")


def osc_over_slip() -> AbstractAsyncContextManager[Rig]:
    return _osc_over_tcp("slip")


@contextlib.asynccontextmanager
async def osc_tcp_door() -> AsyncIterator[Rig]:
    """A port for buttons; absent while another program has it."""
    stack = contextlib.ExitStack()
    number = tcp_port_with_nobody()
    stack.enter_context(tcp_peer(number))
    packet = encode(LEVEL)
    assert isinstance(packet, bytes)
    port = OscTcpDoor("it", number, "slip", host="127.0.0.1", allow=("127.0.0.1",))

    async def say() -> None:
        if port._server is None:
            return  # a closed port refuses, as it must
        async with caller(number) as button:
            loop = asyncio.get_running_loop()
            await loop.sock_sendall(button, frames("slip").framed(packet))

    with stack:
        yield Rig(port, None, None, LEVEL, say, lever(stack.close), None)


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


@contextlib.asynccontextmanager
async def contact_out() -> AsyncIterator[Rig]:
    """The chip is a stand-in. Absent: somebody has the line."""
    board = FakeBoard(FakeChip("gpiochip0", "main", {17: "GPIO17"}))
    line = board.chips["/dev/gpiochip0"].lines[17]
    line.consumer = "somebody"

    async def received() -> Message:
        return Contact("it", high=line.history[-1] == "driven")

    async def plug() -> None:
        line.consumer = None

    port = ContactOut("it", 17, board=board.access)
    yield Rig(port, DRIVEN, received, None, None, plug, None)


@contextlib.asynccontextmanager
async def contact_in() -> AsyncIterator[Rig]:
    """As above; unplugged, the chip itself is pulled out."""
    path = "/dev/gpiochip0"
    board = FakeBoard(FakeChip("gpiochip0", "main", {17: "GPIO17"}))
    line = board.chips[path].lines[17]
    line.consumer = "somebody"

    async def plug() -> None:
        line.consumer = None

    async def unplug() -> None:
        board.chips[path].requests[17].break_down()
        line.pulled = None
        await until(lambda: line.history[-1] == "let go")
        line.consumer = "somebody"

    def say() -> None:
        board.wire(path, 17, level=False)

    port = ContactIn("it", 17, board=board.access)
    yield Rig(port, None, None, DRIVEN, lever(say), plug, unplug)


def _board_rig(port: Port, board: Board, plug: Lever, unplug: Lever) -> Rig:
    """A board whose relay was pulled by somebody before we came, and falls."""
    board.move(0, on=True)
    taken = itertools.count()

    async def received() -> Message:
        number = next(taken)
        await until(lambda: len(board.wrote) > number)
        (first, (on,)) = board.wrote[number]
        return Coil("it", first, on)

    def say() -> None:
        board.move(0, on=False)

    return Rig(port, PULLED, received, FALLEN, lever(say), plug, unplug)


@contextlib.asynccontextmanager
async def modbus_over_tcp() -> AsyncIterator[Rig]:
    """A real server; unplugged, nobody listens at its port."""
    number, board = port_with_nobody(), Board()
    stack = contextlib.AsyncExitStack()
    place = TcpAddress("127.0.0.1", number)
    port = ModbusPort(ModbusBoard("it", place), Line(place, PATIENT_S))

    async def plug() -> None:
        await stack.enter_async_context(over_tcp(board, port=number))

    async def unplug() -> None:
        await stack.aclose()
        await until(lambda: not port._presence.is_found)

    async with stack:
        yield _board_rig(port, board, plug, unplug)
        await port.close()


@contextlib.asynccontextmanager
async def modbus_over_serial() -> AsyncIterator[Rig]:
    """A real server behind two ptys; unplugged, the adapter's device is gone."""
    board = Board()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "adapter"
        place = SerialLine(str(path))
        port = ModbusPort(ModbusBoard("it", place), Line(place, PATIENT_S))
        async with over_serial(path, board) as cable:
            yield _board_rig(port, board, lever(cable.plug), lever(cable.unplug))
            await port.close()


@contextlib.asynccontextmanager
async def imagined_board() -> AsyncIterator[Rig]:
    port = ImaginedBoard("it")

    async def received() -> Message:
        return Coil("it", 0, on=port.coils[0])

    yield Rig(port, PULLED, received, None, None, None, None)


@contextlib.asynccontextmanager
async def keyboard() -> AsyncIterator[Rig]:
    """A box with keys; its descriptor and its events are real, the kernel is not."""
    desk = Desktop()

    def say() -> None:
        for device in desk.devices:
            device.moves(PAGE_DOWN, 1)

    port = KeyboardPort("it", PEDAL, board=desk.board)
    hears = Keystroke("it", PAGE_DOWN, down=True)
    levers = lever(desk.plug), lever(desk.unplug)
    yield Rig(port, None, None, hears, lever(say), *levers)


@contextlib.asynccontextmanager
async def imagined() -> AsyncIterator[Rig]:
    port = ImaginedContact("it")

    async def received() -> Message:
        return Contact("it", high=port.is_driven)

    yield Rig(port, DRIVEN, received, None, None, None, None)


RIGS: dict[str, Callable[[], AbstractAsyncContextManager[Rig]]] = {
    "fake osc": fake_osc,
    "fake midi": fake_midi,
    "fake relay": fake_relay,
    "fake relay board": fake_relay_board,
    "fake pedal": fake_pedal,
    "kept telling": kept_telling,
    "osc over udp": osc_over_udp,
    "osc door": osc_door,
    "osc over tcp": osc_over_tcp,
    "osc over slip": osc_over_slip,
    "osc tcp door": osc_tcp_door,
    "midi on a bench": midi_on_a_bench,
    "midi over alsa": midi_over_alsa,
    **({"midi over jack": midi_over_jack} if HAS_RTMIDI else {}),
    **({"midi over a real sequencer": midi_over_a_real_sequencer} if HAS_ALSA else {}),
    "midi device file": midi_file_device,
    "contact out": contact_out,
    "contact in": contact_in,
    "keyboard": keyboard,
    "imagined contact": imagined,
    "imagined board": imagined_board,
    "modbus over tcp": modbus_over_tcp,
    "modbus over serial": modbus_over_serial,
}
