"""What a studio file becomes: the controls, their messages, and what is set by hand.

Outside facts: the bytes of control changes and notes are those of the MIDI 1.0
Detailed Specification (status byte Bn or 9n, channel - 1 in the low nibble); 64 and
above is on (same, "Switch" controllers).
"""

import math

import pytest

from bridge.core.control import Reach
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Midi, Osc, key_and_number
from tests.fakes.studio_files import control

# Messages


def test_a_switch_of_the_osc_desk_has_its_messages(observatory: Studio) -> None:
    switch = control(observatory, "astronomer to monitor")
    assert switch.messages == {
        False: (Osc("desk", "/strip/5/to/2", (0,)),),
        True: (Osc("desk", "/strip/5/to/2", (1,)),),
    }
    assert switch.ask == (Osc("desk", "/strip/5/to/2"),)
    assert (switch.hold_off_ms, switch.settle_ms) == (50.0, 10.0)
    assert switch.at_power_up is False


def test_a_switch_of_the_midi_desk_has_its_bytes(harbour: Studio) -> None:
    switch = control(harbour, "mic 2 to monitor")
    (message,) = switch.messages[True]
    assert message == Midi("desk", bytes.fromhex("B1 16 7F"))  # control 22, channel 2
    assert switch.messages[False] == (Midi("desk", bytes.fromhex("B1 16 00")),)
    assert switch.ask == ()
    assert switch.hold_off_ms == 0.0


def test_what_a_midi_desk_tells_is_read_by_the_switch_convention(
    harbour: Studio,
) -> None:
    switch = control(harbour, "mic 2 to monitor")
    (meaning,) = harbour.meanings["desk", "midi", bytes.fromhex("B1 16")]
    assert meaning.control == switch.name
    assert [meaning.value_of(n) for n in (0, 63, 64, 127)] == [False, False, True, True]


def test_every_message_of_a_control_that_tells_reads_back_as_its_value(
    harbour: Studio, observatory: Studio
) -> None:
    checked = 0
    for studio in (harbour, observatory):
        for known in studio.controls.values():
            for value, messages in known.messages.items():
                heard = key_and_number(messages[-1])
                assert heard is not None
                key, number = heard
                for meaning in studio.meanings.get(key, ()):
                    assert number is not None
                    assert meaning.value_of(number) == value
                    checked += 1
    assert checked > 30


def test_a_level_has_a_message_for_every_value_that_is_used(harbour: Studio) -> None:
    level = control(harbour, "weather level")
    assert level.values == (-math.inf, -6.0, 0.0, 10.0)
    numbers = {
        value: messages[0].data[2]
        for value, messages in level.messages.items()
        if isinstance(messages[0], Midi)
    }
    # The scale of the profile: -10 dB is 80, 0 dB is 100, so -6 dB is 88.
    assert numbers == {-math.inf: 0, -6.0: 88, 0.0: 100, 10.0: 127}


def test_a_contact_falls_to_rest_without_power(observatory: Studio) -> None:
    relay = control(observatory, "changeover")
    assert relay.messages == {
        "rest": (Contact("changeover", high=False),),
        "pulled": (Contact("changeover", high=True),),
    }
    assert (relay.at_rest, relay.at_power_up) == ("rest", "rest")
    assert (relay.gap, relay.overlap) == (True, False)


def test_dim_is_one_edge_that_gets_weaker(harbour: Studio) -> None:
    names = [node.name for node in harbour.graph.nodes]
    (edge,) = (
        edge
        for edge in harbour.graph.edges
        if (names[edge.source], names[edge.target])
        == ("monitors.heard L", "monitors.speakers L")
    )
    gates = {gate.control: gate.table for gate in edge.gates}
    dim = dict(gates["monitors: dim"] or ())
    assert dim == {False: 1.0, True: pytest.approx(0.1)}
    assert gates["monitors: destination"] == (("speakers", 1.0),)
    assert gates["monitors: cut"] == ((False, 1.0),)


# By hand


def test_hand_controls_stand_as_the_file_says(lighthouse: Studio) -> None:
    switch = control(lighthouse, "mic to program")
    assert (switch.reach, switch.at_power_up) == (Reach.HAND, True)
    assert switch.values == (False, True)
    assert switch.messages == {}
    assert switch.hand_words == {
        True: "press program in on strip 1",
        False: "let program out on strip 1",
    }
    assert control(lighthouse, "mic to monitor").at_power_up is False


def test_scenes_of_a_desk_by_hand_set_the_relay_only(lighthouse: Studio) -> None:
    assert lighthouse.scenes["aloud"].values == {"changeover: position": "pulled"}


def test_a_knob_has_words_for_the_level_it_stands_at(harbour: Studio) -> None:
    knob = control(harbour, "amplifier.level 1")
    assert (knob.reach, knob.at_power_up) == (Reach.HAND, 0.0)
    assert knob.hand_words[0.0] == "turn knob 1 to 0 dB"
    assert control(harbour, "amplifier.level 3").at_power_up == -math.inf
