"""A relay's times in a profile: pulled, fallen, bouncing; each way its own.

Outside facts: the three times and what they mean are those of IEC 61810-1, 3.6
(operate, release, bounce time), from memory; the milliseconds are those that data
sheets of small signal relays commonly give (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.core.effects import Wanted
from bridge.core.judge import HouseJudge
from bridge.core.plans import navigator_for
from bridge.core.rehearsal import Rehearsal
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.files.notes import Notes
from bridge.files.profile import read_profile
from bridge.files.shelf import shipped_profiles
from tests.core.test_faults import STUDIO as BOOTH

RELAY = (shipped_profiles() / "changeover-gpio.yaml").read_text()
TIMES = "operate: 4 ms\n    release: 3 ms\n    bounce: 2 ms"


def with_times(times: str, text: str = RELAY) -> str:
    (line,) = [line for line in text.splitlines() if line.startswith("    settle:")]
    return text.replace(line, f"    {times}")


def findings(text: str) -> list[str]:
    notes = Notes()
    read_profile(text.encode(), "changeover-gpio.yaml", notes)
    return [f"{f.rule}: {f.message}" for f in notes.findings]


def test_pulling_and_falling_take_their_own_time() -> None:
    notes = Notes()
    text = with_times(TIMES)
    profile = read_profile(text.encode(), "changeover-gpio.yaml", notes)
    assert profile is not None
    assert profile.controls["position"].settle_to_ms == {"pulled": 6.0, "rest": 5.0}
    assert not notes.findings


def test_without_bounce_there_is_none() -> None:
    notes = Notes()
    text = with_times("operate: 4 ms\n    release: 3 ms").encode()
    profile = read_profile(text, "changeover-gpio.yaml", notes)
    assert profile is not None
    assert profile.controls["position"].settle_to_ms == {"pulled": 4.0, "rest": 3.0}


@pytest.mark.parametrize(
    ("times", "words"),
    [
        ("operate: 4 ms", "release is missing"),
        ("release: 4 ms\n    bounce: 1 ms", "operate is missing"),
        ("settle: 20 ms\n    " + TIMES, "settle and operate say the same"),
    ],
)
def test_half_a_relay_is_noted(times: str, words: str) -> None:
    (found,) = findings(with_times(times))
    assert words in found


def test_only_a_contact_line_has_these_times() -> None:
    text = (shipped_profiles() / "desk-memories.yaml").read_text()
    notes = Notes()
    read_profile(with_times(TIMES, text).encode(), "desk-memories.yaml", notes)
    (found,) = notes.findings
    assert found.rule == "key-out-of-place"
    assert "not moved by a contact line" in found.message


def test_a_crossing_waits_as_long_as_its_way_takes() -> None:
    """Pulled: 30 ms; fallen: 10 ms; and not a message earlier."""
    out = BOOTH.controls["out"]
    timed = replace(out, settle_to_ms={"speakers": 30.0, "phones": 10.0})
    studio: Studio = replace(BOOTH, controls={**BOOTH.controls, "out": timed})
    judge = HouseJudge(studio)
    played = Rehearsal(judge, navigator_for(judge))
    played.start()
    for scene, ms in (("speakers", 30.0), ("off", 10.0)):
        played.happen(Wanted(scene))
        while played.world.true["out"] != studio.scenes[scene].values["out"]:
            played.wait(0.0001)
        # The contact was sent GAP_SHARE (a quarter) of its time ago.
        played.wait(ms * 0.75 / 1000 - 0.001)
        assert played.machine.state is State.CROSSING
        played.wait(0.002)
        assert scene in played.machine.scenes_in_force
