"""What a studio file lets be set for a moment while crossing."""

from __future__ import annotations

from pathlib import Path

from bridge.files.shelf import shipped_studios
from bridge.files.studio import load

OBSERVATORY = (shipped_studios() / "observatory.yaml").read_text()


def test_helpers_are_written_like_a_scene(tmp_path: Path) -> None:
    path = tmp_path / "studio.yaml"
    path.write_text(f"{OBSERVATORY}\nhelpers: {{mic to monitor: off}}\n")
    studio = load(path).studio
    assert studio is not None
    assert studio.helpers == (("desk: in 1 to monitor", False),)


def test_a_helper_must_be_a_control(tmp_path: Path) -> None:
    path = tmp_path / "studio.yaml"
    path.write_text(f"{OBSERVATORY}\nhelpers: {{mic to moniter: off}}\n")
    (finding,) = load(path).findings
    assert finding.rule == "unknown-name"
    assert 'did you mean "mic to monitor"?' in finding.cure
