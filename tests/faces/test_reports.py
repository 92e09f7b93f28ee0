"""Whole reports as a person reads them, held against golden files.

`hears` on every shipped studio, and `check` on studios that are broken in different
ways. To write the texts anew after a change of wording: WRITE_GOLDEN=1 .ci/check, then
read the difference aloud.
"""

from __future__ import annotations

import json
import os
import shlex
from pathlib import Path

import pytest

from bridge.core.dose import CAUTION
from bridge.faces.cli import main
from bridge.files.shelf import shipped_studios

BROKEN = sorted((Path(__file__).parents[1] / "broken" / "check").glob("*.yaml"))
HEARD = Path(__file__).parent / "golden"
SHIPPED = sorted(shipped_studios().glob("*.yaml"))

FOUND = {
    "call-comes-back": {"own-voice-late"},
    "howl-through-the-air": {"howl"},
    "never-but-a-leak": {"never-hears"},
    "one-pair-for-two": {"inseparable", "must-hear"},
    "own-voice-by-a-bus": {"own-voice-late"},
    "relay-the-wrong-way-round": {"no-power"},
    "talkback-on-air": {"not-for-air"},
}
"""The errors of each broken studio, and no other."""


def compare(golden: Path, report: str) -> None:
    if os.environ.get("WRITE_GOLDEN"):
        golden.write_text(report)
    assert report == golden.read_text()


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_who_hears_what_in_a_shipped_studio(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["hears", str(file)]) == 0
    said = capsys.readouterr().out
    compare(HEARD / f"hears-{file.stem}.txt", said)
    assert max(map(len, said.splitlines())) <= 88


@pytest.mark.parametrize("file", BROKEN, ids=lambda file: file.stem)
def test_what_is_wrong_with_a_broken_studio(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(file.parent)
    assert main(["check", file.name]) == 1
    compare(file.with_suffix(".txt"), capsys.readouterr().out)
    assert main(["check", "--json", file.name]) == 1
    found = json.loads(capsys.readouterr().out)["findings"]
    errors = {f["rule"] for f in found if f["severity"] == "error"}
    assert errors == FOUND[file.stem]


LOUD = """\
studio: Tide mill, headphones
people:
  miller: {room: mill}
gear:
  desk: {profile: desk-control-change, midi: "Desk"}
  laptop: {profile: computer-two-pairs, plays: {music: pair 2}}
  phones: {profile: headphones-active, worn by: miller, listening level: 80 dB}
patch:
  - laptop.pair 2 -> desk.in 7/8
  - desk.monitor out -> phones.in
scenes:
  start: {everything: off}
  soft: {monitor: [music], music level: 0 dB}
  loud: {monitor: [music], music level: +10 dB}
"""


def test_hearing_safety_is_said_to_a_person_and_to_a_script(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """WHO/ITU-T H.870: 80 dBA for 40 h a week, 90 dBA for 4 h. NIOSH: 90 dBA for 2 h
    31 min a day, 80 dBA for 25 h, which is more than a day (references section 7)."""
    file = tmp_path / "loud.yaml"
    file.write_text(LOUD)
    assert main(["hears", "--json", str(file)]) == 0
    told = json.loads(capsys.readouterr().out)
    soft, loud = (told["listening"][scene]["miller"] for scene in ("soft", "loud"))
    assert soft["source"] == loud["source"] == "music"
    assert (soft["level"], soft["minutes_a_day"], soft["hours_a_week"]) == (
        80,
        None,
        40,
    )
    assert (loud["level"], loud["hours_a_week"]) == (90, 4)
    assert loud["minutes_a_day"] == pytest.approx(151.2, abs=0.1)
    assert loud["words"] == (
        "90 dBA: 2 h 31 min a day (NIOSH), 4 h a week (WHO/ITU-T H.870, adults)"
    )
    assert told["listening"]["start"] == {}
    assert told["caution"] == CAUTION
    assert main(["hears", "--scene", "loud", str(file)]) == 0
    said = capsys.readouterr().out
    assert "  miller     music     90   2 h 31 min               4 h\n" in said
    assert "not a measured one" in said


def test_a_howl_is_no_level_to_listen_at(capsys: pytest.CaptureFixture[str]) -> None:
    howl = next(file for file in BROKEN if file.stem == "howl-through-the-air")
    assert main(["hears", "--scene", "aloud", str(howl)]) == 0
    said = capsys.readouterr().out
    assert "  miller     miller   howls   not at all        not at all\n" in said


OWN_TERMS = """
lives without:
  - open-microphone for mic because the dome is loud anyway
  - levels-differ because all trims are set
limits: {own voice rating: 60 because the astronomer is used to it}
"""


@pytest.mark.parametrize(
    "command",
    [
        "check",
        "hears",
        "hears --why jingles stream",
        "crossing phones speakers",
        "crossing --matrix",
        "rehearse 'go phones'",
        "hands",
        "hands --html",
        "patch",
        "patch --html",
        "picture --scene phones -o flow.svg",
    ],
)
def test_every_report_says_what_the_studio_lives_without(
    command: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    text = (shipped_studios() / "observatory.yaml").read_text() + OWN_TERMS
    Path("studio.yaml").write_text(text)
    name, *more = shlex.split(command)
    main([name, "studio.yaml", *more])
    said = " ".join(capsys.readouterr().out.split())
    if name != "patch":
        assert "open-microphone about mic is waived: the dome is loud anyway" in said
        assert "own voice rating is 60, usually 70: the astronomer is used to" in said
    if name in ("check", "patch"):
        assert "levels-differ is waived: all trims are set" in said


def test_a_drawing_goes_over_nothing_that_is_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    studio = tmp_path / "studio.yaml"
    text = (shipped_studios() / "observatory.yaml").read_text()
    studio.write_text(text)
    assert main(["picture", str(studio), "-o", str(studio)]) == 2
    assert "studio.svg" in capsys.readouterr().err
    assert studio.read_text() == text


def test_a_studio_with_mistakes_is_shown_as_wide_as_the_terminal(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "50")
    text = (shipped_studios() / "observatory.yaml").read_text()
    Path("studio.yaml").write_text(text.replace("{room: dome", "{roof: dome"))
    assert main(["check", "studio.yaml"]) == 1
    said = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in said) <= 50
