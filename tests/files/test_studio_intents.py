"""Scenes that say who should hear what, read from a file and solved."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.files.shelf import shipped_studios
from bridge.files.studio import Loaded, load

OBSERVATORY = (shipped_studios() / "observatory.yaml").read_text()
CALL = "  remote call: {from: phones, monitor: [mic, jingles, astronomer]}\n"


def loaded(tmp_path: Path, scene: str) -> Loaded:
    """The observatory with another remote call."""
    assert CALL in OBSERVATORY
    path = tmp_path / "studio.yaml"
    path.write_text(OBSERVATORY.replace(CALL, f"  remote call: {{{scene}}}\n"))
    return load(path, shown="studio.yaml")


HEARS = (
    "hears: {astronomer: [presenter, jingles], stream: [presenter, jingles], "
    "presenter: [astronomer, jingles]}"
)


def test_a_setting_is_found_and_becomes_the_scene(tmp_path: Path) -> None:
    found = loaded(tmp_path, f"{HEARS}, listening on: phones")
    assert found.studio is not None
    assert [
        found.studio.controls[name].label
        for name in found.intents["remote call"].opened
    ] == [
        "mic to program",
        "astronomer to monitor",
        "jingles to monitor",
        "jingles to program",
    ]
    values = found.studio.scenes["remote call"].values
    assert values["changeover: position"] == "rest"
    assert list(found.studio.scenes) == ["start", "phones", "speakers", "remote call"]


def test_other_lines_of_the_scene_hold_as_well(tmp_path: Path) -> None:
    found = loaded(tmp_path, f"{HEARS}, mic to monitor: on")
    assert found.studio is not None
    assert found.studio.scenes["remote call"].values["desk: in 1 to monitor"] is True


@pytest.mark.parametrize(
    ("scene", "rule", "words"),
    [
        (
            "hears: {astronomer: everything, stream: [astronomer]}",
            "intent-impossible",
            "stream hears astronomer",
        ),
        ("hears: {astronommer: [mic]}", "unknown-name", '"astronommer"'),
        ("hears: {astronomer: [mice]}", "unknown-name", '"mice"'),
        ("hears: [mic]", "wrong-value", "a table"),
        ("hears: {astronomer: mic}", "wrong-value", "a list of sources, or everything"),
        ("hears: {astronomer: [mic]}, listening on: phone", "unknown-name", '"phone"'),
    ],
)
def test_a_mistake_is_told_in_words(
    tmp_path: Path, scene: str, rule: str, words: str
) -> None:
    found = loaded(tmp_path, scene)
    assert found.studio is None
    (finding,) = [f for f in found.findings if f.rule == rule]
    assert words in finding.message
    assert finding.place is not None
    assert finding.place.line == 52


def test_an_intent_cannot_be_copied(tmp_path: Path) -> None:
    path = tmp_path / "studio.yaml"
    text = OBSERVATORY.replace(CALL, f"  remote call: {{{HEARS}}}\n")
    path.write_text(
        text.replace("needs:", "  late call: {from: remote call}\n\nneeds:", 1)
    )
    rules = [finding.rule for finding in load(path).findings]
    assert rules == ["copy-of-intent"]
