"""One test bench for each kind of port, with the same levers.

A lever that a kind does not have is None: a pedal is not sent to, an imagined contact
is never absent.
"""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from bridge.core.wire import Coil, Contact, Message, Midi, Osc
from bridge.engine.ports import Port

CC = Midi("it", b"\xb0\x07\x40")
SWITCH = Osc("it", "/in/1/monitor", (True,))
LEVEL = Osc("it", "/in/1/level", (-12.5,))
DRIVEN = Contact("it", high=True)
PULLED = Coil("it", 0, on=True)
FALLEN = Coil("it", 0, on=False)
Lever = Callable[[], Awaitable[None]]


@dataclass
class Rig:
    """A port called "it", and what can be done at its other end."""

    port: Port
    sends: Message | None
    received: Callable[[], Awaitable[Message]] | None
    hears: Message | None
    say: Lever | None
    plug: Lever | None
    unplug: Lever | None


def lever(does: Callable[[], object]) -> Lever:
    """Make something that is done at once awaitable."""

    async def pull() -> None:
        does()

    return pull
