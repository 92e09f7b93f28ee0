"""A port whose gear tells only those who say so again and again.

Strategy: it is a port around a port. When the gear is found it is told at once, before
anybody asks it anything, and from then on in its time; what is sent sets nothing (the
files see to that), so it needs no plan and no guard. A renewal that is lost on the way
is made good by the next one.
"""

import asyncio
import contextlib
from collections.abc import Iterable

from bridge.core.connection import Renewal
from bridge.core.wire import Message
from bridge.engine.ports import Arrival, Deliver, Found, Lost, Port, PortGone


class RenewingPort:
    """The same port, with something sent again and again while it is found."""

    def __init__(self, port: Port, renewals: Iterable[Renewal]) -> None:
        self._port = port
        self._renewals = tuple(renewals)
        self._timers: dict[int, asyncio.TimerHandle] = {}

    def __repr__(self) -> str:
        return f"<{type(self).__name__} of {self._port!r}>"

    @property
    def name(self) -> str:
        """The gear's name in the studio file."""
        return self._port.name

    @property
    def drops(self) -> dict[str, int]:
        """Dropped messages by cause."""
        return self._port.drops

    async def open(self, deliver: Deliver) -> None:
        """Open the port; what it finds is told before it is passed on."""

        def passed(arrival: Arrival) -> None:
            match arrival:
                case Found():
                    for place in range(len(self._renewals)):
                        self._renew(place)
                case Lost():
                    self._rest()
                case _:
                    pass
            deliver(arrival)

        await self._port.open(passed)

    def send(self, message: Message) -> None:
        """Send one message. Raises PortGone."""
        self._port.send(message)

    async def close(self) -> None:
        """Renew no more, and close the port."""
        self._rest()
        await self._port.close()
        self._rest()

    def _renew(self, place: int) -> None:
        renewal = self._renewals[place]
        timer = self._timers.pop(place, None)
        if timer is not None:
            timer.cancel()
        loop = asyncio.get_running_loop()
        self._timers[place] = loop.call_later(
            renewal.every_ms / 1000, self._renew, place
        )
        with contextlib.suppress(PortGone):  # it is counted there, and told
            self._port.send(renewal.message)

    def _rest(self) -> None:
        for timer in self._timers.values():
            timer.cancel()
        self._timers.clear()
