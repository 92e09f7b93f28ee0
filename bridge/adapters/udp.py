"""One UDP socket in the event loop, with what the network knows about its peer.

Strategy: the socket is not connected, so that answers from another port of the same
gear still arrive. The kernel then keeps refusals ("nobody listens there") to itself
unless it is asked for them; `IP_RECVERR` asks, and their queue must be emptied or the
loop would be woken for ever.
"""

import asyncio
import contextlib
import errno
import ipaddress
import socket
import sys
from collections.abc import Callable
from functools import lru_cache
from typing import Final, cast

Address = tuple[str, int]

_IP_RECVERR: Final = 11
_IPV6_RECVERR: Final = 25
_ERRORS_AT_ONCE: Final = 64
"""Refusals taken from the kernel in one go; there is one for each message sent."""


class Udp(asyncio.DatagramProtocol):
    """A socket that calls `on_packet(bytes, sender)` and `on_error(OSError)`."""

    def __init__(
        self,
        on_packet: Callable[[bytes, Address], None],
        on_error: Callable[[OSError], None],
    ) -> None:
        self._on_packet = on_packet
        self._on_error = on_error
        self._socket: socket.socket | None = None
        self._transport: asyncio.DatagramTransport | None = None
        self._error: OSError | None = None
        self._is_full = False

    async def open(self, host: str, port: int) -> None:
        """Bind to a literal address; port 0 lets the system choose. Raises OSError."""
        await self.use(bound(host, port))

    async def use(self, sock: socket.socket) -> None:
        """Go by this socket (see `bound`) from now on; it is ours to close."""
        try:
            loop = asyncio.get_running_loop()
            transport, _ = await loop.create_datagram_endpoint(lambda: self, sock=sock)
        except BaseException:
            sock.close()
            raise
        self._socket, self._transport = sock, transport

    @property
    def port(self) -> int:
        """The port that the socket is bound to; 0 while closed."""
        return int(self._socket.getsockname()[1]) if self._socket is not None else 0

    def send(self, packet: bytes, to: Address) -> OSError | None:
        """Hand a packet to the kernel; return why it did not take it.

        What it says then is told to `on_error` too. The kernel reports an earlier
        refusal instead of sending, so a second attempt is made.
        """
        for _ in range(2):
            self._error = None
            if self._transport is None:
                self.error_received(OSError(errno.ENOTCONN, "the socket is closed"))
            elif self._is_full:
                self.error_received(OSError(errno.ENOBUFS, "the network is stuck"))
            else:
                self._transport.sendto(packet, to)
            if self._error is None:
                break
        return self._error

    def close(self) -> None:
        """Close the socket. Safe to call twice."""
        if self._transport is not None:
            self._transport.abort()
        self._socket = self._transport = None
        self._is_full = False

    def datagram_received(self, data: bytes, addr: tuple[object, ...]) -> None:
        """Pass on a packet; the sender's address without IPv6 scope and mapping."""
        host, port = addr[:2]
        self._on_packet(data, (plain(str(host)), cast("int", port)))

    def error_received(self, exc: Exception) -> None:
        """Pass on what the kernel knows, once, however many packets it is about."""
        if self._socket is not None and sys.platform == "linux":
            with contextlib.suppress(OSError):
                for _ in range(_ERRORS_AT_ONCE):
                    self._socket.recvmsg(0, 0, socket.MSG_ERRQUEUE)
        self._error = exc if isinstance(exc, OSError) else OSError(str(exc))
        self._on_error(self._error)

    def pause_writing(self) -> None:
        """Take no more: 64 KiB wait in this process, far more than is still meant."""
        self._is_full = True

    def resume_writing(self) -> None:
        """Take packets again."""
        self._is_full = False


def bound(host: str, port: int) -> socket.socket:
    """Take a literal address; port 0 lets the system choose. Raises OSError."""
    family = family_of(host)
    sock = socket.socket(family, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK)
    try:
        _ask_for_refusals(sock, family)
        sock.bind((host, port))
    except BaseException:
        sock.close()
        raise
    return sock


def _ask_for_refusals(sock: socket.socket, family: socket.AddressFamily) -> None:
    if sys.platform == "linux":  # elsewhere refusals stay unknown
        if family is socket.AF_INET:
            sock.setsockopt(socket.IPPROTO_IP, _IP_RECVERR, 1)
        else:
            sock.setsockopt(socket.IPPROTO_IPV6, _IPV6_RECVERR, 1)


def family_of(host: str) -> socket.AddressFamily:
    """Return the family of a literal address. Raises ValueError if it is a name."""
    four = ipaddress.ip_address(host).version == 4
    return socket.AF_INET if four else socket.AF_INET6


def any_local(host: str) -> str:
    """Return the address that binds to every network of this computer.

    Its family is that of `host`, a literal address; ValueError if it is a name.
    """
    return "0.0.0.0" if family_of(host) is socket.AF_INET else "::"


@lru_cache(maxsize=256)  # read for each packet, and a studio has a handful of senders
def plain(host: str) -> str:
    """Return the one spelling of a literal address; what is none stays as it is."""
    try:
        address = ipaddress.ip_address(host.partition("%")[0])
    except ValueError:
        return host
    mapped = address.ipv4_mapped if isinstance(address, ipaddress.IPv6Address) else None
    return str(mapped or address)


async def resolve(host: str) -> str:
    """Return a literal address for a name, without blocking.

    Raises OSError, or ValueError for what cannot be a name. A name server that does
    not answer takes half a minute; what waits for this sets its own limit.
    """
    with contextlib.suppress(ValueError):
        return str(ipaddress.ip_address(host))
    loop = asyncio.get_running_loop()
    found = await loop.getaddrinfo(host, None, type=socket.SOCK_DGRAM)
    return str(found[0][4][0])
