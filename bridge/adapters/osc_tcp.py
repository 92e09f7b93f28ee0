"""Gear that is spoken to over OSC and TCP.

A connection says by itself whether the other end is there: gear is `Found` when it is
made and `Lost` when it breaks. While there is none it is tried again and again, at
growing intervals up to a limit, so that gear which accepts and hangs up is not
stormed. What waited when it broke is not sent later: it would be stale.
"""

import asyncio
from typing import Final

from bridge.adapters.attempts import Attempts
from bridge.adapters.lookup import Lookup
from bridge.adapters.osc_codec import Dropped, decode, encode
from bridge.adapters.osc_frames import Framing
from bridge.adapters.presence import Adapter, in_words
from bridge.adapters.tcp import OscStream, connect
from bridge.core.wire import Message, Osc
from bridge.engine.ports import Deliver

AGAIN_S: Final = 0.5
"""Before the first new attempt to connect; doubled after each one that fails."""

LONGEST_S: Final = 8.0
"""The longest pause: a person who switches the gear on waits no longer than this."""

STEADY_S: Final = 5.0
"""A connection that lasted so long was a good one: the pauses begin anew."""


class OscTcpPort(Adapter):
    """One piece of gear at an address and port, over a connection that we make.

    `host` is a literal address or a name, looked up before each attempt.
    """

    def __init__(self, name: str, host: str, port: int, framing: Framing) -> None:
        super().__init__(name)
        self._host, self._port, self._framing = host, port, framing
        self._lookup = Lookup(host)
        self._stream: OscStream | None = None
        self._pause = 0.0
        self._since = 0.0
        self._attempts = Attempts(self._connect)

    async def open(self, deliver: Deliver) -> None:
        """Connect; says `Found`, or `Lost` and tries again."""
        self._presence.begin(deliver, asyncio.get_running_loop().time)
        self._pause = AGAIN_S
        await self._attempts.begin()

    def send(self, message: Message) -> None:
        """Send one message. Raises PortGone if it certainly was not sent."""
        presence = self._presence
        if self._stream is None or not presence.is_found:
            presence.refuse("sent while lost", presence.why)
        packet = encode(message) if isinstance(message, Osc) else Dropped("not OSC")
        if isinstance(packet, Dropped):
            presence.refuse(packet.cause, f"not sent, {packet.cause}: {message}")
        if not self._stream.send(packet):
            presence.refuse("too much waits already", "the gear reads too slowly")

    async def close(self) -> None:
        """Hang up and end every attempt. Safe to call twice."""
        self._presence.hush()
        await self._attempts.end()
        await self._lookup.close()
        if self._stream is not None:
            self._stream.close()
        self._stream = None

    # Coming and going

    async def _connect(self) -> None:
        def made() -> None:
            self._stream = stream
            self._since = asyncio.get_running_loop().time()
            self._presence.found()

        stream = OscStream(self._framing, made, self._packet, self._ended)
        try:
            await connect(stream, await self._lookup.find(), self._port)
        except (OSError, ValueError) as error:
            stream.close()
            self._lost(in_words(error))
        except BaseException:
            stream.close()
            raise

    def _ended(self, why: str) -> None:
        self._stream = None
        if asyncio.get_running_loop().time() - self._since >= STEADY_S:
            self._pause = AGAIN_S
        self._lost(why)

    def _lost(self, what: str) -> None:
        self._presence.lost(
            f"{self._host} port {self._port} has no TCP connection ({what}): see that "
            "the gear is on, its network cable is in, and that it speaks OSC over TCP "
            f"there, {_FRAMED[self._framing]}"
        )
        self._attempts.again(self._pause)
        self._pause = min(2 * self._pause, LONGEST_S)

    # Hearing

    def _packet(self, packet: bytes | Dropped) -> None:
        if isinstance(packet, Dropped):
            self._presence.drops[packet.cause] += 1
            return
        for message in decode(packet, self.name):
            if isinstance(message, Dropped):
                self._presence.drops[message.cause] += 1
            else:
                self._presence.heard(message)


_FRAMED: Final[dict[Framing, str]] = {
    "length": "with the length before each packet (else write over: tcp slip)",
    "slip": "in SLIP (else write over: tcp)",
}
