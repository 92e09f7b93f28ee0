"""The demonstration ends well, and its story contains the facts."""

from __future__ import annotations

import json
import os
import re
import select
import signal
import sys
from pathlib import Path

import pytest

from bridge.faces import demo as acts
from bridge.faces.children import Child, SimulatedDesk
from bridge.faces.report import cells
from bridge.faces.stage import DESK, replaced, run_service
from tests.faces.services import PATIENCE_S, SWITCHES, TREADLE, observatory, treadle

NO_JACK = {"JACK_DEFAULT_SERVER": "treadle-nobody", "JACK_NO_START_SERVER": "1"}

FACTS = (
    "studio   Hilltop observatory, Friday show",
    r"proved: \d+ settings \(\d+ without power\), \d+ crossings, \d+ legs",
    r"-- pedal, tap: phones -+\n\n4 messages at desk, the first after \d+\.\d ms",
    r"  desk: /strip/1/to/2 1  mic to monitor on\n",
    r"-- pedal, tap: speakers -+\n\n2 messages at desk",
    r"  changeover: line driven   changeover pulled\n",
    r"  presenter hears presenter +\d+\.\d dB SPL  -> +never\n",
    r"  astronomer hears presenter +0\.0 dB  -> +never\n",
    r"-- pedal, hold: remote call -+\n",
    r"  presenter hears astronomer +never  -> +\d+\.\d dB SPL\n",
    r"astronomer's own voice comes back at -\d+\.\d dB after \d+ ms",
    r"The next 3 messages to the desk are lost",
    r"  alarm: own-voice-late: astronomer to astronomer is broken\n",
    r"  all clear: every never-rule holds again\n",
    r"error\[own-voice-late\]: scene remote call",
    r"    desk\.in 5/6 -> desk\.program\n",
    r"  cure: set astronomer to program to off \(desk\)\n",
    r"not run: nothing was opened and nothing was sent\n",
    r"Everything above was checked while it was told\.\n",
)


def test_the_story_is_told_and_holds() -> None:
    done = treadle("demo", **NO_JACK)
    assert (done.returncode, done.stderr) == (0, "")
    at = 0
    for fact in FACTS:
        found = re.compile(fact).search(done.stdout, at)
        assert found, f"{fact} is missing after:\n{done.stdout[:at][-400:]}"
        at = found.start()
    wide = [line for line in done.stdout.split("\n") if cells(line) > 80]
    assert wide == []


def test_a_story_that_does_not_hold_fails(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The same story, but the studio in it lets the guest hear themselves."""
    monkeypatch.setattr(acts, "SLIP", acts.RIGHT)
    monkeypatch.setattr(acts, "WITHIN_S", 4.0)
    said: list[str] = []
    outcome = acts.demo(said.append, stay=False)
    assert outcome.code == 1
    assert outcome.text.startswith("\nThis did not hold: the broken studio is refused")


def test_staying_tells_how_to_press_and_ends_with_a_signal() -> None:
    program = Child([*TREADLE, "demo", "--stay"])
    press = program.until(lambda line: "treadle press" in line, PATIENCE_S)
    program.until(lambda line: line == "Ctrl-C ends it.", PATIENCE_S)
    _, _, file, button = press.split()
    done = treadle("press", file, button)
    assert (done.returncode, "arrived: " in done.stdout) == (0, True), done
    program.until(lambda line: line.endswith(" is in force"), PATIENCE_S)
    assert program.end() == 0
    assert program.lines[-1] == "Everything above was checked while it was told."


STAGED = """
from bridge.faces.stage import observatory
with observatory() as stage:
    stage.up()
    print("up", flush=True)
    input()
"""


def test_nothing_is_left_of_it_when_it_is_killed() -> None:
    """Its service and its desk end by themselves: proc(5) and pidfd_open(2) tell."""
    program = Child([sys.executable, "-c", STAGED])
    program.until(lambda line: line == "up", PATIENCE_S)
    started = [os.pidfd_open(pid) for pid in _children(program.pid)]
    assert len(started) == 2
    os.kill(program.pid, signal.SIGKILL)
    for one in started:
        assert select.select([one], [], [], PATIENCE_S)[0]
        os.close(one)
    assert program.end() == -signal.SIGKILL


def _children(parent: int) -> list[int]:
    """Which processes this one has begun."""
    threads = Path(f"/proc/{parent}/task").glob("*/children")
    return [int(pid) for file in threads for pid in file.read_text().split()]


@pytest.mark.parametrize("is_told", [True, False])
def test_the_service_stops_in_good_order_when_its_input_ends(
    tmp_path: Path, is_told: bool
) -> None:
    """Also when a signal and the end of the input come at once."""
    desk = SimulatedDesk(DESK, {"state": SWITCHES})
    service = run_service(observatory(tmp_path, desk=desk.port).file)
    service.until(lambda line: json.loads(line)["told"] == "started", PATIENCE_S)
    assert service.end(politely=is_told) == 0
    assert json.loads(service.lines[-2])["words"] == "stopped"
    assert desk.end() == 0


def test_a_changed_studio_of_the_demonstration_is_noticed() -> None:
    with pytest.raises(Exception, match="must have one 'x'"):
        replaced("a b", ("x", "y"))
