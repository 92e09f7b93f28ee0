"""A name of the network to an address, with one look-up under way at the most."""

import asyncio
from typing import Final

from bridge.adapters.udp import resolve

RESOLVE_S: Final = 2.0
"""How long a name may take to resolve. Names on the studio's own network take
milliseconds; an absent name server would otherwise hold the start for half a minute."""


class Lookup:
    """Finds one host's address; a literal one is found at once."""

    def __init__(self, host: str) -> None:
        self._host = host
        self._task: asyncio.Task[str] | None = None

    async def find(self) -> str:
        """Wait for the one look-up under way; its thread cannot be ended early.

        Raises OSError or ValueError; TimeoutError after RESOLVE_S.
        """
        if self._task is None:
            loop = asyncio.get_running_loop()
            self._task = loop.create_task(resolve(self._host))
        done, _ = await asyncio.wait([self._task], timeout=RESOLVE_S)
        if not done:
            msg = "the name server does not answer"
            raise TimeoutError(msg)
        task, self._task = self._task, None
        return task.result()

    async def close(self) -> None:
        """Wait for nothing any more. Safe to call twice."""
        if self._task is not None:
            self._task.cancel()
            await asyncio.gather(self._task, return_exceptions=True)
        self._task = None
