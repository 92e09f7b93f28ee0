"""What the engine asks of the outside world; adapters and fakes answer to this.

A port never decides anything: it puts what it hears into the mailbox and sends what
it is given. Nothing here waits: `send` returns at once or raises `PortGone`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from bridge.core.entries import Worn
from bridge.core.wire import Message


class PortGone(OSError):
    """The thing at the other end is not there; the message was not sent."""


@dataclass(frozen=True, slots=True)
class Heard:
    """A whole, well-formed message came in at `at` (monotonic seconds)."""

    message: Message
    at: float


@dataclass(frozen=True, slots=True)
class Asked:
    """Somebody on this machine asks the service for something over OSC.

    `words` are the address parts and arguments, e.g. ("press", "pedal", "tap");
    `reply` takes one line of JSON text and sends it back to the one who asked.
    """

    words: tuple[str, ...]
    reply: Callable[[str], None]
    at: float


@dataclass(frozen=True, slots=True)
class Lost:
    """The port's other end went away, in words for the person."""

    port: str
    why: str
    at: float


@dataclass(frozen=True, slots=True)
class Found:
    """The port's other end is there (first time or again)."""

    port: str
    at: float


Arrival = Heard | Asked | Lost | Found

Deliver = Callable[[Arrival], None]
"""Puts an arrival into the engine's mailbox; never blocks, never raises, counts drops.

Call it from the event loop only.
"""


class Port(Protocol):
    """One connection to one outside thing."""

    @property
    def name(self) -> str:
        """The gear's or button's name in the studio file."""
        ...

    @property
    def drops(self) -> dict[str, int]:
        """How many incoming or outgoing messages were dropped, by cause in words."""
        ...

    async def open(self, deliver: Deliver) -> None:
        """Begin. An absent device is no error: it is `Lost` now and `Found` later."""
        ...

    def send(self, message: Message) -> None:
        """Send at once, without waiting. Raises PortGone."""
        ...

    async def close(self) -> None:
        """Let go of everything; a contact is released first. Safe to call twice."""
        ...


class Witness(Protocol):
    """Sees what comes and goes, for the journal; nothing it is told waits or fails."""

    def pressed(self, message: Message, at: float) -> None:
        """A button's message came in; what comes of it has not begun."""
        ...

    def asked(self, at: float) -> None:
        """Somebody asked for something; what comes of it has not begun."""
        ...

    def sent(self, message: Message, at: float) -> None:
        """A port took this message."""
        ...

    @property
    def worn(self) -> tuple[Worn, ...]:
        """The relays that are counted, as far as that is known now."""
        ...


class Manager(Protocol):
    """The service manager; nothing it is told waits or fails."""

    @property
    def ping_s(self) -> float | None:
        """How often `alive` must be said; None: never."""
        ...

    def ready(self) -> None:
        """The service does its work now."""
        ...

    def alive(self) -> None:
        """The service goes round."""
        ...

    def stopping(self) -> None:
        """The service is about to end."""
        ...

    def status(self, words: str) -> None:
        """How the service stands, in a line."""
        ...
