"""Everything around the service hangs at once, and a press goes through all the same.

How a file hangs: whoever holds a lease on it lets every open() by others wait, for 45
seconds by default (fcntl(2), F_SETLEASE). So the threads that read and write really
stand in the kernel, as with a dead card or a network share. The name server that hangs
is tested in adapters/test_osc.py, JACK in adapters/test_midi_rtmidi.py.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.faces.children import SimulatedDesk
from bridge.wiring.door import answer, question
from tests.faces.services import PATIENCE_S, SPEAKERS, TREADLE, Place, on


@pytest.fixture(autouse=True)
def no_signal_ends_us() -> Iterator[None]:
    """Who holds a lease is told by SIGIO that somebody waits."""
    before = signal.signal(signal.SIGIO, signal.SIG_IGN)
    yield
    signal.signal(signal.SIGIO, before)


@contextlib.contextmanager
def held(file: Path) -> Iterator[None]:
    """Let everybody who opens the file wait for as long as the block lasts."""
    with file.open("r+b") as ours:
        fcntl.fcntl(ours, fcntl.F_SETLEASE, fcntl.F_WRLCK)
        yield


@contextlib.contextmanager
def full_pipe() -> Iterator[int]:
    """A pipe that takes not one byte more, and that nobody reads."""
    out, into = os.pipe()
    os.set_blocking(into, False)
    with contextlib.suppress(BlockingIOError):
        while True:
            os.write(into, bytes(4096))
    os.set_blocking(into, True)
    yield into
    os.close(into)
    os.close(out)


def ask(place: Place, *words: str) -> dict[str, object]:
    """Ask until it is answered; the service may not have its door yet."""
    end = time.monotonic() + PATIENCE_S
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.settimeout(1.0)
        sock.connect(("127.0.0.1", place.door))
        while time.monotonic() < end:
            with contextlib.suppress(TimeoutError, ConnectionRefusedError):
                sock.send(question(words))
                told = json.loads(answer(sock.recv(65_536)) or "{}")
                if told:
                    return dict(told)
            time.sleep(0.05)
    raise AssertionError(words)


def test_a_console_a_journal_and_a_file_that_hang_hold_no_press_up(
    tmp_path: Path, place: Place, desk: SimulatedDesk
) -> None:
    (tmp_path / "journal.db").touch()
    new = tmp_path / "new.yaml"
    new.write_text(f"{place.file.read_text()}\n# changed\n")
    command = (*TREADLE, "run", str(place.file), "--imagine-contacts")
    with (
        held(tmp_path / "journal.db"),
        full_pipe() as full,
        subprocess.Popen(
            command,
            stdout=full,
            env={**os.environ, "STATE_DIRECTORY": str(tmp_path)},
        ) as service,
    ):
        try:
            while ask(place, "status")["state"] != "resting":
                time.sleep(0.05)
            with held(new):
                new.rename(place.file)
                service.send_signal(signal.SIGHUP)
                for scene in ("phones", "speakers", "phones", "speakers"):
                    told = ask(place, "press", "pedal", "tap")
                    assert (told["ended"], told["scene"]) == ("arrived", scene)
                assert on(desk) == SPEAKERS
                # They still stand there: no press waited until all was well.
                assert ask(place, "status")["last"] == "speakers is in force"
                assert (tmp_path / "journal.db").stat().st_size == 0
            while ask(place, "status")["last"] == "speakers is in force":
                time.sleep(0.05)
            assert "the studio file as it is now is in force" in str(
                ask(place, "status")["last"]
            )
        finally:
            service.send_signal(signal.SIGTERM)
            assert service.wait(PATIENCE_S) == 0
