"""A contact that is only imagined, for a studio that is tried out without its boxes."""

import asyncio
from collections.abc import Callable
from typing import Final

from bridge.adapters.presence import Adapter
from bridge.core.wire import Coil, Contact, Message
from bridge.engine.ports import Deliver

CHANGES_KEPT: Final = 100
"""Changes remembered, oldest forgotten first: a day of switching, for a person."""


class ImaginedContact(Adapter):
    """A line that drives nothing: it keeps its level, and what happened to it.

    moved: told each new level, as a relay's click tells a person.
    """

    def __init__(
        self, name: str, moved: Callable[[bool], None] = lambda _: None
    ) -> None:
        self.is_driven = False
        self._moved = moved
        self.changes: list[tuple[float, bool]] = []
        super().__init__(name)

    async def open(self, deliver: Deliver) -> None:
        """Be there, released."""
        self._presence.begin(deliver, asyncio.get_running_loop().time)
        self._presence.found()

    def send(self, message: Message) -> None:
        """Keep the level. Raises PortGone when closed or sent something else."""
        if not self._presence.is_found:
            self._presence.refuse("sent while lost", self._presence.why)
        if not isinstance(message, Contact):
            self._presence.refuse("not a contact", f"a line cannot send {message}")
        self._set(driven=message.high)

    async def close(self) -> None:
        """Release the line, as a real one does."""
        self._set(driven=False)
        self._presence.hush()

    def _set(self, *, driven: bool) -> None:
        if driven != self.is_driven:
            self.is_driven = driven
            at = asyncio.get_running_loop().time()
            self.changes = [*self.changes[1 - CHANGES_KEPT :], (at, driven)]
            self._moved(driven)


class ImaginedBoard(Adapter):
    """A relay board that drives nothing: its coils keep how they stand, and tell it.

    moved: told each coil that moves, by "board: coil number", and how it stands now.
    """

    def __init__(
        self, name: str, moved: Callable[[str, bool], None] = lambda *_: None
    ) -> None:
        self.coils: dict[int, bool] = {}
        self._moved = moved
        super().__init__(name)

    async def open(self, deliver: Deliver) -> None:
        """Be there, with every coil off."""
        self._presence.begin(deliver, asyncio.get_running_loop().time)
        self._presence.found()

    def send(self, message: Message) -> None:
        """Set coils, or answer for them. Raises PortGone."""
        if not self._presence.is_found:
            self._presence.refuse("sent while lost", self._presence.why)
        if not isinstance(message, Coil):
            self._presence.refuse(
                "not a coil", f"a relay board cannot be sent {message}"
            )
        numbers = range(message.number, message.number + message.count)
        if message.on is not None:
            for number in numbers:
                if self.coils.get(number, False) is not message.on:
                    self._moved(f"{self.name}: coil {number}", message.on)
                self.coils[number] = message.on
            return
        stands = {self.coils.get(number, False) for number in numbers}
        if len(stands) == 1:
            on = stands.pop()
            self._presence.heard(Coil(self.name, message.number, on, message.count))

    async def close(self) -> None:
        """Be there no more; a board keeps its coils."""
        self._presence.hush()
