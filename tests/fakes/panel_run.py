"""`treadle run --panel` with a simulated desk: real processes, real packets."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import queue
import re
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bridge.core.wire import Osc
from bridge.faces.simwire import packet_of
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load
from tests.fakes.udp_peer import port_with_nobody

PATIENCE_S = 30.0

ROOT = Path(__file__).resolve().parents[2]


@dataclass
class Run:
    """A running service: its page, its desk's words, and its pedal."""

    service: subprocess.Popen[str]
    desk: subprocess.Popen[str]
    port: int
    pedal: int
    said: list[str]
    _told: queue.SimpleQueue[str] = field(default_factory=queue.SimpleQueue)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    def put(self) -> dict[str, Any]:
        """The next thing that the desk was told to do."""
        while True:
            told: dict[str, Any] = json.loads(self._told.get(timeout=PATIENCE_S))
            if told.get("by") == "message" and "address" in told:
                return told

    def forget(self) -> None:
        """Think no more of what the desk was told so far."""
        while not self._told.empty():
            self._told.get()

    def listen(self) -> None:
        """Take what the desk says, so that it never has to wait for us."""
        assert self.desk.stdout is not None
        for line in self.desk.stdout:
            self._told.put(line)

    def hand(self, address: str, value: float) -> None:
        """A hand on the desk."""
        assert self.desk.stdin is not None
        self.desk.stdin.write(json.dumps({"hand": address, "value": value}) + "\n")
        self.desk.stdin.flush()

    def ask(self, path: str) -> bytes:
        to = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        try:
            to.request("GET", path)
            return to.getresponse().read()
        finally:
            to.close()


def studio_file(folder: Path, desk: int, door: int, pedal: int) -> Path:
    """The observatory with its desk and pedal at ports of this machine."""
    text = (shipped_studios() / "observatory.yaml").read_text()
    text = text.replace('"192.168.4.20:9000"', f'"127.0.0.1:{desk}"')
    text = re.sub(
        r"from: \{midi.*\}",
        f"from: {{osc: /pedal, sender: 127.0.0.1, listen: {pedal}}}",
        text,
    )
    file = folder / "studio.yaml"
    file.write_text(f"{text}\nservice: {{port: {door}}}\n")
    return file


@contextlib.contextmanager
def running(folder: Path, *options: str, panel: bool = True) -> Iterator[Run]:
    """The service, with everything at ports that nobody has, once it is in a scene."""
    if panel:
        options = ("--panel", "127.0.0.1:0", *options)
    door, pedal = port_with_nobody(), port_with_nobody()
    studio = load(shipped_studios() / "observatory.yaml").studio
    assert studio is not None
    state = {
        message.address: 0.0
        for control in studio.controls.values()
        for message in control.ask
        if isinstance(message, Osc)
    }
    desk = subprocess.Popen(
        [sys.executable, "-m", "bridge.faces.simdesk", json.dumps({"state": state})],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert desk.stdout is not None
    ready = json.loads(desk.stdout.readline())["ready"]
    file = studio_file(folder, ready, door, pedal)
    service = subprocess.Popen(
        [sys.executable, "-m", "bridge", "run", str(file), "--imagine-contacts",
         *options],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"STATE_DIRECTORY": str(folder)},
    )  # fmt: skip
    listening = None
    try:
        said = lines_until_start(service)
        found = re.search(r"panel: http://127\.0\.0\.1:(\d+)/", "".join(said))
        assert bool(found) == panel, said
        run = Run(service, desk, int(found[1]) if found else 0, pedal, said)
        listening = threading.Thread(target=run.listen, name="desk")
        listening.start()
        yield run
    finally:
        for process in (service, desk):
            process.kill()
            process.wait()
        if listening is not None:
            listening.join()
        for process in (service, desk):
            process.communicate()


def lines_until_start(service: subprocess.Popen[str]) -> list[str]:
    """What the service says until the start scene is in force."""
    said: list[str] = []
    assert service.stdout is not None
    for line in service.stdout:
        said.append(line)
        if re.search(r"start (is )?in force", line):
            return said
    raise AssertionError("".join(said))


def tap(pedal: int) -> None:
    """The foot goes down and up."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as to:
        for value in (1.0, 0.0):
            to.sendto(packet_of("/pedal", value), ("127.0.0.1", pedal))
