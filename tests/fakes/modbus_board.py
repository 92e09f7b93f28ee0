"""A relay board: pymodbus's own server, over TCP or over a serial cable of two ptys.

It is another's program (server and frames are the library's own); only what its relays
do, and how it fails, is in the hand of the test.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import tty
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

RELAYS = 16
"""A board of sixteen relays: one word of the server's memory."""


class Board:
    """One board. word: how its relays stand. wrote: what was written, in order.

    refuses: an exception code, for everything or (`refuses_writes`) for writes only.
    late_s: it answers so much later. is_hung: it does not answer. asked: how often.
    """

    def __init__(self, unit: int = 1) -> None:
        self.unit = unit
        self.word = 0
        self.wrote: list[tuple[int, tuple[bool, ...]]] = []
        self.refuses: ExcCodes | None = None
        self.refuses_writes: ExcCodes | None = None
        self.late_s = 0.0
        self.is_hung = False
        self.asked = 0
        self._never = asyncio.Event()  # kept here, or what waits for it is swept away
        self.device = SimDevice(
            unit,
            SimData(0, count=RELAYS // 16, datatype=DataType.BITS),
            use_bit_addressing=True,
            action=self._act,
        )

    def relay(self, number: int) -> bool:
        """Whether a relay is pulled."""
        return bool(self.word >> number & 1)

    def move(self, number: int, *, on: bool) -> None:
        """Another program, or a hand on the board's own key, moves a relay."""
        self.word = self.word & ~(1 << number) | on << number

    async def _act(
        self,
        function: int,
        start: int,
        address: int,
        count: int,
        registers: list[int],
        values: Any,
    ) -> ExcCodes | None:
        self.asked += 1
        if self.is_hung:
            await self._never.wait()
        await asyncio.sleep(self.late_s)
        if self.refuses is not None:
            return self.refuses
        if values is not None:  # after a write it reads by the same function
            if self.refuses_writes is not None:
                return self.refuses_writes
            bits = tuple(map(bool, values))
            self.wrote.append((address, bits))
            for place, bit in enumerate(bits):
                self.move(address + place, on=bit)
        registers[0] = self.word
        return None


@contextlib.asynccontextmanager
async def over_tcp(
    *boards: Board, port: int = 0, packets: list[tuple[bool, bytes]] | None = None
) -> AsyncIterator[int]:
    """The boards at a port of this machine; yields the port.

    packets: gets what goes over the wire, (whether from the board, bytes).
    """
    _hush()

    def trace(sent: bool, data: bytes) -> bytes:
        if packets is not None:
            packets.append((sent, data))
        return data

    server = ModbusTcpServer(
        [board.device for board in boards],
        address=("127.0.0.1", port),
        trace_packet=trace,
    )
    await server.serve_forever(background=True)
    try:
        assert server.transport is not None
        yield server.transport.sockets[0].getsockname()[1]  # type: ignore[attr-defined]
    finally:
        await server.shutdown()  # type: ignore[no-untyped-call]
        await _settled()


class Cable:
    """A serial cable with an adapter at our end: two ptys, and what goes between.

    path: the adapter's name, the same each time it is plugged in. from_board,
    to_board: the bytes so far. noise: is put before the next answer.
    """

    def __init__(self, path: Path, units: frozenset[int]) -> None:
        self.path, self._units = path, units
        self.from_board = bytearray()
        self.to_board = bytearray()
        self.noise = b""
        self._ours: list[int] = []
        self._board = _pty()
        asyncio.get_running_loop().add_reader(self._board[0], self._answers)

    @property
    def board_end(self) -> str:
        """Where the board's server sits."""
        return os.ttyname(self._board[1])

    def plug(self) -> None:
        """The adapter is there."""
        self._ours = [*_pty()]
        self.path.symlink_to(os.ttyname(self._ours[1]))
        asyncio.get_running_loop().add_reader(self._ours[0], self._asks)

    def unplug(self) -> None:
        """The adapter is pulled out."""
        if self._ours:
            self.path.unlink()
            asyncio.get_running_loop().remove_reader(self._ours[0])
            for end in self._ours:
                os.close(end)
            self._ours = []

    def close(self) -> None:
        """Take it all away."""
        self.unplug()
        asyncio.get_running_loop().remove_reader(self._board[0])
        for end in self._board:
            os.close(end)

    def _asks(self) -> None:
        with contextlib.suppress(OSError):
            data = os.read(self._ours[0], 1024)
            self.to_board += data
            if data[0] in self._units:  # a board is deaf to what is for another
                os.write(self._board[0], data)

    def _answers(self) -> None:
        data = os.read(self._board[0], 1024)
        self.from_board += data
        noise, self.noise = self.noise, b""
        if self._ours:
            os.write(self._ours[0], noise + data)


@contextlib.asynccontextmanager
async def over_serial(path: Path, *boards: Board) -> AsyncIterator[Cable]:
    """The boards at the end of a cable whose adapter is not plugged in yet."""
    _hush()
    cable = Cable(path, frozenset(board.unit for board in boards))
    server = ModbusSerialServer(
        [board.device for board in boards],
        port=cable.board_end,
        baudrate=9600,
    )
    await server.serve_forever(background=True)
    try:
        yield cable
    finally:
        await server.shutdown()  # type: ignore[no-untyped-call]
        await _settled()
        cable.close()


def _hush() -> None:
    logging.getLogger("pymodbus").setLevel(logging.CRITICAL + 1)


async def _settled() -> None:
    """Let the server's own tasks end; those that hang are ended."""
    await asyncio.sleep(0)
    hung = [
        task
        for task in asyncio.all_tasks()
        if "handle_request" in getattr(task.get_coro(), "__qualname__", "")
    ]
    for task in hung:
        task.cancel()
    await asyncio.gather(*hung, return_exceptions=True)


def _pty() -> tuple[int, int]:
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    os.set_blocking(ours, False)
    return ours, theirs
