"""A service as a process, on a shipped studio that was moved to free ports."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bridge.faces.children import Child, SimulatedDesk
from bridge.faces.stage import PEDAL, free_port, replaced
from bridge.files.shelf import shipped_studios

TREADLE = (sys.executable, "-m", "bridge")
PATIENCE_S = 30.0
"""How long anything may take before a test fails; never what is measured."""

SLIP = (
    "monitor: [mic, jingles, astronomer]",
    "program: [mic, jingles, astronomer], monitor: [mic, jingles, astronomer]",
)
"""What puts the guest on the bus that the guest hears."""

SWITCHES = {f"/strip/{s}/to/{b}": 0 for s in (1, 2, 3, 5, 7) for b in (1, 2)}
"""What its desk holds: the addresses of all switches that are patched, and all off."""

PHONES = {"/strip/1/to/1", "/strip/1/to/2", "/strip/7/to/1", "/strip/7/to/2"}
SPEAKERS = {"/strip/7/to/1", "/strip/7/to/2"}
"""The switches that are on in these scenes."""


@dataclass(frozen=True)
class Place:
    """A studio file, and the ports it names."""

    file: Path
    desk: int
    pedal: int
    door: int


def observatory(folder: Path, *changes: tuple[str, str], desk: int = 0) -> Place:
    """The shipped observatory with its desk, pedal and door on this machine."""
    place = Place(
        folder / "observatory.yaml", desk or free_port(), free_port(), free_port()
    )
    text = (shipped_studios() / "observatory.yaml").read_text(encoding="utf-8")
    pressed = f"from: {{osc: {PEDAL}, sender: 127.0.0.1, listen: {place.pedal}}}"
    text = replaced(
        text,
        ('osc: "192.168.4.20:9000"', f'osc: "127.0.0.1:{place.desk}"'),
        ('from: {midi: "Pedal", control: 64}', pressed),
        *changes,
    )
    place.file.write_text(
        f"{text}\nservice: {{port: {place.door}}}\n", encoding="utf-8"
    )
    return place


class Service:
    """The running service, and what it tells."""

    def __init__(self, child: Child) -> None:
        self.child = child

    def until(
        self, told: str, within_s: float = PATIENCE_S, **wanted: object
    ) -> dict[str, Any]:
        """Wait until this is told; return the record."""

        def matches(line: str) -> bool:
            record = json.loads(line)
            return record.get("told") == told and all(
                record.get(key) == value for key, value in wanted.items()
            )

        record: dict[str, Any] = json.loads(self.child.until(matches, within_s))
        return record

    def up(self) -> None:
        """Wait until it is in its start scene, or has found it in force."""

        def is_up(line: str) -> bool:
            record = json.loads(line)
            return record.get("told") in ("arrived", "started") and record["scene"]

        self.child.until(is_up, PATIENCE_S)


@contextlib.contextmanager
def running(file: Path, **environment: str) -> Iterator[Service]:
    """`treadle run` for as long as the block lasts; it must then end well."""
    command = (*TREADLE, "run", str(file), "--imagine-contacts", "--json")
    service = Service(Child(command, environment))
    try:
        yield service
    finally:
        code = service.child.end()
    assert code == 0, service.child.lines


def treadle(*words: object, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a command to its end."""
    return subprocess.run(
        [*TREADLE, *map(str, words)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "COLUMNS": "200", **environment},
        timeout=PATIENCE_S,
        check=False,
    )


def on(desk: SimulatedDesk) -> set[str]:
    """The addresses that are on, by the desk's own word."""
    return {address for address, value in desk.state().items() if value == 1}


@contextlib.contextmanager
def listening() -> Iterator[socket.socket]:
    """A socket where a desk could be, that only listens."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind(("127.0.0.1", 0))
        sock.setblocking(False)
        yield sock


def packets(sock: socket.socket) -> list[bytes]:
    """Everything that came so far."""
    found = []
    with contextlib.suppress(BlockingIOError):
        while True:
            found.append(sock.recv(65_536))
    return found


def oscsend(port: int, *words: object) -> None:
    """Send with liblo's program."""
    url = f"osc.udp://127.0.0.1:{port}"
    command: Sequence[str] = ["oscsend", url, *map(str, words)]
    subprocess.run(command, check=True, timeout=PATIENCE_S)
