"""Gain before feedback: handbooks' worked examples, through a file and the howl rule.

Outside facts (references section 5): Sound System Design Reference Manual p. 4-2, 4-4:
D0 7, Ds 1, D1 4, D2 6 m outdoors: at most 13.380 dB of gain (13.5 printed), 7.380 with
a margin of 6 dB (7.5 printed); 7.36 dB needed to seem 3 m away, so that it just works,
and 13.380 for 1.5 m, so that it does not. Handbook for Sound Engineers p. 1252: Ds 2,
D0 128, D1 45, D2 90 ft, Dc 31.2 ft, three microphones: potential 11.7, needed 17.7.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.core.belief import known
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge
from bridge.core.loops import strong_components
from bridge.core.rooms import absorption_m2, critical_distance_m
from bridge.core.rules import feedback, howl
from bridge.core.rules.breach import Scope
from bridge.core.settings import start
from bridge.core.studio import Studio
from bridge.files.studio import load

OMNI = """\
profile: microphone-omni
kind: microphone
about: A microphone that takes up sound from everywhere.
pattern: omni
jacks:
  out: {is: output, lanes: 1, connector: XLR, level: mic}
flows:
  - air -> out
"""

FIELD = """\
studio: A field
ROOMS
people:
  talker: {room: field, at: [0 m, 0 m]}
  listener: {room: field, at: [LISTENER m, 0 m]}
gear:
  desk: {profile: desk-osc, osc: "127.0.0.1:9000"}
MICROPHONES
  speakers:
    profile: speakers-active
    room: field
    at: [SPEAKERS]
    listening level: LEVEL dB at 1 m
patch:
PATCH
  - desk.monitor out -> speakers.in
scenes:
  start: {monitor: [IN]}
"""


def field(tmp_path: Path, text: str) -> Scope:
    """The loudest corner of the studio's start scene."""
    shelf = tmp_path / "profiles"
    shelf.mkdir(exist_ok=True)
    (shelf / "microphone-omni.yaml").write_text(OMNI)
    file = tmp_path / "field.yaml"
    file.write_text(text)
    loaded = load(file)
    assert loaded.studio is not None, loaded.findings
    judge = HouseJudge(loaded.studio)
    values = loaded.studio.scenes["start"].values
    belief = {**start(loaded.studio).belief, **known(values)}
    return judge.scope(belief, Bound.LOUDEST)


def outdoors(tmp_path: Path, level_db: float) -> Scope:
    """Microphone 1 m before the talker, 6 m from the listener; speakers 4 and 6 m off:
    x is 1 + 4/3 of a triangle with sides 4, 6, 6."""
    x = 4.0**2 / (2 * 6.0)
    y = (4.0**2 - x**2) ** 0.5
    text = FIELD
    for key, value in {
        "ROOMS": "",
        "LISTENER": "7",
        "MICROPHONES": "  mic: {profile: microphone-omni, room: field,"
        " at: [1 m, 0 m], spoken into by: talker}",
        "SPEAKERS": f"{1 + x:.9f} m, {y:.9f} m",
        "LEVEL": f"{level_db:.6f}",
        "PATCH": "  - mic.out -> desk.in 1",
        "IN": "mic",
    }.items():
        text = text.replace(key, value)
    return field(tmp_path, text)


# Speech is 60 dB SPL at 1 m, and the talker's microphone is 1 m away: so much must
# arrive from 4 m for a loop gain of 0 dB.
SINGS_DB = 60.0 + 12.0412


@pytest.mark.parametrize(("below_db", "holds"), [(6.01, True), (5.99, False)])
def test_the_rule_leaves_the_handbooks_margin(
    tmp_path: Path, below_db: float, holds: bool
) -> None:
    scope = outdoors(tmp_path, SINGS_DB - below_db)
    assert (not list(howl.broken(scope))) == holds


def test_at_the_margin_the_gain_is_what_the_handbook_says(tmp_path: Path) -> None:
    scope = outdoors(tmp_path, SINGS_DB - 6.0)
    names = [node.name for node in scope.studio.graph.nodes]
    at_ear = {
        (names[e.source], names[e.target]): e.gain_db for e in scope.studio.graph.edges
    }["speakers.air L", "listener.ear L"]
    heard_db = at_ear + 6.0206 + 94.0  # both lanes in step, re 1 Pa
    bare_db = 60.0 - 16.9020  # the talker himself, 7 m away: 20 log 7
    assert heard_db - bare_db == pytest.approx(7.380, abs=0.005)


def inside(scope: Scope) -> frozenset[int]:
    (part,) = (p for p in strong_components(scope.corner.gains) if len(p) > 1)
    return frozenset(part)


