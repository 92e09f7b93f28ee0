"""What is tried now and, where it fails, again later, as long as it is wanted."""

import asyncio
from collections.abc import Callable, Coroutine
from typing import Any, TypeVar

T = TypeVar("T")


class Attempts:
    """One attempt at a time; who attempts says `again` when it has failed."""

    def __init__(self, attempt: Callable[[], Coroutine[Any, Any, None]]) -> None:
        self.is_wanted = False
        self._attempt = attempt
        self._timer: asyncio.TimerHandle | None = None
        self._task: asyncio.Task[None] | None = None

    async def begin(self) -> None:
        """Make the first attempt, to its end."""
        self.is_wanted = True
        await self._attempt()

    def again(self, seconds: float) -> None:
        """Make another one after a while, unless it is not wanted any more."""
        if self._timer is not None:
            self._timer.cancel()
        if self.is_wanted:
            self._timer = asyncio.get_running_loop().call_later(seconds, self._start)

    async def end(self) -> None:
        """Make no more, and end the one that is under way. Safe to call twice."""
        self.is_wanted = False
        if self._timer is not None:
            self._timer.cancel()
        if self._task is not None:
            self._task.cancel()
            await asyncio.gather(self._task, return_exceptions=True)

    def _start(self) -> None:
        self._task = asyncio.get_running_loop().create_task(self._attempt())


async def off_the_loop(opens: Callable[[], T], let_go: Callable[[T], None]) -> T:
    """What `opens` gives, in a thread, as it may take a moment; raises what it raises.

    let_go: called with what came too late, when nobody waits for it any more.
    """
    opening = asyncio.get_running_loop().run_in_executor(None, opens)

    def too_late(_: asyncio.Future[T]) -> None:
        if not opening.cancelled() and opening.exception() is None:
            let_go(opening.result())

    try:
        return await asyncio.shield(opening)
    except asyncio.CancelledError:
        opening.add_done_callback(too_late)
        raise
