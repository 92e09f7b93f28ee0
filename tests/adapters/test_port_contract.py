"""What every port keeps, fake or real: one suite over all of them.

Real are OSC over loopback sockets (UDP, TCP), Modbus over TCP and over two ptys, MIDI
over a JACK server of our own, and MIDI over ALSA's sequencer where the machine has one.
Everywhere, ALSA and GPIO also run over a stand-in of the library's one object, in
tests/fakes.
"""

import asyncio
from collections.abc import AsyncIterator, Iterator
from itertools import pairwise

import pytest

from bridge.adapters import (
    contacts,
    keyboard,
    midi,
    midi_raw,
    modbus,
    osc,
    osc_door,
    osc_tcp,
    osc_tcp_door,
)
from bridge.core.wire import Coil, Contact, Keystroke, Message, Midi, Osc
from bridge.engine.ports import Found, Heard, Lost, PortGone
from tests.adapters.rigs.every import RIGS
from tests.adapters.rigs.rig import Rig
from tests.fakes import jack
from tests.fakes.inbox import Inbox, until
from tests.fakes.programs import needs

JACK = "midi over jack"
NOTE_OF_A_PLAYER = Midi("it", b"\x90\x3c\x40")  # it waits for a port that listens
EVERYTHING = (
    Midi("it", b"\xb0\x07\x40"),
    Osc("it", "/a", (1,)),
    Contact("it", True),
    Coil("it", 0, True),
    Keystroke("it", 48, True),
)


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Look for what is absent more often than in life."""
    adapters = (osc, osc_door, osc_tcp, osc_tcp_door, midi, midi_raw, contacts, modbus)
    for adapter in (*adapters, keyboard):
        monkeypatch.setattr(adapter, "AGAIN_S", 0.05)
    monkeypatch.setattr(modbus, "WATCH_S", 0.05)


@pytest.fixture(scope="module")
def jack_server() -> Iterator[None]:
    with jack.shared_server():
        yield


@pytest.fixture(
    params=[
        pytest.param(rig, marks=needs("jackd")) if rig == JACK else rig for rig in RIGS
    ]
)
async def rig(request: pytest.FixtureRequest) -> AsyncIterator[Rig]:
    if request.param == JACK:
        request.getfixturevalue("jack_server")
    async with RIGS[request.param]() as it:
        yield it
        await it.port.close()


@pytest.fixture
def inbox() -> Iterator[Inbox]:
    """Every arrival, of which presence must alternate in every test."""
    inbox = Inbox()
    yield inbox
    for before, after in pairwise(inbox.presence):
        assert (before, after) != ("found", "found")
    words = [a.why for a in inbox.arrivals if isinstance(a, Lost)]
    assert all(words)
    assert all(
        a.message.port == "it" if isinstance(a, Heard) else True for a in inbox.arrivals
    )


async def plugged(rig: Rig, inbox: Inbox) -> None:
    """Open, plug in, and wait until the port has found its other end."""
    if rig.plug is not None:
        await rig.plug()
    await rig.port.open(inbox)
    await until(lambda: inbox.presence[-1:] == ["found"])


def refused(rig: Rig, message: Message) -> None:
    """Send what cannot be sent: it is raised, and counted once, under some cause."""
    before = sum(rig.port.drops.values())
    with pytest.raises(PortGone, match=r"^it: \w"):
        rig.port.send(message)
    assert sum(rig.port.drops.values()) == before + 1


def misfits(rig: Rig) -> list[Message]:
    kind = type(rig.sends)
    return [message for message in EVERYTHING if type(message) is not kind]


async def test_a_port_has_its_name_and_no_drops_before_it_is_opened(rig: Rig) -> None:
    assert rig.port.name == "it"
    assert rig.port.drops == {}


async def test_before_opening_and_after_closing_nothing_is_sent(
    rig: Rig, inbox: Inbox
) -> None:
    for message in EVERYTHING:
        refused(rig, message)
    await plugged(rig, inbox)
    await rig.port.close()
    for message in EVERYTHING:
        refused(rig, message)


async def test_an_absent_end_is_lost_with_words_and_no_error(
    rig: Rig, inbox: Inbox
) -> None:
    await rig.port.open(inbox)
    first = await inbox.next_presence()
    assert isinstance(first, Found if rig.plug is None else Lost)
    if isinstance(first, Lost):
        for message in EVERYTHING:
            refused(rig, message)
        assert rig.plug is not None
        await rig.plug()
        while not isinstance(await inbox.next_presence(), Found):
            pass


async def test_what_is_sent_arrives_whole_and_in_order(rig: Rig, inbox: Inbox) -> None:
    await plugged(rig, inbox)
    if rig.sends is None or rig.received is None:
        for message in EVERYTHING:
            refused(rig, message)
        return
    for _ in range(3):
        rig.port.send(rig.sends)
        assert await rig.received() == rig.sends
    assert rig.port.drops == {}


async def test_what_is_of_another_kind_is_refused(rig: Rig, inbox: Inbox) -> None:
    await plugged(rig, inbox)
    for message in misfits(rig):
        refused(rig, message)
    assert inbox.presence[-1] == "found", "the port is none the worse"


async def test_what_the_other_end_says_is_heard_in_its_time(
    rig: Rig, inbox: Inbox
) -> None:
    if rig.say is None:
        return
    await plugged(rig, inbox)
    await rig.say()
    heard = await inbox.next_heard()
    assert heard.message == rig.hears
    first = inbox.arrivals[0]
    assert isinstance(first, Found | Lost)
    # One scale for all stamps: nothing is heard before the port was opened.
    assert first.at <= heard.at
    assert rig.port.drops == {}


async def test_the_other_end_may_go_and_come_back(rig: Rig, inbox: Inbox) -> None:
    if rig.plug is None or rig.unplug is None:
        return
    await plugged(rig, inbox)
    for _ in range(2):
        await rig.unplug()
        await until(lambda: inbox.presence[-1] == "lost")
        refused(rig, rig.sends or EVERYTHING[0])
        await rig.plug()
        await until(lambda: inbox.presence[-1] == "found")
        if rig.sends is not None and rig.received is not None:
            rig.port.send(rig.sends)
            assert await rig.received() == rig.sends


async def test_a_closed_port_is_silent_and_may_be_closed_and_opened_again(
    rig: Rig, inbox: Inbox
) -> None:
    await rig.port.close()
    await plugged(rig, inbox)
    await rig.port.close()
    await rig.port.close()
    arrivals = len(inbox.arrivals)
    if rig.say is not None and rig.hears != NOTE_OF_A_PLAYER:
        await rig.say()
    await asyncio.sleep(0)
    assert len(inbox.arrivals) == arrivals
    again = Inbox()
    await rig.port.open(again)
    await until(lambda: again.presence[-1:] == ["found"])
    assert len(inbox.arrivals) == arrivals, "the one who listened before hears nothing"
