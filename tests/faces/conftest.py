"""The shipped observatory's desk, simulated, and the studio file that leads to it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.faces.children import SimulatedDesk
from bridge.faces.stage import DESK
from tests.faces.services import SWITCHES, Place, observatory


@pytest.fixture
def desk() -> Iterator[SimulatedDesk]:
    desk = SimulatedDesk(DESK, {"state": SWITCHES})
    yield desk
    assert desk.end() == 0


@pytest.fixture
def place(tmp_path: Path, desk: SimulatedDesk) -> Place:
    return observatory(tmp_path, desk=desk.port)
