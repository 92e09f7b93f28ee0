"""Plugs, lanes and rings: for each rule a patch that breaks it and one that does not.

Connector facts are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.core.finding import Severity
from bridge.core.jacks import Box, Patch, Way
from bridge.core.panning import Pan, Side
from bridge.core.patching import RULES, patch_findings
from tests.fakes.patches import (
    LINE_IN,
    LINE_OUT,
    PHONES_OUT,
    PLACE,
    STEREO_IN,
    STEREO_OUT,
    box,
    jack,
    only,
    patch,
    position,
    relay,
    rules,
)


def test_two_jacks_of_one_kind_are_left_alone() -> None:
    assert patch_findings(patch([LINE_OUT, LINE_IN], "player.out -> desk.in")) == ()
    it = patch([STEREO_OUT, STEREO_IN], "player.out -> desk.in")
    assert patch_findings(it) == ()


def test_every_rule_has_an_id_of_its_own_a_why_and_a_source() -> None:
    assert len({rule.id for rule in RULES}) == len(RULES) == 17
    assert all(rule.why and rule.source for rule in RULES)


# Plugs and lanes


def test_digital_and_analogue_jacks_have_no_cable() -> None:
    usb = jack("desk.in", connector="USB", level="digital", balanced=False)
    found = only(patch([LINE_OUT, usb], "player.out -> desk.in"))
    assert (found.rule, found.severity) == ("connector-misfit", Severity.ERROR)
    assert found.note == "desk.in carries digital sound and the other does not"
    out = jack("player.out", out=True, connector="USB", level="digital")
    assert rules(patch([out, usb], "player.out -> desk.in")) == set()


def test_two_digital_forms_have_no_cable() -> None:
    out = jack("player.out", out=True, connector="optical", level="digital")
    usb = jack("desk.in", connector="USB", level="digital")
    assert only(patch([out, usb], "player.out -> desk.in")).note == (
        "the two carry digital sound in different forms"
    )


def test_a_stereo_plug_in_a_balanced_mono_jack_loses_the_centre() -> None:
    found = [
        each
        for each in patch_findings(
            patch([PHONES_OUT, LINE_IN], "laptop.out -> desk.in")
        )
        if each.rule == "balanced-stereo"
    ]
    assert [each.severity for each in found] == [Severity.ERROR]
    assert "left minus right, and the centre is gone" in found[0].message
    split = patch(
        [PHONES_OUT, STEREO_IN],
        "laptop.out L -> desk.in L",
        "laptop.out R -> desk.in R",
    )
    assert "balanced-stereo" not in rules(split)


def test_a_balanced_output_in_a_stereo_jack_turns_one_side_upside_down() -> None:
    stereo = jack("camera.in", lanes=2, sockets=1, connector="3.5 mm TRS")
    found = only(patch([LINE_OUT, stereo], "player.out -> camera.in"))
    assert (found.rule, found.severity) == ("balanced-stereo", Severity.ADVICE)


def test_left_into_right_is_swapped() -> None:
    jacks = [STEREO_OUT, STEREO_IN]
    swapped = patch(jacks, "player.out L -> desk.in R", "player.out R -> desk.in L")
    assert [f.rule for f in patch_findings(swapped)] == ["lane-swapped"] * 2
    straight = patch(jacks, "player.out L -> desk.in L", "player.out R -> desk.in R")
    assert patch_findings(straight) == ()


def panned(one: Side, other: Side, *cables: str, **more: object) -> Patch:
    """A stereo player on two strips of one lane, with their pan knobs so."""
    jacks = [STEREO_OUT, jack("desk.one"), jack("desk.two")]
    said = cables or ("player.out L -> desk.one", "player.out R -> desk.two")
    pans = {"desk.one": Pan(one, PLACE), "desk.two": Pan(other, PLACE)}
    return replace(patch(jacks, *said, **more), pans=pans)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("one", "other", "heard"),
    [
        (Side.LEFT, Side.LEFT, "both are on one side, and the right stays silent"),
        (Side.RIGHT, Side.LEFT, "left and right are swapped"),
        (Side.LEFT, Side.CENTRE, "R is not on its own side"),
        (Side.RIGHT, Side.RIGHT, "both are on one side, and the left stays silent"),
        (Side.CENTRE, Side.CENTRE, "both are in the centre, and heard as one"),
    ],
)
def test_a_lane_panned_to_the_wrong_side_is_seen(
    one: Side, other: Side, heard: str
) -> None:
    found = only(panned(one, other))
    assert (found.rule, found.place) == ("lane-panned", PLACE)
    assert found.message == f"player.out is stereo on strips of one lane: {heard}"
    assert found.cure.endswith("write pan: {one: left, two: right} for the desk")
    assert patch_findings(panned(Side.LEFT, Side.RIGHT)) == ()


def test_crossed_cables_and_crossed_knobs_are_right_again() -> None:
    cables = ("player.out L -> desk.two", "player.out R -> desk.one")
    assert patch_findings(panned(Side.RIGHT, Side.LEFT, *cables)) == ()
    assert "swapped" in only(panned(Side.LEFT, Side.RIGHT, *cables)).message


def test_pan_is_followed_through_passive_gear() -> None:
    """A split cable swaps the lanes, and one knob would be right without it."""
    ends = [jack("split.a", out=True), jack("split.b", out=True)]
    ways = [
        Way("split.in", "split.a", source_lane=1),
        Way("split.in", "split.b", source_lane=0),
    ]
    cables = ("player.out -> split.in", "split.a -> desk.one", "split.b -> desk.two")
    it = panned(Side.LEFT, Side.RIGHT, *cables, boxes=[box("split", "other", *ways)])
    more = {each.name: each for each in (jack("split.in", lanes=2), *ends)}
    found = only(replace(it, jacks={**it.jacks, **more}))
    assert found.message.endswith("left and right are swapped")


def test_one_lane_without_a_cable_is_lost() -> None:
    found = only(patch([STEREO_OUT, LINE_IN], "player.out L -> desk.in"))
    assert found.rule == "lane-lost"
    assert found.message == "player.out has a cable on one lane only: R is lost"


def test_a_long_unbalanced_cable_is_said() -> None:
    out = jack("player.out", out=True, connector="RCA", balanced=False)
    found = only(patch([out, LINE_IN], "player.out -> desk.in over 6"))
    assert (found.rule, found.measured) == ("long-unbalanced", "6 m")
    assert rules(patch([out, LINE_IN], "player.out -> desk.in over 5")) == set()
    assert rules(patch([LINE_OUT, LINE_IN], "player.out -> desk.in over 30")) == set()


# Outputs that meet, and rings


def test_left_and_right_into_one_input_are_two_outputs_on_one_wire() -> None:
    found = only(patch([STEREO_OUT, LINE_IN], "player.out -> desk.in"))
    assert (found.rule, found.severity) == ("outputs-joined", Severity.ADVICE)
    two = [jack("desk.in 1"), jack("desk.in 2")]
    apart = patch(
        [STEREO_OUT, *two], "player.out L -> desk.in 1", "player.out R -> desk.in 2"
    )
    assert rules(apart) == set()


def join(one: str, other: str) -> Patch:
    """Two outputs into a relay with one way out, each at its position."""
    way_a = Way("relay.a", "relay.out", position(one))
    way_b = Way("relay.b", "relay.out", position(other))
    jacks = [
        LINE_OUT,
        jack("radio.out", out=True),
        jack("relay.a"),
        jack("relay.b"),
        jack("relay.out", out=True),
        LINE_IN,
    ]
    cables = ("player.out -> relay.a", "radio.out -> relay.b", "relay.out -> desk.in")
    return patch(jacks, *cables, boxes=[relay(way_a, way_b)])


def test_two_outputs_joined_by_a_passive_box_are_found() -> None:
    found = only(join("left", "left"))
    assert (found.rule, found.severity) == ("outputs-joined", Severity.ERROR)
    assert found.message == (
        "player.out and radio.out are two outputs on one wire, joined in relay"
    )


def test_a_relay_that_takes_one_at_a_time_joins_nothing() -> None:
    assert rules(join("left", "right")) == set()


def test_a_ring_names_what_closes_it() -> None:
    ways = (
        Way("desk.in", "desk.bus", {"desk: in to bus": frozenset({True})}),
        Way("desk.bus", "desk.out"),
    )
    jacks = [jack("desk.in"), jack("desk.out", out=True)]
    desk = Box("desk", "desk", ways=ways)
    found = only(patch(jacks, "desk.out -> desk.in", boxes=[desk]))
    assert (found.rule, found.severity) == ("ring-of-cables", Severity.ADVICE)
    assert "desk.in -> desk.bus -> desk.out -> desk.in" in found.message
    assert found.cure.startswith("never let all of these be: desk: in to bus is on")
    other = [*jacks, jack("recorder.in")]
    assert rules(patch(other, "desk.out -> recorder.in", boxes=[desk])) == set()


def test_a_ring_that_no_position_can_close_is_none() -> None:
    ways = (
        Way("relay.in", "relay.mid", position("left")),
        Way("relay.mid", "relay.out", position("right")),
    )
    jacks = [jack("relay.in"), jack("relay.out", out=True)]
    it = patch(jacks, "relay.out -> relay.in", boxes=[Box("relay", "other", ways=ways)])
    assert rules(it) == set()
