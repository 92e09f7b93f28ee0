"""Profiles: how messages, scales, flows and templates are read.

Outside facts: status bytes, data ranges and the running of channels from 1 to 16 are
those of the MIDI 1.0 Detailed Specification (Tables I to IV); the NRPN sequence is
its p. 17; 7D is the SysEx id for what is not sold (p. 34). OSC carries a number as 32
bits (OSC 1.0, type tags i and f): the nearest such number to 0.1 is
0.100000001490116 (IEEE 754, worked with the struct module).
"""

import math
import struct
from pathlib import Path

import pytest

from bridge.core.control import Kind, Reach
from bridge.core.finding import Place
from bridge.core.wire import Contact, Message, Midi, Osc
from bridge.files.notes import Notes
from bridge.files.profile import load_profile, read_profile
from bridge.files.profile_model import ControlType, Point, Profile
from bridge.files.shelf import shipped_profiles
from bridge.files.spoken import read_message
from bridge.files.studio_controls import number_for
from bridge.files.tree import Text

NOWHERE = Place("test", 1, 1, 1)

BOX = """
profile: box
kind: changeover
about: A box.
speaks: {speaks}
jacks:
  in:  {{is: input, lanes: 2, connector: USB, level: digital}}
  out: {{is: output, lanes: 2, connector: USB, level: digital}}
"""


def profile(speaks: str, rest: str) -> Profile:
    """A profile without a mistake."""
    notes = Notes()
    read = read_profile((BOX.format(speaks=speaks) + rest).encode(), "box.yaml", notes)
    assert not notes.findings
    assert read is not None
    return read


def message(text: str) -> Message | None:
    """Read one message; None if it is noted as wrong."""
    notes = Notes()
    read = read_message(Text(text, NOWHERE), notes)
    assert (read == ()) == notes.is_broken()
    return read[0] if read else None


@pytest.mark.parametrize(
    ("text", "data"),
    [
        ("control 20 on channel 1 = 127", "B0 14 7F"),
        ("control 0 on channel 16 = 0", "BF 00 00"),
        ("control 119 on channel 2 = 64", "B1 77 40"),
        ("note 60 on channel 3 = 39", "92 3C 27"),
        ("program on channel 1 = 5", "C0 05"),
        ("sysex 7D 01 05", "F0 7D 01 05 F7"),
    ],
)
def test_midi_messages_have_their_bytes(text: str, data: str) -> None:
    assert message(text) == Midi("", bytes.fromhex(data))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("/strip/1/to/2 = 1", Osc("", "/strip/1/to/2", (1,))),
        ("/level = -3.5", Osc("", "/level", (-3.5,))),
        ("/cut = true", Osc("", "/cut", (True,))),
        ("/recall", Osc("", "/recall")),
        ("line = driven", Contact("", high=True)),
        ("line = released", Contact("", high=False)),
    ],
)
def test_other_messages(text: str, expected: Message) -> None:
    read = message(text)
    assert read == expected
    if isinstance(read, Osc) and isinstance(expected, Osc):
        assert [type(a) for a in read.arguments] == [
            type(a) for a in expected.arguments
        ]


def test_an_osc_number_is_kept_as_it_will_be_heard() -> None:
    read = message("/level = 0.1")
    assert isinstance(read, Osc)
    assert read.arguments == (struct.unpack(">f", struct.pack(">f", 0.1))[0],)
    assert read.arguments[0] == pytest.approx(0.100000001490116, abs=1e-15)


@pytest.mark.parametrize(
    "text",
    [
        "control 120 on channel 1 = 0",  # a channel mode message
        "control 1 on channel 0 = 0",
        "control 1 on channel 17 = 0",
        "control 1 on channel 1 = 128",
        "control 1 on channel 1 = 1.5",
        "control 1 on channel 1",
        "note 128 on channel 1 = 1",
        "sysex 7D 80",  # a status byte inside
        "sysex",
        "/with blank = 1",
        "/a* = 1",
        "/a = one",
        "no slash = 1",
        "line = up",
        "",
    ],
)
def test_what_is_no_message_is_noted(text: str) -> None:
    assert message(text) is None


# Controls


def test_a_position_may_take_several_messages() -> None:
    box = profile(
        "midi",
        "selectors:\n"
        "  source:\n"
        "    values:\n"
        "      a: note 60 on channel 1 = 127\n"
        "      b: [control 99 on channel 1 = 2, control 98 on channel 1 = 5,\n"
        "          control 6 on channel 1 = 64]\n"
        "    moves: make before break\n",
    )
    source = box.controls["source"]
    assert source.messages["a"] == (Midi("", bytes.fromhex("90 3C 7F")),)
    assert source.messages["b"] == tuple(
        Midi("", bytes.fromhex(data)) for data in ("B0 63 02", "B0 62 05", "B0 06 40")
    )
    assert (source.gap, source.overlap, source.about) == (False, True, None)
    assert source.languages == {"midi"}


