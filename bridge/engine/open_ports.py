"""The ports of the studio in force: opened together, exchanged, closed together.

Rules of this file: what a port says is passed on only while it is in force, so a port
that is leaving cannot speak for one of the same name that comes; and those that leave
are closed before those that come are opened, because both may want the same socket.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from bridge.engine.ports import Arrival, Deliver, Port

TROUBLES_KEPT = 8
"""Ports that could not be closed, of which the end tells: more say the same."""


@dataclass(frozen=True, slots=True)
class Exchange:
    """Names of ports: those that stay, those that leave, those that come."""

    kept: frozenset[str]
    gone: frozenset[str]
    fresh: frozenset[str]


class OpenPorts:
    """All ports in force, by name."""

    def __init__(self, ports: Iterable[Port], deliver: Deliver) -> None:
        self._ports = {port.name: port for port in ports}
        self._deliver = deliver
        self._leaving: list[Port] = []
        self._coming: list[Port] = list(self._ports.values())
        self._troubles: list[Exception] = []
        self._one_by_one = asyncio.Lock()

    def __iter__(self) -> Iterator[Port]:
        return iter(self._ports.values())

    def get(self, name: str) -> Port | None:
        """The port of this name, if the studio has one."""
        return self._ports.get(name)

    def replace(self, ports: Iterable[Port]) -> Exchange:
        """Let these be in force; the same object stays as it is. `settle` follows."""
        old, new = self._ports, {port.name: port for port in ports}
        kept = frozenset(name for name in new if old.get(name) is new[name])
        gone = frozenset(old) - kept
        fresh = frozenset(new) - kept
        self._ports = new
        self._leaving += [old[name] for name in gone]
        self._coming += [new[name] for name in fresh]
        return Exchange(kept, gone, fresh)

    def settle(self, group: asyncio.TaskGroup) -> list[asyncio.Task[None]]:
        """Close what leaves, then open what comes; these tasks of the group do it."""
        coming, self._coming = self._coming, []
        if self._leaving:
            return [group.create_task(self._exchange(coming))]
        return [group.create_task(self._open(port)) for port in coming]

    async def _exchange(self, coming: Iterable[Port]) -> None:
        async with self._one_by_one:
            await self._close_leaving()
        await asyncio.gather(*(self._open(port) for port in coming))

    async def _open(self, port: Port) -> None:
        """Open a port, unless it has left again meanwhile."""
        if self._ports.get(port.name) is port:
            await port.open(self._door(port))

    async def close(self) -> None:
        """Close every port, whatever happens to the others."""
        self._leaving += self._ports.values()
        await self._close_leaving()
        if self._troubles:
            msg = "ports that could not be closed"
            raise ExceptionGroup(msg, self._troubles)

    async def _close_leaving(self) -> None:
        leaving = tuple(self._leaving)
        closing = (port.close() for port in leaving)
        found = await asyncio.gather(*closing, return_exceptions=True)
        self._leaving = [port for port in self._leaving if port not in leaving]
        troubles = [trouble for trouble in found if isinstance(trouble, Exception)]
        self._troubles = [*self._troubles, *troubles][-TROUBLES_KEPT:]

    def _door(self, port: Port) -> Deliver:
        """What the port speaks into, for as long as it is in force."""

        def deliver(arrival: Arrival) -> None:
            if self._ports.get(port.name) is port:
                self._deliver(arrival)

        return deliver
