"""The service where only its own folder can be written, and what systemd's journal got.

Independent of this project: the kernel's mounts, systemd-journald and journalctl.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

from bridge.faces.children import Child
from tests.faces.services import PATIENCE_S, TREADLE, Place, treadle

ROOT = Path(__file__).resolve().parents[2]
ALONE = ("unshare", "--mount", "--map-root-user")
JOURNALD = Path("/lib/systemd/systemd-journald")


def can_be_alone() -> bool:
    """Whether this machine lets us have mounts of our own."""
    if shutil.which("unshare") is None or not JOURNALD.exists():
        return False
    done = subprocess.run([*ALONE, "true"], check=False, capture_output=True)
    return done.returncode == 0


SCRIPT = """
exec >>"$OUT"
touch /etc/written 2>/dev/null && exit 9
JOURNAL_STREAM=$(stat -c %d:%i "$OUT") exec "$@"
"""


@pytest.mark.skipif(not can_be_alone(), reason="no mounts of our own, or no journald")
def test_it_runs_with_nothing_but_its_folder_and_the_journal_has_its_records(
    tmp_path: Path, place: Place
) -> None:
    out = tmp_path / "out"
    inside = (str(ROOT / "tests" / "read_only_root.sh"), str(tmp_path))
    command = (*TREADLE, "run", str(place.file), "--imagine-contacts")
    environment = {
        "OUT": str(out),
        "STATE_DIRECTORY": str(tmp_path),
        "PYTHONDONTWRITEBYTECODE": "1",
        "PYTHONPATH": str(ROOT),
    }
    whole = (*ALONE, *inside, "sh", "-c", SCRIPT, "sh", *command)
    child = Child(whole, environment)
    try:
        told = treadle("go", place.file, "phones")
        for _ in range(100):
            if told.returncode == 0:
                break
            told = treadle("go", place.file, "phones")
        assert told.stdout.startswith("arrived: phones is in force")
    finally:
        _end(child)
    with closing(sqlite3.connect(tmp_path / "journal.db")) as journal:
        kept = {told for (told,) in journal.execute("select told from event")}
    assert {"started", "arrived", "stopped"} <= kept
    records = [
        json.loads(line)
        for line in (tmp_path / "journal.json").read_text().splitlines()
    ]
    ours = {r["TREADLE_TOLD"]: r for r in records if "TREADLE_TOLD" in r}
    assert {"started", "port found", "crossing", "arrived", "stopped"} <= set(ours)
    assert ours["crossing"]["TREADLE_SCENE"] == "phones"
    assert "desk: in 1 to monitor" in ours["crossing"]["TREADLE_CONTROL"]
    assert ours["arrived"]["PRIORITY"] == "6"
    assert ours["arrived"]["SYSLOG_IDENTIFIER"] == "treadle"
    assert ours["arrived"]["_TRANSPORT"] == "journal"
    # What the journal has got is not written a second time.
    assert "is in force" not in out.read_text()


def _end(child: Child) -> None:
    """End the service, which is the youngest below the process that we started."""
    pid = child.pid
    while found := Path(f"/proc/{pid}/task/{pid}/children").read_text().split():
        pid = int(found[-1])
    os.kill(pid, signal.SIGTERM)
    assert child._program.wait(PATIENCE_S) == 0
    child.end(politely=False)
