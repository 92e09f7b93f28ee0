"""uvicorn, held to what a small service beside a pedal needs.

Strategy: the service owns the event loop, the signals and the log, so the server may
touch none of them; it sleeps until something comes (its own clock would wake the
computer ten times a second); and a client that says nothing is cut off.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import socket
from collections.abc import Iterator
from typing import Any, cast

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

from bridge.faces.panel.guard import App
from bridge.faces.panel.hub import MOST_STREAMS
from bridge.faces.panel.where import Where

HEAD_S = 5.0
"""How long the head of a request may take; ours come in one packet."""

MOST_CONNECTIONS = 2 * MOST_STREAMS + 32
"""A page holds one stream and at times a second connection; the rest is for pages
that are told to wait, and for clients that say nothing until they are cut off."""

STOP_S = 1.0
"""How long open answers may take when the service stops; streams end by themselves."""


class Protocol(H11Protocol):
    """One connection, with a limit on how long a request's head may take."""

    _head_timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Take it, unless there are too many."""
        super().connection_made(cast("asyncio.Transport", transport))
        if len(self.connections) > MOST_CONNECTIONS:
            cast("asyncio.Transport", transport).abort()
            return
        self._watch_head()

    def data_received(self, data: bytes) -> None:
        """Give the head its time, from its first byte to its last."""
        super().data_received(data)
        self._watch_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the timer too."""
        self._let_head()
        super().connection_lost(exc)

    def _watch_head(self) -> None:
        if self.conn.their_state is not h11.IDLE:
            self._let_head()
        elif self._head_timer is None:
            self._head_timer = self.loop.call_later(HEAD_S, self._give_up)

    def _let_head(self) -> None:
        if self._head_timer is not None:
            self._head_timer.cancel()
            self._head_timer = None

    def _give_up(self) -> None:
        self._head_timer = None
        # A stream is at work after its head: then we are not waiting for one.
        cycle: RequestResponseCycle | None = self.cycle
        is_answered = cycle is None or cycle.response_complete
        if self.conn.their_state is h11.IDLE and is_answered:
            self.transport.close()


class Server(uvicorn.Server):
    """A server inside a service: no signals, no ticking."""

    def __init__(self, app: App) -> None:
        config = uvicorn.Config(
            cast("Any", app),
            http=Protocol,
            ws="none",
            lifespan="off",
            log_config=None,
            access_log=False,
            server_header=False,
            date_header=False,
            proxy_headers=False,
            timeout_keep_alive=10,
            timeout_graceful_shutdown=int(STOP_S),
            h11_max_incomplete_event_size=16_384,
            limit_concurrency=MOST_CONNECTIONS,
        )
        super().__init__(config)
        # What a stranger sends is no news; a mistake of ours is.
        logging.getLogger("uvicorn.error").setLevel(logging.ERROR)
        self._end = asyncio.Event()

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave signals to the service."""
        yield

    async def main_loop(self) -> None:
        """Sleep until told to stop."""
        await self.on_tick(0)
        await self._end.wait()

    def stop(self) -> None:
        """Stop taking requests and end those that are open."""
        self.should_exit = True
        self._end.set()


def bound(where: Where) -> socket.socket:
    """A listening socket. Raises OSError if the place is taken or not ours."""
    family = socket.AF_INET6 if ":" in where.host else socket.AF_INET
    made = socket.socket(family)
    try:
        # So that the service can start again at once; another one that listens
        # there is refused all the same.
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((where.host, where.port))
        made.listen(64)
        made.setblocking(False)  # noqa: FBT003 (the library's own way)
    except OSError:
        made.close()
        raise
    return made
