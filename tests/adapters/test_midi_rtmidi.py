"""MIDI over a real JACK server of our own, with its example programs as peers."""

import contextlib
import signal
import sys
from collections.abc import AsyncIterator, Iterator

import pytest

from bridge.adapters.midi import MidiHub, MidiPort
from bridge.adapters.midi_rtmidi import BYTES_UNDER_WAY, RtmidiBackend
from bridge.core.midi_stream import EXCLUSIVE_BYTES
from bridge.core.wire import Midi
from bridge.engine.ports import Found, Lost, PortGone
from tests.fakes import jack
from tests.fakes.inbox import Inbox, until
from tests.fakes.programs import needs

pytestmark = needs("jackd", "jack_lsp", "jack_midi_dump", "jack_midiseq")

MUTE = Midi("desk", b"\xb0\x07\x00")


@pytest.fixture(scope="module")
def shared() -> Iterator[None]:
    with jack.shared_server():
        yield


@pytest.fixture
def own(monkeypatch: pytest.MonkeyPatch) -> None:
    jack.own_server(monkeypatch)


@contextlib.asynccontextmanager
async def opened(port: MidiPort) -> AsyncIterator[Inbox]:
    inbox = Inbox()
    await port.open(inbox)
    try:
        yield inbox
    finally:
        await port.close()


async def is_found(inbox: Inbox) -> None:
    while not isinstance(await inbox.next_presence(), Found):
        pass


@pytest.mark.usefixtures("shared")
async def test_other_programs_connect_to_a_virtual_device() -> None:
    async with jack.dump("peer") as peer:
        port = MidiPort("desk", "virtual", MidiHub(RtmidiBackend()))
        async with opened(port) as inbox:
            await is_found(inbox)
            names = await jack.ports()
            assert {"treadle-desk-in:in", "treadle-desk-out:out"} <= set(names)
            await jack.connect("treadle-desk-out:out", "peer:input")
            port.send(MUTE)
            assert " b0 07 00 control change" in await peer.line()
            port.send(Midi("desk", b"\xf0\x7e\x7f\x06\x01\xf7"))
            assert " f0 7e 7f 06 01 f7" in await peer.line()


@pytest.mark.usefixtures("shared")
async def test_a_named_program_is_sent_to_in_order() -> None:
    async with jack.dump("peer") as peer:
        port = MidiPort("desk", "peer", MidiHub(RtmidiBackend()))
        async with opened(port) as inbox:
            await is_found(inbox)
            for value in range(100):
                port.send(Midi("desk", bytes((0xB0, 7, value))))
            for value in range(100):
                assert f" b0 07 {value:02x} control change" in await peer.line()
        assert "treadle-desk-out:out" not in await jack.ports()


@pytest.mark.usefixtures("shared")
async def test_a_named_program_is_heard() -> None:
    port = MidiPort("pad", "player", MidiHub(RtmidiBackend()))
    async with jack.player("player"), opened(port) as inbox:
        note_on = Midi("pad", b"\x90\x3c\x40")
        note_off = Midi("pad", b"\x80\x3c\x40")
        heard = [(await inbox.next_heard()) for _ in range(4)]
        assert {h.message for h in heard} == {note_on, note_off}
        times = [h.at for h in heard]
        assert times == sorted(times)


@pytest.mark.usefixtures("shared")
async def test_a_program_that_comes_and_goes_is_found_and_lost() -> None:
    port = MidiPort("desk", "peer", MidiHub(RtmidiBackend()))
    async with opened(port) as inbox:
        assert isinstance(await inbox.next_presence(), Lost)
        for _ in range(2):
            async with jack.dump("peer") as peer:
                await is_found(inbox)
                port.send(MUTE)
                assert " b0 07 00 control change" in await peer.line()
            lost = await inbox.next_presence()
            assert isinstance(lost, Lost)
            assert 'no MIDI device is called "peer"' in lost.why


@pytest.mark.usefixtures("own")
async def test_no_server_is_lost_and_found_when_it_comes() -> None:
    port = MidiPort("desk", "virtual", MidiHub(RtmidiBackend()))
    async with opened(port) as inbox:
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert lost.why.startswith("no JACK server is running for this user: start it")
        async with jack.server():
            assert isinstance(await inbox.next_presence(), Found)


