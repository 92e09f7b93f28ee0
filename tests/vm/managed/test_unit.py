"""The shipped unit, unchanged, under the systemd that it is written for.

Each start costs some ten seconds here, so each test goes on where the last one stopped.
"""

from __future__ import annotations

import contextlib
import errno
import io
import json
import os
import signal
import socket
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

import evdev
import pytest

from bridge.faces.cli import main
from tests.test_systemd import ROOT
from tests.vm.inside import jetty
from tests.vm.inside.jetty import RELAY, Bench
from tests.vm.inside.test_keyboards import move, pedal
from tests.vm.managed import manager, studio
from tests.vm.managed.manager import STUDIO, Journal, must, ran, shown

INSTALL = ROOT / "systemd/install.sh"
AT_START = {
    f"desk cc {channel} {strip}": value
    for strip in (21, 22, 23, 25, 27)
    for channel, value in ((1, 0), (2, 0), (16, 100))
}
"""The whole desk in the scene `start`, by its profile's chart: off, and at 0 dB."""


@pytest.fixture(scope="module")
def bench() -> Iterator[Bench]:
    with jetty.bench() as it:
        yield it


@pytest.fixture(scope="module")
def journal(bench: Bench) -> Iterator[Journal]:
    it = Journal(bench)
    yield it
    it.child.end()


def answered(*words: str) -> tuple[int, str]:
    """What a command says to root, in this process: a start costs much here."""
    text = io.StringIO()
    with contextlib.redirect_stdout(text):
        code = main(words)
    return code, text.getvalue()


def status() -> dict[str, object]:
    """What `treadle status` knows of the running service."""
    code, text = answered("status", str(STUDIO), "--json")
    assert code == 0, text
    found: dict[str, object] = json.loads(text)["status"]
    return found


def stands(bench: Bench, count: int = 0) -> dict[str, object]:
    """How the desk stands by all that it was told after the first `count` messages."""
    return {str(line["address"]): line["value"] for line in bench.told[count:]}


def main_pid() -> int:
    (pid,) = shown("MainPID")
    return int(pid)


def test_the_installer_puts_everything_in_its_place(
    bench: Bench, tmp_path: Path
) -> None:
    (chip,) = Path("/dev").glob("gpiochip*")
    os.chown(chip, 0, 0)
    chip.chmod(0o600)
    # The packages are there: see `prepare`.
    (tmp_path / "pip.py").touch()
    (tmp_path / "python3").write_text("#!/bin/sh\n")
    (tmp_path / "python3").chmod(0o755)
    wheel = tmp_path / "treadle.whl"
    wheel.touch()
    words = [f"PYTHONPATH={tmp_path}", f"PATH={tmp_path}:{os.environ['PATH']}"]
    said = must("env", *words, INSTALL, wheel)
    assert said.endswith("systemctl status treadle\n"), said
    must("udevadm", "settle")
    # A rule that udev does not understand is named there, and left out.
    assert "70-treadle" not in must("journalctl", "--unit", "systemd-udevd")
    for name, place in (
        ("treadle.service", "/etc/systemd/system/treadle.service"),
        ("treadle-sysusers.conf", "/etc/sysusers.d/treadle.conf"),
        ("treadle-udev.rules", "/etc/udev/rules.d/70-treadle.rules"),
    ):
        assert Path(place).read_bytes() == (ROOT / "systemd" / name).read_bytes()
    assert must("systemctl", "is-enabled", "treadle").strip() == "enabled"
    groups = {line.split(":")[0] for line in Path("/etc/group").read_text().split()}
    assert {"audio", "gpio", "dialout"} <= groups
    assert chip.group() == "gpio"
    assert stat.S_IMODE(chip.stat().st_mode) == 0o660


def test_it_starts_and_a_press_moves_the_gear(bench: Bench, journal: Journal) -> None:
    STUDIO.write_text(studio.TEXT)
    must("systemctl", "start", "treadle")
    assert shown("ActiveState", "SubState", "Result") == [
        "active",
        "running",
        "success",
    ]
    journal.told("arrived", scene="start")
    at_rest = stands(bench)
    bench.press()
    journal.told("arrived", scene="phones")
    bench.press()
    entry = journal.told("arrived", scene="speakers")
    assert bench.board.level(RELAY) == 1
    assert stands(bench) != at_rest
    assert entry["SYSLOG_IDENTIFIER"] == "treadle"
    assert entry["PRIORITY"] == "6"
    assert entry["_SYSTEMD_UNIT"] == manager.UNIT


