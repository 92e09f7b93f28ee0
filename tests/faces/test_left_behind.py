"""A real service finds what the one before it has left behind, and takes it back."""

from __future__ import annotations

import json
from pathlib import Path

from bridge.faces.children import SimulatedDesk
from bridge.faces.stage import DESK
from bridge.files.studio import load
from tests.faces.services import PHONES, SWITCHES, observatory, running

MUTED = "/strip/7/to/1"


def test_what_a_killed_crossing_has_muted_is_heard_again(tmp_path: Path) -> None:
    """The desk kept the scene phones, but for one switch that was off for a moment."""
    held = {a: int(a in PHONES - {MUTED}) for a in SWITCHES}
    desk = SimulatedDesk(DESK, {"state": held})
    place = observatory(tmp_path, desk=desk.port)
    ledger = tmp_path / f"owed-{place.door}.json"
    muted = "desk: in 7/8 to program"
    studio = load(place.file).studio
    assert studio is not None
    owed = {"studio": studio.name, "owed": {muted: True, "not here": 1.0}}
    ledger.write_text(json.dumps(owed), encoding="utf-8")
    with running(place.file, RUNTIME_DIRECTORY=str(tmp_path)) as service:
        told = service.until("left behind")
        service.until("arrived")
        assert desk.state()[MUTED] == 1
    assert told["controls"] == [muted]
    assert "set jingles to program to on" in told["words"]
    assert not ledger.exists()
    assert desk.end() == 0
