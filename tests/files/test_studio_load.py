"""What a studio file becomes: lanes, labels, messages, scenes, buttons, connections.

Outside facts: the bytes of control changes and notes are those of the MIDI 1.0
Detailed Specification (status byte Bn or 9n, channel - 1 in the low nibble); 64 and
above is on (same, "Switch" controllers).
"""

import math
from pathlib import Path

import pytest

from bridge.core.button import Gesture
from bridge.core.connection import InputLine, Keyboard, MidiDevice, OscPeer, OutputLine
from bridge.core.control import Control, Kind, Reach
from bridge.core.demand import Demand
from bridge.core.graph import Scale
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Midi, Osc, key_and_number
from bridge.files.shelf import shipped_studios
from bridge.files.studio import Loaded, load

# The example of the design page, in the syntax that it became.
EXAMPLE = """
studio: Hilltop observatory, Friday show

people:
  presenter:  {room: dome}
  astronomer: {room: far away, round trip: 180 ms, echo return loss: 30 dB}
feeds:
  stream: {}

gear:
  desk:       {profile: desk-control-change, midi: "Desk MIDI 1"}
  changeover: {profile: changeover-gpio, line: 17}
  laptop:
    profile: computer-two-pairs
    plays: {astronomer: pair 1, jingles: pair 2}
    takes: {astronomer: capture, stream: capture}
  mic:        {profile: microphone-dynamic-cardioid, room: dome,
               spoken into by: presenter, distance: 0.12 m}
  speakers:   {profile: speakers-active, room: dome, listening level: 74 dB at 1 m}
  phones:     {profile: headphones-active, worn by: presenter, listening level: 74 dB}

patch:
  - mic.out               -> desk.in 1
  - laptop.pair 1         -> desk.in 5/6      # the call
  - laptop.pair 2         -> desk.in 7/8      # jingles
  - desk.program out      -> laptop.capture
  - desk.monitor out      -> changeover.in
  - changeover.rest       -> phones.in       # no power: headphones
  - changeover.pulled     -> speakers.in

distances:
  speakers to mic: 1.2 m at 140 deg
  speakers to presenter: 1 m

scenes:
  start:       {everything: off}
  phones:      {changeover: rest}
  speakers:    {changeover: pulled, mic to monitor: off}
  remote call:
    {from: phones, program: [mic, jingles], monitor: [mic, jingles, astronomer]}

needs:                                    # beyond the house rules
  - presenter hears astronomer in remote call
  - stream hears presenter always
keep:
  - stream hears presenter                # also while a crossing is under way

buttons:
  pedal:
    from: {midi: "Pedal", control: 64}
    tap:  [phones, speakers]              # goes round
    hold: remote call
"""


def load_text(tmp_path: Path, text: str) -> Loaded:
    """Load a studio from a text."""
    file = tmp_path / "studio.yaml"
    file.write_text(text)
    return load(file, shown="studio.yaml")


def whole(loaded: Loaded) -> Studio:
    """The studio of a file without any finding."""
    assert loaded.findings == ()
    assert loaded.studio is not None
    return loaded.studio


@pytest.fixture
def example(tmp_path: Path) -> Studio:
    return whole(load_text(tmp_path, EXAMPLE))


@pytest.fixture
def observatory() -> Studio:
    return whole(load(shipped_studios() / "observatory.yaml"))


@pytest.fixture
def harbour() -> Studio:
    return whole(load(shipped_studios() / "harbour-night-watch.yaml"))


@pytest.fixture
def lighthouse() -> Studio:
    return whole(load(shipped_studios() / "lighthouse-reading-hour.yaml"))


def control(studio: Studio, label: str) -> Control:
    """The one control that is shown by this label."""
    (found,) = (c for c in studio.controls.values() if c.label == label)
    return found


def edges(studio: Studio, start: str) -> list[tuple[str, str]]:
    """Edges whose source node's name begins so, as pairs of names."""
    names = [node.name for node in studio.graph.nodes]
    return [
        (names[edge.source], names[edge.target])
        for edge in studio.graph.edges
        if names[edge.source].startswith(start)
    ]


# The example of the design


