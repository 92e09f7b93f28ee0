"""What a profile says of its jacks, what follows where it says nothing, and the patch.

Connector facts are common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.core.jacks import Jack, Level, Patch, Phantom, Wiring
from bridge.files.notes import Notes
from bridge.files.profile import read_profile
from bridge.files.shelf import profile_folders
from bridge.files.studio import Loaded, load_text
from bridge.files.studio_gear import Shelf


def read(jack: str) -> tuple[Jack | None, list[str]]:
    text = f"profile: box\nkind: other\nabout: A box.\njacks:\n  it: {{{jack}}}\n"
    notes = Notes()
    profile = read_profile(text.encode(), "box.yaml", notes)
    found = profile.jacks["it"].facts if profile else None
    return found, [finding.message for finding in notes.findings]


def jack_of(words: str) -> Jack:
    found, said = read(words)
    assert found is not None, said
    return found


@pytest.mark.parametrize(
    ("words", "wiring", "sockets"),
    [
        ("lanes: 1, connector: XLR, level: mic", Wiring.BALANCED, 1),
        ("lanes: 2, connector: 6.3 mm TRS, level: +4 dBu", Wiring.BALANCED, 2),
        ("lanes: 2, connector: 6.3 mm TRS, level: headphones", Wiring.STEREO, 1),
        ("lanes: 2, connector: 3.5 mm TRS, level: -10 dBV", Wiring.STEREO, 1),
        ("lanes: 2, connector: RCA, level: -10 dBV", Wiring.UNBALANCED, 2),
        ("lanes: 1, connector: 6.3 mm TS, level: -10 dBV", Wiring.UNBALANCED, 1),
        ("lanes: 2, connector: USB, level: digital", Wiring.DIGITAL, 1),
        ("lanes: 2, connector: speaker terminals, level: speaker", Wiring.SPEAKER, 2),
        (
            "lanes: 2, connector: 6.3 mm TRS, level: +4 dBu, sockets: 1",
            Wiring.STEREO,
            1,
        ),
        (
            "lanes: 1, connector: 6.3 mm TRS, level: +4 dBu, balanced: false",
            Wiring.UNBALANCED,
            1,
        ),
    ],
)
def test_wiring_follows_from_connector_and_level(
    words: str, wiring: Wiring, sockets: int
) -> None:
    found = jack_of(f"is: output, {words}")
    assert (found.wiring, found.sockets) == (wiring, sockets)


def test_levels_are_words_line_levels_or_a_digital_alignment() -> None:
    found = jack_of("is: input, lanes: 1, connector: RCA, level: -10 dBV")
    assert found.level is Level.LINE
    assert found.nominal_db == pytest.approx(-7.7815, abs=5e-4)  # 0 dBV = +2.2185 dBu
    found = jack_of("is: input, lanes: 2, connector: USB, level: -18 dBFS")
    assert (found.level, found.nominal_db) == (Level.DIGITAL, -18.0)


@pytest.mark.parametrize(
    ("words", "phantom"),
    [
        ("is: input, lanes: 1, connector: XLR, level: mic", Phantom.NONE),
        ("is: output, lanes: 1, connector: XLR, level: mic", Phantom.BEARS),
        ("is: output, lanes: 1, connector: 6.3 mm TS, level: mic", Phantom.HARMED),
        ("is: output, lanes: 1, connector: XLR, level: +4 dBu", Phantom.HARMED),
    ],
)
def test_phantom_power_where_nothing_is_said(words: str, phantom: Phantom) -> None:
    assert jack_of(words).phantom is phantom


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("level: mic, phantom: needs", "of an input must be none, switched or always"),
        ("level: digital, most: +18 dBu", '"most" means nothing here'),
        ("level: mic, plug: RCA", '"plug" means nothing here'),
        ("level: loud", 'a line level must be a number with its unit, got "loud"'),
        ("level: +4 dBFS", "must be in -144..0 dBFS"),
        ("level: mic, impedance: 150", "must have a unit (ohm or kohm)"),
        ("level: mic, sockets: 3", "sockets must be in 1..2"),
        ("level: mic, phantom: sometimes", "this must be one of"),
    ],
)
def test_what_is_wrong_with_a_jack_is_said(more: str, says: str) -> None:
    found, said = read(f"is: input, lanes: 1, connector: XLR, {more}")
    assert found is None
    assert any(says in message for message in said), said


# The patch


def patched(*cables: str) -> Loaded:
    lines = "".join(f"  - {cable}\n" for cable in cables)
    text = (
        "studio: Cables\ngear:\n  desk: {profile: desk-by-hand}\n"
        f"  organ: {{profile: player-stereo}}\npatch:\n{lines}"
    )
    return load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))


def cables_of(loaded: Loaded) -> Patch:
    assert loaded.patch is not None, loaded.findings
    return loaded.patch


def test_a_cable_may_be_of_one_lane_and_has_a_length() -> None:
    it = cables_of(
        patched("organ.out L -> desk.in 3/4 R over 250 cm", "organ.out R -> desk.in 1")
    )
    one, other = it.cables
    assert (one.source, one.source_lane) == ("organ.out", 0)
    assert (one.target, one.target_lane, one.length_m) == ("desk.in 3/4", 1, 2.5)
    assert (other.source_lane, other.target_lane, other.length_m) == (1, None, None)


def test_a_lane_goes_where_the_patch_says() -> None:
    loaded = patched("organ.out L -> desk.in 3/4 R", "organ.out R -> desk.in 1")
    assert loaded.studio is not None
    graph = loaded.studio.graph
    wires = {
        (graph.nodes[edge.source].name, graph.nodes[edge.target].name)
        for edge in graph.edges
        if graph.nodes[edge.source].jack == "organ.out"
    }
    assert wires == {
        ("organ.out L", "desk.in 3/4 R"),
        ("organ.out R", "desk.in 1"),
    }


TWICE = "jack-patched-twice"


@pytest.mark.parametrize(
    ("cables", "rule"),
    [
        (
            ("organ.out -> desk.in 3/4", "organ.out L -> desk.in 1"),
            "jack-patched-twice",
        ),
        (
            ("organ.out L -> desk.in 1", "organ.out L -> desk.in 2"),
            "jack-patched-twice",
        ),
        (("organ.out M -> desk.in 1",), "unknown-name"),
        (("organ.out -> desk.in 1 L",), "unknown-name"),
        (("organ.out L -> desk.in 1 over 3",), "missing-unit"),
        (("organ.out L -> desk.in 1 over 300 m",), "out-of-range"),
    ],
)
def test_a_cable_that_cannot_be_is_said(cables: tuple[str, ...], rule: str) -> None:
    loaded = patched(*cables)
    assert loaded.studio is None
    assert rule in {finding.rule for finding in loaded.findings}


# ITU-R BS.645-2, EBU R 68, SMPTE RP 155; 0 dBV is +2.2185 dBu.
def test_where_a_jack_is_full_follows_from_its_profile(tmp_path: Path) -> None:
    jacks = {
        "aligned": "USB, level: -20 dBFS",
        "usual": "USB, level: digital",
        "hot": "RCA, level: -10 dBV, most: +6 dBV",
        "unsaid": "RCA, level: -10 dBV",
        "taken": "RCA, level: -10 dBV",
    }
    lines = (
        f"  {n}: {{is: input, lanes: 1, connector: {w}}}" for n, w in jacks.items()
    )
    text = "profile: box\nkind: computer\nabout: A box.\njacks:\n" + "\n".join(lines)
    (tmp_path / "box.yaml").write_text(text + "\n")
    studio = (
        "studio: Full\nfeeds: {stream: {}}\n"
        "gear:\n  box: {profile: box, takes: {stream: taken}}\n"
    )
    found = load_text(studio.encode(), "x.yaml", Shelf((tmp_path,), Notes())).studio
    assert found is not None
    assert {c.jack: (round(c.room_db, 2), c.words) for c in found.ceilings} == {
        "box.aligned": (20.0, "full at 0 dBFS, nominal -20 dBFS"),
        "box.usual": (18.0, "full at 0 dBFS, nominal -18 dBFS by EBU R 68"),
        "box.hot": (16.0, "full at +8.2 dBu, nominal -10 dBV"),
        "box.taken": (18.0, "full at 0 dBFS, nominal -18 dBFS by EBU R 68"),
    }


# Advice that a studio lives without


def phones_on_line(*waivers: str) -> list[str]:
    lines = "".join(f"  - {waiver}\n" for waiver in waivers)
    text = (
        "studio: Cables\npeople:\n  host: {room: den}\n"
        "gear:\n  desk: {profile: desk-by-hand}\n"
        "  phones: {profile: headphones-closed, worn by: host, "
        "listening level: 70 dB}\n"
        "patch:\n  - desk.monitor out -> phones.in\n"
        f"lives without:\n{lines}"
    )
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is not None, loaded.findings
    return [f.rule for f in loaded.findings if f.rule == "headphones-on-line"]


def test_advice_about_a_cable_may_be_lived_without() -> None:
    other = "howl because it is a test"
    assert phones_on_line(other) == ["headphones-on-line"]
    rule = "headphones-on-line for phones because the desk has strong outputs"
    assert phones_on_line(rule) == []
    elsewhere = "headphones-on-line for host because it is somebody else's"
    assert phones_on_line(elsewhere) == ["headphones-on-line"]


def test_an_error_about_a_cable_may_not() -> None:
    text = (
        "studio: Cables\ngear:\n  desk: {profile: desk-by-hand}\n"
        "  organ: {profile: player-stereo}\npatch:\n  - organ.out -> desk.in 5/6\n"
        "lives without:\n  - connector-misfit because we will find a cable\n"
    )
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is None
    assert "connector-misfit" in [f.rule for f in loaded.findings]
