"""From the press that comes in to the first message that goes out, and what it costs.

    python -m tests.bench.press_to_wire [PRESSES]

The service runs as `treadle run` does, on the shipped studios. Beside it, in the same
run and press by press in turn, runs a bare forwarder with the same libraries, which
parses, builds and sends and does nothing else. Figures are of this machine, now: read
the ratios. Over JACK both columns hold the same two periods of the server.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from bridge.faces.children import Child
from bridge.faces.simwire import messages, packet_of
from bridge.faces.stage import PEDAL, free_port
from bridge.files.shelf import shipped_studios
from tests.faces.services import PATIENCE_S, TREADLE, observatory
from tests.fakes.jack import shared_server

FORWARDER = (sys.executable, "-m", "tests.bench.forwarder")
HARBOUR = "harbour-night-watch.yaml"

PAUSE_S = 0.15
"""Between two presses: the service plans ahead in it, as it does for a person."""

Idle = Callable[[float], None]
"""Lets so many seconds pass, while the desk of this process does its part."""


@dataclass
class Times:
    """Seconds from press to wire."""

    name: str
    seconds: list[float] = field(default_factory=list)

    def line(self, beside: Times | None = None) -> str:
        ordered = sorted(self.seconds)
        median = statistics.median(ordered)
        p99 = ordered[min(len(ordered) - 1, int(len(ordered) * 0.99))]
        ratio = ""
        if beside is not None:
            ratio = f"   {median / statistics.median(beside.seconds):5.2f} times"
        return f"{self.name:26} {median * 1e3:8.2f} {p99 * 1e3:8.2f}{ratio}"


class Service:
    """`treadle run`, and how long it took to say that it is ready."""

    def __init__(self, file: Path, folder: Path, idle: Idle) -> None:
        self._idle = idle
        self._seen = 0
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
            address = str(folder / f"notify-{file.stem}")
            manager.bind(address)
            manager.setblocking(False)
            began = time.monotonic()
            command = (*TREADLE, "run", str(file), "--imagine-contacts", "--json")
            self._child = Child(command, {"NOTIFY_SOCKET": address})
            said = b""
            while said != b"READY=1":
                idle(0.002)
                with contextlib.suppress(BlockingIOError):
                    said = manager.recv(4096)
            self.ready_s = time.monotonic() - began

    def arrived(self) -> None:
        """Wait until one more scene is in force."""
        while True:
            for line in self._child.pending():
                if json.loads(line).get("told") == "arrived":
                    return
            self._idle(0.005)

    def lines(self) -> Iterator[str]:
        """What it cost."""
        children = Path(f"/proc/{self._child.pid}/task/{self._child.pid}/children")
        helpers = [_resident_mb(int(pid)) for pid in children.read_text().split()]
        more = "".join(f", and a helper of {mb:.1f} MB" for mb in helpers)
        yield f"cold start to ready        {self.ready_s * 1e3:8.0f} ms"
        resident = _resident_mb(self._child.pid)
        yield f"resident when idle         {resident:8.1f} MB{more}"

    def end(self) -> None:
        self._child.end()


def _resident_mb(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text().split("\n")
    line = next(line for line in status if line.startswith("VmRSS"))
    return int(line.split()[1]) / 1024


class OscDesk:
    """A desk in this process: it answers at once, so nothing of it is measured."""

    def __init__(self) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.bind(("127.0.0.1", 0))
        self.port = int(self._socket.getsockname()[1])
        self._state: dict[str, Any] = {}

    def next_set(self) -> float:
        """Wait for the next message that sets something; return when it came."""
        self._socket.settimeout(PATIENCE_S)
        while True:
            packet, sender = self._socket.recvfrom(8192)
            at = time.monotonic()
            if self._took(packet, sender):
                return at

    def idle(self, seconds: float) -> None:
        """Answer whatever comes for so long."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            self._socket.settimeout(left)
            with contextlib.suppress(TimeoutError):
                self._took(*self._socket.recvfrom(8192))

    def close(self) -> None:
        self._socket.close()

    def _took(self, packet: bytes, sender: tuple[str, int]) -> bool:
        is_set = False
        for address, values in messages(packet):
            if values:
                self._state[address] = values[0]
                is_set = True
            else:
                answer = packet_of(address, self._state.get(address, 0))
                self._socket.sendto(answer, sender)
        return is_set


