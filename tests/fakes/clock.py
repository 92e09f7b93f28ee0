"""A clock on which time passes only when somebody waits."""

import asyncio
import heapq
from collections.abc import Callable


class SimulatedClock:
    """Jumps from one planned happening to the next; a year takes no time."""

    def __init__(self, now: float = 1000.0) -> None:
        self._now = now
        self._plan: list[tuple[float, int, Callable[[], None]]] = []
        self._count = 0

    def now(self) -> float:
        return self._now

    def after(self, seconds: float, happens: Callable[[], None]) -> None:
        """Plan something; it happens while somebody waits."""
        self._count += 1
        heapq.heappush(self._plan, (self._now + seconds, self._count, happens))

    async def wait(self, event: asyncio.Event, seconds: float | None) -> bool:
        """Let planned things happen until the event is set or the time is over.

        Waiting for ever with nothing planned is an error of the test.
        """
        end = None if seconds is None else self._now + max(0.0, seconds)
        await asyncio.sleep(0)
        while not event.is_set():
            if self._plan and (end is None or self._plan[0][0] <= end):
                self._now, _, happens = heapq.heappop(self._plan)
                happens()
                await asyncio.sleep(0)
            elif end is not None:
                self._now = end
                break
            else:
                msg = f"at {self._now} s nothing will ever happen"
                raise RuntimeError(msg)
        return event.is_set()
