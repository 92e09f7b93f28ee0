"""Gear over OSC and UDP, with plain sockets and with liblo's programs as peers."""

import asyncio
import contextlib
from collections.abc import AsyncIterator
from selectors import SelectorKey

import pytest

from bridge.adapters import lookup, osc
from bridge.adapters.osc import OscPort
from bridge.adapters.osc_codec import NOTHING, encode
from bridge.core.wire import Midi, Osc
from bridge.engine.ports import Found, Lost, PortGone
from tests.fakes.inbox import Inbox, until
from tests.fakes.programs import needs, run, running
from tests.fakes.udp_peer import UdpPeer, port_with_nobody, udp_peer

MUTE = Osc("desk", "/in/1/monitor", (False,))


@contextlib.asynccontextmanager
async def opened(port: OscPort) -> AsyncIterator[Inbox]:
    inbox = Inbox()
    await port.open(inbox)
    try:
        yield inbox
    finally:
        await port.close()


async def first_message(peer: UdpPeer) -> bytes:
    """Skip the packets that only ask whether anybody is there."""
    while (packet := await peer.packet()) == NOTHING:
        pass
    return packet


async def test_gear_that_refuses_nothing_is_found_and_gets_the_bytes() -> None:
    with udp_peer() as peer:
        port = OscPort("desk", "127.0.0.1", peer.port)
        async with opened(port) as inbox:
            assert isinstance(await inbox.next_presence(), Found)
            port.send(MUTE)
            assert await first_message(peer) == encode(MUTE)


async def test_an_answer_from_the_gear_s_own_address_is_heard() -> None:
    with udp_peer() as peer, udp_peer() as other_port_of_the_gear:
        port = OscPort("desk", "127.0.0.1", peer.port)
        async with opened(port) as inbox:
            await peer.packet()
            peer.answer(b"/a\0\0,i\0\0\0\0\0\1")
            assert (await inbox.next_heard()).message == Osc("desk", "/a", (1,))
            other_port_of_the_gear._from = peer._from
            other_port_of_the_gear.answer(b"/b\0\0,T\0\0")
            assert (await inbox.next_heard()).message == Osc("desk", "/b", (True,))
            assert port.drops == {}


async def test_gear_may_answer_to_a_port_of_its_own_choice() -> None:
    listen = port_with_nobody()
    with udp_peer() as peer:
        port = OscPort("desk", "127.0.0.1", peer.port, listen=listen)
        async with opened(port) as inbox:
            peer.say(b"/a\0\0,\0\0\0", listen)
            assert (await inbox.next_heard()).message == Osc("desk", "/a")


async def test_a_stranger_is_counted_and_not_heard() -> None:
    with udp_peer() as peer, udp_peer(host="127.0.0.2") as stranger:
        port = OscPort("desk", "127.0.0.1", peer.port)
        async with opened(port) as inbox:
            await peer.packet()
            stranger._from = peer._from
            stranger.answer(b"/a\0\0,i\0\0\0\0\0\1")
            await until(lambda: port.drops == {"from a stranger": 1})
            assert inbox.heard == []


async def test_a_bad_packet_is_counted_by_cause() -> None:
    with udp_peer() as peer:
        port = OscPort("desk", "127.0.0.1", peer.port)
        async with opened(port) as inbox:
            await peer.packet()
            for packet in (b"", b"/a", b"/*\0\0,\0\0\0", b"/a\0\0,N\0\0", bytes(9000)):
                peer.answer(packet)
            peer.answer(b"/z\0\0,\0\0\0")
            assert (await inbox.next_heard()).message == Osc("desk", "/z")
            assert port.drops == {
                "not an OSC message": 2,
                "address pattern": 1,
                "argument of a type that is not used here": 1,
                "packet too long": 1,
            }


async def test_gear_that_is_not_there_is_lost_and_found_when_it_comes() -> None:
    number = port_with_nobody()
    port = OscPort("desk", "127.0.0.1", number)
    async with opened(port) as inbox:
        lost = await inbox.next_presence()
        assert lost == Lost(
            "desk",
            f"127.0.0.1 port {number} cannot be reached (Connection refused): see that "
            "the gear is on, its network cable is in, and this is its OSC address and "
            "port",
            lost.at,
        )
        with pytest.raises(PortGone, match=r"desk: 127\.0\.0\.1 port .* cannot be"):
            port.send(MUTE)
        with udp_peer(number) as peer:
            assert isinstance(await inbox.next_presence(), Found)
            port.send(MUTE)
            assert await first_message(peer) == encode(MUTE)
        assert inbox.presence == ["lost", "found"]
        assert port.drops == {"sent while lost": 1}


async def test_gear_that_dies_is_lost_once_at_the_first_refusal() -> None:
    with udp_peer() as peer:
        port = OscPort("desk", "127.0.0.1", peer.port)
        inbox = Inbox()
        await port.open(inbox)
        assert isinstance(await inbox.next_presence(), Found)
    port.send(MUTE)  # the kernel takes it; the refusal comes back afterwards
    assert isinstance(await inbox.next_presence(), Lost)
    with pytest.raises(PortGone):
        port.send(MUTE)
    await port.close()
    assert inbox.presence == ["found", "lost"]