@pytest.mark.usefixtures("own")
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSTOP])
async def test_a_server_that_dies_or_hangs_costs_no_more_than_the_port(
    number: signal.Signals,
) -> None:
    port = MidiPort("desk", "virtual", MidiHub(RtmidiBackend()))
    async with opened(port) as inbox:
        async with jack.server() as server:
            await is_found(inbox)
            server.signal(number)
            taken = 0

            def send_as_much_as_possible() -> bool:
                nonlocal taken
                with contextlib.suppress(PortGone):
                    for _ in range(1000):
                        port.send(MUTE)
                        taken += 1
                return inbox.presence[-1] == "lost"

            await until(send_as_much_as_possible)
            assert 0 < taken <= BYTES_UNDER_WAY
            lost = await inbox.next_presence()
            assert isinstance(lost, Lost)
            assert lost.why == "the JACK server does not run any more: start it again"
            server.signal(signal.SIGKILL)
        async with jack.server():
            await is_found(inbox)
            port.send(MUTE)


@pytest.mark.usefixtures("shared")
async def test_more_than_the_server_takes_is_refused_and_counted() -> None:
    port = MidiPort("desk", "virtual", MidiHub(RtmidiBackend()))
    async with opened(port) as inbox:
        await is_found(inbox)
        for _ in range(BYTES_UNDER_WAY // (len(MUTE.data) + 4)):
            port.send(MUTE)
        with pytest.raises(PortGone, match="does not take messages as fast"):
            port.send(MUTE)
        assert port.drops == {"not taken": 1}
        longest = Midi("desk", b"\xf0" + bytes(EXCLUSIVE_BYTES - 2) + b"\xf7")

        def can_send() -> bool:
            try:
                port.send(longest)
            except PortGone:
                return False
            return True

        await until(can_send)


@pytest.mark.usefixtures("shared")
async def test_a_helper_that_is_killed_is_replaced() -> None:
    backend = RtmidiBackend()
    port = MidiPort("desk", "virtual", MidiHub(backend))
    async with opened(port) as inbox:
        await is_found(inbox)
        assert backend.helper is not None
        backend.helper.kill()
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert lost.why == "the MIDI helper process ended"
        await is_found(inbox)


@pytest.mark.usefixtures("shared")
async def test_a_helper_that_hangs_is_ended_and_replaced() -> None:
    backend = RtmidiBackend()
    port = MidiPort("desk", "virtual", MidiHub(backend))
    async with opened(port) as inbox:
        await is_found(inbox)
        assert backend.helper is not None
        backend.helper.send_signal(signal.SIGSTOP)
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert lost.why == "the JACK server hangs: the MIDI helper process was ended"
        await is_found(inbox)


@pytest.mark.usefixtures("own")
async def test_closing_ends_the_helper() -> None:
    backend = RtmidiBackend()
    port = MidiPort("desk", "virtual", MidiHub(backend))
    async with opened(port) as inbox:
        await inbox.next_presence()
        helper = backend.helper
        assert helper is not None
    assert helper.returncode is not None
    assert backend.helper is None


SENSES = """
import rtmidi, signal, time
senses = True
def toggle(*_):
    global senses
    senses = not senses
signal.signal(signal.SIGUSR1, toggle)
out = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="desk")
out.open_virtual_port("out")
while True:
    if senses:
        out.send_message([0xFE])
    time.sleep(0.2)
"""
"""A desk that tells that it is there, until a signal makes it hang, or go on."""


@pytest.mark.usefixtures("shared")
async def test_a_sender_that_hangs_is_lost_by_its_silence_alone() -> None:
    """Its port is there all the time. MIDI 1.0, active sensing: at most 300 ms."""
    port = MidiPort("desk", "desk", MidiHub(RtmidiBackend()))
    command = (sys.executable, "-c", SENSES)
    async with jack.peer(*command, port="desk:out") as desk, opened(port) as inbox:
        await is_found(inbox)
        await until(lambda: port._sensing._timer is not None)
        desk.signal(signal.SIGUSR1)
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert "fallen silent" in lost.why
        desk.signal(signal.SIGUSR1)
        assert isinstance(await inbox.next_presence(), Found)
        assert (inbox.heard, port.drops) == ([], {})
