"""A studio by its plan and its surfaces sounds like one by measured figures.

Outside facts: the distance of two points (Pythagoras); Sabine's formula with the
six-band worked example of Master Handbook of Acoustics, p. 163 (references section 5).
"""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from bridge.core.studio import Studio
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load

STUDIO = """\
studio: One room
ROOMS
people:
  presenter: {room: dome PRESENTER}
  guest: {room: dome GUEST}
gear:
  desk: {profile: desk-osc, osc: "127.0.0.1:9000"}
  mic:
    profile: microphone-dynamic-cardioid
    room: dome
    spoken into by: presenter
MIC
  split: {profile: split-cable}
  speakers:
    profile: speakers-active
    room: dome
    listening level: 74 dB at 2 m
SPEAKERS
  phones: {profile: headphones-active, worn by: guest, listening level: 70 dB}
patch:
  - mic.out -> desk.in 1
  - desk.monitor out -> split.in
  - split.out 1 -> speakers.in
  - split.out 2 -> phones.in
DISTANCES
"""

# On the plan the microphone is at the origin and the presenter 0.2 m along x.
PLANNED = {
    "PRESENTER": ", at: [0.2 m, 0 m]",
    "GUEST": ", at: [0 m, 0.8 m]",
    "SPEAKERS": "    at: [-0.9 m, 1.2 m]",
    "MIC": "    at: [0 m, 0 m]",
    "DISTANCES": "",
    "ROOMS": "",
}
# The same by a rule: the speakers make a 3-4-5 triangle with the microphone.
MEASURED = {
    "PRESENTER": "",
    "GUEST": "",
    "SPEAKERS": "",
    "MIC": "    distance: 0.2 m",
    "ROOMS": "",
    "DISTANCES": f"""\
distances:
  speakers to mic: 1.5 m at {math.degrees(math.atan2(1.2, -0.9)):.9f} deg
  guest to mic: 0.8 m at 90 deg
  speakers to guest: {math.hypot(0.9, 0.4):.9f} m
  speakers to presenter: {math.hypot(1.1, 1.2):.9f} m
""",
}


def studio(tmp_path: Path, said: dict[str, str]) -> Studio:
    text = STUDIO
    for key, value in said.items():
        text = text.replace(key, value)
    file = tmp_path / "studio.yaml"
    file.write_text(text)
    loaded = load(file)
    assert loaded.studio is not None, loaded.findings
    assert not [f for f in loaded.findings if f.rule == "assumed"], loaded.findings
    return loaded.studio


def air(built: Studio) -> dict[tuple[str, str], tuple[float, float]]:
    """Gain and delay of every edge through the air, by the names of its ends."""
    names = [node.name for node in built.graph.nodes]
    return {
        (names[edge.source], names[edge.target]): (edge.gain_db, edge.delay_ms)
        for edge in built.graph.edges
        if edge.through_air
    }


def test_a_plan_gives_the_distances_and_angles_of_a_rule(tmp_path: Path) -> None:
    planned, measured = (air(studio(tmp_path, said)) for said in (PLANNED, MEASURED))
    assert planned.keys() == measured.keys()
    for ends, (gain, delay) in measured.items():
        assert planned[ends] == pytest.approx((gain, delay), abs=1e-6), ends
    assert planned["presenter.mouth", "mic.air"][0] == 0.0


def test_a_microphone_looks_where_it_is_told(tmp_path: Path) -> None:
    """A cardioid with its back to the speakers: they are in its null, which is 25 dB
    deep here; one that looks at its speaker has them 127 degrees off its axis."""
    away = math.degrees(math.atan2(-1.2, 0.9))
    mic = f"    at: [0 m, 0 m]\n    facing: {away:.6f} deg"
    told = air(studio(tmp_path, {**PLANNED, "MIC": mic}))
    toward = air(studio(tmp_path, PLANNED))
    ends = ("speakers.air L", "mic.air")
    off_axis_db = 20 * math.log10(0.5 + 0.5 * -0.6)
    assert toward[ends][0] - told[ends][0] == pytest.approx(off_axis_db + 25, abs=1e-6)
    assert toward[ends][1] == told[ends][1]


FOOT_M = 0.3048
BANDS = {
    125: (0.01, 0.29, 0.09, 0.49),
    250: (0.01, 0.10, 0.28, 0.85),
    500: (0.015, 0.05, 0.78, 0.56),
    1000: (0.02, 0.04, 0.84, 0.54),
    2000: (0.02, 0.07, 0.73, 0.54),
    4000: (0.02, 0.09, 0.64, 0.55),
}
"""Absorption of concrete, gypsum board and tile, and the printed time in seconds."""


@pytest.mark.parametrize("band", BANDS)
def test_surfaces_ring_as_the_handbook_says(tmp_path: Path, band: int) -> None:
    """Master Handbook of Acoustics p. 163: 23.3 x 16 x 10 ft; 373 square feet of
    concrete, 1159 of gypsum board, 340 of tile; the times are printed with two
    digits, which is 0.06 dB of reverberant level."""
    *shares, printed_s = BANDS[band]
    areas = [feet * FOOT_M**2 for feet in (373, 1159, 340)]
    names = ("concrete", "gypsum", "tile")
    surfaces = ", ".join(
        f"{name}: {area:.4f} m2 at {100 * share:.4g} %"
        for name, area, share in zip(names, areas, shares, strict=True)
    )
    volume = f"volume: {3728 * FOOT_M**3:.4f} m3"
    by_surfaces = f"rooms: {{dome: {{{volume}, surfaces: {{{surfaces}}}}}}}"
    by_time = f"rooms: {{dome: {{{volume}, reverberation: {printed_s} s}}}}"
    computed = air(studio(tmp_path, {**PLANNED, "ROOMS": by_surfaces}))
    printed = air(studio(tmp_path, {**PLANNED, "ROOMS": by_time}))
    dry = air(studio(tmp_path, PLANNED))
    ends = ("speakers.air L", "mic.air")
    assert computed[ends][0] == pytest.approx(printed[ends][0], abs=0.06)
    assert abs(computed[ends][0] - dry[ends][0]) > 0.5  # the room is heard at all


def test_the_plan_that_the_guide_shows_is_one(tmp_path: Path) -> None:
    """Its microphone looks back along x at the host, and so it would by itself."""
    guide = (shipped_studios().parent / "README.md").read_text()
    (shown,) = re.findall(r"<!-- plan -->\n```yaml\n(.*?)```", guide, re.DOTALL)
    gains = []
    for text in (shown, re.sub(r"    facing: .*\n", "", shown)):
        path = tmp_path / "guide.yaml"
        path.write_text(f"studio: Guide\n{text}")
        loaded = load(path)
        assert {f.rule for f in loaded.findings} == {"not-patched"}
        assert loaded.studio is not None
        gains.append([edge.gain_db for edge in loaded.studio.graph.edges])
    assert gains[0] == pytest.approx(gains[1])
