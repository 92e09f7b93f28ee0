"""The stage of the demonstration: the studio, a real service, a desk, and a pedal.

The studio file is the shipped one but for three things: where the desk is, how the
pedal comes in (OSC instead of MIDI, which not every computer has), and the port that
the service itself listens at, all of them free ports of this machine.
"""

from __future__ import annotations

import contextlib
import json
import socket
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bridge.core.studio import Studio
from bridge.core.wire import Osc
from bridge.faces.children import Child, SimulatedDesk
from bridge.faces.opened import Opened, opened
from bridge.faces.outcome import CouldNotRunError
from bridge.faces.simdesk import packet_of
from bridge.files.shelf import shipped_studios

STUDIO = "observatory.yaml"
PEDAL = "/pedal"
TREADLE = (sys.executable, "-m", "bridge")
DESK = (sys.executable, "-m", "bridge.faces.simdesk")

WITHIN_S = 10.0
"""How long anything may take before the demonstration gives up; it takes far less."""


PATIENCE_S = 7 * 86400.0
"""How long a person may look at it without pressing anything."""


@dataclass
class Stage:
    """Everything that runs, and the file that it runs on.

    told: every line of the service. contacts: what the imagined lines do, by name.
    """

    file: Path
    opened: Opened
    desk: SimulatedDesk
    service: Child
    pedal: socket.socket
    told: list[dict[str, Any]] = field(default_factory=list)
    contacts: dict[str, bool] = field(default_factory=dict)
    seen: int = 0

    @property
    def studio(self) -> Studio:
        """The studio that the service runs."""
        return self.opened.studio

    def press(self, *, down: bool) -> float:
        """Move the pedal, by a message of its own; return when (monotonic seconds)."""
        at = time.monotonic()
        self.pedal.send(packet_of(PEDAL, int(down)))
        return at

    def until(self, *kinds: str) -> dict[str, Any]:
        """Wait for the service to tell of one of these; return what it told."""

        def wanted(line: str) -> bool:
            self._note(line)
            return self.told[-1].get("told") in kinds

        self.service.until(wanted, WITHIN_S)
        return self.told[-1]

    def _note(self, line: str) -> None:
        told = json.loads(line)
        self.told.append(told)
        if told.get("told") == "imagined":
            self.contacts[told["contact"]] = bool(told["driven"])

    def next_told(self) -> dict[str, Any]:
        """Wait for the next thing that the service tells, however long it takes."""
        self._note(self.service.until(lambda _: True, PATIENCE_S))
        return self.told[-1]

    def heard_at_desk(self) -> list[dict[str, Any]]:
        """What changed at the desk since this was asked last, by its own record."""
        changes = self.desk.changes()
        new, self.seen = changes[self.seen :], len(changes)
        return new


def replaced(text: str, *changes: tuple[str, str]) -> str:
    """The text with each change made at its one place."""
    for old, new in changes:
        if text.count(old) != 1:
            msg = f"the studio of the demonstration must have one {old!r}"
            raise CouldNotRunError(msg)
        text = text.replace(old, new)
    return text


def free_port() -> int:
    """A UDP port of this machine that nobody uses now."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind(("127.0.0.1", 0))
        return int(sock.getsockname()[1])


def desk_table(studio: Studio) -> Mapping[str, object]:
    """The addresses of a desk that has just been switched on, all at zero."""
    addresses = {
        message.address: 0
        for control in studio.controls.values()
        for sent in control.messages.values()
        for message in sent
        if isinstance(message, Osc)
    }
    return {"state": addresses}


@contextlib.contextmanager
def staged() -> Iterator[Stage]:
    """Start the desk and the service; end both with the block."""
    shipped = (shipped_studios() / STUDIO).read_text(encoding="utf-8")
    with (
        tempfile.TemporaryDirectory(prefix="treadle-") as folder,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as pedal,
        contextlib.ExitStack() as running,
    ):
        file = Path(folder) / STUDIO
        desk = SimulatedDesk(
            DESK, desk_table(opened(shipped_studios() / STUDIO).studio)
        )
        running.callback(desk.end)
        pedal_port, door_port = free_port(), free_port()
        text = replaced(
            shipped,
            ('osc: "192.168.4.20:9000"', f'osc: "127.0.0.1:{desk.port}"'),
            (
                'from: {midi: "Pedal", control: 64}',
                f"from: {{osc: {PEDAL}, sender: 127.0.0.1, listen: {pedal_port}}}",
            ),
        )
        text += f"\nservice: {{port: {door_port}}}\n"
        file.write_text(text, encoding="utf-8")
        pedal.connect(("127.0.0.1", pedal_port))
        service = run_service(file)
        running.callback(service.end)
        yield Stage(file, opened(file), desk, service, pedal)


def run_service(file: Path, *options: str) -> Child:
    """Start the service on a studio; its contacts are imagined, its words are JSON."""
    return Child([*TREADLE, "run", str(file), "--imagine-contacts", "--json", *options])
