"""What the service manager is told, read from a socket as the manager reads it.

Published source: sd_notify(3) and sd_watchdog_enabled(3), systemd 252.
"""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.adapters.notify import STATUS_BYTES, Manager


@pytest.fixture(params=["path", "abstract"])
def manager(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[tuple[socket.socket, str]]:
    abstract = f"treadle-test-{os.getpid()}"
    is_path = request.param == "path"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sock:
        sock.settimeout(10)
        sock.bind(str(tmp_path / "notify") if is_path else f"\0{abstract}")
        yield sock, str(tmp_path / "notify") if is_path else f"@{abstract}"


def test_everything_is_told_in_the_documented_form(
    manager: tuple[socket.socket, str],
) -> None:
    sock, name = manager
    told = Manager({"NOTIFY_SOCKET": name})
    told.ready()
    told.status("phones\nis in   force")
    told.status("phones is in force")
    told.alive()
    told.stopping()
    told.close()
    told.close()
    told.alive()
    said = [sock.recv(4096) for _ in range(4)]
    assert said == [
        b"READY=1",
        b"STATUS=phones is in force",
        b"WATCHDOG=1",
        b"STOPPING=1",
    ]
    sock.setblocking(False)
    with pytest.raises(BlockingIOError):
        sock.recv(1)


def test_a_long_status_is_cut_between_characters(
    manager: tuple[socket.socket, str],
) -> None:
    sock, name = manager
    told = Manager({"NOTIFY_SOCKET": name})
    told.status("ä" * STATUS_BYTES)
    told.close()
    assert sock.recv(4096).decode() == "STATUS=" + "ä" * (STATUS_BYTES // 2)


def test_without_a_manager_nothing_happens(tmp_path: Path) -> None:
    for environment in ({}, {"NOTIFY_SOCKET": str(tmp_path / "nobody")}):
        told = Manager(environment)
        told.ready()
        told.close()


def test_a_manager_that_does_not_read_is_not_waited_for(
    manager: tuple[socket.socket, str],
) -> None:
    _, name = manager
    told = Manager({"NOTIFY_SOCKET": name})
    for _ in range(10_000):  # far more than a socket's buffer takes
        told.alive()
    told.close()


def test_that_it_is_ready_is_said_until_it_is_heard(
    manager: tuple[socket.socket, str],
) -> None:
    sock, name = manager
    told = Manager({"NOTIFY_SOCKET": name})
    for _ in range(10_000):
        told.alive()
    told.ready()  # the queue is full: nobody hears it
    sock.setblocking(False)
    heard = []
    for _ in range(10_000):
        try:
            heard.append(sock.recv(4096))
        except BlockingIOError:
            break
    assert b"READY=1" not in heard
    told.alive()
    assert [sock.recv(4096), sock.recv(4096)] == [b"READY=1", b"WATCHDOG=1"]
    told.close()


@pytest.mark.parametrize(
    ("environment", "ping_s"),
    [
        ({}, None),
        ({"WATCHDOG_USEC": "5000000"}, 2.5),
        ({"WATCHDOG_USEC": "5000000", "WATCHDOG_PID": str(os.getpid())}, 2.5),
        ({"WATCHDOG_USEC": "5000000", "WATCHDOG_PID": "1"}, None),
        ({"WATCHDOG_USEC": "0"}, None),
        ({"WATCHDOG_USEC": "soon"}, None),
    ],
)
def test_the_watchdog_is_fed_twice_as_often_as_it_asks(
    environment: dict[str, str], ping_s: float | None
) -> None:
    assert Manager(environment).ping_s == ping_s
