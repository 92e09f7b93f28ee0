"""A real service finds what the one before it has left behind, and takes it back."""

from __future__ import annotations

from pathlib import Path

from bridge.adapters.ledger import Ledger, place_for
from bridge.faces.children import SimulatedDesk
from bridge.faces.stage import DESK, free_port
from tests.faces.services import PHONES, SWITCHES, observatory, running

MUTED = "/strip/7/to/1"


def test_what_a_killed_crossing_has_muted_is_heard_again(tmp_path: Path) -> None:
    """The desk kept the scene phones, but for one switch that was off for a moment.

    Since then the file was given another name for the studio, and another door.
    """
    held = {a: int(a in PHONES - {MUTED}) for a in SWITCHES}
    desk = SimulatedDesk(DESK, {"state": held})
    place = observatory(tmp_path, desk=desk.port)
    where = {"RUNTIME_DIRECTORY": str(tmp_path / "run")}
    ledger = place_for(where, place.file)
    assert ledger is not None
    muted = "desk: in 7/8 to program"
    assert not Ledger(ledger, place.file).keep({muted: True, "not here": 1.0})
    text = place.file.read_text(encoding="utf-8")
    text = text.replace(f"port: {place.door}", f"port: {free_port()}")
    place.file.write_text(text.replace("Hilltop", "Hill"), encoding="utf-8")
    with running(place.file, **where) as service:
        told = service.until("left behind")
        service.until("arrived")
        assert desk.state()[MUTED] == 1
    assert told["controls"] == [muted]
    assert "set jingles to program to on" in told["words"]
    assert not ledger.exists()
    assert desk.end() == 0
