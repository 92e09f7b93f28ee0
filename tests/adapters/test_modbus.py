"""Relay boards on a Modbus line: set, read back, and everything that can go wrong.

The board is pymodbus's own server, in the test's loop; the line has its own thread, so
both ends are other programs to each other. Frames are those of the standard: the bytes
that are checked by hand stand in "MODBUS over Serial Line" V1.02, 6.2 (CRC), and the
Application Protocol V1.1b3, 6.1, 6.5 and 6.11.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import select
import threading
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from pymodbus.constants import ExcCodes

from bridge.adapters import modbus, modbus_line, modbus_speaker
from bridge.adapters.modbus import ModbusPort
from bridge.adapters.modbus_line import Line
from bridge.core.connection import ModbusBoard, SerialLine, TcpAddress
from bridge.core.wire import Coil
from bridge.engine.ports import Heard, Lost, PortGone
from tests.fakes.inbox import PATIENCE_S, Inbox, until
from tests.fakes.modbus_board import Board, Cable, over_serial, over_tcp
from tests.fakes.programs import needs, run

QUICK_S = 0.05
PAIR = ((0, 2), (4, 1))


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Look for what is absent, and at what is there, more often than in life."""
    monkeypatch.setattr(modbus, "AGAIN_S", 0.05)
    monkeypatch.setattr(modbus, "WATCH_S", 0.05)


@contextlib.asynccontextmanager
async def at(
    place: SerialLine | TcpAddress,
    *,
    unit: int = 1,
    line: Line | None = None,
    answer_s: float = modbus_speaker.ANSWER_S,
) -> AsyncIterator[tuple[ModbusPort, Inbox]]:
    """A port for the board there, open."""
    inbox = Inbox()
    board = ModbusBoard("relays", place, unit, PAIR)
    port = ModbusPort(board, line or Line(place, answer_s=answer_s))
    await port.open(inbox)
    yield port, inbox
    await port.close()


@contextlib.asynccontextmanager
async def served(*boards: Board) -> AsyncIterator[TcpAddress]:
    async with over_tcp(*boards) as number:
        yield TcpAddress("127.0.0.1", number)


@contextlib.asynccontextmanager
async def wired(
    folder: Path, *boards: Board
) -> AsyncIterator[tuple[Cable, SerialLine]]:
    async with over_serial(folder / "adapter", *boards) as cable:
        cable.plug()
        yield cable, SerialLine(str(folder / "adapter"))


async def found(inbox: Inbox) -> None:
    await until(lambda: inbox.presence[-1:] == ["found"])


async def lost(inbox: Inbox) -> str:
    """Why it is lost."""
    await until(lambda: inbox.presence[-1:] == ["lost"])
    return next(a.why for a in reversed(inbox.arrivals) if isinstance(a, Lost))


def coils(inbox: Inbox) -> list[Coil]:
    heard = (a.message for a in inbox.arrivals if isinstance(a, Heard))
    return [message for message in heard if isinstance(message, Coil)]


async def test_what_goes_over_the_wire_is_what_the_standard_says(
    tmp_path: Path,
) -> None:
    board = Board(0x11)
    async with (
        wired(tmp_path, board) as (cable, place),
        at(place, unit=0x11) as (port, inbox),
    ):
        await found(inbox)
        cable.to_board.clear()
        cable.from_board.clear()
        port.send(Coil("relays", 0, on=True, count=2))
        port.send(Coil("relays", 4, on=True))
        port.send(Coil("relays", 0, None, 2))
        await until(lambda: Coil("relays", 0, on=True, count=2) in coils(inbox))
        for coil in (Coil("", 0, True, 2), Coil("", 4, True), Coil("", 0, None, 2)):
            frame = bytes((0x11,)) + coil.pdu
            assert frame + crc(frame) in cable.to_board
        # 6.5: the answer to a write of one coil is its echo.
        echo = bytes.fromhex("11 05 00 04 FF 00")
        assert echo + crc(echo) in cable.from_board
        assert [board.relay(n) for n in range(5)] == [True, True, False, False, True]