def over_osc(presses: int, folder: Path) -> Iterator[str]:
    """The observatory, whose desk speaks OSC."""
    desk, other = OscDesk(), OscDesk()
    place = observatory(folder, desk=desk.port)
    service = Service(place.file, folder, desk.idle)
    forwarder = Child([*FORWARDER, "osc", str(other.port)])
    forwarded = int(forwarder.until(str.isdecimal, PATIENCE_S))
    ours, bare = Times("OSC, service"), Times("OSC, bare forwarder")
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as pedal:
        for press in range(2 * presses):
            desk.idle(PAUSE_S)
            at = time.monotonic()
            pedal.sendto(packet_of(PEDAL, 1), ("127.0.0.1", place.pedal))
            first = desk.next_set() - at
            service.arrived()
            pedal.sendto(packet_of(PEDAL, 0), ("127.0.0.1", place.pedal))
            if press % 2 == 0:
                continue  # on the way to the phones the relay moves first, unseen here
            ours.seconds.append(first)
            at = time.monotonic()
            pedal.sendto(packet_of(PEDAL, 1), ("127.0.0.1", forwarded))
            bare.seconds.append(other.next_set() - at)
    desk.idle(2.0)
    yield bare.line()
    yield ours.line(bare)
    yield from service.lines()
    service.end()
    forwarder.end()
    desk.close()
    other.close()


class JackClients:
    """A pedal, two desks and the forwarder's ends, all of this process."""

    def __init__(self) -> None:
        import rtmidi

        api = rtmidi.API_UNIX_JACK
        self.pedal = rtmidi.MidiOut(api, name="Pedal")
        self.pedal.open_virtual_port("out")
        self.to_bare = rtmidi.MidiOut(api, name="To Forwarder")
        self.to_bare.open_virtual_port("out")
        self._ears = {}
        for name in ("Desk MIDI 1", "Monitor Controller", "From Forwarder"):
            self._ears[name] = rtmidi.MidiIn(api, name=name)
            self._ears[name].open_virtual_port("in")

    def next_heard(self, *names: str) -> float:
        """Wait for the next message at one of these; return when it came."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            for name in names:
                if self._ears[name].get_message() is not None:
                    return time.monotonic()
            time.sleep(0.0001)
        msg = "nothing came"
        raise TimeoutError(msg)

    def idle(self, seconds: float) -> None:
        """Let time pass, and throw away what comes."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            for ears in self._ears.values():
                while ears.get_message() is not None:
                    pass
            time.sleep(0.001)

    def close(self) -> None:
        for client in (self.pedal, self.to_bare, *self._ears.values()):
            client.close_port()
            client.delete()


def over_jack(presses: int, folder: Path) -> Iterator[str]:
    """The harbour, whose desk and monitor controller take control changes."""
    text = (shipped_studios() / HARBOUR).read_text(encoding="utf-8")
    file = folder / HARBOUR
    file.write_text(f"{text}\nservice: {{port: {free_port()}}}\n", encoding="utf-8")
    clients = JackClients()
    forwarder = Child([*FORWARDER, "jack"])
    forwarder.until(lambda line: line == "ready", PATIENCE_S)
    for pair in (
        ("To Forwarder:out", "Forwarder-in:in"),
        ("Forwarder-out:out", "From Forwarder:in"),
    ):
        subprocess.run(["jack_connect", *pair], check=True, env=os.environ)
    service = Service(file, folder, clients.idle)
    ours, bare = Times("JACK, service"), Times("JACK, bare forwarder")
    service.arrived()
    for _ in range(presses):
        clients.idle(PAUSE_S)
        at = time.monotonic()
        clients.pedal.send_message([0xB0, 64, 127])
        ours.seconds.append(
            clients.next_heard("Desk MIDI 1", "Monitor Controller") - at
        )
        service.arrived()
        clients.pedal.send_message([0xB0, 64, 0])
        clients.idle(0.02)
        at = time.monotonic()
        clients.to_bare.send_message([0xB0, 64, 127])
        bare.seconds.append(clients.next_heard("From Forwarder") - at)
    clients.idle(2.0)
    yield bare.line()
    yield ours.line(bare)
    yield from service.lines()
    service.end()
    forwarder.end()
    clients.close()


def _lines(presses: int, folder: Path) -> Iterator[str]:
    yield f"{'':26} {'median':>8} {'p99':>8}   ms, of {presses} presses"
    yield from over_osc(presses, folder)
    if shutil.which("jackd") and find_spec("rtmidi"):
        with shared_server():
            yield from over_jack(presses, folder)
    else:
        yield "JACK, or python-rtmidi, is not installed here"


def main() -> None:
    """Print the figures."""
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as name:
        for line in _lines(presses, Path(name)):
            sys.stdout.write(f"{line}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