def test_a_fixed_control_has_one_value() -> None:
    box = profile(
        "midi", "switches:\n  boost: {values: {off: '', on: ''}, fixed: on}\n"
    )
    boost = box.controls["boost"]
    assert (boost.reach, boost.values, boost.at_power_up) == (
        Reach.FIXED,
        (True,),
        True,
    )


def test_a_fixed_off_is_a_value_too() -> None:
    box = profile(
        "midi", "switches:\n  boost: {values: {off: '', on: ''}, fixed: off}\n"
    )
    boost = box.controls["boost"]
    assert (boost.values, boost.at_power_up) == ((False,), False)


def test_flows_take_gain_delay_lanes_and_gates() -> None:
    box = profile(
        "midi",
        "flows:\n"
        "  - in L -> out when pick is a or b and cut is off at -3 dB after 5 ms\n"
        "switches:\n  cut:\n    message: control 1 on channel 1\n"
        "    values: {off: 0, on: 127}\n"
        "selectors:\n  pick:\n    message: control 2 on channel 1\n"
        "    values: {a: 0, b: 1, c: 2}\n",
    )
    (flow,) = box.flows
    assert (flow.source, flow.target) == (Point("in", 0), Point("out"))
    assert (flow.gain_db, flow.delay_ms) == (-3.0, 5.0)
    assert [(gate.control, gate.table) for gate in flow.gates] == [
        ("pick", (("a", 1.0), ("b", 1.0))),
        ("cut", ((False, 1.0),)),
    ]


# Levels


def level(speaks: str, about: str, scale: str) -> ControlType:
    """The one level of a box."""
    text = f"levels:\n  volume:\n    message: {about}\n    scale: {scale}\n"
    return profile(speaks, text).controls["volume"]


@pytest.mark.parametrize(
    ("level_db", "number"),
    [(-math.inf, 0), (-60.0, 1), (-45.0, 20), (-10.0, 80), (-5.0, 90), (10.0, 127)],
)
def test_a_midi_level_is_a_whole_number_on_straight_lines(
    level_db: float, number: int
) -> None:
    scale = "{off: 0, -60 dB: 1, -30 dB: 40, -10 dB: 80, 0 dB: 100, +10 dB: 127}"
    made = level("midi", "control 7 on channel 1", scale)
    assert made.about is not None
    sent = number_for(made, made.about, level_db)
    # -45 dB is half-way from 1 to 40: 20.5, rounded to the even neighbour.
    assert (sent, type(sent)) == (number, int)
    assert made.kind is Kind.LEVEL
    assert made.values == (-math.inf, 10.0)


def test_an_osc_level_keeps_the_type_of_its_scale() -> None:
    whole = level("osc", "/volume", "{off: 0, -50 dB: 1, 0 dB: 101}")
    assert whole.about is not None
    assert number_for(whole, whole.about, -25.0) == 51
    real = level("osc", "/volume", "{off: 0.0, -50 dB: 0.1, 0 dB: 0.9}")
    assert real.about is not None
    sent = number_for(real, real.about, -25.0)
    assert isinstance(sent, float)
    assert sent == pytest.approx(0.5, abs=1e-7)


# Those that are shipped


@pytest.mark.parametrize(
    "file", sorted(shipped_profiles().glob("*.yaml")), ids=lambda file: file.stem
)
def test_every_shipped_profile_reads_and_bears_its_name(file: Path) -> None:
    notes = Notes()
    read, text = load_profile(file, file.name, notes)
    assert notes.findings == ()
    assert read is not None
    assert read.name == file.stem
    assert text.startswith("# "), "a profile begins with a word to the reader"


def test_a_desk_s_template_stands_for_every_pair() -> None:
    notes = Notes()
    desk, _ = load_profile(shipped_profiles() / "desk-osc.yaml", "desk-osc.yaml", notes)
    assert desk is not None
    assert len(desk.controls) == len(desk.strips) * len(desk.buses)
    addresses = {
        message.address
        for control in desk.controls.values()
        for messages in control.messages.values()
        for message in messages
        if isinstance(message, Osc)
    }
    numbers = {"1", "2", "3", "5", "7"}
    assert addresses == {f"/strip/{s}/to/{b}" for s in numbers for b in "12"}
