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
import logging
import os
import termios
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from bridge.core.studio import SerialLine, TcpAddress

ANSWER_S: Final = 0.25
"""How long a board may take: some need 100 ms to move a relay before they answer, and
cheap adapters add 16 ms each way (common practice, no source)."""

QUEUED: Final = 64
"""Exchanges that wait on one line. Each takes some tens of milliseconds at 9600 baud:
more than these would be older than anybody's patience."""

STALE_S: Final = 1.0
"""What has waited so long is not done any more: whoever asked has given up, and a relay
must not move for a reason that is gone."""

HANGS_S: Final = 3.0
"""Neither an answer nor a failure for so long: the library or the system is stuck. The
longest regular wait is for connecting and for one answer, half a second."""

CLOSE_S: Final = 1.0
"""How long closing may take before the thread is left to itself."""


READ: Final = 0x01
WRITES: Final = (0x05, 0x0F)
"""Function codes (Modbus Application Protocol V1.1b3, 6.1, 6.5, 6.11)."""


@dataclass(frozen=True, slots=True)
class Read:
    """Ask how `count` coils stand, from `first` on."""

    unit: int
    first: int
    count: int


@dataclass(frozen=True, slots=True)
class Write:
    """Set `count` coils, from `first` on, all on or all off."""

    unit: int
    first: int
    count: int
    on: bool


@dataclass(frozen=True, slots=True)
class Coils:
    """The board's answer to Read; () to Write."""

    bits: tuple[bool, ...] = ()


@dataclass(frozen=True, slots=True)
class Refused:
    """The board, or a gateway before it, answered with an exception code."""

    code: int


@dataclass(frozen=True, slots=True)
class Silent:
    """Nobody answered in time."""


@dataclass(frozen=True, slots=True)
class Gone:
    """The line itself is not there, in words for the person."""

    why: str


@dataclass(frozen=True, slots=True)
class Stale:
    """It waited so long for its turn that it was not done."""


Job = Read | Write
Outcome = Coils | Refused | Silent | Gone | Stale
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
    speaker = _Speaker(place, answer_s)

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


class _Speaker:
    """Speaks Modbus by the library, in the thread."""

    def __init__(self, place: SerialLine | TcpAddress, answer_s: float) -> None:
        self._place, self._answer_s = place, answer_s
        self._client: Any = None

    async def exchange(self, job: Job) -> Outcome:
        """One request and its answer. No exception leaves."""
        try:
            from pymodbus.exceptions import ConnectionException, ModbusException

            # It would print each failure; ours go where they belong.
            logging.getLogger("pymodbus").setLevel(logging.CRITICAL + 1)
        except ImportError as error:
            return Gone(_missing(error))
        try:
            if self._client is None or not self._client.connected:
                self.close()
                await self._connect()
            reply = await _asked(self._client, job)
        except ConnectionException:
            self.close()
            return Gone(await asyncio.to_thread(_absent, self._place))
        except ModbusException:
            await self._quiet()
            return Silent()
        except ImportError as error:
            return Gone(_missing(error))
        except (OSError, ValueError, RuntimeError, termios.error) as error:
            self.close()
            return Gone(f"{self._place}: {error}")
        if reply.isError():
            return Refused(reply.exception_code)
        if not _answers(reply, job):
            await self._quiet()
            return Silent()
        read = isinstance(job, Read)
        return Coils(tuple(map(bool, reply.bits[: job.count])) if read else ())

    def close(self) -> None:
        """Let the line go."""
        client, self._client = self._client, None
        if client is not None:
            with contextlib.suppress(OSError, ValueError, RuntimeError):
                client.close()

    async def _connect(self) -> None:
        """Make a client. Raises ConnectionException, OSError or ImportError."""
        from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient
        from pymodbus.exceptions import ConnectionException

        often: dict[str, Any] = {
            "timeout": self._answer_s,
            "retries": 0,
            "reconnect_delay": 0,  # when it is worth while is decided elsewhere
        }
        match self._place:
            case SerialLine(device, baud, parity):
                self._client = AsyncModbusSerialClient(
                    device, baudrate=baud, parity=parity[0].upper(), **often
                )
            case TcpAddress(host, port):
                self._client = AsyncModbusTcpClient(host, port=port, **often)
        if not await self._client.connect():
            raise ConnectionException

    async def _quiet(self) -> None:
        """Let an answer that is late go by."""
        if isinstance(self._place, SerialLine):
            await asyncio.sleep(self._answer_s)
        else:
            self.close()


async def _asked(client: Any, job: Job) -> Any:  # noqa: ANN401
    match job:
        case Read(unit, first, count):
            return await client.read_coils(first, count=count, device_id=unit)
        case Write(unit, first, 1, on):
            return await client.write_coil(first, on, device_id=unit)
        case Write(unit, first, count, on):
            return await client.write_coils(first, [on] * count, device_id=unit)


def _answers(reply: Any, job: Job) -> bool:  # noqa: ANN401
    """Whether this is the answer to that: what is echoed must be what was sent."""
    match job:
        case Read(_, _, count):
            return reply.function_code == READ and len(reply.bits) >= count
        case Write(_, first, _, _):
            return reply.function_code in WRITES and reply.address == first


def _missing(error: ImportError) -> str:
    return (
        f"the library for Modbus is missing ({error}): run "
        '"pip install treadle[modbus]" and start again'
    )


def _absent(place: SerialLine | TcpAddress) -> str:
    """Why a line cannot be had, and how to mend it. It looks at files."""
    if isinstance(place, TcpAddress):
        return (
            f"nobody takes a connection at {place}: see that the board is on, that its "
            "address and port are these, and that no other program holds it"
        )
    if not Path(place.device).exists():
        return (
            f"there is no {place}: plug the adapter in; ls /dev/serial/by-id shows "
            "what there is"
        )
    if not os.access(place.device, os.R_OK | os.W_OK):
        return (
            f"{place} may not be opened: put the service's user into the device's "
            "group (dialout, as a rule)"
        )
    return f"{place} cannot be opened: end the program that has it"