def test_root_asks_it_and_reads_its_journal(bench: Bench, journal: Journal) -> None:
    assert answered("go", str(STUDIO), "phones")[0] == 0
    journal.told("arrived", scene="phones")
    assert status()["scenes"] == ["phones"]
    kept = Path("/var/lib/private/treadle/journal.db")
    assert Path("/var/lib/treadle").resolve() == kept.parent
    (uid,) = shown("UID")
    assert kept.stat().st_uid == int(uid) >= 61184  # DynamicUser: systemd.exec(5)
    code, history = answered("history", "--json")
    assert code == 0
    assert "speakers" in history


def test_it_may_open_its_devices_and_no_other() -> None:
    pid = main_pid()
    whose = dict(
        line.split(":\t", 1)
        for line in Path(f"/proc/{pid}/status").read_text().splitlines()
    )
    groups = [int(word) for word in whose["Groups"].split()]
    uid, gid = int(whose["Uid"].split()[0]), int(whose["Gid"].split()[0])
    with pedal():  # a keyboard is not for the service, unless a drop-in says so
        as_root, as_user = _openable(uid, gid, groups)
    plain = {"full", "null", "random", "urandom", "zero"}
    chips = {path.name for path in Path("/dev").glob("gpiochip*")}
    sound = {
        f"snd/{path.name}"
        for path in Path("/dev/snd").iterdir()
        if path.is_char_device()
    }
    terminals = {"ptmx", "pts/ptmx", "tty"}
    assert as_root - terminals == as_user - terminals == plain | chips | sound
    assert whose["NoNewPrivs"] == "1"
    assert whose["Seccomp"] == "2"
    assert int(whose["CapEff"], 16) == 0
    assert int(whose["CapBnd"], 16) == 0


def _openable(uid: int, gid: int, groups: list[int]) -> tuple[set[str], set[str]]:
    """What can be opened in the service's control group, as root and as its user."""
    ours, its = os.pipe()
    if not (child := os.fork()):
        (group,) = shown("ControlGroup")
        Path(f"/sys/fs/cgroup{group}/cgroup.procs").write_text(str(os.getpid()))
        as_root = _opened()
        os.setgroups(groups)
        os.setgid(gid)
        os.setuid(uid)
        os.write(its, json.dumps([as_root, _opened()]).encode())
        os._exit(0)
    os.close(its)
    with os.fdopen(ours) as answer:
        first, second = json.load(answer)
    os.waitpid(child, 0)
    return set(first), set(second)


def _opened() -> list[str]:
    """Every device below /dev that this process can open."""
    found = []
    for path in sorted(Path("/dev").rglob("*")):
        if path.is_symlink() or not (path.is_char_device() or path.is_block_device()):
            continue
        try:
            os.close(os.open(path, os.O_RDWR | os.O_NONBLOCK | os.O_NOCTTY))
        except OSError as error:
            if error.errno in (errno.EPERM, errno.EACCES):
                continue
        found.append(str(path.relative_to("/dev")))
    return found


def test_killed_it_comes_back_by_itself(bench: Bench, journal: Journal) -> None:
    bench.press()
    journal.told("arrived", scene="speakers")
    assert bench.board.level(RELAY) == 1
    before, count = main_pid(), len(bench.told)
    must("systemctl", "kill", "--kill-whom=main", "--signal=KILL", "treadle")
    manager.until(lambda: bench.board.level(RELAY) == 0, "let go of")
    journal.told("arrived", scene="start")
    manager.until_active(1)
    assert main_pid() != before
    # All of it was told anew: a desk that cannot answer may stand anyhow.
    assert stands(bench, count) == AT_START


def test_hung_it_is_killed_traced_and_started_again(journal: Journal) -> None:
    os.kill(main_pid(), signal.SIGSTOP)
    journal.until(MESSAGE="Watchdog timeout")
    journal.until(MESSAGE="Fatal Python error: Aborted")
    journal.told("arrived", scene="start")
    manager.until_active(2)


