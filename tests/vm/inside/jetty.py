"""The jetty's service on USB MIDI and a GPIO line, and a witness of what truly was."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.core.judge import HouseJudge
from bridge.faces.children import Child
from bridge.faces.stage import free_port
from bridge.files.studio import load
from tests.faces.services import TREADLE
from tests.vm.inside.lines import Board
from tests.vm.inside.usb import UsbMidi

if TYPE_CHECKING:
    from tests.faults.truth import Line

FILE = Path(__file__).with_name("jetty.yaml")
RELAY = 17
PATIENCE_S = 200.0
"""The emulator is slow; nothing that is waited for takes a tenth of this."""

ORDER_ONLY_S = 3600.0
"""The emulator's time means nothing: a control moves at once, and only order counts."""

_POLL_S = 0.002


class Bench:
    """A desk, a pedal and a relay, and the record of what two of them were told."""

    def __init__(self, desk: UsbMidi, pedal: UsbMidi, board: Board) -> None:
        self.desk, self.pedal, self.board = desk, pedal, board
        self.told: list[Line] = []
        self.driven: list[Line] = []
        self.when_told: Callable[[], None] = lambda: None

    def look(self) -> None:
        """Take in what the desk has been told, and how the relay's line stands."""
        driven = bool(self.board.level(RELAY))
        if driven != bool(self.driven and self.driven[-1]["driven"]):
            self.driven.append(
                {"at": time.monotonic(), "contact": "changeover", "driven": driven}
            )
        for status, which, value in _threes(self.desk.read()):
            assert status >> 4 == 0xB, hex(status)
            place = f"desk cc {(status & 15) + 1} {which}"
            self.told.append({"at": time.monotonic(), "address": place, "value": value})
            self.when_told()

    def since(self, count: int) -> list[str]:
        """What the desk has been told after the first `count` messages."""
        return [f"{line['address']} {line['value']}" for line in self.told[count:]]

    def press(self) -> None:
        """Put the foot down, and take it up again."""
        self.pedal.say(b"\xb0\x40\x7f")
        time.sleep(0.1)
        self.pedal.say(b"\xb0\x40\x00")

    def verdict(self, file: Path) -> list[str]:
        """What was unsafe at any moment of the record; nothing, if all is well."""
        from tests.faults.truth import Jury, Truth, moves  # brings numpy

        studio = load(file).studio
        assert studio is not None
        jury = Jury(HouseJudge(studio))
        found = moves(studio, self.told, self.driven)
        assert found
        jury.look(Truth(studio, ORDER_ONLY_S).follow(found))
        assert len(jury.settings) > 1
        return jury.broken


def _threes(data: bytes) -> Iterator[tuple[int, int, int]]:
    """Control changes as they stand on a wire, running status included."""
    status, rest = 0, list(data)
    while rest:
        if rest[0] & 0x80:
            status = rest.pop(0)
        which, value = rest.pop(0), rest.pop(0)
        yield status, which, value


class Service:
    """The running service; while one waits for its words, the bench is looked at."""

    def __init__(self, file: Path, bench: Bench) -> None:
        self.bench = bench
        self.child = Child((*TREADLE, "run", str(file), "--json"))
        self._unread: list[dict[str, Any]] = []

    def until(self, told: str, **wanted: object) -> dict[str, Any]:
        """Wait until this is told; return the record. Raises TimeoutError."""
        deadline = time.monotonic() + PATIENCE_S
        while time.monotonic() < deadline:
            self.bench.look()
            self._unread += map(json.loads, self.child.pending())
            while self._unread:
                record = self._unread.pop(0)
                if record.get("told") == told and all(
                    record.get(key) == value for key, value in wanted.items()
                ):
                    self.bench.look()
                    return record
            time.sleep(_POLL_S)
        said = "\n".join(self.child.lines[-20:])
        msg = f"it did not tell {told} {wanted}; it told\n{said}"
        raise TimeoutError(msg)

    def kill(self) -> None:
        """End it as a power cut does, and see what becomes of the relay."""
        os.kill(self.child.pid, signal.SIGKILL)
        self.child.end()
        self.bench.look()


@contextlib.contextmanager
def service(file: Path, bench: Bench) -> Iterator[Service]:
    """`treadle run` for as long as the block lasts."""
    it = Service(file, bench)
    try:
        yield it
    finally:
        it.child.end()


@contextlib.contextmanager
def bench() -> Iterator[Bench]:
    """Plug everything in; pull it out at the end."""
    devices = UsbMidi("Desk", 0), UsbMidi("Pedal", 1)
    with contextlib.ExitStack() as stack:
        for device in devices:
            device.plug()
            stack.callback(device.unplug)
        yield Bench(*devices, Board())


def file_in(folder: Path) -> Path:
    """The jetty's file, with a door of its own."""
    file = folder / FILE.name
    text = FILE.read_text(encoding="utf-8")
    file.write_text(f"{text}\nservice: {{port: {free_port()}}}\n", encoding="utf-8")
    return file
