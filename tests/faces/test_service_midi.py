"""The harbour's service over real MIDI: a private JACK server and others' programs.

Independent of this project: JACK's `jack_midi_dump` prints what the desk and the
monitor controller hear, and its `jack_midiseq` presses a pad.
"""

from __future__ import annotations

import contextlib
import json
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from bridge.faces.children import Child
from bridge.faces.outcome import CouldNotRunError
from bridge.faces.stage import free_port, replaced
from bridge.files.shelf import shipped_studios
from tests.faces.services import PATIENCE_S, Service, running, treadle
from tests.fakes.jack import shared_server
from tests.fakes.programs import needs

pytestmark = needs("jackd", "jack_midi_dump", "jack_midiseq", "jack_wait")

HARBOUR = "harbour-night-watch.yaml"
DESK, MONITORS = "Desk MIDI 1", "Monitor Controller"


@pytest.fixture(scope="module", autouse=True)
def jack() -> Iterator[None]:
    with shared_server():
        yield


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    text = (shipped_studios() / HARBOUR).read_text(encoding="utf-8")
    # jack_midiseq plays on the first channel.
    text = replaced(
        text,
        ('{midi: "Pads", note: 36, channel: 10}', '{midi: "Pads", note: 36}'),
    )
    file = tmp_path / HARBOUR
    file.write_text(f"{text}\nservice: {{port: {free_port()}}}\n", encoding="utf-8")
    return file


@pytest.fixture
def start() -> Iterator[Callable[..., Child]]:
    """Starts programs; they end with the test, and JACK has forgotten them then."""
    with contextlib.ExitStack() as running:
        running.callback(_forgotten)

        def started(*command: str) -> Child:
            child = Child(command)
            running.callback(child.end)
            return child

        yield started


def _forgotten() -> None:
    deadline = time.monotonic() + PATIENCE_S
    here = ""
    while time.monotonic() < deadline:
        ports = subprocess.run(["jack_lsp"], capture_output=True, text=True, check=True)
        here = ports.stdout
        if not re.search(f"{DESK}|{MONITORS}|Pedal|Pads", here):
            return
    msg = f"JACK still has {here}"
    raise AssertionError(msg)


Start = Callable[..., Child]

DUMP = ("stdbuf", "-oL", "jack_midi_dump")
"""Prints what a device of this name hears: JACK's own program."""


class LostError(Exception):
    """JACK lost MIDI: it skips a client that a busy machine has kept waiting."""


def dumped(child: Child, count: int, nudge: Callable[[], None]) -> list[str]:
    """The next messages in hex, as printed: "b0 15 7f". Raises LostError.

    jack_midi_dump prints what came while it was printing only when something else
    comes: `nudge` is something else, and is not counted.
    """
    line = re.compile(r"^ *\d+: ((?:[0-9a-f]{2} )+)")
    found: list[str] = []

    def noted(text: str) -> bool:
        match = line.match(text)
        sent = match[1].strip() if match else ""
        found.extend([sent] if sent not in ("", "b0 40 7f", NUDGE) else [])
        return len(found) == count

    for _ in range(NUDGES):
        nudge()
        with contextlib.suppress(CouldNotRunError):
            child.until(noted, NUDGE_S)
            return found
    raise LostError


NUDGE = "b0 40 00"
"""The pedal that is up already says so once more: no press, and nothing of a desk."""

NUDGE_S = 0.5
NUDGES = 6


def planned(studio: Path, start: str, goal: str) -> dict[str, list[list[str]]]:
    """What `treadle crossing` says is sent: port -> legs -> messages in hex, sorted."""
    told = json.loads(treadle("crossing", studio, start, goal, "--json").stdout)
    legs: dict[str, list[list[str]]] = {}
    for leg in told["legs"]:
        ports = {message["port"] for message in leg["messages"]}
        for port in ports:
            sent = [m["bytes"] for m in leg["messages"] if m["port"] == port]
            shown = sorted(bytes.fromhex(data).hex(" ") for data in sent)
            legs.setdefault(port, []).append(shown)
    return legs


def in_legs(messages: list[str], legs: list[list[str]]) -> list[list[str]]:
    """The messages cut into legs of these sizes, each sorted: a leg has no order."""
    cut = []
    for leg in legs:
        cut.append(sorted(messages[: len(leg)]))
        messages = messages[len(leg) :]
    assert messages == []
    return cut


def reached(service: Service, scene: str) -> None:
    service.until("arrived", scene=scene)


ATTEMPTS = 3
PRESS_S = 5.0
"""How long a press may take before it counts as lost; it takes some milliseconds."""


def test_a_pedal_sends_control_changes_to_two_devices(
    studio: Path, start: Start
) -> None:
    desk, monitors = start(*DUMP, DESK), start(*DUMP, MONITORS)
    pedal = start(sys.executable, str(Path(__file__).with_name("pedal.py")))
    pedal.until(lambda line: line == "ready", PATIENCE_S)
    for name in (DESK, MONITORS):
        subprocess.run(["jack_connect", "Pedal:out", f"{name}:input"], check=True)
    for attempt in range(1, ATTEMPTS + 1):
        try:
            _pressed(studio, {"desk": desk, "monitors": monitors}, pedal)
        except LostError:
            assert attempt < ATTEMPTS, "messages were lost each time"
            for program in (desk, monitors):
                program.pending()
        else:
            return


def _pressed(studio: Path, ears: Mapping[str, Child], pedal: Child) -> None:
    """Three crossings, each with exactly the messages that were announced."""

    def nudge() -> None:
        pedal.order("0")

    with running(studio) as service:
        service.up()
        for before, scene in (
            ("unknown", "start"),
            ("start", "watch"),
            ("watch", "listen"),
        ):
            if before != "unknown":
                pedal.order("127")
                try:
                    service.until("arrived", PRESS_S, scene=scene)
                except CouldNotRunError as late:
                    raise LostError from late
                pedal.order("0")
            for gear, legs in planned(studio, before, scene).items():
                sent = dumped(ears[gear], sum(map(len, legs)), nudge)
                assert in_legs(sent, legs) == legs


def test_a_pad_of_another_program_recalls_a_scene(studio: Path, start: Start) -> None:
    start(*DUMP, DESK)
    start(*DUMP, MONITORS)
    # One note of 0.1 s every two seconds, so that one comes when the service is up.
    start("jack_midiseq", "Pads", "96000", "0", "36", "4800")
    with running(studio) as service:
        reached(service, "watch")


def test_a_device_that_is_pulled_out_is_told_of(studio: Path, start: Start) -> None:
    desk = start(*DUMP, DESK)
    start(*DUMP, MONITORS)
    with running(studio) as service:
        service.up()
        desk.end()
        lost = service.until("port lost")
        assert lost["words"].startswith("desk is not there: no MIDI device is called")
        refused = treadle("go", studio, "watch")
        assert refused.returncode == 1
        assert "it needs what is not there" in refused.stdout
        start(*DUMP, DESK)
        service.until("port found")
        assert treadle("go", studio, "watch").returncode == 0
