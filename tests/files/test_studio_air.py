"""The air of a studio, edge by edge, against the textbook's formulas worked by hand.

Outside facts: sound falls by 20 log r in the open (Sound System Design Reference
Manual, p. 4-2); a cardioid takes up 0.5 + 0.5 cos(angle), power adds direct and
reverberant sound, and the critical distance is 0.057 sqrt(Q V / T) (Handbook for
Sound Engineers, eq. 48-45); sound takes 2.9136 ms a metre at 20 C; 1 pascal is 94 dB
SPL. Speech of 60 dB SPL at 1 m is ISO 9921's normal effort (from memory).
"""

import math
from pathlib import Path

import pytest

from bridge.core.graph import Edge, Transducer
from bridge.core.studio import Studio
from bridge.files.studio import load

MS_PER_M = 2.9136

STUDIO = """
studio: One room
rooms: {dome: {ROOM}}
people:
  presenter: {room: dome}
  guest: {room: dome}
gear:
  desk: {profile: desk-osc, osc: "127.0.0.1:9000"}
  mic:
    profile: microphone-dynamic-cardioid
    room: dome
    spoken into by: presenter
    distance: 0.2 m
  speakers: {profile: speakers-active, room: dome, listening level: 74 dB at 2 m}
  phones: {profile: headphones-closed, worn by: presenter, listening level: 70 dB}
  far phones: {profile: headphones-closed, worn by: guest, listening level: 70 dB}
  split: {profile: split-cable}
  amplifier: {profile: headphone-amplifier}
patch:
  - mic.out -> desk.in 1
  - desk.monitor out -> split.in
  - split.out 1 -> speakers.in
  - split.out 2 -> amplifier.in
  - amplifier.out 1 -> phones.in
  - amplifier.out 2 -> far phones.in
by hand:
  amplifier.level 1: 0 dB
  amplifier.level 2: 0 dB
  amplifier.level 3: off
distances:
  speakers to mic: 1.5 m at 120 deg
  speakers to presenter: 1 m
  speakers to guest: 4 m
  guest to mic: 0.8 m at 90 deg
"""


def studio(tmp_path: Path, room: str = "") -> Studio:
    """The studio, with what is said of its room."""
    file = tmp_path / "studio.yaml"
    file.write_text(STUDIO.replace("{ROOM}", f"{{{room}}}"))
    loaded = load(file)
    assert loaded.studio is not None, loaded.findings
    return loaded.studio


def between(studio: Studio, source: str, target: str) -> Edge:
    """The one edge between two nodes."""
    names = [node.name for node in studio.graph.nodes]
    (edge,) = (
        edge
        for edge in studio.graph.edges
        if (names[edge.source], names[edge.target]) == (source, target)
    )
    return edge


def db(power: float) -> float:
    """Power ratio to dB."""
    return 10 * math.log10(power)


# What is nominal at the microphone: speech of 60 dB SPL at 1 m, met at 0.2 m.
NOMINAL_DB_SPL = 60 + 20 * math.log10(1 / 0.2)


def test_who_speaks_into_a_microphone_is_nominal(tmp_path: Path) -> None:
    edge = between(studio(tmp_path), "presenter.mouth", "mic.air")
    assert edge.gain_db == 0.0
    assert edge.delay_ms == pytest.approx(0.2 * MS_PER_M, rel=1e-3)
    assert edge.through_air


def test_somebody_else_is_weaker_by_distance_and_direction(tmp_path: Path) -> None:
    edge = between(studio(tmp_path), "guest.mouth", "mic.air")
    # From the side a cardioid takes up half: -6.02 dB.
    level = 60 - 20 * math.log10(0.8) + 20 * math.log10(0.5)
    assert edge.gain_db == pytest.approx(level - NOMINAL_DB_SPL, abs=1e-6)


def test_two_speakers_together_give_the_listening_level(tmp_path: Path) -> None:
    built = studio(tmp_path)
    # 74 dB at 2 m is 80.02 dB at 1 m, each of two half of the pressure.
    each = 74 + 20 * math.log10(2) - 2 * db(2)
    for lane in "LR":
        for ear in "LR":
            edge = between(built, f"speakers.air {lane}", f"presenter.ear {ear}")
            assert edge.gain_db == pytest.approx(each - 94, abs=1e-6)
            assert edge.delay_ms == pytest.approx(MS_PER_M, rel=1e-3)
    farther = between(built, "speakers.air L", "guest.ear R")
    assert farther.gain_db == pytest.approx(each - 94 - 20 * math.log10(4), abs=1e-6)


def test_speakers_reach_the_microphone_from_behind(tmp_path: Path) -> None:
    edge = between(studio(tmp_path), "speakers.air R", "mic.air")
    each = 74 + 20 * math.log10(2) - 2 * db(2)
    cardioid = 20 * math.log10(0.5 + 0.5 * math.cos(math.radians(120)))
    level = each - 20 * math.log10(1.5) + cardioid
    assert edge.gain_db == pytest.approx(level - NOMINAL_DB_SPL, abs=1e-6)
    assert edge.delay_ms == pytest.approx(1.5 * MS_PER_M, rel=1e-3)


