"""One message that would set two things is refused: no proof could hold."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.files.shelf import shipped_profiles, shipped_studios
from bridge.files.studio import load


@pytest.mark.parametrize(
    ("good", "slip", "said", "sent"),
    [
        (
            "/strip/{strip}/to/{bus}",
            "/strip/{strip}/to",
            "one message sets mic to program to off and mic to monitor to off",
            "it is desk: /strip/1/to 0",
        ),
        (
            "{off: 0, on: 1}",
            "{off: 1, on: 1}",
            "one message sets mic to program to off and mic to program to on",
            "it is desk: /strip/1/to/1 1",
        ),
    ],
)
def test_two_things_that_one_message_sets_are_named(
    tmp_path: Path, good: str, slip: str, said: str, sent: str
) -> None:
    profile = (shipped_profiles() / "desk-osc.yaml").read_text()
    assert good in profile
    (tmp_path / "profiles").mkdir()
    broken = profile.replace("profile: desk-osc", "profile: mine").replace(good, slip)
    (tmp_path / "profiles" / "mine.yaml").write_text(broken)
    studio = (shipped_studios() / "observatory.yaml").read_text()
    file = tmp_path / "studio.yaml"
    file.write_text(studio.replace("profile: desk-osc", "profile: mine"))
    (finding,) = load(file).findings
    assert (finding.rule, finding.message) == ("same-message", said)
    assert finding.note == sent
    assert finding.place is not None
    assert finding.place.file.endswith("mine.yaml")
    assert finding.cure


def test_two_desks_at_one_address_are_named(tmp_path: Path) -> None:
    text = (shipped_studios() / "observatory.yaml").read_text()
    twice = '  spare: {profile: desk-osc, osc: "192.168.4.20:9000"}\n'
    file = tmp_path / "studio.yaml"
    file.write_text(text.replace("gear:\n", f"gear:\n{twice}"))
    found = [f for f in load(file).findings if f.rule == "same-message"]
    assert len(found) == 1
    assert found[0].cure == "give spare and desk each its own address or channel"
