"""Another studio takes over from the one that runs, because its file was read anew."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bridge.core.machine import Machine
from bridge.engine.ports import Port


@dataclass(frozen=True, slots=True)
class Next:
    """What takes over. Both are called in the event loop, between two crossings.

    machine: makes the machine that goes on, at this time (monotonic seconds).
    ports: makes the ports; those of connections that are the same are the same ones.
    adopted: called when it has taken over, before anything is told of it.
    """

    machine: Callable[[float], Machine]
    ports: Callable[[], tuple[Port, ...]]
    adopted: Callable[[], None] = lambda: None