def test_the_example_of_the_design_loads(example: Studio) -> None:
    assert example.name == "Hilltop observatory, Friday show"
    assert [person.name for person in example.people] == ["presenter", "astronomer"]
    assert [source.name for source in example.sources] == [
        "presenter",
        "astronomer",
        "jingles",
        "mic",
    ]
    assert [x.name for x in example.listeners] == ["presenter", "astronomer", "stream"]
    assert example.start_scene == "start"
    assert example.door_port == 9720


def test_a_scene_that_sets_one_switch_leaves_the_rest(example: Studio) -> None:
    assert example.scenes["speakers"].values == {
        "changeover: position": "pulled",
        "desk: in 1 to monitor": False,
    }


def test_a_bus_list_means_exactly_these(example: Studio) -> None:
    values = example.scenes["remote call"].values
    on = {name for name, value in values.items() if value is True}
    assert on == {
        "desk: in 1 to program",
        "desk: in 7/8 to program",
        "desk: in 1 to monitor",
        "desk: in 5/6 to monitor",
        "desk: in 7/8 to monitor",
    }
    off = {name for name, value in values.items() if value is False}
    assert len(on) + len(off) == 10
    assert values["changeover: position"] == "rest"  # from phones


def test_everything_off_is_switches_off_and_the_rest_as_after_power_up(
    example: Studio,
) -> None:
    values = example.scenes["start"].values
    assert set(values) == set(example.controls)
    assert values["desk: in 1 level"] == 0.0
    assert values["changeover: position"] == "rest"
    switches = [n for n, c in example.controls.items() if c.kind is Kind.SWITCH]
    assert all(values[name] is False for name in switches)


def test_sentences_become_demands(example: Studio) -> None:
    assert [(s.demand, s.listener, s.source, s.scene) for s in example.sentences] == [
        (Demand.NEEDS, "presenter", "astronomer", "remote call"),
        (Demand.NEEDS, "stream", "presenter", None),
        (Demand.KEEP, "stream", "presenter", None),
    ]
    assert example.sentences[1].text == "stream hears presenter always"


# Lanes


def test_mono_goes_to_both_lanes_of_stereo(observatory: Studio) -> None:
    to_program = [e for e in edges(observatory, "desk.in 1") if "program" in e[1]]
    assert to_program == [
        ("desk.in 1", "desk.program L"),
        ("desk.in 1", "desk.program R"),
    ]


def test_stereo_stays_apart(observatory: Studio) -> None:
    assert edges(observatory, "laptop.pair 1") == [
        ("laptop.pair 1 L", "desk.in 5/6 L"),
        ("laptop.pair 1 R", "desk.in 5/6 R"),
    ]
    node = observatory.graph.nodes[observatory.sources[2].nodes[0]]
    assert (node.name, node.jack) == ("jingles L", "jingles")


def test_stereo_goes_into_one_lane_of_mono(harbour: Studio) -> None:
    assert [e for e in edges(harbour, "monitors.chosen") if "both" in e[1]] == [
        ("monitors.chosen L", "monitors.both"),
        ("monitors.chosen R", "monitors.both"),
    ]
    assert edges(harbour, "monitors.both") == [
        ("monitors.both", "monitors.heard L"),
        ("monitors.both", "monitors.heard R"),
    ]


def test_half_of_the_round_trip_lies_on_each_way(observatory: Studio) -> None:
    names = [node.name for node in observatory.graph.nodes]
    delays = {
        (names[e.source], names[e.target]): e.delay_ms for e in observatory.graph.edges
    }
    buffers = 8.0  # of the computer, once each way: profile computer-two-pairs
    assert delays["laptop.capture L", "astronomer.ear L"] == 90.0 + buffers
    assert delays["astronomer.mouth", "laptop.pair 1 R"] == 90.0 + buffers


def test_a_voice_in_the_middle_comes_back_by_its_echo_return_loss(
    observatory: Studio,
) -> None:
    names = [node.name for node in observatory.graph.nodes]
    echo = [
        10 ** (edge.gain_db / 20)
        for edge in observatory.graph.edges
        if names[edge.target] == "astronomer.mouth"
    ]
    assert len(echo) == 2  # both ears
    assert 20 * math.log10(sum(echo)) == pytest.approx(-45.0, abs=1e-9)


