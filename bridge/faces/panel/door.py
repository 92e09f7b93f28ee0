"""Opens the panel beside a running service, and closes it again."""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import time
from collections.abc import AsyncIterator, Callable, Coroutine
from pathlib import Path

from bridge.core.studio import Studio
from bridge.faces.panel.app import app_for, page_files
from bridge.faces.panel.happened import Past
from bridge.faces.panel.keys import Keys
from bridge.faces.panel.looks import SetUp
from bridge.faces.panel.notice import own_addresses
from bridge.faces.panel.panel import Panel
from bridge.faces.panel.server import Server
from bridge.faces.panel.snapshot import Bench
from bridge.faces.panel.where import Where


def keys_path() -> Path:
    """Where the hash of the token is kept: the service's own folder of state."""
    own = os.environ.get("STATE_DIRECTORY", "").partition(":")[0]
    if own:
        return Path(own) / "panel.json"
    home = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
    return Path(home) / "treadle" / "panel.json"


@contextlib.asynccontextmanager
async def panel_at(
    where: Where,
    listening: socket.socket,
    studio: Studio,
    set_up: SetUp,
    bench: Bench,
    keys: Keys | None,
    *,
    now: Callable[[], float],
    trouble: Callable[[Exception], None],
    past: Past | None = None,
) -> AsyncIterator[tuple[Panel, Where]]:
    """The panel, open at a place until the block ends; port 0 is filled in.

    listening: a socket at that place (see `server.bound`), closed with the panel.
    trouble: told of a mistake of the panel's own, which ends the panel and nothing
    else. past: reads the journal that is kept, if any.
    """
    port = listening.getsockname()[1]
    where = Where(where.host, port, where.names)
    addresses = await asyncio.to_thread(own_addresses) if where.is_everywhere else ()
    files = await asyncio.to_thread(page_files)
    panel = Panel(studio, set_up, bench, now, time.time, past)
    server = Server(app_for(panel, files, where.hosts(addresses), keys, now))
    async with asyncio.TaskGroup() as tasks:
        showing = tasks.create_task(_held(panel.run(), trouble))
        serving = tasks.create_task(_held(server.serve([listening]), trouble))
        try:
            yield panel, where
        finally:
            panel.close()
            server.stop()
            await asyncio.wait([serving])
            showing.cancel()


async def _held(
    work: Coroutine[None, None, None], trouble: Callable[[Exception], None]
) -> None:
    try:
        await work
    except Exception as mistake:  # noqa: BLE001 (the pedal must outlive the panel)
        trouble(mistake)
