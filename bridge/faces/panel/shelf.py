"""Reads the journal for the page in a thread of its own: a disk may hang for minutes.

Neither the worker that reckons what is safe, nor the end of the service, waits for it.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable
from functools import partial
from typing import Final

from bridge.faces.panel.happened import Before

WAIT_S: Final = 2.0
"""How long a page waits for the disk; it takes milliseconds."""

SLOW: Final = "the journal's file is not read: its disk does not answer"


class Shelf:
    """One read at a time; whoever asks meanwhile waits for that one."""

    def __init__(self, wait_s: float = WAIT_S) -> None:
        self._wait_s = wait_s
        self._reading: asyncio.Future[Before] | None = None

    async def read(self, work: Callable[[], Before]) -> Before:
        """What the work returns, or that it takes too long."""
        if self._reading is None or self._reading.done():
            self._reading = _begun(work)
        try:
            async with asyncio.timeout(self._wait_s):
                return await asyncio.shield(self._reading)
        except TimeoutError:
            return Before(trouble=SLOW)


def _begun(work: Callable[[], Before]) -> asyncio.Future[Before]:
    loop = asyncio.get_running_loop()
    found: asyncio.Future[Before] = loop.create_future()

    def end(told: Callable[[], None]) -> None:
        with contextlib.suppress(RuntimeError):  # the service has ended meanwhile
            loop.call_soon_threadsafe(told)

    def read() -> None:
        try:
            end(partial(found.set_result, work()))
        except Exception as mistake:  # noqa: BLE001 (whoever waits gets it)
            end(partial(found.set_exception, mistake))

    threading.Thread(target=read, name="shelf", daemon=True).start()
    return found
