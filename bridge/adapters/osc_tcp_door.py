"""A local TCP port for buttons that send OSC over a connection of their own making."""

import asyncio
import contextlib
from typing import Final

from bridge.adapters.attempts import Attempts
from bridge.adapters.osc_codec import Dropped, decode
from bridge.adapters.osc_frames import Framing
from bridge.adapters.presence import Adapter, in_words
from bridge.adapters.rate import RateLimit
from bridge.adapters.tcp import OscStream, small_and_watched
from bridge.adapters.udp import plain
from bridge.core.wire import Message
from bridge.engine.ports import Deliver

AGAIN_S: Final = 5.0
"""Between two attempts to get the port while another program has it."""

CONNECTIONS: Final = 4
"""Open at once. A surface has one; when it comes back after its power failed, the old
one is still open for some seconds. The oldest gives way."""


class OscTcpDoor(Adapter):
    """A TCP port at which the senders on the allow list may connect and speak.

    `allow` holds literal addresses. Nothing is ever answered.
    """

    def __init__(
        self,
        name: str,
        listen: int,
        framing: Framing,
        *,
        host: str,
        allow: tuple[str, ...],
    ) -> None:
        super().__init__(name)
        self._host, self._listen, self._framing = host, listen, framing
        self._allow = frozenset(plain(address) for address in allow)
        self._rate = RateLimit()
        self._server: asyncio.Server | None = None
        self._guests: list[_Guest] = []
        self._attempts = Attempts(self._take_port)

    async def open(self, deliver: Deliver) -> None:
        """Take the port; says `Found`, or `Lost` and tries again."""
        self._presence.begin(deliver, asyncio.get_running_loop().time)
        await self._attempts.begin()

    def send(self, message: Message) -> None:
        """Refuse: whoever knocks here is only heard. Raises PortGone."""
        why = f"a button cannot be sent to: {message}"
        self._presence.refuse("sent to a button", why)

    async def close(self) -> None:
        """Let go of the port and of everybody. Safe to call twice."""
        self._presence.hush()
        await self._attempts.end()
        if self._server is not None:
            self._server.close()
        for guest in self._guests:
            guest.close()
        self._server, self._guests = None, []

    async def _take_port(self) -> None:
        loop = asyncio.get_running_loop()
        try:
            self._server = await loop.create_server(
                lambda: _Guest(self), self._host, self._listen, backlog=CONNECTIONS
            )
        except (OSError, ValueError) as error:
            self._presence.lost(
                f"TCP port {self._listen} at {self._host} cannot be opened "
                f"({in_words(error)}): end the program that has it, or choose another"
            )
            self._attempts.again(AGAIN_S)
        else:
            self._presence.found()

    # For guests

    def came(self, guest: "_Guest", sender: str) -> bool:
        """Take a new connection, or say no."""
        if sender not in self._allow:
            self._presence.drops["from a stranger"] += 1
            return False
        while len(self._guests) >= CONNECTIONS:
            self._presence.drops["too many connections"] += 1
            self._guests.pop(0).close()
        self._guests.append(guest)
        return True

    def went(self, guest: "_Guest") -> None:
        """Forget a connection."""
        if guest in self._guests:
            self._guests.remove(guest)

    def packet(self, packet: bytes | Dropped, sender: str) -> None:
        """Hear the messages of a packet that a guest has sent."""
        if isinstance(packet, Dropped):
            self._presence.drops[packet.cause] += 1
            return
        for message in decode(packet, self.name):
            if not self._rate.allows(sender, asyncio.get_running_loop().time()):
                self._presence.drops["too fast"] += 1
            elif isinstance(message, Dropped):
                self._presence.drops[message.cause] += 1
            else:
                self._presence.heard(message)


class _Guest(OscStream):
    """One connection that somebody else has made."""

    def __init__(self, door: OscTcpDoor) -> None:
        self._door, self._sender = door, ""
        super().__init__(
            door._framing,  # noqa: SLF001  its other half, in one file
            lambda: None,
            lambda packet: door.packet(packet, self._sender),
            lambda _: door.went(self),
        )

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """See who it is before anything is read."""
        with contextlib.suppress(OSError):  # it may have gone again
            small_and_watched(transport.get_extra_info("socket"))
        self._sender = plain(str((transport.get_extra_info("peername") or ("",))[0]))
        if not self._door.came(self, self._sender):
            self.close()
        super().connection_made(transport)
