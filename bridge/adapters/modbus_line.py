"""One Modbus line: a serial adapter or an address, with a thread of its own.

Strategy: pymodbus speaks in an event loop of that thread, one exchange after the other,
as the line wants it. Opening and closing a serial device may wait for half a minute (an
adapter that is stuck, output that does not drain), and so may looking up a name; there
they hold up nobody else. Both sides hand over by `call_soon_threadsafe`, and what waits
is bounded. Nothing is tried again here: who asks knows whether it still matters.

An answer on a serial line does not say what it answers. So after one that did not come
the line is left alone for as long again, and what comes late is thrown away; over TCP
the connection is closed instead.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from bridge.adapters.modbus_speaker import (
    ANSWER_S,
    Job,
    Outcome,
    Speaker,
    Stale,
)
from bridge.core.connection import SerialLine, TcpAddress

QUEUED: Final = 64
"""Exchanges that wait on one line. Each takes some tens of milliseconds at 9600 baud:
more than these would be older than anybody's patience."""

STALE_S: Final = 1.0
"""What has waited so long is not done any more: whoever asked has given up, and a relay
must not move for a reason that is gone."""

HANGS_S: Final = 3.0
"""Neither an answer nor a failure for so long: the library or the system is stuck. The
longest regular wait is for a name, for connecting, and for one answer."""

CLOSE_S: Final = 1.0
"""How long closing may take before the thread is left to itself."""


Done = Callable[[Outcome], None]


@dataclass(eq=False, slots=True)
class _Waiting:
    job: Job
    done: Done
    since: float
    is_dropped: bool = False


@dataclass(slots=True)
class Line:
    """A line that several boards may share; open while at least one of them is.

    To be called from one event loop, the service's; `done` is called there.
    """

    place: SerialLine | TcpAddress
    answer_s: float = ANSWER_S
    _users: int = 0
    _home: asyncio.AbstractEventLoop | None = None
    _loop: asyncio.AbstractEventLoop | None = None
    _jobs: asyncio.Queue[_Waiting | None] | None = None
    _waiting: dict[_Waiting, None] = field(default_factory=dict)
    _ended: asyncio.Event = field(default_factory=asyncio.Event)

    def open(self) -> None:
        """Begin, if nobody else has."""
        self._users += 1
        if self._users > 1:
            return
        self._home = asyncio.get_running_loop()
        self._ended = asyncio.Event()
        self._loop = asyncio.new_event_loop()
        self._jobs = asyncio.Queue()
        told = self._home, self._ended
        # A daemon, because a device that hangs would keep it for ever.
        threading.Thread(
            target=_serve,
            args=(self._loop, self._jobs, self.place, self.answer_s, self._over, told),
            name=f"modbus {self.place}",
            daemon=True,
        ).start()

    async def close(self) -> None:
        """End, if nobody else is left; within reason."""
        self._users -= 1
        if self._users or self._loop is None or self._jobs is None:
            return
        self._tell(self._jobs.put_nowait, None)
        self._loop = self._jobs = None
        self._waiting.clear()
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(CLOSE_S):
                await self._ended.wait()

    @property
    def is_idle(self) -> bool:
        """Whether nothing waits or is under way."""
        return not self._waiting

    def has_waiting(self, job: Job) -> bool:
        """Whether the same is waited for already."""
        return any(waiting.job == job for waiting in self._waiting)

    def is_stuck(self, now: float) -> bool:
        """Whether the oldest has had no outcome for longer than can be."""
        oldest = next(iter(self._waiting), None)
        return oldest is not None and now - oldest.since > HANGS_S + STALE_S

    def ask(self, job: Job, done: Done) -> bool:
        """Put a job in; False if there is no room, or nothing is open."""
        if self._loop is None or self._home is None or self._jobs is None:
            return False
        if len(self._waiting) >= QUEUED:
            return False
        waiting = _Waiting(job, done, self._home.time())
        self._waiting[waiting] = None
        self._tell(self._jobs.put_nowait, waiting)
        return True

    def forget(self, unit: int) -> None:
        """Do not do what waits for this board: nobody reckons with it any more."""
        for waiting in self._waiting:
            if waiting.job.unit == unit:
                waiting.is_dropped = True

    def _tell(self, what: Callable[..., None], value: _Waiting | None) -> None:
        assert self._loop is not None
        with contextlib.suppress(RuntimeError):  # its loop has just ended
            self._loop.call_soon_threadsafe(what, value)

    def _over(self, waiting: _Waiting, outcome: Outcome) -> None:
        """In the home loop: one has an outcome, unless it was closed meanwhile."""
        if waiting in self._waiting:
            del self._waiting[waiting]
            waiting.done(outcome)


# The thread

_Told = tuple[asyncio.AbstractEventLoop, asyncio.Event]


def _serve(
    loop: asyncio.AbstractEventLoop,
    jobs: asyncio.Queue[_Waiting | None],
    place: SerialLine | TcpAddress,
    answer_s: float,
    over: Callable[[_Waiting, Outcome], None],
    told: _Told,
) -> None:
    """Do the jobs, one after the other, until there is a None."""
    home, ended = told
    # A frame that the library stumbles over counts as no answer.
    loop.set_exception_handler(lambda _loop, _what: None)
    speaker = Speaker(place, answer_s)

    async def served() -> None:
        while (waiting := await jobs.get()) is not None:
            if waiting.is_dropped or home.time() - waiting.since > STALE_S:
                outcome: Outcome = Stale()
            else:
                outcome = await speaker.exchange(waiting.job)
            home.call_soon_threadsafe(over, waiting, outcome)

    try:
        # A RuntimeError: the service's loop has ended, and nobody listens any more.
        with contextlib.suppress(RuntimeError):
            loop.run_until_complete(served())
    finally:
        speaker.close()
        loop.run_until_complete(asyncio.sleep(0))  # let the transport end
        loop.run_until_complete(loop.shutdown_default_executor())
        loop.close()
        with contextlib.suppress(RuntimeError):
            home.call_soon_threadsafe(ended.set)
