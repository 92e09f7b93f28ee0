"""Other people's programs as peers: started, spoken to, and ended by their own id."""

import asyncio
import contextlib
import os
import shutil
import signal
from collections.abc import AsyncIterator

import pytest

PATIENCE_S = 20.0


def needs(*programs: str) -> pytest.MarkDecorator:
    """Skip a test where a program is not installed; name the one that is missing."""
    missing = [program for program in programs if shutil.which(program) is None]
    return pytest.mark.skipif(bool(missing), reason=f"not installed: {missing}")


class Program:
    """A running program whose output is read line by line."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        self.process = process

    async def line(self) -> str:
        """The next line of its output, without the line's end."""
        assert self.process.stdout is not None
        async with asyncio.timeout(PATIENCE_S):
            line = await self.process.stdout.readline()
        assert line, "the program ended"
        return line.decode().rstrip("\n")

    def signal(self, number: signal.Signals) -> None:
        """Send it a signal, if it still runs."""
        with contextlib.suppress(ProcessLookupError):
            self.process.send_signal(number)


@contextlib.asynccontextmanager
async def running(
    *command: str, end: signal.Signals = signal.SIGKILL, **environment: str
) -> AsyncIterator[Program]:
    """A program for as long as the block lasts; `end` ends it, or else SIGKILL does."""
    process = await asyncio.create_subprocess_exec(
        *command,
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.STDOUT,
        env=os.environ | environment,
    )
    try:
        yield Program(process)
    finally:
        for number in (end, signal.SIGKILL):
            with contextlib.suppress(ProcessLookupError):
                process.send_signal(number)
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(PATIENCE_S / 4):
                    await process.communicate()


async def run(*command: str, **environment: str) -> str:
    """Run a program to its end and return what it printed; fail if it failed."""
    process = await asyncio.create_subprocess_exec(
        *command,
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.STDOUT,
        env=os.environ | environment,
    )
    async with asyncio.timeout(PATIENCE_S):
        output, _ = await process.communicate()
    assert process.returncode == 0, (command, output.decode())
    return output.decode()
