"""What a studio file becomes: scenes, sentences, lanes and names."""

import math
from pathlib import Path

import pytest

from bridge.core.control import Kind
from bridge.core.demand import Demand
from bridge.core.graph import Scale
from bridge.core.studio import Studio
from tests.fakes.studio_files import EXAMPLE, control, edges, load_text, whole

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
