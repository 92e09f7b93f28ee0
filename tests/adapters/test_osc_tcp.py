"""OSC over TCP: plain sockets, liblo's programs and tshark at the other end."""

import asyncio
import contextlib
import socket
from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from bridge.adapters import osc_tcp, tcp
from bridge.adapters.osc_codec import encode
from bridge.adapters.osc_frames import Framing, frames
from bridge.adapters.osc_tcp import OscTcpPort
from bridge.adapters.osc_tcp_door import CONNECTIONS, OscTcpDoor
from bridge.adapters.rate import BURST
from bridge.core.wire import Osc
from bridge.engine.ports import Found, Lost, Port, PortGone
from tests.fakes.inbox import Inbox, until
from tests.fakes.programs import needs, run, running
from tests.fakes.tcp_peer import caller, tcp_peer, tcp_port_with_nobody

FRAMINGS: list[Framing] = ["length", "slip"]
MUTE = Osc("desk", "/in/1/monitor", (False,))
PAUSES = (0.02, 0.04, 0.08, 0.08)
LONG = Osc("desk", "/a", ("x" * 1000,))


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(osc_tcp, "AGAIN_S", 0.02)
    monkeypatch.setattr(osc_tcp, "LONGEST_S", 0.08)


@contextlib.asynccontextmanager
async def opened(port: Port) -> AsyncIterator[Inbox]:
    inbox = Inbox()
    await port.open(inbox)
    try:
        yield inbox
    finally:
        await port.close()


def wire(message: Osc, framing: Framing) -> bytes:
    packet = encode(message)
    assert isinstance(packet, bytes)
    return frames(framing).framed(packet)


def bundle(*messages: Osc) -> bytes:
    packets = [encode(m) for m in messages]
    sized = b"".join(len(p).to_bytes(4) + p for p in packets if isinstance(p, bytes))
    return b"#bundle\0\0\0\0\0\0\0\0\1" + sized


@pytest.mark.parametrize("framing", FRAMINGS)
async def test_bundles_come_in_however_they_are_cut(framing: Framing) -> None:
    one, two = Osc("desk", "/a", (1,)), Osc("desk", "/b", ("\x7f", 0.5))
    stream = frames(framing).framed(bundle(one, two)) + wire(MUTE, framing)
    with tcp_peer() as peer:
        async with opened(OscTcpPort("desk", "127.0.0.1", peer.port, framing)) as inbox:
            await peer.accept()
            for byte in stream:
                await peer.say(bytes((byte,)))
            await until(lambda: inbox.heard == [one, two, MUTE])


async def test_bytes_without_sense_end_the_connection_and_it_is_made_anew() -> None:
    with tcp_peer() as peer:
        port = OscTcpPort("desk", "localhost", peer.port, "length")
        async with opened(port) as inbox:
            await peer.say(wire(MUTE, "slip"))
            await until(lambda: inbox.presence == ["found", "lost", "found"])
            lost = inbox.arrivals[1]
            assert isinstance(lost, Lost)
            assert lost.why == (
                f"localhost port {peer.port} has no TCP connection (what came is no "
                "packet with its length before it): see that the gear is on, its "
                "network cable is in, and that it speaks OSC over TCP there, with the "
                "length before each packet (else write over: tcp slip)"
            )
            assert port.drops == {"not a packet's length": 1}


async def test_gear_that_hangs_up_again_and_again_is_not_stormed() -> None:
    with tcp_peer() as peer:
        async with opened(OscTcpPort("desk", "127.0.0.1", peer.port, "slip")) as inbox:
            pauses: list[float] = []
            at = asyncio.get_running_loop().time()
            for _ in range(5):
                await peer.accept()
                now = asyncio.get_running_loop().time()
                pauses, at = [*pauses, now - at], now
                peer.hang_up()
                while not isinstance(await inbox.next_presence(), Lost):
                    pass
        # A timer is never early, so these hold on the slowest machine too.
        assert all(p >= q for p, q in zip(pauses[1:], PAUSES, strict=True))


