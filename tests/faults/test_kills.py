"""The service killed at message boundaries, over real wires; see `kills` and `rig`.

Here each crossing of each studio is killed at one boundary drawn from the seed (which
is in the test's name), and two crossings at every boundary. Every boundary of every
crossing takes half an hour: `python -m tests.faults.every_kill`.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.fakes import jack
from tests.fakes.programs import needs
from tests.faults.every_kill import HAND, MIDI, OSC
from tests.faults.kills import Before, Tally, crossings, killed_at, until_it_survives
from tests.faults.rig import Rig
from tests.faults.variants import TOGGLES

pytestmark = pytest.mark.long


SEEDS = (1,)
FIRST = 6
"""The boundary is drawn from so many: a message and a question for each change."""


@pytest.fixture
def server() -> Iterator[None]:
    with jack.shared_server():
        yield


def each_once(rig: Rig, before: Before, seed: int) -> Tally:
    """One boundary of each crossing; a crossing that is shorter survives."""
    tally, rng = Tally(), random.Random(seed)
    try:
        for start, goal in crossings(rig.studio):
            number = rng.randint(1, FIRST) if before is Before.MESSAGE else 1
            killed_at(rig, start, goal, before, number, tally)
    finally:
        rig.close()
    assert tally.broken == []
    return tally


@pytest.mark.parametrize("seed", SEEDS)
def test_a_desk_on_a_bad_network(tmp_path: Path, seed: int) -> None:
    rig = Rig(OSC, tmp_path, seed)
    tally = each_once(rig, Before.MESSAGE, seed)
    assert tally.counts["ended: died"] > 8
    assert rig.gate.fates["lost"]
    assert rig.gate.fates["late"]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_relay_that_was_about_to_move(tmp_path: Path, seed: int) -> None:
    rig = Rig(OSC, tmp_path, seed)
    tally = Tally()
    try:
        for way in (("phones", "speakers"), ("speakers", "remote call")):
            kills = until_it_survives(rig, *way, Before.CONTACT, tally)
            assert kills == 1
    finally:
        rig.close()
    assert tally.broken == []


@pytest.mark.parametrize("seed", SEEDS)
def test_every_boundary_of_the_most_dangerous_crossing(
    tmp_path: Path, seed: int
) -> None:
    """The guest leaves the monitor bus before the speakers come on, or is heard."""
    rig, tally = Rig(OSC, tmp_path, seed), Tally()
    try:
        kills = until_it_survives(rig, "remote call", "speakers", Before.MESSAGE, tally)
    finally:
        rig.close()
    assert kills >= 4
    assert tally.broken == []


@pytest.mark.parametrize("seed", SEEDS)
def test_a_desk_whose_buttons_are_turned_over(tmp_path: Path, seed: int) -> None:
    """A press that is lost, late or doubled, by a service that dies: still safe."""
    rig, tally = Rig(TOGGLES, tmp_path, seed), Tally()
    try:
        killed_at(rig, "remote call", "speakers", Before.MESSAGE, 2, tally)
    finally:
        rig.close()
    assert tally.counts["ended: died"] == 1
    assert tally.broken == []


@pytest.mark.parametrize("seed", SEEDS)
def test_a_desk_that_is_set_by_hand(tmp_path: Path, seed: int) -> None:
    tally = each_once(Rig(HAND, tmp_path, seed), Before.CONTACT, seed)
    assert tally.counts["ended: died"] == 4  # the relay moves in four of the crossings


@needs("jackd", "jack_wait")
@pytest.mark.usefixtures("server")
@pytest.mark.parametrize("seed", SEEDS)
def test_control_changes_over_real_midi(tmp_path: Path, seed: int) -> None:
    tally = each_once(Rig(MIDI, tmp_path, seed), Before.MESSAGE, seed)
    assert tally.counts["ended: died"] > 8