def test_a_program_that_takes_what_it_plays_passes_it_on(tmp_path: Path) -> None:
    text = EXAMPLE.replace("stream: capture}", "stream: capture, jingles: capture}")
    loaded = load_text(tmp_path, text)
    assert loaded.studio is not None
    assert ("laptop.capture L", "jingles L") in edges(loaded.studio, "laptop.capture")


# Names


def test_labels_say_what_is_patched_in(observatory: Studio) -> None:
    labels = {c.name: c.label for c in observatory.controls.values()}
    assert labels["desk: in 1 to monitor"] == "mic to monitor"
    assert labels["desk: in 5/6 to program"] == "astronomer to program"
    assert labels["desk: in 2 to program"] == "in 2 to program"
    assert labels["changeover: position"] == "changeover"


def test_two_programs_on_one_pair_are_named_together(tmp_path: Path) -> None:
    text = EXAMPLE.replace("jingles: pair 2", "jingles: pair 1")
    loaded = load_text(tmp_path, text.replace("program: [mic, jingles], ", ""))
    assert loaded.studio is not None
    label = loaded.studio.controls["desk: in 5/6 to monitor"].label
    assert label == "astronomer and jingles to monitor"


def test_a_name_is_carried_through_gear_in_between(tmp_path: Path) -> None:
    text = EXAMPLE.replace(
        "  laptop:",
        "  organ: {profile: player-stereo}\n  split: {profile: split-cable}\n  laptop:",
    ).replace(
        "patch:\n",
        "patch:\n  - organ.out -> split.in\n  - split.out 2 -> desk.in 3/4\n",
    )
    studio = whole(load_text(tmp_path, text))
    assert studio.controls["desk: in 3/4 to monitor"].label == "organ to monitor"


def test_gear_before_a_name_tells_two_desks_apart(tmp_path: Path) -> None:
    text = EXAMPLE.replace(
        "  changeover: {",
        '  second: {profile: desk-osc, osc: "10.0.0.9:9000"}\n  changeover: {',
    )
    text = text.replace("program: [", "desk.program: [").replace(
        "monitor: [", "desk.monitor: ["
    )
    studio = whole(load_text(tmp_path, text))
    assert "desk: in 1 to program" in studio.scenes["remote call"].values


def test_a_player_makes_sound_and_a_recorder_listens(tmp_path: Path) -> None:
    text = EXAMPLE.replace(
        "  laptop:",
        "  organ: {profile: player-stereo}\n  tape: {profile: recorder-two-track}\n"
        "  split: {profile: split-cable}\n  laptop:",
    ).replace(
        "  - desk.monitor out      -> changeover.in",
        "  - organ.out -> desk.in 3/4\n  - desk.monitor out -> split.in\n"
        "  - split.out 1 -> changeover.in\n  - split.out 2 -> tape.in",
    )
    studio = whole(load_text(tmp_path, text + "private: [organ]\n"))
    (organ,) = (source for source in studio.sources if source.name == "organ")
    assert organ.private
    (tape,) = (listener for listener in studio.listeners if listener.name == "tape")
    assert (tape.far, tape.scale, tape.person) == (True, Scale.LINE, None)
    assert control(studio, "organ to program").name == "desk: in 3/4 to program"


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


# Buttons, connections, limits


def test_a_pedal_has_its_key_and_rounds(observatory: Studio) -> None:
    (pedal,) = observatory.buttons
    assert pedal.key == ("pedal", "midi", bytes.fromhex("B0 40"))
    assert pedal.down_from == 64.0
    assert pedal.rounds == {
        Gesture.TAP: ("phones", "speakers"),
        Gesture.HOLD: ("remote call",),
    }


def test_two_pads_of_one_device_share_its_connection(harbour: Studio) -> None:
    pads = {b.name: b.key for b in harbour.buttons if b.name.startswith("pad ")}
    assert pads == {
        "pad 1": ("pad 1", "midi", bytes.fromhex("99 24")),
        "pad 2": ("pad 1", "midi", bytes.fromhex("99 25")),
    }
    devices = [c.device for c in harbour.connections if isinstance(c, MidiDevice)]
    assert devices == ["Desk MIDI 1", "Monitor Controller", "Pedal", "Pads"]


