"""Lamps in profiles and studio files: what is read, and what is wrong with it."""

from __future__ import annotations

import pytest

from bridge.core.lamp import Shows, Sign
from bridge.core.wire import Contact, Midi
from bridge.files.notes import Notes
from bridge.files.profile import read_profile
from bridge.files.shelf import profile_folders, shipped_profiles, shipped_studios
from bridge.files.studio import Loaded, load_text
from bridge.files.studio_gear import Shelf

PADS = (shipped_profiles() / "pad-lights.yaml").read_text()
STUDIO = (shipped_studios() / "observatory.yaml").read_text()
GEAR = """\
  pads: {profile: pad-lights, midi: "Pedal"}
  sign: {profile: indicator-gpio, line: 22}
  laptop:
"""


def loaded(lamps: str, gear: str = GEAR) -> Loaded:
    text = STUDIO.replace("  laptop:\n", gear).replace(
        "buttons:\n", f"lamps: {lamps}\nbuttons:\n"
    )
    return load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))


def test_lamps_of_a_pad_and_of_a_line() -> None:
    studio = loaded(
        "{pads.light 2: speakers, pads.light 1: [phones, start], sign.lamp: everything}"
    ).studio
    assert studio is not None
    second, first, sign = studio.lamps
    assert (second.shows, second.scenes) == (Shows.SCENES, ("speakers",))
    assert first.scenes == ("phones", "start")
    assert (sign.shows, sign.scenes) == (Shows.EVERYTHING, ())
    # The pad is the device of the pedal too: one connection, with the first one's name.
    assert second.messages[Sign.LIT] == (Midi("pads", b"\x90\x25\x7f"),)
    assert studio.buttons[0].key[0] == "pads"
    assert sign.messages[Sign.DARK] == (Contact("sign", high=False),)


@pytest.mark.parametrize(
    ("lamps", "words"),
    [
        ("{pads.light 9: phones}", 'the lamp "pads.light 9" is not known'),
        ("{pad.light 1: phones}", 'the lamp "pad.light 1" is not known'),
        ("{pads.light 1: phnes}", 'the scene "phnes" is not known'),
        ("{pads.light 1: [phones, trouble]}", "must show one or more scenes"),
        ("{pads.light 1: []}", "must show one or more scenes"),
        ("{pads.light 1: phones, pads.light 1: start}", "twice"),
        ("[pads.light 1]", "a table"),
    ],
)
def test_what_is_wrong_with_what_lamps_show_is_said(lamps: str, words: str) -> None:
    found = loaded(lamps)
    assert found.studio is None
    assert any(words in finding.message for finding in found.findings), found.findings
    assert all(f.place is not None and f.place.line for f in found.findings)


def test_lamps_without_gear_that_has_some_say_where_they_stand() -> None:
    (finding,) = loaded("{pads.light 1: phones}", "  laptop:\n").findings
    assert "no gear has a lamp" in finding.message
    assert "pad-lights" in finding.note


def test_a_scene_of_that_name_is_ambiguous() -> None:
    scenes = STUDIO.replace("scenes:\n", "scenes:\n  trouble: {changeover: rest}\n")
    text = scenes.replace("  laptop:\n", GEAR).replace(
        "buttons:\n", "lamps: {sign.lamp: trouble}\nbuttons:\n"
    )
    found = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert any(f.rule == "ambiguous-name" for f in found.findings)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("{dark: 0, lit: 127}", "{dark: 0}", '"lit" is missing'),
        (
            "{dark: 0, lit: 127}",
            "{dark: 0, lit: 127, fualt: 5}",
            '"fualt" is not known',
        ),
        ("{dark: 0, lit: 127}", "{dark: 0, lit: 128}", "a whole number in 0..127"),
        ("{dark: 0, lit: 127}", "127", "a table"),
        ("note 36 on channel 1", "coil 3", "must be off or on"),
        ("speaks: midi", "speaks: osc", "is lit over midi, but the profile speaks osc"),
    ],
)
def test_what_is_wrong_with_a_lamp_is_said(old: str, new: str, words: str) -> None:
    notes = Notes()
    assert old in PADS
    read_profile(PADS.replace(old, new).encode(), "x.yaml", notes)
    assert any(words in finding.message for finding in notes.findings), notes.findings


def test_a_lamp_may_have_colours_and_whole_messages() -> None:
    notes = Notes()
    look = "{dark: sysex 7D 00, lit: sysex 7D 01, fault: sysex 7D 02}"
    text = PADS.replace(
        "{message: note 36 on channel 1, values: {dark: 0, lit: 127}}",
        f"{{values: {look}}}",
    )
    profile = read_profile(text.encode(), "pad-lights.yaml", notes)
    assert profile is not None, notes.findings
    lamp = profile.lamps["light 1"]
    assert lamp.messages[Sign.FAULT] == (Midi("", b"\xf0\x7d\x02\xf7"),)