def reckoned(
    scope: Scope, equivalent_m: float, talker: str = "talker"
) -> feedback.BeforeFeedback:
    studio: Studio = scope.studio
    found = feedback.before_feedback(studio, inside(scope), equivalent_m)
    return next(one for one in found if one.talker == talker)


@pytest.mark.parametrize(
    ("seems_m", "needed_db", "verdict"),
    [(3.0, 7.3595, "just enough"), (1.5, 13.380, "not enough")],
)
def test_outdoors_potential_and_needed_gain_are_told(
    tmp_path: Path, seems_m: float, needed_db: float, verdict: str
) -> None:
    found = reckoned(outdoors(tmp_path, SINGS_DB), seems_m)
    assert found.potential_db == pytest.approx(7.380, abs=0.002)
    assert found.needed_db == pytest.approx(needed_db, abs=0.002)
    assert f", {verdict}" in found.words


FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("potential_db", "verdict"),
    [(12.0, "enough"), (11.9, "just enough; below 12 dB it is better to move things")],
)
def test_little_potential_gain_is_told(potential_db: float, verdict: str) -> None:
    """Below 12 dB move things (Digital Sound and Music, p. 204); a talker seems 8 ft
    away in quiet (Handbook for Sound Engineers, p. 1658)."""
    found = feedback.BeforeFeedback("talker", "listener", potential_db, 10.0)
    assert found.words.endswith(f", {verdict}")
    assert pytest.approx(8.0 * FOOT_M, abs=0.005) == feedback.EQUIVALENT_M


def test_indoors_with_three_microphones_it_will_not_work(tmp_path: Path) -> None:
    """In feet on the plan; the room has the critical distance of the example."""
    x = (45.0**2 + 126.0**2 - 90.0**2) / (2 * 126.0)
    y = (45.0**2 - x**2) ** 0.5
    critical_m = 31.2 * FOOT_M
    volume_m3 = 5000.0
    area_m2 = 16.0 * 3.141592653589793 * critical_m**2
    time_s = absorption_m2(volume_m3, 1.0) / area_m2
    assert critical_distance_m(absorption_m2(volume_m3, time_s)) == pytest.approx(
        critical_m
    )
    mics = "\n".join(
        f"  mic {n}: {{profile: microphone-omni, room: field, spoken into by: talker,"
        f" at: [{2 * FOOT_M:.6f} m, 0 m]}}"
        for n in (1, 2, 3)
    )
    text = FIELD
    for key, value in {
        "ROOMS": "rooms: {field: {volume: 5000 m3, "
        f"reverberation: {time_s:.9f} s}}}}",
        "LISTENER": f"{128 * FOOT_M:.6f}",
        "MICROPHONES": mics + "\n  mixer: {profile: mixer-three}",
        "SPEAKERS": f"{(2 + x) * FOOT_M:.6f} m, {y * FOOT_M:.6f} m",
        "LEVEL": "90",
        "PATCH": "\n".join(f"  - mic {n}.out -> mixer.in {n}" for n in (1, 2, 3))
        + "\n  - mixer.out -> desk.in 1",
        "IN": "in 1",
    }.items():
        text = text.replace(key, value)
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "mixer-three.yaml").write_text(MIXER)
    scope = field(tmp_path, text)
    found = reckoned(scope, 4 * FOOT_M)
    assert found.potential_db == pytest.approx(11.7, abs=0.06)
    assert found.needed_db == pytest.approx(17.7, abs=0.06)
    assert found.words.endswith("not enough: move things")
    told = feedback.words(scope, (next(iter(inside(scope))),)).splitlines()
    assert told[1] == (
        "3 open microphones: 4.8 dB typically (10 log N), 9.5 dB in step, which is "
        "the limit here"
    )
    # Three equal microphones: 20 log 3 in the limit, 10 log 3 as powers; and the two
    # lanes of the speakers, 6.02 dB in step, 3.01 as powers.
    limit = howl.worst_gain(scope)
    typical = feedback.typical_gain(scope, inside(scope))
    assert (limit / typical) ** 2 == pytest.approx(3 * 2, rel=1e-6)


MIXER = """\
profile: mixer-three
kind: other
about: Three microphones into one, nothing to set.
jacks:
  in 1: {is: input, lanes: 1, connector: XLR, level: mic}
  in 2: {is: input, lanes: 1, connector: XLR, level: mic}
  in 3: {is: input, lanes: 1, connector: XLR, level: mic}
  out:  {is: output, lanes: 1, connector: XLR, level: mic}
flows:
  - in 1 -> out
  - in 2 -> out
  - in 3 -> out
"""
