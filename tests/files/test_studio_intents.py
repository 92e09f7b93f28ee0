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


OWN_SEND = (
    ("desk-osc,", "desk-osc-three-buses,"),
    ("computer-two-pairs", "computer-two-captures"),
    ("{astronomer: capture, stream: capture}", "{astronomer: capture 2, stream: x}"),
    ("stream: x}", "stream: capture 1}"),
    ("laptop.capture  #", "laptop.capture 1\n  - desk.call out -> laptop.capture 2  #"),
)


@pytest.mark.parametrize(
    ("trap", "scene", "cure", "mended"),
    [
        (
            (("jingles: pair 2", "jingles: pair 1"),),
            "hears: {presenter: [astronomer]}",
            (
                "give astronomer or jingles a return pair or an input of its own "
                "(both come on laptop.pair 1)"
            ),
            (),
        ),
        (
            (),
            "hears: {astronomer: [jingles], stream: [jingles, astronomer]}",
            (
                "give stream or astronomer a bus and a send of its own "
                "(both take from laptop.capture)"
            ),
            OWN_SEND,
        ),
        (
            (),
            (
                "hears: {astronomer: [mic], presenter: [astronomer]}, "
                "listening on: speakers"
            ),
            (
                "listen on headphones, move speakers and mic apart, or turn mic away "
                "(what speakers play comes back by it)"
            ),
            (("listening on: speakers", "listening on: phones"),),
        ),
    ],
)
def test_what_would_separate_is_said_and_does(
    tmp_path: Path,
    trap: tuple[tuple[str, str], ...],
    scene: str,
    cure: str,
    mended: tuple[tuple[str, str], ...],
) -> None:
    """The studio is impossible; done as the cure says, there is a setting."""
    path = tmp_path / "studio.yaml"
    head, _, _ = OBSERVATORY.partition("scenes:")
    good = f"{head}scenes:\n  start: {{everything: off}}\n  call: {{{scene}}}\n"

    def found(text: str, changes: tuple[tuple[str, str], ...]) -> Loaded:
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path.write_text(text)
        return load(path, shown="studio.yaml")

    (finding,) = found(good, trap).findings
    assert finding.rule == "intent-impossible"
    assert finding.cure == f"leave one of these wishes out; or {cure}"
    after = found(good, mended)
    assert after.studio is not None, after.findings
    assert "call" in after.intents
