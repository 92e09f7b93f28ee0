"""What else can happen to a service that runs: an order to stop, noise, slow gear."""

from __future__ import annotations

import random
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.every_kill import OSC
from tests.faults.relay import Relay, Weather
from tests.faults.rig import WITHIN_S, Rig

pytestmark = pytest.mark.long


FLOOD = 10_000
BATCH = 50


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    rig = Rig(OSC, tmp_path, seed=1)
    try:
        rig.start()
        assert rig.until_started()
        yield rig
    finally:
        rig.close()


@pytest.mark.parametrize("after", [1, 2, 4, 7])
def test_told_to_stop_during_a_crossing_it_ends_well(rig: Rig, after: int) -> None:
    """What was begun is finished, then the contact is let go."""
    rig.arrive("remote call")
    rig.gate.weather = Weather(late=0.5)
    there = rig.gate.passed["service"] + after
    rig.ask("speakers")
    rig.turn(lambda: rig.gate.passed["service"] >= there, WITHIN_S)
    assert rig.terminate() == 0
    assert rig.settle() == []
    assert rig.truth.setting["changeover: position"] == "rest"


def test_noise_moves_nothing_and_delays_nobody(rig: Rig) -> None:
    """Ten thousand packets of noise, at the service's door and as if from the desk."""
    rig.arrive("phones")
    assert rig.settle() == []
    assert isinstance(rig.gate, Relay)
    setting = rig.truth.setting
    rng = random.Random(1)
    heads = (b"", b"#bundle\0", b"/treadle/go\0,s\0\0", b"/strip/1/to/2\0\0\0,i\0\0")
    doors = (("127.0.0.1", rig.door.port), rig.gate.service)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as noise:
        for _ in range(FLOOD // BATCH):
            for number in range(BATCH):
                tail = rng.randbytes(rng.randrange(64))
                noise.sendto(rng.choice(heads)[:-1] + tail, doors[number % 2])
            rig.gate.work()
        assert rig.settle() == []
        assert rig.truth.setting == setting
        for scene in ("speakers", "remote call", "phones"):
            rig.ask(scene)
            for number in range(BATCH):
                noise.sendto(rng.randbytes(rng.randrange(1, 99)), doors[number % 2])
            assert rig.ended() == "arrived"
            assert rig.settle() == []
            assert rig.stands_as(scene)
    assert not [line for line in rig.desk.record if "bad" in line or "unknown" in line]


def test_a_desk_that_is_as_slow_as_it_may_be(rig: Rig) -> None:
    """Every packet as late as it can be, both ways; also while the service starts."""
    rig.kill()
    rig.gate.weather = Weather(late=1.0)
    rig.restart()
    assert rig.until_started()
    for scene in ("remote call", "speakers", "phones"):
        assert rig.go(scene) == "arrived"
        assert rig.settle() == []
        assert rig.stands_as(scene)
