"""Benches of OSC: over UDP, over TCP, and the doors that only hear."""

import asyncio
import contextlib
from collections.abc import AsyncIterator
from contextlib import AbstractAsyncContextManager

from bridge.adapters.osc import OscPort
from bridge.adapters.osc_codec import NOTHING, decode, encode
from bridge.adapters.osc_door import OscDoor
from bridge.adapters.osc_frames import Framing, frames
from bridge.adapters.osc_tcp import OscTcpPort
from bridge.adapters.osc_tcp_door import OscTcpDoor
from bridge.core.wire import Message, Osc
from tests.adapters.rigs.rig import LEVEL, SWITCH, Rig, lever
from tests.fakes.tcp_peer import TcpPeer, caller, tcp_peer, tcp_port_with_nobody
from tests.fakes.udp_peer import UdpPeer, port_with_nobody, udp_peer


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
