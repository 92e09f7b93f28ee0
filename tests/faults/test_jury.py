"""The jury is not blind: it finds what is unsafe, and its two judges agree."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from bridge.core.belief import known
from bridge.faces.opened import opened
from bridge.files.shelf import shipped_studios
from tests.faults.every_kill import MIDI, OSC
from tests.faults.rig import Rig
from tests.faults.truth import own_voices, rating


@pytest.mark.parametrize(
    ("telr_db", "one_way_ms", "expected"),
    # ITU-T G.107 (06/2015), read in secondary sources. Up to 100 ms: beyond that the
    # table has more in it than the echo.
    [
        (65, 100, 90.66),
        (55, 50, 89.97),
        (45, 100, 70.15),
        (40, 50, 73.71),
        (30, 25, 67.61),
        (30, 100, 35.19),
    ],
)
def test_the_ear_rates_echoes_as_the_published_table(
    telr_db: float, one_way_ms: float, expected: float
) -> None:
    found = rating(10 ** ((10 - telr_db) / 20), 2 * one_way_ms)
    assert expected - 2.0 <= found <= expected + 0.2


@pytest.mark.parametrize("name", [OSC, MIDI])
def test_ear_and_judge_agree_on_any_setting(name: str) -> None:
    """Switches at random, most of them in no scene: half of them are unsafe."""
    studio = opened(shipped_studios() / f"{name}.yaml")
    judge, rng = studio.judge, random.Random(name)
    guests = {p.name for p in judge.studio.people if p.room is None}
    verdicts = set()
    for _ in range(40):
        controls = judge.studio.controls.items()
        setting = {n: rng.choice(control.values) for n, control in controls}
        by_ear = bool(own_voices(judge, setting))
        by_judge = any(
            breach.rule == "own-voice-late" and guests & set(breach.people)
            for breach in judge.never_breaches(known(setting))
        )
        assert by_ear == by_judge, setting
        verdicts.add(by_ear)
    assert verdicts == {True, False}


@pytest.mark.parametrize("seed", [1])
def test_a_hasty_service_is_caught_by_both(tmp_path: Path, seed: int) -> None:
    """All changes in one leg, opens first, the guard asleep: over the same wires."""
    rig = Rig(OSC, tmp_path, seed, options=("--hasty",))
    broken: list[str] = []
    try:
        rig.start()
        assert rig.until_started()
        for scene in ("remote call", "speakers", "remote call", "speakers"):
            rig.go(scene)
            broken += rig.settle()
    finally:
        rig.close()
    assert any(words.startswith("judge: ") for words in broken)
    assert any(words.startswith("ear: ") for words in broken)
