"""The studio file changes under a running service: real processes, real packets.

Independent of this project: liblo's `oscsend` presses; the desk is another process,
and what it holds is asked of it, not of the service.
"""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import time
from contextlib import closing
from pathlib import Path

from bridge.faces.children import SimulatedDesk
from bridge.faces.reread import Clean, Refused, Rereader, Same, Watched
from bridge.faces.stage import DESK, PEDAL
from bridge.files.shelf import shipped_profiles
from bridge.files.studio import load
from tests.faces.services import (
    PATIENCE_S,
    PHONES,
    SLIP,
    SPEAKERS,
    SWITCHES,
    TREADLE,
    Place,
    Service,
    observatory,
    on,
    oscsend,
    running,
    treadle,
)

JINGLES = "/strip/7/to/2"
QUIET = (
    "monitor: [mic, jingles], changeover: rest",
    "monitor: [mic], changeover: rest",
)
"""Takes the jingles from the monitor in the scene phones."""


def write(place: Place, text: str) -> None:
    """As an editor does: another file, put in its place."""
    new = place.file.with_name("new")
    new.write_text(text, encoding="utf-8")
    new.replace(place.file)


def press(place: Place, service: Service, scene: str) -> None:
    oscsend(place.pedal, PEDAL, "i", 1)
    oscsend(place.pedal, PEDAL, "i", 0)
    service.until("arrived", scene=scene)


def test_a_changed_file_is_taken_over_a_broken_one_is_told_and_changes_nothing(
    place: Place, desk: SimulatedDesk, tmp_path: Path
) -> None:
    text = place.file.read_text(encoding="utf-8")
    with running(place.file, STATE_DIRECTORY=str(tmp_path)) as service:
        service.up()
        press(place, service, "phones")
        assert on(desk) == PHONES
        write(place, text.replace(*QUIET))
        taken = service.until("read anew")
        assert taken["words"].endswith("11 of 11 controls are known as before")
        assert on(desk) == PHONES  # nothing is sent by reading
        press(place, service, "phones")
        assert on(desk) == PHONES - {JINGLES}

        write(place, text.replace(*SLIP))
        os.kill(service.child.pid, signal.SIGHUP)
        told = service.until("not read anew")
        assert told["rules"] == ["own-voice-late"]
        assert told["cure"] == "set astronomer to program to off (desk)"
        press(place, service, "speakers")
        assert on(desk) == SPEAKERS
        status = treadle("status", place.file)
        assert status.returncode == 0
        assert "observatory.yaml:52:3: error[own-voice-late]: scene remote" in (
            status.stdout
        )
        write(place, text)
        os.kill(service.child.pid, signal.SIGHUP)
        service.until("read anew")
        press(place, service, "phones")
        assert on(desk) == PHONES
    with closing(sqlite3.connect(tmp_path / "journal.db")) as journal:
        kinds = "select told, count(*) from event where told like '%anew' group by 1"
        assert dict(journal.execute(kinds)) == {"read anew": 2, "not read anew": 1}


def test_a_changed_address_moves_the_port_and_a_crossing_is_finished_first(
    place: Place, desk: SimulatedDesk
) -> None:
    other = SimulatedDesk(DESK, {"state": SWITCHES})
    text = place.file.read_text(encoding="utf-8")
    try:
        with running(place.file) as service:
            service.up()
            press(place, service, "phones")
            desk.order(lose=1000)  # the crossing waits until its tries are over
            time.sleep(0.1)  # a foot is slower than the lockout after its release
            oscsend(place.pedal, PEDAL, "i", 1)
            oscsend(place.pedal, PEDAL, "i", 0)
            service.until("crossing", scene="speakers")
            write(place, text.replace(f":{desk.port}", f":{other.port}"))
            os.kill(service.child.pid, signal.SIGHUP)
            service.until("read anew")
            told = [json.loads(line)["told"] for line in service.child.lines]
            assert told.index("halted") < told.index("read anew")
            service.until("port found")
            oscsend(place.door, "/treadle/go", "s", "phones")
            service.until("arrived", scene="phones")
            assert on(other) == PHONES
    finally:
        assert other.end() == 0


def test_a_service_whose_terminal_is_closed_ends_in_good_order(
    tmp_path: Path,
) -> None:
    place = observatory(tmp_path)
    ours, its = os.openpty()
    command = [*TREADLE, "run", str(place.file), "--imagine-contacts", "--json"]
    with subprocess.Popen(
        command, stdin=its, stdout=subprocess.PIPE, text=True
    ) as service:
        assert service.stdout is not None
        told = [json.loads(service.stdout.readline())["told"]]
        service.send_signal(signal.SIGHUP)
        told += [json.loads(line).get("told") for line in service.stdout]
        assert service.wait(PATIENCE_S) == 0
    assert "stopped" in told
    assert "read anew" not in told
    os.close(ours)
    os.close(its)


def test_a_new_profile_beside_the_file_counts_and_a_storm_is_read_once_it_is_over(
    tmp_path: Path,
) -> None:
    place = observatory(tmp_path)
    found: list[Clean | Refused | Same] = []
    rereader = Rereader(
        Watched.of(place.file), _texts(place.file), found.append, look_s=0.02
    )
    rereader.start()
    text = place.file.read_text(encoding="utf-8")
    for number in range(40):
        write(place, f"{text}# {number}\n")
        time.sleep(0.005)
    _wait(found, 1)
    own = tmp_path / "profiles"
    own.mkdir()
    profile = (shipped_profiles() / "desk-osc.yaml").read_text(encoding="utf-8")
    (own / "desk-osc.yaml").write_text(f"{profile}# ours\n", encoding="utf-8")
    _wait(found, 2)
    write(place, text + "\tscenes:")
    _wait(found, 3)
    assert load(place.file).door_port == 9720  # where a service is asked by default
    place.file.unlink()
    _wait(found, 4)
    write(place, f"{text}# 39\n")
    _wait(found, 5)
    rereader.now()
    _wait(found, 6)
    rereader.stop()
    kinds = [type(one) for one in found]
    assert kinds == [Clean, Clean, Refused, Refused, Same, Same]
    first, *_ = found
    assert isinstance(first, Clean)
    assert first.loaded.sources[str(place.file)].endswith("# 39\n")


def _texts(file: Path) -> dict[str, str]:
    return dict(load(file).sources)


def _wait(found: list[Clean | Refused | Same], count: int) -> None:
    for _ in range(1000):
        if len(found) >= count:
            return
        time.sleep(0.01)
    raise AssertionError(found)
