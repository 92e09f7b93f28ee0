"""Everything that arrives, in order, in one bounded queue.

Strategy: the engine takes arrivals in the order in which they came. Each kind has its
own queue and limit, so a desk that talks without end can push out only its own older
words, never a press. A press pushes out the oldest press: the newest one counts.
What a desk said last must not be forgotten in silence, or the belief would be wrong:
the port is then said to be lost and found, and the engine finds out anew.
"""

import asyncio
from collections import Counter, deque
from collections.abc import Callable, Iterable
from enum import Enum
from typing import Final, assert_never

from bridge.core.wire import Message
from bridge.engine.clock import Clock
from bridge.engine.ports import Arrival, Asked, Found, Heard, Lost


class Kind(Enum):
    """What an arrival is to the engine; the value is said when one is dropped."""

    PRESENCE = "comings and goings"
    PRESS = "presses"
    WORD = "messages from gear"
    REQUEST = "requests"


LIMITS: Final = {
    # Every port of a large studio may come and go twice before the engine looks.
    Kind.PRESENCE: 128,
    # A hand makes ten gestures a second; more than this was not meant.
    Kind.PRESS: 32,
    # A desk that answers for all of some hundreds of controls at once.
    Kind.WORD: 1024,
    # A few programs that ask; they can ask again.
    Kind.REQUEST: 32,
}
"""Arrivals kept of each kind."""


class Mailbox:
    """The one door into the engine. `put` is what ports get as `deliver`.

    `is_press` tells whether a message is a button of the studio.
    """

    def __init__(self, clock: Clock, is_press: Callable[[Message], bool]) -> None:
        self._clock = clock
        self._is_press = is_press
        self._queues: dict[Kind, deque[tuple[int, Arrival]]] = {
            k: deque() for k in Kind
        }
        self._count = 0
        self._filled = asyncio.Event()
        self._forgotten: set[str] = set()
        self._drops: Counter[str] = Counter()

    def __len__(self) -> int:
        return sum(len(queue) for queue in self._queues.values())

    @property
    def drops(self) -> dict[str, int]:
        """How many arrivals were dropped, by kind in words."""
        return self._drops

    def put(self, arrival: Arrival) -> None:
        """Take an arrival; never waits, never raises. From the event loop only."""
        kind = self._kind(arrival)
        queue = self._queues[kind]
        self._count += 1
        queue.append((self._count, arrival))
        self._filled.set()
        if len(queue) > LIMITS[kind]:
            _, dropped = queue.popleft()
            self._drops[kind.value] += 1
            match dropped:
                case Heard(message) if kind is Kind.WORD:
                    self._forget(message.port)
                case Found(port):
                    self._forgotten.discard(port)
                case _:
                    pass

    def discard(self, ports: Iterable[str]) -> None:
        """Drop what came from these: the studio has no such connection any more."""
        gone = frozenset(ports)
        for queue in self._queues.values():
            for numbered in [n for n in queue if _port_of(n[1]) in gone]:
                queue.remove(numbered)
        self._forgotten -= gone

    def wake(self) -> None:
        """Let whoever waits look up, although nothing arrived."""
        self._filled.set()

    async def get(self, seconds: float | None = None) -> Arrival | None:
        """Return the oldest arrival; None after `seconds` of the clock, or if woken."""
        if not await self._clock.wait(self._filled, seconds):
            return None
        if not len(self):
            self._filled.clear()
            return None
        oldest = min((q for q in self._queues.values() if q), key=lambda q: q[0][0])
        _, arrival = oldest.popleft()
        if isinstance(arrival, Found):
            self._forgotten.discard(arrival.port)
        if not len(self):
            self._filled.clear()
        return arrival

    def _kind(self, arrival: Arrival) -> Kind:
        match arrival:
            case Lost() | Found():
                return Kind.PRESENCE
            case Heard(message):
                return Kind.PRESS if self._is_press(message) else Kind.WORD
            case Asked():
                return Kind.REQUEST
            case _:
                assert_never(arrival)

    def _forget(self, port: str) -> None:
        """Say, once until it is read, that a port's words could not all be kept."""
        if port not in self._forgotten:
            self._forgotten.add(port)
            why = f"more came from {port} at once than could be kept"
            self.put(Lost(port, why, self._clock.now()))
            self.put(Found(port, self._clock.now()))


def _port_of(arrival: Arrival) -> str | None:
    match arrival:
        case Heard(message):
            return message.port
        case Lost(port) | Found(port):
            return port
        case Asked():
            return None
        case _:
            assert_never(arrival)