async def test_gear_that_reads_nothing_is_told_little_and_cut_off(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(tcp, "STUCK_S", 0.05)
    with tcp_peer(keeps=4096) as peer:
        port = OscTcpPort("desk", "127.0.0.1", peer.port, "length")
        async with opened(port) as inbox:
            await peer.accept()
            sent = 0
            while not port.drops:
                with contextlib.suppress(PortGone):
                    port.send(LONG)
                    sent += 1
            with pytest.raises(PortGone, match="reads too slowly"):
                port.send(LONG)
            assert port.drops == {"too much waits already": 2}
            # The kernel doubles both sizes that it is given (socket(7)).
            assert sent * 1000 < tcp.OUT_BYTES + 4 * tcp.KERNEL_BYTES + 4 * 4096
            await until(lambda: "lost" in inbox.presence)
            lost = inbox.arrivals[1]
            assert isinstance(lost, Lost)
            assert "the other end takes nothing" in lost.why


async def test_gear_that_is_not_there_is_found_when_it_comes() -> None:
    number = tcp_port_with_nobody()
    port = OscTcpPort("desk", "127.0.0.1", number, "length")
    async with opened(port) as inbox:
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert "has no TCP connection (Connection refused): see" in lost.why
        with tcp_peer(number):
            assert isinstance(await inbox.next_presence(), Found)


async def test_a_socket_is_never_joined_to_itself(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The kernel does so if it picks the very port that is called (RFC 9293, 3.5)."""
    number, as_usual = tcp_port_with_nobody(), tcp.small_and_watched

    def of_that_port(sock: socket.socket) -> None:
        as_usual(sock)
        sock.bind(("127.0.0.1", number))

    monkeypatch.setattr(tcp, "small_and_watched", of_that_port)
    async with opened(OscTcpPort("desk", "127.0.0.1", number, "length")) as inbox:
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert "nobody listens there" in lost.why


# Buttons


async def door(framing: Framing, inbox: Inbox) -> tuple[OscTcpDoor, int]:
    number = tcp_port_with_nobody()
    it = OscTcpDoor("it", number, framing, host="127.0.0.1", allow=("127.0.0.1",))
    await it.open(inbox)
    return it, number


@pytest.mark.parametrize("framing", FRAMINGS)
async def test_a_button_may_connect_and_a_stranger_may_not(framing: Framing) -> None:
    inbox, press = Inbox(), Osc("it", "/pedal", (1,))
    it, number = await door(framing, inbox)
    loop = asyncio.get_running_loop()
    async with caller(number, "127.0.0.2") as stranger, caller(number) as button:
        with contextlib.suppress(ConnectionError):
            await loop.sock_sendall(stranger, wire(Osc("it", "/other"), framing))
        await loop.sock_sendall(button, wire(press, framing))
        await until(lambda: inbox.heard == [press])
        with contextlib.suppress(ConnectionResetError):
            assert await loop.sock_recv(stranger, 1) == b""
    assert it.drops == {"from a stranger": 1}
    await it.close()


async def test_one_sender_is_held_to_a_rate_and_to_a_few_connections() -> None:
    inbox, press = Inbox(), Osc("it", "/pedal", (1,))
    it, number = await door("length", inbox)
    loop = asyncio.get_running_loop()
    async with contextlib.AsyncExitStack() as stack:
        callers = []
        for _ in range(CONNECTIONS + 2):
            made = await stack.enter_async_context(caller(number))
            callers.append(made)
            await loop.sock_sendall(made, wire(press, "length") * 40)
        await until(lambda: it.drops.get("too many connections", 0) == 2)
        await until(lambda: it.drops.get("too fast", 0) > 0)
        assert len(inbox.heard) < (CONNECTIONS + 2) * 40
        assert len(inbox.heard) >= BURST
        assert len(it._guests) == CONNECTIONS
        for oldest in callers[:2]:
            with contextlib.suppress(ConnectionResetError):
                assert await loop.sock_recv(oldest, 1) == b"", "it was hung up on"
    await until(lambda: it._guests == [])
    await it.close()


# Other people's programs


@needs("oscdump")
async def test_liblo_prints_what_is_sent_over_tcp() -> None:
    number = tcp_port_with_nobody()
    port = OscTcpPort("desk", "127.0.0.1", number, "length")
    async with (
        running("oscdump", "-L", f"osc.tcp://:{number}") as dump,
        opened(port) as inbox,
    ):
        while isinstance(await inbox.next_presence(), Lost):
            pass
        for _ in range(2):
            port.send(Osc("desk", "/scene", (True, 3, 0.5, "late show", False)))
            line = await dump.line()
            want = '/scene TifsF #T 3 0.500000 "late show" #F'
            assert line.split(maxsplit=1)[1] == want


@needs("oscsend")
async def test_liblo_presses_over_tcp() -> None:
    inbox = Inbox()
    it, number = await door("length", inbox)
    url = f"osc.tcp://127.0.0.1:{number}"
    await run("oscsend", url, "/a/b", "sifT", "talk back", "-3", "0.5")
    heard = (await inbox.next_heard()).message
    assert heard == Osc("it", "/a/b", ("talk back", -3, 0.5, True))
    await it.close()


@needs("text2pcap", "tshark")
@pytest.mark.parametrize("framing", FRAMINGS)
async def test_tshark_reads_what_goes_over_the_wire(
    tmp_path: Path, framing: Framing
) -> None:
    level = Osc("desk", "/strip/1/to/2", (0.5, 192, "dim"))
    data = wire(level, framing)
    with tcp_peer() as peer:
        port = OscTcpPort("desk", "127.0.0.1", peer.port, framing)
        async with opened(port):
            port.send(level)
            await peer.accept()
            assert await peer.read(len(data)) == data
    dump, capture = tmp_path / "dump", tmp_path / "dump.pcap"
    lines = [
        f"{at:06x} {data[at : at + 16].hex(' ')}" for at in range(0, len(data), 16)
    ]
    dump.write_text("\n".join(lines) + "\n")
    await run("text2pcap", "-q", "-T", "5000,9101", str(dump), str(capture))
    fields = ("path", "format")
    shown = [f"-eosc.message.header.{field}" for field in fields]
    values = [f"-eosc.message.{kind}" for kind in ("float", "int32", "string")]
    how = ("-d", "tcp.port==9101,osc", "-Tfields", *shown, *values)
    read = await run("tshark", "-r", str(capture), *how, HOME=str(tmp_path))
    assert read.splitlines()[-1] == "/strip/1/to/2\t,fis\t0.5\t192\tdim"
