"""A JACK server of one's own, without sound hardware, and what can be done to it."""

import asyncio
import contextlib
import os
import signal
from collections.abc import AsyncIterator

import pytest

from tests.fakes.programs import Program, run, running

SERVER = "JACK_DEFAULT_SERVER"


def private_server(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every JACK client of this test look for a server that is ours alone."""
    # One name for the whole run: JACK remembers at most eight, and forgets one that was
    # killed only when it is used again.
    monkeypatch.setenv(SERVER, f"treadle-{os.getpid()}")
    monkeypatch.setenv("JACK_NO_AUDIO_RESERVATION", "1")


@contextlib.asynccontextmanager
async def jack_server() -> AsyncIterator[Program]:
    """A running server, once it takes clients; it ends with the block."""
    options = ("-d", "dummy", "-r", "48000", "-p", "256")
    name = os.environ[SERVER]
    command = ("jackd", "--no-realtime", "--name", name, *options)
    async with running(*command, end=signal.SIGTERM) as server:
        await run("jack_wait", "--wait", "--timeout", "15", "--server", name)
        yield server


async def kill(server: Program) -> None:
    """End a server without giving it a chance to say so."""
    server.signal(signal.SIGKILL)
    await server.process.wait()


async def ports() -> list[str]:
    """Everybody's ports, as another program sees them."""
    return (await run("jack_lsp")).split()


async def connect(source: str, sink: str) -> None:
    """Connect two ports, from outside."""
    await run("jack_connect", source, sink)


async def appears(port: str) -> None:
    """Wait for somebody's port."""
    async with asyncio.timeout(20):
        while port not in await ports():  # noqa: ASYNC110  another program's port
            await asyncio.sleep(0.02)
