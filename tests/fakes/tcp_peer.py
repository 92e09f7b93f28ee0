"""Gear at the other end of a TCP connection, made of nothing but sockets."""

import asyncio
import contextlib
import socket
from collections.abc import AsyncIterator, Iterator

PATIENCE_S = 20.0


class TcpPeer:
    """Gear that listens at a port of this machine and accepts one after the other."""

    def __init__(self, listener: socket.socket) -> None:
        self._listener = listener
        self._made: socket.socket | None = None

    @property
    def port(self) -> int:
        return int(self._listener.getsockname()[1])

    @property
    def is_free(self) -> bool:
        """Whether nobody is connected."""
        return self._made is None

    async def accept(self) -> None:
        """Wait for the next connection; the one before stays as it is."""
        loop = asyncio.get_running_loop()
        async with asyncio.timeout(PATIENCE_S):
            self._made, _ = await loop.sock_accept(self._listener)

    async def read(self, size: int) -> bytes:
        """Exactly so many bytes of what came in."""
        assert self._made is not None
        loop, taken = asyncio.get_running_loop(), b""
        async with asyncio.timeout(PATIENCE_S):
            while len(taken) < size:
                data = await loop.sock_recv(self._made, size - len(taken))
                assert data, "the connection ended"
                taken += data
        return taken

    async def say(self, data: bytes) -> None:
        """Send bytes."""
        if self._made is None:
            await self.accept()
        assert self._made is not None
        await asyncio.get_running_loop().sock_sendall(self._made, data)

    def hang_up(self) -> None:
        """End the connection."""
        if self._made is not None:
            self._made.close()
        self._made = None

    def close(self) -> None:
        """Switch the gear off."""
        self.hang_up()
        self._listener.close()


@contextlib.contextmanager
def tcp_peer(port: int = 0, *, keeps: int = 0) -> Iterator[TcpPeer]:
    """A peer for as long as the block lasts. keeps: its buffer's size; 0: usual."""
    listener = socket.socket()
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if keeps:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, keeps)
    listener.setblocking(False)
    listener.bind(("127.0.0.1", port))
    listener.listen()
    peer = TcpPeer(listener)
    try:
        yield peer
    finally:
        peer.close()


@contextlib.asynccontextmanager
async def caller(port: int, host: str = "127.0.0.1") -> AsyncIterator[socket.socket]:
    """A connection made to a port of this machine, from an address of it."""
    sock = socket.socket()
    sock.setblocking(False)
    sock.bind((host, 0))
    with sock:
        await asyncio.get_running_loop().sock_connect(sock, ("127.0.0.1", port))
        yield sock


def tcp_port_with_nobody() -> int:
    """A TCP port of this machine at which nobody listens just now."""
    with tcp_peer() as peer:
        return peer.port
