"""Whole MIDI messages and numbers of 14 bits, from a file's words to what is heard."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.core.button import Gesture
from bridge.core.chronicle import Chronicle
from bridge.core.effects import Moved, Pressed
from bridge.core.entries import PRESSED
from bridge.core.midi_messages import checked_by_sum, cue, nrpn, show_control
from bridge.core.reception import Reception
from bridge.core.studio import Studio
from bridge.core.wire import Midi
from bridge.files.notes import Notes
from bridge.files.shelf import profile_folders
from bridge.files.studio import load_text
from bridge.files.studio_gear import Shelf

PROFILE = """\
profile: box
kind: other
about: A box that is set, and tells, in every way that MIDI has for it.
speaks: midi
tells: true
jacks:
  in:  {is: input,  lanes: 1, connector: XLR, level: +4 dBu}
  out: {is: output, lanes: 1, connector: XLR, level: +4 dBu}
flows:
  - in -> out when a is on
switches:
  a:
    message: nrpn 2/5 on channel 3
    values: {off: 0, on: 16383}
  b:
    values: {off: sysex 7D 10 (01 00) sum, on: sysex 7D 10 (01 01) sum}
  c:
    values:
      off: show control go cue 1 to device 1 as sound
      on:  show control go cue 2 to device 1 as sound
levels:
  fader:
    message: control 7/39 on channel 1
    scale: {off: 0, -60 dB: 1, 0 dB: 16000}
"""
STUDIO = """\
studio: A box in every way
gear:
  box: {profile: box, midi: Box}
scenes:
  quiet: {everything: off}
  loud:  {box.a: on, box.b: on, box.c: on, box.fader: -10 dB}
buttons:
  five: {from: {midi: Pads, program: 5, channel: 2}, tap: loud}
  show: {from: {midi: Pads, message: show control go cue 12 to device 1 as sound},
         tap: quiet}
"""


@pytest.fixture
def studio(tmp_path: Path) -> Studio:
    (tmp_path / "box.yaml").write_text(PROFILE)
    shelf = Shelf((tmp_path, *profile_folders()), Notes())
    loaded = load_text(STUDIO.encode(), "x.yaml", shelf)
    assert loaded.studio is not None, loaded.findings
    return loaded.studio


def told(studio: Studio, *messages: bytes) -> list[Pressed | Moved]:
    ears = Reception(studio)
    return [e for data in messages for e in ears.hear(Midi("box", data), 1.0)]


def test_what_sets_a_value_is_heard_as_that_value(studio: Studio) -> None:
    for control in studio.controls.values():
        for value, messages in control.messages.items():
            data = [m.data for m in messages if isinstance(m, Midi)]
            assert told(studio, *data) == [Moved(control.name, value)], control.name


def test_a_hand_is_heard_between_the_points(studio: Studio) -> None:
    assert told(studio, *nrpn(3, 2 << 7 | 5, 9000)) == [Moved("box: a", True)]
    assert told(studio, *nrpn(3, 2 << 7 | 5, 8000)) == [Moved("box: a", False)]
    (moved,) = told(studio, b"\xb0\x07\x3e", b"\xb0\x27\x41")  # 62 * 128 + 65 = 8001
    assert isinstance(moved, Moved)
    assert moved.value == pytest.approx(-30.0, abs=0.01)


def test_others_messages_say_nothing(studio: Studio) -> None:
    assert told(studio, checked_by_sum(b"\x7d\x10", b"\x01\x02")) == []
    assert told(studio, show_control(2, 0x10, 0x01, cue("1"))) == []
    assert told(studio, *nrpn(3, 2 << 7 | 6, 16383)) == []
    assert told(studio, *nrpn(4, 2 << 7 | 5, 16383)) == []


def test_half_a_number_is_forgotten_with_its_port(studio: Studio) -> None:
    ears = Reception(studio)
    ears.hear(Midi("box", b"\xb0\x07\x3e"), 1.0)
    ears.forget("box")
    assert ears.hear(Midi("box", b"\xb0\x27\x41"), 1.0) == ()


@pytest.mark.parametrize(
    ("data", "button"),
    [
        (b"\xc1\x05", "five"),
        (show_control(1, 0x10, 0x01, cue("12")), "show"),
    ],
)
def test_a_whole_message_is_a_press_each_time(
    studio: Studio, data: bytes, button: str
) -> None:
    ears, message = Reception(studio), Midi("five", data)
    assert ears.is_press(message)
    (line,) = Chronicle(studio, {}).pressed(message, 1.0, 7.0)
    assert (line.told, line.words) == (PRESSED, button)
    for at in (1.0, 2.0):
        assert ears.hear(message, at) == (Pressed(button, Gesture.TAP),)
        assert ears.passed(at + 0.5) == ()
    assert not ears.is_press(Midi("five", b"\xc1\x06"))
    assert not ears.is_press(Midi("five", b"\xc0\x05"))
