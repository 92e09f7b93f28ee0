"""Hears a desk while it is learned: message by message, and whether it answers."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable

from bridge.core.wire import Message, Osc, key_and_number
from bridge.engine.ports import Arrival, Found, Heard, Lost, Port, PortGone
from bridge.faces.learn import CONNECT, MOST_HEARD
from bridge.faces.outcome import CouldNotRunError

PATIENCE_S = 120.0
"""So long one button is waited for: somebody may have to look for it."""

ANSWER_S = 1.0
"""So long one answer is waited for; gear answers within milliseconds."""


class Ear:
    """A port, and what came in at it and was not taken yet (bounded)."""

    def __init__(self, port: Port) -> None:
        self.port = port
        self._queue: asyncio.Queue[Arrival] = asyncio.Queue(MOST_HEARD)

    async def open(self) -> None:
        """Begin to hear."""
        await self.port.open(self._deliver)

    async def found(self) -> None:
        """Wait until the desk can be sent to. Raises CouldNotRunError."""
        while not isinstance(await self.next(), Found):
            pass

    async def close(self) -> None:
        """Hear no more."""
        await self.port.close()

    def _deliver(self, arrival: Arrival) -> None:
        if not self._queue.full():
            self._queue.put_nowait(arrival)

    async def next(self) -> Arrival:
        """What comes next. Raises CouldNotRunError if nothing does, or it is gone."""
        try:
            async with asyncio.timeout(PATIENCE_S):
                arrival = await self._queue.get()
        except TimeoutError:
            msg = f"nothing more came within {PATIENCE_S:g} s"
            cure = "see that the desk tells what is pressed on it (tells: true)"
            raise CouldNotRunError(msg, cure) from None
        if isinstance(arrival, Lost):
            msg = f"the desk is not there: {arrival.why}"
            raise CouldNotRunError(msg, CONNECT)
        return arrival

    async def last(self, rest_s: float) -> Message:
        """The last message before nothing comes for so long."""
        found: Message | None = None
        while True:
            try:
                async with asyncio.timeout(None if found is None else rest_s):
                    arrival = await self.next()
            except TimeoutError:
                assert found is not None
                return found
            if isinstance(arrival, Heard):
                found = arrival.message

    async def answers(self, told: Iterable[Message]) -> bool:
        """Whether the desk answers about each of these addresses when it is asked."""
        for message in told:
            if not isinstance(message, Osc):
                return False
            asks(self, message.address)
            if not await self._answer(message):
                return False
        return True

    async def _answer(self, about: Message) -> bool:
        wanted = key_and_number(about)
        try:
            async with asyncio.timeout(ANSWER_S):
                while True:
                    arrival = await self.next()
                    if isinstance(arrival, Heard):
                        found = key_and_number(arrival.message)
                        if wanted and found and found[0] == wanted[0]:
                            return found[1] is not None
        except TimeoutError:
            return False


def asks(heard: Ear, address: str) -> None:
    """Send a question over OSC: an address without a number. Changes nothing.

    Raises CouldNotRunError if it cannot be sent.
    """
    try:
        heard.port.send(Osc(heard.port.name, address))
    except PortGone as gone:
        msg = f"the desk cannot be asked: {gone}"
        raise CouldNotRunError(msg, "see its address and port") from None