def test_a_room_rings(tmp_path: Path) -> None:
    built = studio(tmp_path, "volume: 60 m3, reverberation: 0.4 s")
    critical = 0.057 * math.sqrt(60 / 0.4)  # Q 1: sent all round
    # A meter reads 74 dB at 2 m, direct and reverberant sound together.
    each = 74 - db(1 / 2**2 + 1 / critical**2) - 2 * db(2)
    ear = between(built, "speakers.air L", "guest.ear L")
    level = each + db(1 / 4**2 + 1 / critical**2)
    assert ear.gain_db == pytest.approx(level - 94, abs=0.05)
    microphone = between(built, "speakers.air L", "mic.air")
    direct = (0.5 + 0.5 * math.cos(math.radians(120))) ** 2 / 1.5**2
    diffuse = 1 / critical**2 / 3  # a cardioid's Q is 3
    assert microphone.gain_db == pytest.approx(
        each + db(direct + diffuse) - NOMINAL_DB_SPL, abs=0.05
    )


def test_headphones_play_their_level_at_the_ear(tmp_path: Path) -> None:
    built = studio(tmp_path)
    for lane in "LR":
        edge = between(built, f"phones.ears {lane}", f"presenter.ear {lane}")
        assert (edge.gain_db, edge.delay_ms) == (70.0 - 94.0, 0.0)
    names = [node.name for node in built.graph.nodes]
    crossed = {
        (names[e.source], names[e.target])
        for e in built.graph.edges
        if names[e.source] == "phones.ears L"
    }
    assert ("phones.ears L", "presenter.ear R") not in crossed


def test_headphones_leak_into_the_microphone(tmp_path: Path) -> None:
    built = studio(tmp_path)
    # 40 dB less at 0.1 m, as the profile says; the ear is 0.1 m behind the mouth and
    # 0.08 m beside it, and the microphone 0.2 m in front of the mouth.
    away = math.hypot(0.2 + 0.1, 0.08)
    own = between(built, "phones.ears L", "mic.air")
    level = 70 - 40 - 20 * math.log10(away / 0.1)
    assert own.gain_db == pytest.approx(level - NOMINAL_DB_SPL, abs=1e-6)
    # The guest's are where the guest is, 0.8 m away.
    other = between(built, "far phones.ears L", "mic.air")
    level = 70 - 40 - 20 * math.log10(0.8 / 0.1)
    assert other.gain_db == pytest.approx(level - NOMINAL_DB_SPL, abs=1e-6)


def test_gear_on_the_side_of_the_air_is_listed(tmp_path: Path) -> None:
    built = studio(tmp_path)
    names = [node.name for node in built.graph.nodes]
    listed = {
        (gear.name, gear.kind, gear.room, tuple(names[n] for n in gear.nodes))
        for gear in built.air_gear
    }
    ears = ("far phones.ears L", "far phones.ears R")
    assert listed == {
        ("mic", Transducer.MICROPHONE, "dome", ("mic.air",)),
        (
            "speakers",
            Transducer.SPEAKERS,
            "dome",
            ("speakers.air L", "speakers.air R"),
        ),
        (
            "phones",
            Transducer.HEADPHONES,
            "dome",
            ("phones.ears L", "phones.ears R"),
        ),
        ("far phones", Transducer.HEADPHONES, "dome", ears),
    }


def test_another_room_hears_nothing(tmp_path: Path) -> None:
    text = STUDIO.replace("{ROOM}", "{}").replace(
        "guest: {room: dome}", "guest: {room: hall}"
    )
    text = text.replace(
        "  speakers to guest: 4 m\n  guest to mic: 0.8 m at 90 deg\n", ""
    )
    file = tmp_path / "studio.yaml"
    file.write_text(text)
    built = load(file).studio
    assert built is not None
    names = [node.name for node in built.graph.nodes]
    air = [e for e in built.graph.edges if e.through_air]
    pairs = {(names[e.source], names[e.target]) for e in air}
    assert not any("guest" in a + b and "far phones" not in a + b for a, b in pairs)
    assert ("far phones.ears L", "mic.air") not in pairs


def test_a_distance_that_is_not_given_is_a_metre_and_is_said(tmp_path: Path) -> None:
    text = STUDIO.replace("{ROOM}", "{}").replace("  speakers to presenter: 1 m\n", "")
    file = tmp_path / "studio.yaml"
    file.write_text(text)
    loaded = load(file)
    (finding,) = loaded.findings
    assert (
        finding.message == "speakers: no distance to presenter is given, 1 m is assumed"
    )
    assert loaded.studio is not None
    edge = between(loaded.studio, "speakers.air L", "presenter.ear L")
    assert edge.delay_ms == pytest.approx(MS_PER_M, rel=1e-3)