@needs("text2pcap", "tshark")
async def test_tshark_reads_what_goes_over_tcp_as_it_is_meant(tmp_path: Path) -> None:
    board = Board(9)
    packets: list[tuple[bool, bytes]] = []
    async with (
        over_tcp(board, packets=packets) as number,
        at(TcpAddress("127.0.0.1", number), unit=9) as (port, inbox),
    ):
        await found(inbox)
        port.send(Coil("relays", 0, on=True, count=2))
        port.send(Coil("relays", 4, on=True))
        await until(lambda: board.relay(4))
    text = "".join(
        f"{'O' if sent else 'I'}\n0000 {data.hex(' ')}\n" for sent, data in packets
    )
    (tmp_path / "packets.txt").write_text(text)
    capture = str(tmp_path / "packets.pcap")
    source = str(tmp_path / "packets.txt")
    await run("text2pcap", "-q", "-D", "-T", "40000,502", source, capture)
    fields = ("mbtcp.unit_id", "modbus.func_code", "modbus.reference_num")
    chosen = [word for f in (*fields, "_ws.col.Info") for word in ("-e", f)]
    read = await run("tshark", "-r", capture, "-T", "fields", *chosen)
    rows = [line.split("\t") for line in read.splitlines() if "\t" in line]
    assert ["9", "15", "0"] in [row[:3] for row in rows]
    assert ["9", "5", "4"] in [row[:3] for row in rows]
    assert "Malformed" not in read
    assert read.count("Query: ") > 2
    assert read.count("Response: ") > 2


def crc(frame: bytes) -> bytes:
    """CRC 16 of MODBUS over Serial Line V1.02, 6.2.2, low byte first."""
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
    return value.to_bytes(2, "little")


def test_the_crc_of_this_test_is_that_of_the_standard() -> None:
    # V1.02, appendix B: the CRC of 02 07 is 1241h, sent as 41 12.
    assert crc(b"\x02\x07") == b"\x41\x12"


async def test_a_coil_is_believed_when_it_was_read_back_and_not_before() -> None:
    board = Board()
    board.refuses_writes = ExcCodes.DEVICE_BUSY
    async with served(board) as place, at(place) as (port, inbox):
        await found(inbox)
        port.send(Coil("relays", 4, on=True))
        port.send(Coil("relays", 4, None))
        await until(lambda: coils(inbox) == [Coil("relays", 4, on=False)])
        assert port.drops == {"the board was busy": 1}
        board.refuses_writes = None
        port.send(Coil("relays", 4, on=True))
        await until(lambda: board.relay(4))
        await until(lambda: Coil("relays", 4, on=True) in coils(inbox))


async def test_a_coil_that_somebody_else_moves_is_heard() -> None:
    board = Board()
    async with served(board) as place, at(place) as (_, inbox):
        await found(inbox)
        board.move(4, on=True)
        await until(lambda: Coil("relays", 4, on=True) in coils(inbox))
        board.move(0, on=True)  # one side of the pair only
        await until(lambda: board.asked > 8)
        assert Coil("relays", 0, on=True, count=2) not in coils(inbox)
        board.move(1, on=True)
        await until(lambda: Coil("relays", 0, on=True, count=2) in coils(inbox))


async def test_a_pair_of_relays_that_differ_says_nothing_and_is_counted() -> None:
    board = Board()
    async with served(board) as place, at(place) as (port, inbox):
        await found(inbox)
        board.move(1, on=True)
        port.send(Coil("relays", 0, None, 2))
        await until(lambda: port.drops.get("relays of a pair that differ", 0) > 0)
        assert all(coil.count == 1 for coil in coils(inbox))


async def test_the_adapter_may_be_pulled_out_and_put_in(tmp_path: Path) -> None:
    board = Board()
    async with wired(tmp_path, board) as (cable, place), at(place) as (port, inbox):
        await found(inbox)
        for _ in range(2):
            cable.unplug()
            assert "plug the adapter in" in await lost(inbox)
            with pytest.raises(PortGone, match="plug the adapter in"):
                port.send(Coil("relays", 4, on=True))
            cable.plug()
            await found(inbox)
            port.send(Coil("relays", 4, on=not board.relay(4)))
            await until(lambda: len(board.wrote) > 0)
            board.wrote.clear()


@pytest.mark.parametrize(
    ("code", "cure"),
    [
        (ExcCodes.ILLEGAL_FUNCTION, "another kind of board"),
        (ExcCodes.ILLEGAL_ADDRESS, "counted from 0"),
        (ExcCodes.DEVICE_FAILURE, "power off and on"),
        (ExcCodes.GATEWAY_NO_RESPONSE, "its unit"),
    ],
)
async def test_an_exception_code_says_what_to_mend(code: ExcCodes, cure: str) -> None:
    board = Board()
    async with served(board) as place, at(place) as (port, inbox):
        await found(inbox)
        board.refuses = code
        port.send(Coil("relays", 4, on=True))
        why = await lost(inbox)
        assert f"exception code {code.value}" in why
        assert cure in why
        assert str(place) in why
        board.refuses = None
        await found(inbox)


async def test_the_wrong_unit_is_told_over_tcp_and_missed_on_a_serial_line(
    tmp_path: Path,
) -> None:
    async with served(Board(7)) as place, at(place, unit=8) as (_, inbox):
        assert "unit 8" in await lost(inbox)
    async with wired(tmp_path, Board(7)) as (_, place2), at(place2, unit=8) as (_, box):
        assert "does not answer" in await lost(box)


