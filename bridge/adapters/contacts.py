"""Contacts: one line out (a relay) or in (a pedal), by the kernel's GPIO interface.

Rules of this file: a line that is not driven is released, and released is the safe
position, by wiring. So an output is requested released, and released again before it
is let go; what the pin does afterwards is up to the board. An input reports each edge
with the kernel's own time and without its debounce, which would only delay it.
"""

import asyncio
import contextlib
from collections.abc import Callable
from typing import Any, Final, Literal

from bridge.adapters.attempts import Attempts
from bridge.adapters.gpio_lines import OpenChip, Paths, chip_paths, gpiod_chip, take
from bridge.adapters.presence import Adapter, Presence, in_words
from bridge.core.wire import Contact, Message
from bridge.engine.ports import Deliver

AGAIN_S: Final = 5.0
"""Between two attempts to get a line: a board is plugged in, a program ends."""

EDGES_AT_ONCE: Final = 64
"""Edges read before the loop gets its turn. A bouncing contact makes some tens."""

_NS: Final = 1e-9
_MISSING: Final = (
    'the library for contacts is missing: run "pip install treadle[gpio]" and start '
    "again"
)


class _Held:
    """One line, held, or looked for again and again."""

    def __init__(
        self,
        presence: Presence,
        line: int | str,
        chip: str | None,
        board: tuple[OpenChip, Paths],
    ) -> None:
        self.presence = presence
        self.request: Any = None
        self.offset = 0
        self._line, self._chip, self._board = line, chip, board
        self._settings: Callable[[], object] = object
        self._taken: Callable[[], None] = lambda: None
        self._attempts = Attempts(self._take)

    async def hold(
        self,
        deliver: Deliver,
        settings: Callable[[], object],
        taken: Callable[[], None],
    ) -> None:
        """Take the line, now or as soon as it can be had; `taken` follows each time."""
        self.presence.begin(deliver, asyncio.get_running_loop().time)
        self._settings, self._taken = settings, taken
        await self._attempts.begin()

    async def let_go(self) -> None:
        """Give the line back, and look for it no more. Safe to call twice."""
        self.presence.hush()
        await self._attempts.end()
        self._release()

    def fail(self, error: Exception) -> None:
        """Give up a line that cannot be used, say so, and look for it again."""
        self._release()
        where = self._chip or "any chip"
        self.presence.lost(f"line {self._line} of {where}: {in_words(error)}")
        self._attempts.again(AGAIN_S)

    def _release(self) -> None:
        request, self.request = self.request, None
        if request is not None:
            with contextlib.suppress(OSError):
                request.release()

    async def _take(self) -> None:
        try:
            # Looking through the chips opens files, which may wait.
            self.request, self.offset = await asyncio.to_thread(
                lambda: take(self._line, self._chip, self._settings(), *self._board)
            )
        except ImportError:
            self.presence.lost(_MISSING)
            return
        except (OSError, ValueError) as error:
            self.fail(error)
            return
        if self._attempts.is_wanted:
            self._taken()
            self.presence.found()
        else:
            self._release()


class ContactOut(Adapter):
    """One line driven or released: `Contact(name, high=True)` drives it.

    `line` is an offset or a name; without `chip` (path or label) all chips are looked
    through. `active_low` is for relay boards that pull at a low level: such a board may
    pull when the service ends, which lets go of the pin; prefer one that does not.
    """

    def __init__(
        self,
        name: str,
        line: int | str,
        chip: str | None = None,
        *,
        active_low: bool = False,
        board: tuple[OpenChip, Paths] = (gpiod_chip, chip_paths),
    ) -> None:
        super().__init__(name)
        self._held = _Held(self._presence, line, chip, board)
        self._active_low = active_low

    async def open(self, deliver: Deliver) -> None:
        """Take the line, released; says `Found`, or `Lost` and tries again."""
        await self._held.hold(deliver, self._settings, lambda: None)

    def send(self, message: Message) -> None:
        """Drive or release the line. Raises PortGone."""
        held = self._held
        if held.request is None:
            held.presence.refuse("sent while lost", held.presence.why)
        if not isinstance(message, Contact):
            held.presence.refuse("not a contact", f"a line cannot send {message}")
        try:
            self._set(driven=message.high)
        except OSError as error:
            held.fail(error)
            held.presence.refuse("not taken", held.presence.why)

    async def close(self) -> None:
        """Release the line, then let go of it."""
        if self._held.request is not None:
            with contextlib.suppress(OSError):
                self._set(driven=False)
        await self._held.let_go()

    def _set(self, *, driven: bool) -> None:
        from gpiod.line import Value

        value = Value.ACTIVE if driven else Value.INACTIVE
        self._held.request.set_value(self._held.offset, value)

    def _settings(self) -> object:
        from gpiod import LineSettings
        from gpiod.line import Direction, Value

        return LineSettings(
            direction=Direction.OUTPUT,
            active_low=self._active_low,
            output_value=Value.INACTIVE,
        )


class ContactIn(Adapter):
    """One line heard: `Contact(name, high=True)` when the contact closes.

    `closes_to` is where the contact pulls the line: to "ground" (with the chip's
    pull-up resistor, which is kindest to a long pedal cable) or to the "supply".
    """

    def __init__(
        self,
        name: str,
        line: int | str,
        chip: str | None = None,
        *,
        closes_to: Literal["ground", "supply"] = "ground",
        board: tuple[OpenChip, Paths] = (gpiod_chip, chip_paths),
    ) -> None:
        super().__init__(name)
        self._held = _Held(self._presence, line, chip, board)
        self._to_ground = closes_to == "ground"
        self._edges = 0
        self._fd = -1

    async def open(self, deliver: Deliver) -> None:
        """Take the line; says `Found`, or `Lost` and tries again."""
        await self._held.hold(deliver, self._settings, self._listen)

    def send(self, message: Message) -> None:
        """Refuse: an input cannot be driven. Raises PortGone."""
        self._held.presence.refuse(
            "sent to an input", f"an input cannot send {message}"
        )

    async def close(self) -> None:
        """Let go of the line. Safe to call twice."""
        self._deafen()
        await self._held.let_go()

    def _listen(self) -> None:
        self._edges, self._fd = 0, self._held.request.fd
        asyncio.get_running_loop().add_reader(self._fd, self._readable)

    def _deafen(self) -> None:
        if self._fd >= 0:
            asyncio.get_running_loop().remove_reader(self._fd)
            self._fd = -1

    def _readable(self) -> None:
        presence = self._held.presence
        try:
            edges = self._held.request.read_edge_events(EDGES_AT_ONCE)
        except OSError as error:
            self._deafen()
            self._held.fail(error)
            return
        for edge in edges:
            lost = edge.line_seqno - self._edges - 1
            self._edges = edge.line_seqno
            if lost > 0:
                presence.drops["edges that the kernel could not keep"] += lost
            closed = edge.event_type is edge.Type.RISING_EDGE
            presence.heard(Contact(self.name, closed), edge.timestamp_ns * _NS)

    def _settings(self) -> object:
        from gpiod import LineSettings
        from gpiod.line import Bias, Clock, Direction, Edge

        return LineSettings(
            direction=Direction.INPUT,
            edge_detection=Edge.BOTH,
            bias=Bias.PULL_UP if self._to_ground else Bias.PULL_DOWN,
            active_low=self._to_ground,
            event_clock=Clock.MONOTONIC,
        )