def test_a_reload_takes_a_file_over_unless_it_is_broken(
    bench: Bench, journal: Journal
) -> None:
    STUDIO.write_text(studio.BROKEN)
    must("systemctl", "reload", "treadle")
    entry = journal.told("not read anew")
    assert entry["TREADLE_RULE"] == "own-voice-late"
    assert "2 errors" in str(status()["file"])
    bench.press()
    journal.told("arrived", scene="phones")
    STUDIO.write_text(studio.MORE)
    must("systemctl", "reload", "treadle")
    journal.told("read anew")
    assert answered("go", str(STUDIO), "quiet")[0] == 0
    journal.told("arrived", scene="quiet")


def test_a_stop_is_clean_and_by_the_safe_scene(bench: Bench, journal: Journal) -> None:
    for scene in ("phones", "speakers"):
        bench.press()
        journal.told("arrived", scene=scene)
    assert stands(bench) != AT_START
    must("systemctl", "stop", "treadle")
    assert shown("ActiveState", "Result", "ExecMainStatus") == [
        "inactive",
        "success",
        "0",
    ]
    journal.told("stopped")
    assert stands(bench) == AT_START
    assert bench.board.level(RELAY) == 0


def test_a_studio_with_an_error_is_not_tried_again(journal: Journal) -> None:
    STUDIO.write_text(studio.BROKEN)
    assert ran("systemctl", "start", "treadle").returncode != 0
    wanted = ["failed", "failed", "1", "0"]
    assert shown("ActiveState", "SubState", "ExecMainStatus", "NRestarts") == wanted
    journal.until(MESSAGE="not run: nothing was opened and nothing was sent")


def test_what_cannot_run_is_tried_at_a_walk_until_it_can(journal: Journal) -> None:
    """With the drop-in for keyboards: it is there after this start."""
    page = (ROOT / "systemd/README.md").read_text()
    drop_in = page.partition("# A pedal that is a keyboard:\n")[2].partition("```")[0]
    folder = Path("/etc/systemd/system/treadle.service.d")
    folder.mkdir()
    (folder / "override.conf").write_text(f"[Service]\n{drop_in}")
    STUDIO.write_text(studio.SHOWN)
    must("systemctl", "daemon-reload")
    must("systemctl", "reset-failed", "treadle")
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        taken.bind(("127.0.0.1", 9720))
        must("systemctl", "start", "--no-block", "treadle")
        first = journal.until(MESSAGE="Starting treadle.service")
        error = journal.until(MESSAGE="is taken: this or another")
        assert error["PRIORITY"] == "3"
        manager.until(lambda: "tried again in" in shown("StatusText")[0], "told why")
    second = journal.until(MESSAGE="Starting treadle.service")
    journal.told("arrived", scene="start")
    assert shown("ActiveState", "NRestarts") == ["active", "1"]
    assert _at(second) - _at(first) >= 10.0


def _at(entry: manager.Entry) -> float:
    """When it was, in seconds since the machine began."""
    return int(str(entry["__MONOTONIC_TIMESTAMP"])) / 1e6


def test_the_drop_in_for_keyboards_lets_one_be_grabbed(journal: Journal) -> None:
    with pedal() as box:
        journal.told("port found")
        other = evdev.InputDevice(box.device.path)
        move(box, 1)
        move(box, 0)
        journal.told("arrived", scene="call")
        assert other.read_one() is None, "somebody else heard the pedal"
        other.close()


def test_nothing_comes_near_the_limits(capsys: pytest.CaptureFixture[str]) -> None:
    host, port = studio.PANEL.split(":")
    with socket.create_connection((host, int(port))) as page:
        page.sendall(f"GET / HTTP/1.0\r\nHost: {studio.PANEL}\r\n\r\n".encode())
        assert page.recv(4096).startswith(b"HTTP/1.1 200 ")
    memory, most, tasks, most_tasks, group = shown(
        "MemoryCurrent", "MemoryMax", "TasksCurrent", "TasksMax", "ControlGroup"
    )
    place = Path(f"/sys/fs/cgroup{group}")
    events = dict(
        line.split() for line in (place / "memory.events").read_text().splitlines()
    )
    peak = int((place / "memory.peak").read_text())
    with capsys.disabled():
        sys.stdout.write(f"\nmemory {memory}, at most {peak} of {most}; ")
        sys.stdout.write(f"tasks {tasks} of {most_tasks}\n")
    assert events["max"] == events["oom_kill"] == "0"
    assert (place / "pids.events").read_text().split() == ["max", "0"]
