"""A step by hand over real wires: asked for, waited for, said to be done, killed.

The observatory gets a headphone amplifier with a knob that only a hand can turn, and
the call wants it lower. Independent of this project: liblo's `oscsend`.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import signal
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from bridge.faces.children import Child, SimulatedDesk
from bridge.faces.cli import main
from bridge.faces.stage import PEDAL
from tests.faces.services import (
    PATIENCE_S,
    TREADLE,
    Place,
    Service,
    observatory,
    on,
    oscsend,
    running,
)

CALL = {"/strip/1/to/1", "/strip/1/to/2", "/strip/5/to/2", "/strip/7/to/1"}
KNOB = "amplifier.level 1"
TURN = "turn knob 1 to -10 dB"


AMPLIFIER = """\
  amplifier: {profile: headphone-amplifier}
  phones:   {profile: headphones-closed,"""
CABLES = """\
  - amplifier.out 1    -> phones.in
  - changeover.rest    -> amplifier.in """
KNOBS = """\
by hand:
  amplifier.level 1: 0 dB
  amplifier.level 2: off
  amplifier.level 3: off

scenes:
"""


@pytest.fixture
def place(tmp_path: Path, desk: SimulatedDesk) -> Place:
    return observatory(
        tmp_path,
        ("  phones:   {profile: headphones-active,", AMPLIFIER),
        ("  - changeover.rest    -> phones.in ", CABLES),
        ("scenes:\n", KNOBS),
        ("  remote call: {", f"  remote call: {{{KNOB}: -10 dB, "),
        ("    hold: remote call", "    double: remote call"),
        desk=desk.port,
    )


@dataclass(frozen=True)
class Said:
    """How a command ended, and what it said."""

    returncode: int
    stdout: str


def treadle(*words: object) -> Said:
    """A command, in this process: a new one for each would take a second."""
    text = io.StringIO()
    with contextlib.redirect_stdout(text), contextlib.redirect_stderr(text):
        code = main([str(word) for word in words])
    return Said(code, text.getvalue())


def status(place: Place) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(treadle("status", place.file, "--json").stdout)
    found: dict[str, Any] = told["status"]
    return found


def press(place: Place) -> None:
    oscsend(place.pedal, PEDAL, "i", 1)
    oscsend(place.pedal, PEDAL, "i", 0)


def stands(service: Service, place: Place) -> None:
    """Nobody can ask the knob how it stands: the person says it once."""
    assert service.until("started")["controls"] == ["amplifier: level 1"]
    assert service.until("started")["words"].startswith("everything is left as it is")
    assert treadle("done", place.file, KNOB, "+0dB").returncode == 0
    assert status(place)["scenes"] == ["start"]


def test_check_crossing_and_hands_say_so(place: Place) -> None:
    checked = treadle("check", place.file)
    assert checked.returncode == 0, checked.stdout
    assert "wait for a hand" in checked.stdout
    shown = treadle("crossing", place.file, "phones", "remote call").stdout
    assert "1 by hand" in shown
    assert TURN in shown
    assert "over when you say that it is done" in shown
    listed = treadle("hands", place.file).stdout
    assert "In scene remote call; the service asks for what is not so" in listed
    assert f"[ ] {TURN}" in listed


def test_it_is_asked_for_waited_for_and_said_to_be_done(
    place: Place, desk: SimulatedDesk
) -> None:
    with running(place.file) as service:
        stands(service, place)
        press(place)
        service.until("arrived", scene="phones")
        # By command: it waits, after all that messages can do is done.
        waits = treadle("go", place.file, "remote call")
        assert waits.returncode == 1
        assert waits.stdout.startswith("remote call waits for you. By hand:\n")
        assert f"  [ ] {TURN}\n" in waits.stdout
        assert on(desk) == CALL | {"/strip/7/to/2"}
        assert status(place)["by_hand"][0]["words"] == TURN
        assert status(place)["scenes"] == []
        done = treadle("done", place.file)
        assert done.returncode == 0
        assert done.stdout.startswith(f"done by hand: said to be done: {TURN}")
        service.until("arrived", scene="remote call")
        # By the service's own address.
        treadle("go", place.file, "start")
        oscsend(place.door, "/treadle/done")
        service.until("arrived", scene="start")
        assert treadle("done", place.file).returncode == 2


def test_a_press_of_the_same_pedal_says_so(place: Place, desk: SimulatedDesk) -> None:
    with running(place.file) as service:
        stands(service, place)
        oscsend(place.door, "/treadle/press", "ss", "pedal", "double")
        service.until("by hand")
        time.sleep(0.6)  # a person needs so long at least; see core.hands
        oscsend(place.door, "/treadle/press", "ss", "pedal", "tap")
        service.until("done by hand")
        service.until("arrived", scene="remote call")
        assert on(desk) == CALL | {"/strip/7/to/2"}


def test_killed_while_it_waits_it_asks_how_the_knob_stands(
    place: Place, desk: SimulatedDesk
) -> None:
    first = Child((*TREADLE, "run", str(place.file), "--imagine-contacts", "--json"))
    try:
        first.until(lambda line: "left as it is" in line, PATIENCE_S)
        waits = treadle("go", place.file, "remote call")
        os.kill(first.pid, signal.SIGKILL)
    finally:
        first.end()
    assert waits.returncode == 1, waits.stdout
    with running(place.file) as service:
        started = service.until("started")
        # Everything but the knob is as in the call: the show goes on.
        assert service.until("started")["words"].startswith("everything is left as it")
        assert on(desk) == CALL | {"/strip/7/to/2"}
        assert started["cure"].startswith(f"look at {KNOB} and say how it stands")
        (knob,) = [c for c in status(place)["controls"] if c["label"] == KNOB]
        assert knob["values"] == ["-10 dB", "0 dB", "10 dB", "off"]
        (asked,) = status(place)["unsure_by_hand"]
        assert asked["values"]["-10 dB"] == TURN
        said = treadle("done", place.file, KNOB, "-10 dB")
        assert said.stdout == f"noted: {KNOB} is -10 dB\n"
        assert status(place)["scenes"] == ["remote call"]
