"""The harbour's service over real MIDI: a private JACK server and others' programs.

Independent of this project: JACK's `jack_midi_dump` prints what the desk and the
monitor controller hear, and its `jack_midiseq` presses a pad.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.faces.children import Child
from bridge.faces.stage import free_port, replaced
from bridge.files.shelf import shipped_studios
from tests.faces.services import PATIENCE_S, Service, running, treadle
from tests.fakes.jack import shared_server
from tests.fakes.programs import needs

pytestmark = needs("jackd", "jack_midi_dump", "jack_midiseq", "jack_wait")

HARBOUR = "harbour-night-watch.yaml"


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


def dump(device: str) -> Child:
    """What this device hears, printed by JACK's own program."""
    return Child(["stdbuf", "-oL", "jack_midi_dump", device])


def dumped(child: Child, count: int) -> list[str]:
    """The next messages in hex, as printed: "b0 15 7f"."""
    line = re.compile(r"^ *\d+: ((?:[0-9a-f]{2} )+)")
    found: list[str] = []

    def noted(text: str) -> bool:
        match = line.match(text)
        found.extend([match[1].strip()] if match else [])
        return len(found) == count

    child.until(noted, PATIENCE_S)
    return found


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


def test_a_pedal_sends_control_changes_to_two_devices(studio: Path) -> None:
    desk, monitors = dump("Desk MIDI 1"), dump("Monitor Controller")
    pedal = Child([sys.executable, str(Path(__file__).with_name("pedal.py"))])
    pedal.until(lambda line: line == "ready", PATIENCE_S)
    with running(studio) as service:
        reached(service, "start")
        legs = planned(studio, "unknown", "start")
        for gear, program in (("desk", desk), ("monitors", monitors)):
            sent = dumped(program, sum(map(len, legs[gear])))
            assert in_legs(sent, legs[gear]) == legs[gear]
        for start, scene in (("start", "watch"), ("watch", "listen")):
            pedal.order("127")
            pedal.order("0")
            reached(service, scene)
            legs = planned(studio, start, scene)
            sent = dumped(desk, sum(map(len, legs["desk"])))
            assert in_legs(sent, legs["desk"]) == legs["desk"]
        sent = dumped(monitors, 1)
        assert sent == ["b0 15 01"]
    for program in (pedal, desk, monitors):
        program.end()


def test_a_pad_of_another_program_recalls_a_scene(studio: Path) -> None:
    desk, monitors = dump("Desk MIDI 1"), dump("Monitor Controller")
    # One note of 0.1 s each 20 s: pressed once while this test runs.
    pads = Child(["jack_midiseq", "Pads", "960000", "0", "36", "4800"])
    with running(studio) as service:
        reached(service, "watch")
    for program in (pads, desk, monitors):
        program.end()


def test_a_device_that_is_pulled_out_is_told_of(studio: Path) -> None:
    desk, monitors = dump("Desk MIDI 1"), dump("Monitor Controller")
    with running(studio) as service:
        reached(service, "start")
        desk.end()
        lost = service.until("port lost")
        assert lost["words"].startswith("desk is not there: no MIDI device is called")
        refused = treadle("go", studio, "watch")
        assert refused.returncode == 1
        assert "it needs what is not there" in refused.stdout
        desk = dump("Desk MIDI 1")
        service.until("port found")
        assert treadle("go", studio, "watch").returncode == 0
    for program in (desk, monitors):
        program.end()
