"""One exchange of Modbus at a time, by pymodbus; and what may come of one.

Rules of this file: no exception leaves an exchange, whatever a board or the library
does; and an answer counts only if it is the answer to what was asked.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import termios
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from bridge.adapters.lookup import Lookup
from bridge.core.connection import SerialLine, TcpAddress

ANSWER_S: Final = 0.25
"""How long a board may take: some need 100 ms to move a relay before they answer, and
cheap adapters add 16 ms each way (common practice, no source)."""

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


class Speaker:
    """Speaks Modbus by the library, in the thread."""

    def __init__(self, place: SerialLine | TcpAddress, answer_s: float) -> None:
        self._place, self._answer_s = place, answer_s
        self._lookup = Lookup(place.host) if isinstance(place, TcpAddress) else None
        self._client: Any = None

    async def exchange(self, job: Job) -> Outcome:
        """One request and its answer. No exception leaves."""
        try:
            from pymodbus.exceptions import ConnectionException, ModbusException
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
        outcome = outcome_of(reply, job)
        if isinstance(outcome, Silent):
            await self._quiet()
        return outcome

    def close(self) -> None:
        """Let the line go."""
        client, self._client = self._client, None
        if client is not None:
            with contextlib.suppress(OSError, ValueError, RuntimeError):
                client.close()

    async def _connect(self) -> None:
        """Make a client. Raises ConnectionException, OSError or ValueError."""
        from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient
        from pymodbus.exceptions import ConnectionException

        # It would print each failure; ours go where they belong.
        logging.getLogger("pymodbus").setLevel(logging.CRITICAL + 1)
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
            case TcpAddress(_, port):
                assert self._lookup is not None
                host = await self._lookup.find()
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


def outcome_of(reply: Any, job: Job) -> Coils | Refused | Silent:  # noqa: ANN401
    """What a reply of the library means; what answers something else is no answer."""
    if reply.isError():
        return Refused(int(reply.exception_code))
    if not _answers(reply, job):
        return Silent()
    read = isinstance(job, Read)
    return Coils(tuple(map(bool, reply.bits[: job.count])) if read else ())


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
