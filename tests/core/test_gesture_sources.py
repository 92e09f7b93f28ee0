"""What a foot does is understood alike from every source that a file can name.

Each source is read from a studio file, so that its threshold is the file's; the
messages are what such a source sends.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from bridge.core.button import Gesture
from bridge.core.effects import Moved, PortLost, Pressed
from bridge.core.reception import Reception
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Keystroke, Message, Midi, Osc
from bridge.files.notes import Notes
from bridge.files.shelf import profile_folders
from bridge.files.studio import load_text
from bridge.files.studio_gear import Shelf
from tests.fakes.stage import Stage
from tests.fakes.studio import studio as bench

TAP, HOLD, RELEASE = Gesture.TAP, Gesture.HOLD, Gesture.RELEASE

STUDIO = """\
studio: Two buttons
gear:
  changeover: {{profile: changeover-gpio, line: 17}}
scenes:
  talk:  {{changeover: rest}}
  aloud: {{changeover: pulled}}
buttons:
  a: {{from: {a}, contact: {contact}, {gestures}}}
  b: {{from: {b}, tap: talk}}
"""

Says = Callable[[int, bool], Message]
"""What button 0 or 1 says when it closes (True) or opens."""

SOURCES: dict[str, tuple[str, str, Says]] = {
    "control": (
        "{midi: P, control: 64}",
        "{midi: P, control: 65}",
        lambda k, closed: Midi("a", bytes((0xB0, 64 + k, 127 * closed))),
    ),
    "control, a soft foot": (
        "{midi: P, control: 64}",
        "{midi: P, control: 65}",
        lambda k, closed: Midi("a", bytes((0xB0, 64 + k, 64 if closed else 63))),
    ),
    "note": (
        "{midi: P, note: 36, channel: 10}",
        "{midi: P, note: 37, channel: 10}",
        lambda k, closed: Midi("a", bytes((0x99 if closed else 0x89, 36 + k, 64))),
    ),
    "note, ended by velocity 0": (
        "{midi: /dev/snd/midiC1D0, note: 36}",
        "{midi: /dev/snd/midiC1D0, note: 37}",
        lambda k, closed: Midi("a", bytes((0x90, 36 + k, closed))),
    ),
    "osc": (
        "{osc: /p/0, sender: 10.0.0.7, listen: 9721}",
        "{osc: /p/1, sender: 10.0.0.7, listen: 9721}",
        lambda k, closed: Osc("a", f"/p/{k}", (float(closed),)),
    ),
    "osc, true and false, over tcp": (
        "{osc: /p/0, sender: 10.0.0.7, listen: 9721, over: tcp}",
        "{osc: /p/1, sender: 10.0.0.7, listen: 9721, over: tcp}",
        lambda k, closed: Osc("a", f"/p/{k}", (closed,)),
    ),
    "contact": (
        "{line: 5}",
        "{line: 6}",
        lambda k, closed: Contact("ab"[k], closed),
    ),
    "keyboard": (
        "{keyboard: P, key: page up}",
        "{keyboard: P, key: page down}",
        lambda k, closed: Keystroke("a", (104, 109)[k], closed),
    ),
}

Step = tuple[float, int, bool]
"""When, which button, whether it closes."""


def studio(source: str, contact: str, gestures: str) -> Studio:
    a, b, _ = SOURCES[source]
    text = STUDIO.format(a=a, b=b, contact=contact, gestures=gestures)
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is not None, loaded.findings
    return loaded.studio


def played(
    source: str,
    steps: Sequence[Step],
    contact: str = "momentary",
    gestures: str = "tap: talk, hold: aloud, release: talk",
) -> list[tuple[str, Gesture]]:
    """The gestures that come of it, in order, until ten seconds have gone by."""
    ears, says = Reception(studio(source, contact, gestures)), SOURCES[source][2]
    found: list[Pressed | Moved] = []
    for at, which, closed in steps:
        message = says(which, closed)
        assert ears.is_press(message)
        found += [*ears.passed(at), *ears.hear(message, at)]
    found += ears.passed(10.0)
    return [(m.button, m.gesture) for m in found if isinstance(m, Pressed)]


@pytest.mark.parametrize("source", SOURCES)
def test_every_source_knows_every_way_of_pressing(source: str) -> None:
    press = [(1.0, 0, True), (1.2, 0, False)]
    held = [(1.0, 0, True), (3.0, 0, False)]
    a_tap, a_hold, a_release = ("a", TAP), ("a", HOLD), ("a", RELEASE)
    # A tap is a tap at once, and its release is none where there is a hold.
    assert played(source, press) == [a_tap]
    assert played(source, held) == [a_tap, a_hold, a_release]
    # Talkback, cough, dim: as long as it is held.
    assert played(source, press, gestures="tap: aloud, release: talk") == [
        a_tap,
        a_release,
    ]
    # Stuck: no more than once; and another button is none the worse.
    stuck = [(1.0, 0, True), (5.0, 1, True), (5.1, 1, False)]
    assert played(source, stuck) == [a_tap, a_hold, ("b", TAP)]
    # Two at once, each by itself.
    both = [(1.0, 0, True), (1.01, 1, True), (1.2, 1, False), (1.21, 0, False)]
    assert played(source, both) == [a_tap, ("b", TAP)]
    # Down at start: nothing until it has been up.
    assert played(source, [(1.0, 0, False)]) == []
    # Bouncing on both edges (Ganssle, "A Guide to Debouncing": 6 ms).
    bounce = [(1.0, 0, True), (1.003, 0, False), (1.006, 0, True)]
    bounce += [(1.2, 0, False), (1.203, 0, True), (1.206, 0, False)]
    assert played(source, bounce) == [a_tap]


@pytest.mark.parametrize("source", SOURCES)
def test_every_source_may_be_normally_closed_or_latching(source: str) -> None:
    opened = [(1.0, 0, False), (3.0, 0, True)]
    assert played(source, opened, "normally closed") == [
        ("a", TAP),
        ("a", HOLD),
        ("a", RELEASE),
    ]
    assert played(source, [(1.0, 0, True)], "normally closed") == [], "at start"
    pushed = [(1.0, 0, True), (2.0, 0, False), (3.0, 0, True)]
    assert played(source, pushed, "latching", "tap: [talk, aloud]") == [("a", TAP)] * 3


@pytest.mark.parametrize("source", SOURCES)
def test_a_button_whose_port_goes_is_let_go(source: str) -> None:
    """Or the talkback would stay open for as long as the cable is out."""
    gestures = "tap: aloud, release: talk"
    ears, says = Reception(studio(source, "momentary", gestures)), SOURCES[source][2]
    port = says(0, True).port
    assert ears.lost(port) == ()
    ears.hear(says(0, True), 1.0)
    assert [(made.button, made.gesture) for made in ears.lost(port)] == [("a", RELEASE)]
    assert ears.lost(port) == ()
    ears.hear(says(0, True), 2.0)
    assert ears.lost("another") == ()


def test_a_cable_that_comes_out_ends_what_was_held_open() -> None:
    open_while_down = {TAP: ("speakers",), RELEASE: ("quiet",)}
    stage = Stage(bench(start="quiet", pedal=open_while_down))
    stage.start()
    stage.hear(Midi("pedal", b"\xb0\x40\x7f"))
    stage.run(5.0)
    assert stage.machine.scenes_in_force == ("speakers",)
    stage.happen(PortLost("pedal", "cable pulled"))
    stage.run(5.0)
    assert stage.machine.scenes_in_force == ("quiet",)
