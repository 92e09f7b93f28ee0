"""Gear at the other end of a UDP socket, made of nothing but the socket."""

import asyncio
import contextlib
import socket
from collections.abc import Iterator

PATIENCE_S = 20.0


class UdpPeer:
    """Gear that listens at its own port of this machine, on one address."""

    def __init__(self, sock: socket.socket) -> None:
        self._socket = sock
        self._from: tuple[str, int] | None = None

    @property
    def port(self) -> int:
        return int(self._socket.getsockname()[1])

    async def packet(self) -> bytes:
        """The next packet that came in; remembers whom it came from."""
        loop = asyncio.get_running_loop()
        async with asyncio.timeout(PATIENCE_S):
            packet, self._from = await loop.sock_recvfrom(self._socket, 65536)
        return packet

    def now(self) -> bytes:
        """A packet that is here already. Raises BlockingIOError if there is none."""
        return self._socket.recv(65536)

    def answer(self, packet: bytes) -> None:
        """Send to whoever sent the last packet."""
        assert self._from is not None, "nobody has spoken yet"
        self._socket.sendto(packet, self._from)

    def say(self, packet: bytes, port: int, host: str = "127.0.0.1") -> None:
        """Send to a port of this machine."""
        self._socket.sendto(packet, (host, port))


@contextlib.contextmanager
def udp_peer(port: int = 0, host: str = "127.0.0.1") -> Iterator[UdpPeer]:
    """A peer for as long as the block lasts; nobody listens there afterwards."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_DGRAM) as sock:
        sock.setblocking(False)
        sock.bind((host, port))
        yield UdpPeer(sock)


def port_with_nobody() -> int:
    """A port of this machine at which nobody listens just now."""
    with udp_peer() as peer:
        return peer.port
