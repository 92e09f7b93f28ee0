"""The stage of the demonstration: a studio, a real service, its desks, and a pedal.

The studio is a shipped one but for three things: where its desks are, how the pedal
comes in (OSC, which every computer has), and the port that the service itself listens
at. All of these are free places of this machine.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bridge.core.studio import Studio
from bridge.faces.children import Child, SimulatedDesk
from bridge.faces.opened import Opened, opened
from bridge.faces.outcome import CouldNotRunError
from bridge.faces.simwire import packet_of
from bridge.faces.story import Spoken, by_message
from bridge.files.shelf import shipped_studios

PEDAL = "/pedal"
TREADLE = (sys.executable, "-m", "bridge")
DESK = (sys.executable, "-m", "bridge.faces.simdesk")
EARS = (sys.executable, "-m", "bridge.faces.simears")
SEQUENCER = Path("/dev/snd/seq")

WITHIN_S = 30.0
"""How long anything may take before the demonstration gives up. Nothing takes a second
on a desktop; an emulated machine is twenty times slower."""

PATIENCE_S = 7 * 86400.0
"""How long a person may look at it without pressing anything."""

Changes = Sequence[tuple[str, str]]


@dataclass
class Stage:
    """Everything that runs, and the file that it runs on.

    desks: by the name of their gear. told: every line of the service. contacts: what
    the imagined lines do, by name. seen: changes at each desk that were asked for.
    """

    file: Path
    opened: Opened
    desks: Mapping[str, SimulatedDesk]
    service: Child
    pedal: socket.socket
    told: list[dict[str, Any]] = field(default_factory=list)
    contacts: dict[str, bool] = field(default_factory=dict)
    seen: dict[str, int] = field(default_factory=dict)

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

    def up(self) -> None:
        """Wait until the service is in its start scene, or has found it in force."""
        while not self.until("arrived", "started", "halted")["scene"]:
            pass

    def next_told(self) -> dict[str, Any]:
        """Wait for the next thing that the service tells, however long it takes."""
        self._note(self.service.until(lambda _: True, PATIENCE_S))
        return self.told[-1]

    def _note(self, line: str) -> None:
        told = json.loads(line)
        self.told.append(told)
        if told.get("told") == "imagined":
            self.contacts[told["contact"]] = bool(told["driven"])

    def heard_at_desks(self) -> list[Spoken]:
        """What changed at the desks since this was asked last, by their own records."""
        new = []
        for gear, desk in self.desks.items():
            changes = desk.changes()
            for change in changes[self.seen.get(gear, 0) :]:
                what = (gear, change["address"], change["value"])
                new.append(Spoken(change["at"], *what))
            self.seen[gear] = len(changes)
        return sorted(new, key=lambda spoken: spoken.at)

    def switches(self) -> dict[tuple[str, str], Any]:
        """How every switch stands, by the desks' own word: (gear, address) -> value."""
        return {
            (gear, address): value
            for gear, desk in self.desks.items()
            for address, value in desk.state().items()
        }


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


@contextlib.contextmanager
def observatory() -> Iterator[Stage]:
    """The observatory: its desk speaks OSC."""
    table = _table("observatory.yaml", "desk")
    with _running({"desk": SimulatedDesk(DESK, table)}) as desks:
        where = f'osc: "127.0.0.1:{desks["desk"].port}"'
        changes = [('osc: "192.168.4.20:9000"', where)]
        with _staged("observatory.yaml", desks, changes) as stage:
            yield stage


@contextlib.contextmanager
def harbour(system: str) -> Iterator[Stage]:
    """Harbour radio: its desk and its monitor controller take MIDI control changes."""
    name = "harbour-night-watch.yaml"
    made = {}
    changes = []
    for nth, (gear, device) in enumerate(HARBOUR.items(), 1):
        ears = ["aseqdump"] if system == "alsa" else [*EARS, device]
        made[gear] = SimulatedDesk(DESK, {**_table(name, gear), "midi": ears})
        if system == "alsa":
            changes.append((f'midi: "{device}"', f"midi: aseqdump, nth: {nth}"))
    with _running(made) as desks, _staged(name, desks, changes) as stage:
        yield stage


HARBOUR = {"desk": "Desk MIDI 1", "monitors": "Monitor Controller"}
"""Gear of the harbour that takes MIDI, and the name of its device."""


def midi_here() -> str | None:
    """Which MIDI system runs here, with what it takes to hear it."""
    if SEQUENCER.exists():
        return "alsa" if shutil.which("aseqdump") else None
    if not importlib.util.find_spec("rtmidi") or not shutil.which("jack_lsp"):
        return None
    try:
        found = subprocess.run(
            ["jack_lsp"],
            env={**os.environ, "JACK_NO_START_SERVER": "1"},
            capture_output=True,
            timeout=3.0,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return None
    return "jack" if found.returncode == 0 else None


def run_service(file: Path) -> Child:
    """Start the service on a studio; its contacts are imagined, its words are JSON."""
    options = "--imagine-contacts", "--json", "--while-input"
    return Child([*TREADLE, "run", str(file), *options])


def _table(name: str, gear: str) -> dict[str, object]:
    """The addresses of a desk that has just been switched on, all at zero."""
    meanings = by_message(opened(shipped_studios() / name).studio)
    return {"state": {address: 0 for at, address, _ in meanings if at == gear}}


@contextlib.contextmanager
def _running(
    desks: Mapping[str, SimulatedDesk],
) -> Iterator[Mapping[str, SimulatedDesk]]:
    try:
        yield desks
    finally:
        for desk in desks.values():
            desk.end()


@contextlib.contextmanager
def _staged(
    name: str, desks: Mapping[str, SimulatedDesk], changes: Changes
) -> Iterator[Stage]:
    """Start the service; end it with the block."""
    with (
        tempfile.TemporaryDirectory(prefix="treadle-") as folder,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as pedal,
    ):
        file = Path(folder) / name
        shipped = (shipped_studios() / name).read_text(encoding="utf-8")
        listen, door = free_port(), free_port()
        pressed = f"from: {{osc: {PEDAL}, sender: 127.0.0.1, listen: {listen}}}"
        moved = ('from: {midi: "Pedal", control: 64}', pressed)
        text = replaced(shipped, *changes, moved)
        text += f"\nservice: {{port: {door}}}\n"
        file.write_text(text, encoding="utf-8")
        pedal.connect(("127.0.0.1", listen))
        service = run_service(file)
        try:
            yield Stage(file, opened(file), desks, service, pedal)
        finally:
            service.end()
