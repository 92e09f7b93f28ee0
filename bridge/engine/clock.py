"""Time, as the engine sees it: a number, and a wait that an arrival cuts short."""

import asyncio
from typing import Protocol


class Clock(Protocol):
    """Monotonic seconds; the same scale as every `at` of an arrival."""

    def now(self) -> float:
        """Return monotonic seconds."""
        ...

    async def wait(self, event: asyncio.Event, seconds: float | None) -> bool:
        """Wait until `event` is set (True) or `seconds` are over (False).

        None waits for ever; 0 or less only looks.
        """
        ...


class MonotonicClock:
    """The machine's own clock: never set back, not even by a time server."""

    def now(self) -> float:
        """Return the event loop's monotonic seconds."""
        return asyncio.get_running_loop().time()

    async def wait(self, event: asyncio.Event, seconds: float | None) -> bool:
        """Wait for the event, or for real time to pass."""
        if not event.is_set() and (seconds is None or seconds > 0):
            try:
                async with asyncio.timeout(seconds):
                    await event.wait()
            except TimeoutError:
                pass
        return event.is_set()