async def test_a_refusal_that_waits_does_not_swallow_the_next_message() -> None:
    with udp_peer() as peer:
        port = OscPort("desk", "127.0.0.1", peer.port)
        inbox = Inbox()
        await port.open(inbox)
        await inbox.next_presence()
        number = peer.port
    port.send(MUTE)  # refused, but the loop has not been told yet
    with udp_peer(number) as peer:
        port.send(MUTE)
        assert await first_message(peer) == encode(MUTE)
    await port.close()


async def test_a_network_that_is_not_there_is_lost_with_the_system_s_words() -> None:
    port = OscPort("desk", "255.255.255.255", 9)  # sending there is not permitted
    async with opened(port) as inbox:
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert "Permission denied" in lost.why


async def test_a_name_is_resolved_and_a_wrong_one_is_lost() -> None:
    with udp_peer() as peer:
        port = OscPort("desk", "localhost", peer.port)
        async with opened(port) as inbox:
            assert isinstance(await inbox.next_presence(), Found | Lost)
    port = OscPort("desk", "no.such.name.invalid", 9)  # RFC 2606 keeps it unused
    async with opened(port) as inbox:
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert lost.why.startswith("no.such.name.invalid port 9 cannot be reached (")
    port = OscPort("desk", "a..b", 9)
    async with opened(port) as inbox:
        assert isinstance(await inbox.next_presence(), Lost)


async def test_a_name_server_that_is_silent_does_not_hold_the_service(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked = 0

    async def silent(host: str) -> str:
        nonlocal asked
        asked += 1
        await until(lambda: False)
        return host

    monkeypatch.setattr(lookup, "resolve", silent)
    monkeypatch.setattr(lookup, "RESOLVE_S", 0.01)
    monkeypatch.setattr(osc, "AGAIN_S", 0.01)
    port = OscPort("desk", "desk.local", 9)
    async with opened(port) as inbox:
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert "the name server does not answer" in lost.why
        first = port._settling
        await until(lambda: port._settling is not first)
        await until(lambda: port._settling is not None and port._settling.done())
    assert asked == 1, "a look-up that hangs is waited for, not started again"


async def test_what_osc_cannot_carry_is_refused_and_counted() -> None:
    with udp_peer() as peer:
        port = OscPort("desk", "127.0.0.1", peer.port)
        async with opened(port) as inbox:
            await inbox.next_presence()
            with pytest.raises(
                PortGone, match="number that OSC cannot carry: desk: /a"
            ):
                port.send(Osc("desk", "/a", (float("nan"),)))
            with pytest.raises(PortGone, match="not OSC: desk: B0 07 7F"):
                port.send(Midi("desk", b"\xb0\x07\x7f"))
            assert port.drops == {"number that OSC cannot carry": 1, "not OSC": 1}


async def test_a_listening_port_that_is_taken_is_said_so() -> None:
    with udp_peer() as peer, udp_peer(host="0.0.0.0") as taken:
        port = OscPort("desk", "127.0.0.1", peer.port, listen=taken.port)
        async with opened(port) as inbox:
            lost = await inbox.next_presence()
            assert isinstance(lost, Lost)
            assert f"port {taken.port} of this computer: Address already" in lost.why


async def test_refusals_do_not_keep_the_loop_awake(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    port = OscPort("desk", "127.0.0.1", port_with_nobody())
    async with opened(port) as inbox:
        await inbox.next_presence()
        sock = port._udp._socket
        assert sock is not None
        wakes = 0
        selector = asyncio.get_running_loop()._selector  # type: ignore[attr-defined]
        select = selector.select

        def counted(timeout: float | None = None) -> list[tuple[SelectorKey, int]]:
            nonlocal wakes
            events: list[tuple[SelectorKey, int]] = select(timeout)
            wakes += any(key.fd == sock.fileno() for key, _ in events)
            return events

        monkeypatch.setattr(selector, "select", counted)
        timer = port._timer
        await until(lambda: port._timer is not timer)  # the next question, and
        await until(lambda: wakes > 0)  # the next refusal
        assert wakes < 5


@needs("oscdump")
async def test_liblo_prints_what_is_sent() -> None:
    number = port_with_nobody()
    port = OscPort("desk", "127.0.0.1", number)
    async with running("oscdump", "-L", str(number)) as dump, opened(port) as inbox:
        while isinstance(await inbox.next_presence(), Lost):
            pass
        port.send(Osc("desk", "/scene", (True, 3, 0.5, "late show", False)))
        line = await dump.line()
        # Its own time stamp stands before; liblo prints truth as a name.
        assert line.split(maxsplit=1)[1] == '/scene TifsF #T 3 0.500000 "late show" #F'


@needs("oscsend")
async def test_liblo_is_heard() -> None:
    listen = port_with_nobody()
    with udp_peer() as peer:
        port = OscPort("desk", "127.0.0.1", peer.port, listen=listen)
        async with opened(port) as inbox:
            url = f"osc.udp://127.0.0.1:{listen}"
            await run("oscsend", url, "/a/b", "sifTF", "talk back", "-3", "0.5")
            heard = (await inbox.next_heard()).message
            assert heard == Osc("desk", "/a/b", ("talk back", -3, 0.5, True, False))


async def test_closing_twice_and_before_opening_is_harmless() -> None:
    port = OscPort("desk", "127.0.0.1", 9)
    await port.close()
    inbox = Inbox()
    await port.open(inbox)
    await port.close()
    await port.close()
    with pytest.raises(PortGone, match="the port is closed"):
        port.send(MUTE)
