"""A service that cannot run does not hurry back to a manager that would start it again.

The manager's side is in tests/vm/managed; the forms are those of sd_notify(3).
"""

from __future__ import annotations

import os
import re
import signal
import socket
from pathlib import Path

import pytest

from bridge.faces.children import Child
from bridge.faces.kept import ATTEMPT_S, pause_s
from tests.faces.services import PATIENCE_S, TREADLE
from tests.test_systemd import settings


@pytest.mark.parametrize(("lived_s", "left_s"), [(0.0, 10.0), (7.5, 2.5), (10.5, 0.0)])
def test_an_attempt_that_comes_to_nothing_lasts_ten_seconds(
    lived_s: float, left_s: float
) -> None:
    assert pause_s(lived_s) == left_s


def test_the_manager_would_wait_longer_for_it_to_be_ready() -> None:
    (patience,) = settings("TimeoutStartSec")
    assert float(patience.removesuffix("s")) >= 2 * ATTEMPT_S


def test_the_status_says_why_and_a_signal_ends_it_at_once(tmp_path: Path) -> None:
    name = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.settimeout(PATIENCE_S)
        manager.bind(str(name))
        command = (*TREADLE, "run", str(tmp_path / "studio.yaml"))
        child = Child(command, {"NOTIFY_SOCKET": str(name)})
        said = manager.recv(4096).decode()
    assert re.match(r"STATUS=tried again in \d+ s: error\[file-not-read\]: /", said)
    os.kill(child.pid, signal.SIGTERM)
    assert child.end(politely=False) == -signal.SIGTERM
    assert child.lines[0].startswith("error[file-not-read]:")