async def test_a_server_that_hangs_costs_its_own_board_and_nobody_else() -> None:
    board = Board()
    async with served(board) as place, at(place, answer_s=QUICK_S) as (port, inbox):
        await found(inbox)
        board.is_hung = True
        port.send(Coil("relays", 4, on=True))  # returns at once
        assert "does not answer" in await lost(inbox)
        assert port.drops["not answered in time"] >= modbus.MISSES
        board.is_hung = False
        await found(inbox)
        assert board.wrote == [], "what was not done while it hung is not done later"


async def test_a_slow_answer_is_thrown_away_and_not_taken_for_another(
    tmp_path: Path,
) -> None:
    board = Board()
    async with (
        wired(tmp_path, board) as (_, place),
        at(place, answer_s=QUICK_S) as (port, inbox),
    ):
        await found(inbox)
        board.late_s = QUICK_S * 1.5
        board.move(4, on=True)
        port.send(Coil("relays", 4, None))
        port.send(Coil("relays", 5, None))  # its answer would be that of coil 4
        await until(lambda: port.drops.get("not answered in time", 0) > 1)
        assert Coil("relays", 5, on=True) not in coils(inbox)
        board.late_s = 0.0
        await found(inbox)
        port.send(Coil("relays", 4, None))
        await until(lambda: Coil("relays", 4, on=True) in coils(inbox))


async def test_noise_on_the_cable_costs_one_answer(tmp_path: Path) -> None:
    board = Board()
    async with wired(tmp_path, board) as (cable, place), at(place) as (port, inbox):
        await found(inbox)
        cable.noise = b"\x00\xff\x55"
        port.send(Coil("relays", 4, on=True))
        port.send(Coil("relays", 4, None))
        await until(lambda: Coil("relays", 4, on=True) in coils(inbox))
        assert inbox.presence == ["found"]


async def test_a_dead_board_does_not_take_the_line_from_a_live_one(
    tmp_path: Path,
) -> None:
    alive = Board(1)
    async with wired(tmp_path, alive) as (_, place):
        line = Line(place)
        async with (
            at(place, unit=1, line=line) as (port, inbox),
            at(place, unit=2, line=line) as (_, dead),
        ):
            await found(inbox)
            assert "unit 2" in await lost(dead)
            async with asyncio.timeout(PATIENCE_S):
                while not alive.relay(4):  # on a busy machine an answer may be late
                    with contextlib.suppress(PortGone):
                        port.send(Coil("relays", 4, on=True))
                    await asyncio.sleep(0.1)


async def test_more_than_a_line_can_do_is_refused_and_counted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(modbus_line, "QUEUED", 4)
    monkeypatch.setattr(modbus, "WATCH_S", 60.0)  # a look would take a place
    board = Board()
    async with served(board) as place, at(place, answer_s=QUICK_S) as (port, inbox):
        await found(inbox)
        board.is_hung = True
        port.send(Coil("relays", 0, None))
        port.send(Coil("relays", 0, None))
        assert port.drops == {"sent again while the first waits": 1}
        for number in range(1, modbus_line.QUEUED):
            port.send(Coil("relays", number, None))
        with pytest.raises(PortGone, match="too much waits"):
            port.send(Coil("relays", 99, None))


async def test_a_library_that_is_stuck_is_told_and_holds_up_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Closing a serial device may wait half a minute for output that does not drain."""
    monkeypatch.setattr(modbus_line, "HANGS_S", 0.1)
    monkeypatch.setattr(modbus_line, "STALE_S", 0.1)
    monkeypatch.setattr(modbus_line, "CLOSE_S", 0.1)
    wakes, wake = os.pipe()
    waiting = select.poll()
    waiting.register(wakes, select.POLLIN)

    async def stuck(_self: object, _job: object) -> None:
        waiting.poll(20_000)

    async with wired(tmp_path, Board()) as (_, place), at(place) as (port, inbox):
        await found(inbox)
        monkeypatch.setattr(modbus_speaker.Speaker, "exchange", stuck)
        assert "hangs: pull the adapter out" in await lost(inbox)
        await port.close()
        os.write(wake, b"x")
    await until(lambda: str(place) not in str(threading.enumerate()))
    os.close(wake)
    os.close(wakes)


async def test_without_the_library_it_says_how_to_get_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "pymodbus.exceptions", None)
    async with at(TcpAddress("127.0.0.1", 9)) as (_, inbox):
        assert 'pip install treadle[modbus]"' in await lost(inbox)
