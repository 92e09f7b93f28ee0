"""Gear that is spoken to over OSC and UDP.

What can be known of UDP: that the kernel refuses to send (no route, no network), that
the other machine refuses ("nobody listens at this port"), and that something was
heard. Silence means nothing. So gear is `Found` when nothing refuses within a grace,
`Lost` at the first refusal, and while lost it is asked again and again with a packet
that does nothing, until nothing refuses or something is heard.
"""

import asyncio
from collections.abc import Callable
from typing import Final

from bridge.adapters.lookup import Lookup
from bridge.adapters.osc_codec import NOTHING, Dropped, decode, encode
from bridge.adapters.presence import Adapter, in_words
from bridge.adapters.udp import Address, Udp, any_local, plain
from bridge.core.wire import Message, Osc
from bridge.engine.ports import Deliver

GRACE_S: Final = 0.2
"""How long no refusal must come for the gear to count as there. A refusal takes
milliseconds on the studio's own network; a press waits this long at start only."""

AGAIN_S: Final = 1.0
"""Between two attempts while the gear is lost: quick for a person who plugs it in,
and 16 bytes a second are no load."""


class OscPort(Adapter):
    """One piece of gear at an address and port.

    `host` is a literal address or a name, resolved at open and again while lost.
    `listen` is the local port that the gear sends its answers to, 0 for gear that
    answers to where the question came from (as nearly all does).
    """

    def __init__(self, name: str, host: str, port: int, *, listen: int = 0) -> None:
        self._host, self._port, self._listen = host, port, listen
        super().__init__(name)
        self._udp = Udp(self._packet, self._error)
        self._peer: Address | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._settling: asyncio.Task[None] | None = None
        self._lookup = Lookup(host)

    async def open(self, deliver: Deliver) -> None:
        """Resolve, bind and ask; says `Found` after a grace, or `Lost`."""
        self._presence.begin(deliver, asyncio.get_running_loop().time)
        await self._settle()

    def send(self, message: Message) -> None:
        """Send one message. Raises PortGone if it certainly was not sent."""
        presence = self._presence
        if self._peer is None or not presence.is_found:
            presence.refuse("sent while lost", presence.why)
        packet = encode(message) if isinstance(message, Osc) else Dropped("not OSC")
        if isinstance(packet, Dropped):
            presence.refuse(packet.cause, f"not sent, {packet.cause}: {message}")
        if self._udp.send(packet, self._peer) is not None:
            presence.refuse("refused", presence.why)

    async def close(self) -> None:
        """Close the socket and end every attempt. Safe to call twice."""
        self._presence.hush()
        if self._timer is not None:
            self._timer.cancel()
        if self._settling is not None:
            self._settling.cancel()
            await asyncio.gather(self._settling, return_exceptions=True)
        await self._lookup.close()
        self._udp.close()
        self._peer = self._settling = None

    # Coming and going

    async def _settle(self) -> None:
        """Get the gear's address and a socket, then ask; try again if that fails."""
        try:
            host = await self._lookup.find()
            if not self._udp.port:
                await self._open_socket(host)
        except (OSError, ValueError) as error:
            self._error(error)
        else:
            self._peer = (host, self._port)
            self._ask()

    async def _open_socket(self, host: str) -> None:
        try:
            await self._udp.open(any_local(host), self._listen)
        except OSError as error:
            msg = f"port {self._listen} of this computer: {in_words(error)}"
            raise OSError(msg) from error

    def _try_again(self) -> None:
        if self._peer is not None and self._peer[0] == self._host:
            self._ask()
        else:
            loop = asyncio.get_running_loop()
            self._settling = loop.create_task(self._settle())

    def _ask(self) -> None:
        """Send a packet that does nothing, and see whether it is refused."""
        if self._peer is not None and self._udp.send(NOTHING, self._peer) is None:
            self._after(GRACE_S, self._presence.found)

    def _error(self, error: Exception) -> None:
        what = in_words(error)
        self._presence.lost(
            f"{self._host} port {self._port} cannot be reached ({what}): see that the "
            "gear is on, its network cable is in, and this is its OSC address and port"
        )
        self._after(AGAIN_S, self._try_again)

    def _after(self, seconds: float, then: Callable[[], None]) -> None:
        """Plan the one next step, instead of the one planned before."""
        if self._timer is not None:
            self._timer.cancel()
        self._timer = asyncio.get_running_loop().call_later(seconds, then)

    # Hearing

    def _packet(self, packet: bytes, sender: Address) -> None:
        if self._peer is None or sender[0] != plain(self._peer[0]):
            self._presence.drops["from a stranger"] += 1
            return
        for message in decode(packet, self.name):
            if isinstance(message, Dropped):
                self._presence.drops[message.cause] += 1
            else:
                self._presence.found()
                self._presence.heard(message)
