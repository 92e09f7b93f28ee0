"""JACK servers of our own, without sound hardware, and other people's JACK programs.

JACK remembers at most eight servers by name, and forgets one that was killed only when
its name is used again: so there are two names for the whole run, and each run first
frees the names that runs before it left behind. A server dies with whoever started it,
however that ends (setpriv(1), of util-linux).
"""

import asyncio
import contextlib
import os
import re
import signal
import subprocess
from collections.abc import AsyncIterator, Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.fakes.programs import Program, run, running

SERVER = "JACK_DEFAULT_SERVER"
SHARED = f"treadle-{os.getpid()}"
OWN = f"treadle-{os.getpid()}-own"
PATIENCE_S = 20.0
REGISTRY = Path("/dev/shm/jack-shm-registry")


def _command(name: str) -> tuple[str, ...]:
    driver = ("-d", "dummy", "-r", "48000", "-p", "256")
    with_us = ("setpriv", "--pdeathsig", "TERM")
    return (*with_us, "jackd", *_priority(), "--name", name, *driver)


@cache
def _priority() -> tuple[str, ...]:
    """Real-time priority, if this machine gives it: without, a busy one loses MIDI."""
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(1))
    except PermissionError:
        return ("--no-realtime",)
    os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    return ("--realtime", "-P", "40")


def _until_up(name: str) -> tuple[str, ...]:
    return ("jack_wait", "--wait", "--timeout", "15", "--server", name)


def _forget_the_dead() -> None:
    """Start and end, in good order, a server of each name whose run is over."""
    if not REGISTRY.exists():
        return
    for name in set(re.findall(rb"treadle-\d+(?:-own)?", REGISTRY.read_bytes())):
        dead = name.decode()
        if Path("/proc", dead.split("-")[1]).exists():
            continue
        with subprocess.Popen(
            _command(dead), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as program:
            subprocess.run(_until_up(dead), check=False, capture_output=True)
            program.terminate()


def _use(patch: pytest.MonkeyPatch, name: str) -> None:
    patch.setenv(SERVER, name)
    patch.setenv("JACK_NO_AUDIO_RESERVATION", "1")


def own_server(patch: pytest.MonkeyPatch) -> None:
    """Let every JACK client of this test look for a server that `server` starts."""
    _use(patch, OWN)


@contextlib.asynccontextmanager
async def server() -> AsyncIterator[Program]:
    """A server for a test that does something to it."""
    async with running(*_command(OWN), end=signal.SIGTERM) as program:
        await run(*_until_up(OWN))
        yield program


@contextlib.contextmanager
def shared_server() -> Iterator[None]:
    """A server for several tests that leave it alone."""
    with pytest.MonkeyPatch.context() as patch:
        _use(patch, SHARED)
        _forget_the_dead()
        with subprocess.Popen(
            _command(SHARED), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as program:
            try:
                subprocess.run(_until_up(SHARED), check=True, capture_output=True)
                yield
            finally:
                program.terminate()
                try:
                    program.wait(PATIENCE_S)
                except subprocess.TimeoutExpired:
                    program.kill()


@contextlib.asynccontextmanager
async def peer(*command: str, port: str) -> AsyncIterator[Program]:
    """Somebody's program, from when its port is there to when it is no more.

    A server that is asked for more while it buries a killed client waits seconds.
    """
    async with running(*command) as program:
        await _until(port, there=True)
        yield program
    await _until(port, there=False)


def dump(name: str) -> contextlib.AbstractAsyncContextManager[Program]:
    """A receiver that prints every message in hexadecimal."""
    return peer("jack_midi_dump", "-a", name, port=f"{name}:input")


def player(name: str) -> contextlib.AbstractAsyncContextManager[Program]:
    """A sender that plays note 60 four times a second."""
    return peer("jack_midiseq", name, "12000", "0", "60", "6000", port=f"{name}:out")


async def ports() -> list[str]:
    """Everybody's ports, as another program sees them."""
    async with asyncio.timeout(PATIENCE_S):
        while True:
            with contextlib.suppress(AssertionError):  # it meets its own former self
                return (await run("jack_lsp")).split()


async def connect(source: str, sink: str) -> None:
    """Connect two ports, from outside."""
    await run("jack_connect", source, sink)


async def _until(port: str, *, there: bool) -> None:
    async with asyncio.timeout(PATIENCE_S):
        while (port in await ports()) is not there:
            pass
