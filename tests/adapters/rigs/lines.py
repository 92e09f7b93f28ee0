"""Benches of contacts, relay boards and keyboards."""

import contextlib
import itertools
from collections.abc import AsyncIterator
from pathlib import Path
from tempfile import TemporaryDirectory

from bridge.adapters.contacts import ContactIn, ContactOut
from bridge.adapters.imagined import ImaginedBoard, ImaginedContact
from bridge.adapters.keyboard import KeyboardPort
from bridge.adapters.modbus import ModbusPort
from bridge.adapters.modbus_line import Line
from bridge.core.connection import ModbusBoard, SerialLine, TcpAddress
from bridge.core.wire import Coil, Contact, Keystroke, Message
from bridge.engine.ports import Port
from tests.adapters.rigs.rig import DRIVEN, FALLEN, PULLED, Lever, Rig, lever
from tests.fakes.contacts import FakeBoard, FakeChip
from tests.fakes.inbox import until
from tests.fakes.key_boxes import PAGE_DOWN, PEDAL, Desktop
from tests.fakes.modbus_board import Board, over_serial, over_tcp
from tests.fakes.udp_peer import port_with_nobody

PATIENT_S = 2.0
"""A Modbus board's time to answer: on a busy machine a server may need it."""


@contextlib.asynccontextmanager
async def contact_out() -> AsyncIterator[Rig]:
    """The chip is a stand-in. Absent: somebody has the line."""
    board = FakeBoard(FakeChip("gpiochip0", "main", {17: "GPIO17"}))
    line = board.chips["/dev/gpiochip0"].lines[17]
    line.consumer = "somebody"

    async def received() -> Message:
        return Contact("it", high=line.history[-1] == "driven")

    async def plug() -> None:
        line.consumer = None

    port = ContactOut("it", 17, board=board.access)
    yield Rig(port, DRIVEN, received, None, None, plug, None)


@contextlib.asynccontextmanager
async def contact_in() -> AsyncIterator[Rig]:
    """As above; unplugged, the chip itself is pulled out."""
    path = "/dev/gpiochip0"
    board = FakeBoard(FakeChip("gpiochip0", "main", {17: "GPIO17"}))
    line = board.chips[path].lines[17]
    line.consumer = "somebody"

    async def plug() -> None:
        line.consumer = None

    async def unplug() -> None:
        board.chips[path].requests[17].break_down()
        line.pulled = None
        await until(lambda: line.history[-1] == "let go")
        line.consumer = "somebody"

    def say() -> None:
        board.wire(path, 17, level=False)

    port = ContactIn("it", 17, board=board.access)
    yield Rig(port, None, None, DRIVEN, lever(say), plug, unplug)


def _board_rig(port: Port, board: Board, plug: Lever, unplug: Lever) -> Rig:
    """A board whose relay was pulled by somebody before we came, and falls."""
    board.move(0, on=True)
    taken = itertools.count()

    async def received() -> Message:
        number = next(taken)
        await until(lambda: len(board.wrote) > number)
        (first, (on,)) = board.wrote[number]
        return Coil("it", first, on)

    def say() -> None:
        board.move(0, on=False)

    return Rig(port, PULLED, received, FALLEN, lever(say), plug, unplug)


@contextlib.asynccontextmanager
async def modbus_over_tcp() -> AsyncIterator[Rig]:
    """A real server; unplugged, nobody listens at its port."""
    number, board = port_with_nobody(), Board()
    stack = contextlib.AsyncExitStack()
    place = TcpAddress("127.0.0.1", number)
    port = ModbusPort(ModbusBoard("it", place), Line(place, PATIENT_S))

    async def plug() -> None:
        await stack.enter_async_context(over_tcp(board, port=number))

    async def unplug() -> None:
        await stack.aclose()
        await until(lambda: not port._presence.is_found)

    async with stack:
        yield _board_rig(port, board, plug, unplug)
        await port.close()


@contextlib.asynccontextmanager
async def modbus_over_serial() -> AsyncIterator[Rig]:
    """A real server behind two ptys; unplugged, the adapter's device is gone."""
    board = Board()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "adapter"
        place = SerialLine(str(path))
        port = ModbusPort(ModbusBoard("it", place), Line(place, PATIENT_S))
        async with over_serial(path, board) as cable:
            yield _board_rig(port, board, lever(cable.plug), lever(cable.unplug))
            await port.close()


@contextlib.asynccontextmanager
async def imagined_board() -> AsyncIterator[Rig]:
    port = ImaginedBoard("it")

    async def received() -> Message:
        return Coil("it", 0, on=port.coils[0])

    yield Rig(port, PULLED, received, None, None, None, None)


@contextlib.asynccontextmanager
async def keyboard() -> AsyncIterator[Rig]:
    """A box with keys; its descriptor and its events are real, the kernel is not."""
    desk = Desktop()

    def say() -> None:
        for device in desk.devices:
            device.moves(PAGE_DOWN, 1)

    port = KeyboardPort("it", PEDAL, board=desk.board)
    hears = Keystroke("it", PAGE_DOWN, down=True)
    levers = lever(desk.plug), lever(desk.unplug)
    yield Rig(port, None, None, hears, lever(say), *levers)


@contextlib.asynccontextmanager
async def imagined() -> AsyncIterator[Rig]:
    port = ImaginedContact("it")

    async def received() -> Message:
        return Contact("it", high=port.is_driven)

    yield Rig(port, DRIVEN, received, None, None, None, None)
