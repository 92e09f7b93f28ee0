"""The whole service writes its journal: real processes, packets, kills, bad places.

Independent of this project: liblo's `oscsend`, SQLite's own integrity check, and the
imagined relay's own word on what it was made to do.
"""

from __future__ import annotations

import json
import re
import signal
import sqlite3
import subprocess
import threading
from contextlib import closing
from itertools import pairwise
from pathlib import Path

from bridge.core.entries import Kept, NotAJournal, Question
from bridge.faces.children import SimulatedDesk
from bridge.faces.stage import PEDAL
from bridge.wiring.journal import read_journal
from tests.faces.services import (
    PATIENCE_S,
    TREADLE,
    observatory,
    oscsend,
    running,
    treadle,
)


def until(journal: Path, told: str, scene: str) -> Kept:
    """Wait until this is kept, as a second program sees it."""
    pause, found = threading.Event(), None
    for _ in range(int(PATIENCE_S * 100)):
        if journal.exists():
            try:
                found = read_journal(journal, Question(told=(told,), scene=scene))
            except NotAJournal:
                found = None  # it is being made
        if found is not None and found.matching:
            return found
        pause.wait(0.01)
    raise AssertionError(found)


def test_the_service_keeps_presses_times_and_operations(
    tmp_path: Path, desk: SimulatedDesk
) -> None:
    place = observatory(tmp_path, desk=desk.port)
    journal = tmp_path / "journal.db"
    with running(place.file, STATE_DIRECTORY=str(tmp_path)) as service:
        service.until("started", scene="start")
        oscsend(place.pedal, PEDAL, "i", 1)
        oscsend(place.pedal, PEDAL, "i", 0)
        service.until("arrived", scene="phones")
        for scene in ("speakers", "phones", "speakers"):
            oscsend(place.door, "/treadle/go", "s", scene)
            service.until("arrived", scene=scene)
        said = treadle("status", place.file)
        standing = json.loads(treadle("status", place.file, "--json").stdout)
        (arrived,) = until(journal, "arrived", "phones").entries[:1]
    assert arrived.sent == len(arrived.messages) > 0
    assert arrived.wire_ms is not None
    assert arrived.end_ms is not None
    assert 0 < arrived.wire_ms < arrived.end_ms
    kept = read_journal(journal, Question())
    told = [entry.told for entry in kept.entries]
    assert told.count("arrived") == 4
    begin = told.index("pressed")
    assert told[begin : begin + 3] == ["pressed", "crossing", "arrived"]
    assert kept.entries[begin].words == "pedal"
    assert told[-1] == "stopped"
    # The imagined relay tells each change by itself: that is what has worn.
    lines = [json.loads(line) for line in service.child.lines]
    driven = [line["driven"] for line in lines if line.get("told") == "imagined"]
    moved = sum(now != before for before, now in pairwise([False, *driven]))
    assert [worn.operations for worn in kept.worn] == [moved]
    assert moved >= 3
    (relay,) = standing["status"]["relays"]
    assert relay["control"] == "changeover: position"
    assert (relay["rated"], relay["cure"]) == (100_000, "")
    assert "wear of changeover: position: " in said.stdout
    assert "of 100,000 operations, 0.0 %" in said.stdout


def test_a_killed_service_goes_on_in_the_same_journal(
    tmp_path: Path, desk: SimulatedDesk
) -> None:
    place = observatory(tmp_path, desk=desk.port)
    journal = tmp_path / "kept.db"
    command = [*TREADLE, "run", str(place.file), "--imagine-contacts"]
    command += ["--journal", str(journal)]
    for scene in ("phones", "speakers"):
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as service:
            assert service.stdout is not None
            next(line for line in service.stdout if " started " in line)
            oscsend(place.door, "/treadle/go", "s", scene)
            seen = until(journal, "arrived", scene)
            service.send_signal(signal.SIGKILL)
            service.stdout.read()
        with closing(sqlite3.connect(journal)) as file:
            assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        after = read_journal(journal, Question())
        assert set(seen.entries) <= set(after.entries)
    assert {"phones", "speakers"} <= set(read_journal(journal, Question()).scenes)


def test_without_a_place_nothing_is_kept(tmp_path: Path, desk: SimulatedDesk) -> None:
    place = observatory(tmp_path, desk=desk.port)
    with running(place.file, STATE_DIRECTORY="") as service:
        service.until("started", scene="start")
    assert not list(tmp_path.rglob("*.db*"))


def test_a_journal_that_cannot_be_kept_stops_nothing(
    tmp_path: Path, desk: SimulatedDesk
) -> None:
    place = observatory(tmp_path, desk=desk.port)
    gone = tmp_path / "not there"
    with running(place.file, STATE_DIRECTORY=str(gone)) as service:
        service.until("started", scene="start")
        oscsend(place.door, "/treadle/go", "s", "phones")
        service.until("arrived", scene="phones")
    said = [line for line in map(json.loads, service.child.lines) if "journal" in line]
    assert re.fullmatch(
        r"journal: .*/not there/journal\.db cannot be written: "
        r"its folder is not there; the service goes on, "
        r"and it is tried again every 30 s",
        said[0]["journal"],
    )
    assert re.fullmatch(
        r"journal: \d+ records were lost at the end", said[1]["journal"]
    )
    assert len(said) == 2