def test_gear_may_be_spoken_to_over_tcp(tmp_path: Path) -> None:
    over = 'desk-osc, osc: "192.168.4.20:9000", over: tcp slip'
    text = EXAMPLE.replace('desk-control-change, midi: "Desk MIDI 1"', over)
    studio = whole(load_text(tmp_path, text))
    peer = OscPeer("desk", "192.168.4.20", 9000, over="tcp slip")
    assert studio.connections[0] == peer


def test_every_kind_of_connection(tmp_path: Path) -> None:
    text = EXAMPLE.replace(
        'desk-control-change, midi: "Desk MIDI 1"',
        'desk-osc, osc: "mixer.lan:9000", listen: 9001',
    ).replace("line: 17}", "line: GPIO17, chip: pinctrl-rp1, released: high}")
    text += (
        "  far pedal:\n    from: {osc: /pedal, sender: 10.0.0.7, listen: 9721}\n"
        "    tap: phones\n"
        "  deck:\n    from: {osc: /deck, sender: 10.0.0.8, listen: 9721, over: tcp}\n"
        "    tap: phones\n"
        "  left:\n    from: {keyboard: Foot Switch, key: page up}\n    tap: phones\n"
        "  right:\n    from: {keyboard: Foot Switch, key: B}\n    tap: phones\n"
        "  switch:\n    from: {line: 27}\n    contact: normally closed\n"
        "    tap: phones\n    hold after: 1 s\n    lockout: 20 ms\n"
    )
    studio = whole(load_text(tmp_path, text))
    assert studio.connections == (
        OscPeer("desk", "mixer.lan", 9000, 9001),
        OutputLine("changeover", "pinctrl-rp1", "GPIO17", released_high=True),
        MidiDevice("pedal", "Pedal"),
        OscPeer("far pedal", "10.0.0.7", 9721, 9721),
        OscPeer("deck", "10.0.0.8", 9721, 9721, "tcp"),
        Keyboard("left", "Foot Switch"),
        InputLine("switch", "gpiochip0", 27),
    )
    far, _, left, right, switch = studio.buttons[1:]
    assert left.key == ("left", "key", "page up")
    assert right.key == ("left", "key", "b"), "two keys of one box share it"
    assert far.key == ("far pedal", "osc", "/pedal")
    assert switch.key == ("switch", "line", "")
    assert (switch.inverted, switch.hold_ms, switch.lockout_ms) == (True, 1000.0, 20.0)


def test_limits_carry_their_reasons(tmp_path: Path) -> None:
    text = EXAMPLE + (
        "limits:\n"
        "  stability margin: 9 dB because the dome rings for 2 s\n"
        "  silent at an ear: 25 dB because the ventilation is louder\n"
        "  strict open microphone: on because we are on the air\n"
        "lives without:\n"
        "  - open-microphone for mic and speakers because the dome is small\n"
        "service: {port: 9800}\n"
    )
    studio = whole(load_text(tmp_path, text))
    assert studio.limits.stability_margin_db == 9.0
    assert studio.limits.silent_ear_db_spl == 25.0
    assert studio.limits.strict_open_microphone
    assert studio.own_limits["stability_margin_db"].reason == "the dome rings for 2 s"
    (waiver,) = studio.waivers
    assert (waiver.rule, waiver.about) == ("open-microphone", ("mic", "speakers"))
    assert waiver.reason == "the dome is small"
    assert studio.door_port == 9800


def test_levels_of_sentences_are_in_the_listener_s_scale(tmp_path: Path) -> None:
    text = EXAMPLE.replace("in remote call\n", "in remote call above 60 dB\n").replace(
        "hears presenter always", "hears presenter always above -12 dB"
    )
    studio = whole(load_text(tmp_path, text))
    levels = [sentence.level_db for sentence in studio.sentences]
    assert levels == [60.0 - 94.0, -12.0, None]


def test_the_rated_life_of_a_relay_is_told(tmp_path: Path) -> None:
    rated = load_text(tmp_path, EXAMPLE).rated_life
    assert rated == {"changeover: position": 100_000}
