"""An engine that only listens: what a port delivers, in order."""

import asyncio
from collections.abc import Callable

from bridge.core.wire import Message
from bridge.engine.ports import Arrival, Asked, Found, Heard, Lost

PATIENCE_S = 20.0
"""How long an arrival may take before the test fails; never what is measured."""


class Inbox:
    """Give an instance to `Port.open`; it keeps every arrival."""

    def __init__(self) -> None:
        self.arrivals: list[Arrival] = []
        self._change = asyncio.Event()
        self._taken = 0

    def __call__(self, arrival: Arrival) -> None:
        self.arrivals.append(arrival)
        self._change.set()

    @property
    def heard(self) -> list[Message]:
        return [a.message for a in self.arrivals if isinstance(a, Heard)]

    @property
    def presence(self) -> list[str]:
        """The comings and goings so far: "found" and "lost"."""
        return [type(a).__name__.lower() for a in self.arrivals if _is_presence(a)]

    async def next_presence(self) -> Found | Lost:
        """The next coming or going that was not asked for before."""
        arrival = await self._next(_is_presence)
        assert isinstance(arrival, Found | Lost)
        return arrival

    async def next_heard(self) -> Heard:
        """The next message that was not asked for before."""
        arrival = await self._next(lambda a: isinstance(a, Heard))
        assert isinstance(arrival, Heard)
        return arrival

    async def next_asked(self) -> Asked:
        """The next request that was not asked for before."""
        arrival = await self._next(lambda a: isinstance(a, Asked))
        assert isinstance(arrival, Asked)
        return arrival

    async def _next(self, wanted: Callable[[Arrival], bool]) -> Arrival:
        async with asyncio.timeout(PATIENCE_S):
            while True:
                while self._taken < len(self.arrivals):
                    self._taken += 1
                    if wanted(self.arrivals[self._taken - 1]):
                        return self.arrivals[self._taken - 1]
                self._change.clear()
                await self._change.wait()


def _is_presence(arrival: Arrival) -> bool:
    return isinstance(arrival, Found | Lost)


async def until(condition: Callable[[], bool]) -> None:
    """Let the loop run until something is so; fail if it never is."""
    async with asyncio.timeout(PATIENCE_S):
        while not condition():  # noqa: ASYNC110
            await asyncio.sleep(0.002)  # nothing tells when a condition comes true
