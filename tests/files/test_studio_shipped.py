"""The studios that are shipped are proved, and one slip in each breaks the proof."""

import pytest

from bridge.core.finding import Severity
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.proof import Proof, prove
from bridge.files.notes import Notes
from bridge.files.shelf import shipped_profiles, shipped_studios
from bridge.files.studio import Loaded, load_text
from bridge.files.studio_gear import Shelf

STUDIOS = ("observatory", "harbour-night-watch", "lighthouse-reading-hour")


def loaded(name: str, **instead: str) -> Loaded:
    """Load a shipped studio, with some texts in it changed."""
    text = (shipped_studios() / f"{name}.yaml").read_text()
    for old, new in instead.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return load_text(text.encode(), name, Shelf((shipped_profiles(),), Notes()))


def proof(studio: Loaded) -> Proof:
    """Prove a studio that loads without a word."""
    assert studio.findings == ()
    assert studio.studio is not None
    judge = HouseJudge(studio.studio)
    return prove(judge, Planner(judge))


@pytest.mark.parametrize("name", STUDIOS)
def test_every_scene_and_every_crossing_holds(name: str) -> None:
    found = proof(loaded(name))
    assert found.holds, found.findings
    assert found.settings >= 4
    assert found.crossings >= 6


def errors(found: Proof) -> set[str]:
    """The rules that are broken."""
    return {f.rule for f in found.findings if f.severity is Severity.ERROR}


def test_the_guest_s_voice_must_not_go_back_to_the_guest() -> None:
    slip = {
        "remote call: {from: phones, ": "remote call: {from: phones, "
        "program: [mic, astronomer], "
    }
    assert "own-voice-late" in errors(proof(loaded("observatory", **slip)))


def test_the_call_must_not_be_on_the_speakers_beside_a_live_microphone() -> None:
    slip = {
        "speakers:    {program: [jingles], monitor: [jingles]": "speakers:    "
        "{program: [mic, jingles], monitor: [jingles, astronomer]"
    }
    assert "own-voice-late" in errors(proof(loaded("observatory", **slip)))


def test_a_microphone_must_not_hear_itself_from_speakers_that_are_near() -> None:
    slip = {
        "    monitor: [weather]\n": "    monitor: [weather, mic 1]\n",
        "speakers to mic 1:   1.5 m at 150 deg": "speakers to mic 1:   0.3 m",
    }
    assert "howl" in errors(proof(loaded("harbour-night-watch", **slip)))


def test_a_recording_must_not_hear_what_it_plays_back() -> None:
    slip = {"  program: [mic]\n": "  program: [mic, playback]\n"}
    assert "never-hears" in errors(proof(loaded("lighthouse-reading-hour", **slip)))
