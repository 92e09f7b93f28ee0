"""The service's own OSC address, for programs and buttons of the studio.

To `/treadle/...` it answers with `/treadle/answer` and one line of JSON; a message at
any other address is heard as it is, so that a studio's button can be an OSC address.
There is no way to stop the service from here.
"""

import asyncio
import json
import socket
from collections.abc import Callable
from typing import Final

from bridge.adapters.attempts import Attempts
from bridge.adapters.osc_codec import Dropped, decode, encode
from bridge.adapters.presence import Adapter, in_words
from bridge.adapters.rate import RateLimit
from bridge.adapters.udp import Address, Udp, plain
from bridge.core.wire import Message, Osc
from bridge.engine.ports import Asked, Deliver

LOOPBACK: Final = ("127.0.0.1", "::1")
ANSWER: Final = "/treadle/answer"
GESTURES: Final = ("tap", "hold", "double", "release")

AGAIN_S: Final = 5.0
"""Between two attempts to get the address while another program has it."""

_OWN: Final = "/treadle/"
_USAGE: Final = {
    "press": '/treadle/press "button" ["tap"|"hold"|"double"|"release"]',
    "go": '/treadle/go "scene"',
    "done": "/treadle/done",
    "hand": '/treadle/hand "control" "value"',
    "status": "/treadle/status",
}


class OscDoor(Adapter):
    """A local UDP address that anyone on the allow list may knock at.

    `listen` 0 lets the system choose (see `port`); `allow` holds literal addresses.
    `taken`: a socket (see `udp.bound`) that has the address already; ours to close.
    """

    def __init__(
        self,
        name: str,
        listen: int,
        *,
        host: str = "127.0.0.1",
        allow: tuple[str, ...] = LOOPBACK,
        taken: socket.socket | None = None,
    ) -> None:
        self._host, self._listen, self._taken = host, listen, taken
        self._allow = frozenset(plain(address) for address in allow)
        super().__init__(name)
        self._rate = RateLimit()
        self._udp = Udp(self._packet, self._error)
        self._attempts = Attempts(self._take_address)
        self._now: Callable[[], float] = float

    @property
    def port(self) -> int:
        """The UDP port that is open; 0 while none is."""
        return self._udp.port

    async def open(self, deliver: Deliver) -> None:
        """Take the address; says `Found`, or `Lost` and tries again."""
        self._now = asyncio.get_running_loop().time
        self._presence.begin(deliver, self._now)
        await self._attempts.begin()

    def send(self, message: Message) -> None:
        """Refuse: the door only answers. Raises PortGone."""
        why = f"the service's own address cannot be sent to: {message}"
        self._presence.refuse("sent to the door", why)

    async def close(self) -> None:
        """Let go of the address; later replies are counted and go nowhere."""
        self._presence.hush()
        await self._attempts.end()
        self._udp.close()

    async def _take_address(self) -> None:
        try:
            if self._taken is not None:
                await self._udp.use(self._taken)
            else:
                await self._udp.open(self._host, self._listen)
        except (OSError, ValueError) as error:
            self._presence.lost(
                f"OSC port {self._listen} at {self._host} cannot be opened "
                f"({in_words(error)}): end the program that has it, or choose another"
            )
            self._attempts.again(AGAIN_S)
        else:
            self._presence.found()

    def _error(self, _error: OSError) -> None:
        # Somebody asked and did not wait for the answer; the door stays open.
        self._presence.drops["answer not wanted"] += 1

    # Hearing

    def _packet(self, packet: bytes, sender: Address) -> None:
        if sender[0] not in self._allow:
            self._presence.drops["from a stranger"] += 1
            return
        if not self._rate.allows(sender, self._now()):
            self._presence.drops["too fast"] += 1
            return
        for place, message in enumerate(decode(packet, self.name)):
            if place and not self._rate.allows(sender, self._now()):
                self._presence.drops["too fast"] += 1
            elif isinstance(message, Dropped):
                self._presence.drops[message.cause] += 1
            elif message.address.startswith(_OWN):
                self._asked(message, sender)
            else:
                self._presence.heard(message)

    def _asked(self, message: Osc, sender: Address) -> None:
        def reply(text: str) -> None:
            self._reply(text, sender)

        words = _words(message)
        if words is None:
            known = ", ".join(_USAGE.values())
            reply(_error_text(f"{message.address} is not understood here; try {known}"))
            self._presence.drops["request not understood"] += 1
        else:
            self._presence.say(Asked(words, reply, self._now()))

    def _reply(self, text: str, sender: Address) -> None:
        packet = encode(Osc(self.name, ANSWER, (text,)))
        if isinstance(packet, Dropped):
            self._presence.drops["answer too long"] += 1
            packet = encode(Osc(self.name, ANSWER, (_error_text("answer too long"),)))
        if isinstance(packet, bytes):
            self._udp.send(packet, sender)  # a failure is counted in _error


def _words(message: Osc) -> tuple[str, ...] | None:
    """Return what is asked, e.g. ("press", "pedal", "tap"); None if unclear."""
    if not all(isinstance(argument, str) for argument in message.arguments):
        return None
    match message.address.removeprefix(_OWN), *message.arguments:
        case ["status"]:
            return ("status",)
        case ["done"]:
            return ("done",)
        case ["hand", str() as control, str() as value]:
            return ("hand", control, value)
        case ["go", str() as scene]:
            return ("go", scene)
        case ["press", str() as button]:
            return ("press", button, "tap")
        case ["press", str() as button, str() as gesture] if gesture in GESTURES:
            return ("press", button, gesture)
        case _:
            return None


def _error_text(words: str) -> str:
    return json.dumps({"error": words})
