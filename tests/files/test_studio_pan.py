"""A panned studio: its gains by lane, and its sound, mixed sample by sample.

Pan laws: see tests/core/test_levels.py. A pan knob concerns strips of one lane on
stereo buses (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bridge.core.belief import known
from bridge.core.hearing import Bound, Hearing
from bridge.files.notes import Notes
from bridge.files.shelf import profile_folders
from bridge.files.studio import Loaded, load_text
from bridge.files.studio_gear import Shelf
from tests.core.audio import RATE_HZ, echo_of, render

DESK = """\
profile: desk
kind: desk
about: A desk with pan knobs.
LAW
strips:
  one:   {number: 1, lanes: 1, connector: 6.3 mm TRS, level: +4 dBu}
  two:   {number: 2, lanes: 1, connector: 6.3 mm TRS, level: +4 dBu}
  three: {number: 3, lanes: 1, connector: 6.3 mm TRS, level: +4 dBu}
  pair:  {number: 4, lanes: 2, connector: 6.3 mm TRS, level: +4 dBu}
buses:
  wide: {number: 1, lanes: 2, out: wide out, connector: 6.3 mm TRS, level: +4 dBu}
  slim: {number: 2, lanes: 1, out: slim out, connector: 6.3 mm TRS, level: +4 dBu}
"""
STUDIO = """\
studio: Two organs
gear:
  desk: {profile: desk, pan: {one: LEFT, two: RIGHT}}
  organ: {profile: player-stereo}
patch:
  - organ.out L -> desk.one
  - organ.out R -> desk.two
"""


def read(
    folder: Path, left: str = "left", right: str = "right", law: str = "pan law: -3 dB"
) -> Loaded:
    (folder / "desk.yaml").write_text(DESK.replace("LAW", law))
    text = STUDIO.replace("LEFT", left).replace("RIGHT", right)
    shelf = Shelf((folder, *profile_folders()), Notes())
    return load_text(text.encode(), "organs.yaml", shelf)


def gains(loaded: Loaded, strip: str) -> dict[str, float]:
    assert loaded.studio is not None, loaded.findings
    nodes = loaded.studio.graph.nodes
    return {
        nodes[edge.target].name.removeprefix("desk."): edge.gain_db
        for edge in loaded.studio.graph.edges
        if nodes[edge.source].name == f"desk.{strip}"
    }


def test_a_strip_goes_to_its_side_and_the_centre_loses_what_the_law_says(
    tmp_path: Path,
) -> None:
    it = read(tmp_path)
    assert it.findings == ()
    assert gains(it, "one") == {"wide L": 0.0, "slim": 0.0}
    assert gains(it, "two") == {"wide R": 0.0, "slim": 0.0}
    centre = pytest.approx(-3.0103, abs=5e-5)
    assert gains(it, "three") == {"wide L": centre, "wide R": centre, "slim": 0.0}
    assert gains(it, "pair L") == {"wide L": 0.0, "slim": 0.0}


def test_a_wrong_knob_is_seen_where_the_file_says_it(tmp_path: Path) -> None:
    (found,) = read(tmp_path, left="right").findings
    assert (found.rule, found.measured) == (
        "lane-panned",
        "L comes to desk.one (right), R comes to desk.two (right)",
    )
    assert found.place is not None
    assert (found.place.line, found.place.column) == (3, 36)


def test_pan_needs_a_law(tmp_path: Path) -> None:
    found = read(tmp_path, law="").findings
    assert [finding.rule for finding in found] == ["no-pan-law"]


@pytest.mark.parametrize("law", ["0 dB", "-3 dB", "-4.5 dB", "-6 dB"])
@pytest.mark.parametrize("sides", [("left", "right"), ("centre", "left")])
def test_rendered_noise_stands_where_the_model_has_it(
    tmp_path: Path, law: str, sides: tuple[str, str]
) -> None:
    """Each lane of the player by itself: silent on the other side, else as loud."""
    studio = read(tmp_path, *sides, law=f"pan law: {law}").studio
    assert studio is not None
    corner = Hearing(studio.graph).corner(known({}), Bound.LOUDEST)
    noise = np.random.default_rng(3).standard_normal(RATE_HZ // 4)
    (player,) = studio.sources
    for node in player.nodes:
        lane = replace(player, nodes=(node,))
        carried = render(studio, {}, lane, noise)
        totals = corner.totals(lane.nodes)
        for index, each in enumerate(studio.graph.nodes):
            if each.jack != "desk.wide out":
                continue
            if index not in totals:
                assert not carried[index].any()
                continue
            (found,) = echo_of(noise, carried[index], [3])  # three wires, a sample each
            assert found == pytest.approx(totals[index], rel=1e-9)
            assert totals[index] > 0.4
