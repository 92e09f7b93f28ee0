"""One TCP connection in the event loop, that carries OSC packets both ways.

Strategy: a message that waits is a late message, so little may wait: the kernel is
given a small buffer, this process keeps a few kilobytes, and a peer that takes nothing
for a while is cut off with all that waits for it. A cable that is pulled says nothing
by itself; the kernel is told to find out within seconds.
"""

import asyncio
import contextlib
import errno
import os
import socket
import struct
import sys
from collections.abc import Callable
from typing import Final

from bridge.adapters.osc_codec import Dropped
from bridge.adapters.osc_frames import Framing, frames
from bridge.adapters.udp import family_of

READ_BYTES: Final = 4096
"""Read before the loop gets its turn: some hundred messages, a few milliseconds."""

OUT_BYTES: Final = 4096
"""Waiting in this process for a peer that is slow to read: some hundred messages."""

KERNEL_BYTES: Final = 16384
"""Waiting in the kernel, which would otherwise keep megabytes of what is stale."""

STUCK_S: Final = 2.0
"""How long a peer may take nothing before it is cut off; gear reads at once."""

CONNECT_S: Final = 2.0
"""How long gear may take to accept; on the studio's own network, milliseconds."""

_PROBE_AFTER_S, _PROBE_EVERY_S, _PROBES = 3, 1, 3
"""A silent connection is probed; so a pulled cable is noticed after six seconds."""

_FORGET: Final = struct.pack("ii", 1, 0)


class OscStream(asyncio.BufferedProtocol):
    """A connection that calls `on_made`, `on_packet` for each packet, and `on_end`.

    `on_end(why in words)` comes once, and only after `on_made`. After `close` none.
    """

    def __init__(
        self,
        framing: Framing,
        on_made: Callable[[], None],
        on_packet: Callable[[bytes | Dropped], None],
        on_end: Callable[[str], None],
    ) -> None:
        self._frames = frames(framing)
        self._on_made, self._on_packet, self._on_end = on_made, on_packet, on_end
        self._buffer = bytearray(READ_BYTES)
        self._transport: asyncio.Transport | None = None
        self._stuck: asyncio.TimerHandle | None = None
        self._is_closed = False
        self._why = "the other end has closed the connection"

    def send(self, packet: bytes) -> bool:
        """Hand a packet to the kernel, or keep it for a moment; False if neither."""
        if self._transport is None or self._is_closed:
            return False
        data = self._frames.framed(packet)
        if self._transport.get_write_buffer_size() + len(data) > OUT_BYTES:
            return False
        self._transport.write(data)
        return True

    def close(self) -> None:
        """Cut the connection, with all that waits. Safe to call twice."""
        self._is_closed = True
        self._cut()

    # For the transport

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Begin."""
        assert isinstance(transport, asyncio.Transport)
        transport.set_write_buffer_limits(high=0)
        self._transport = transport
        if self._is_closed:
            self._cut()
        else:
            self._on_made()

    def get_buffer(self, sizehint: int) -> bytearray:  # noqa: ARG002
        """Give the place to read into."""
        return self._buffer

    def buffer_updated(self, nbytes: int) -> None:
        """Pass on the packets that are whole now."""
        for packet in self._frames.feed(bytes(self._buffer[:nbytes])):
            if self._is_closed:
                return
            self._on_packet(packet)
        if self._frames.lost_track:
            self._end(self._frames.lost_track)

    def connection_lost(self, exc: Exception | None) -> None:
        """Pass on that it is over, and why."""
        if self._stuck is not None:
            self._stuck.cancel()
        self._transport = None
        if not self._is_closed:
            self._is_closed = True
            why = isinstance(exc, OSError) and exc.strerror
            self._on_end(why or self._why)

    def pause_writing(self) -> None:
        """Something waits: it must not wait for long."""
        loop = asyncio.get_running_loop()
        why = "the other end takes nothing"
        self._stuck = loop.call_later(STUCK_S, lambda: self._end(why))

    def resume_writing(self) -> None:
        """All is sent."""
        if self._stuck is not None:
            self._stuck.cancel()

    def _end(self, why: str) -> None:
        """Cut, and let the kernel forget what it has not sent: it is stale."""
        self._why = why
        if self._transport is not None:
            sock = self._transport.get_extra_info("socket")
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _FORGET)
        self._cut()

    def _cut(self) -> None:
        if self._transport is not None:
            self._transport.abort()


async def connect(stream: OscStream, host: str, port: int) -> None:
    """Connect to a literal address. Raises OSError; TimeoutError after CONNECT_S."""
    loop = asyncio.get_running_loop()
    sock = socket.socket(family_of(host), socket.SOCK_STREAM | socket.SOCK_NONBLOCK)
    try:
        small_and_watched(sock)
        try:
            async with asyncio.timeout(CONNECT_S):
                await loop.sock_connect(sock, (host, port))
        except TimeoutError as error:
            msg = "it does not answer"
            raise TimeoutError(msg) from error
        except OSError as error:  # asyncio puts words of its own into it
            number = error.errno or errno.EIO
            raise OSError(number, os.strerror(number)) from error
        _not_itself(sock)
        await loop.create_connection(lambda: stream, sock=sock)
    except BaseException:
        sock.close()
        raise


def _not_itself(sock: socket.socket) -> None:
    """Refuse what the kernel may do within one machine (RFC 9293, 3.5, figure 7)."""
    if sock.getsockname()[:2] == sock.getpeername()[:2]:
        msg = "nobody listens there"
        raise ConnectionRefusedError(msg)


def small_and_watched(sock: socket.socket) -> None:
    """Set a socket to send at once, to keep little, and to notice a dead peer."""
    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, KERNEL_BYTES)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    if sys.platform == "linux":
        with contextlib.suppress(OSError):  # a kernel without one still works
            tcp = socket.IPPROTO_TCP
            sock.setsockopt(tcp, socket.TCP_KEEPIDLE, _PROBE_AFTER_S)
            sock.setsockopt(tcp, socket.TCP_KEEPINTVL, _PROBE_EVERY_S)
            sock.setsockopt(tcp, socket.TCP_KEEPCNT, _PROBES)
            limit_s = _PROBE_AFTER_S + _PROBE_EVERY_S * _PROBES
            sock.setsockopt(tcp, socket.TCP_USER_TIMEOUT, 1000 * limit_s)
