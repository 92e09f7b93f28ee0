"""Levels and loads: for each rule a patch that breaks it and one that does not.

Connector facts are common practice, no source. Values: ITU-R BS.645-2 (alignment and
permitted maximum), the bridging formula 20 log(Zin / (Zin + Zout)) as printed with
"ten times is bridging", and the 11.78 dB between +4 dBu and -10 dBV.
"""

from __future__ import annotations

import pytest

from bridge.core.finding import Severity
from bridge.core.jacks import Jack, Patch, Way
from tests.fakes.patches import (
    HEADPHONES,
    LINE_IN,
    LINE_OUT,
    SPLIT,
    SPLIT_JACKS,
    STEREO_OUT,
    box,
    jack,
    only,
    patch,
    position,
    rules,
)


def test_consumer_into_professional_is_11_8_db_too_soft_and_back_too_loud() -> None:
    out = jack("player.out", out=True, level="-10 dBV", connector="RCA", balanced=False)
    found = only(patch([out, LINE_IN], "player.out -> desk.in"))
    assert (found.rule, found.measured) == ("levels-differ", "-11.8 dB")
    assert "line amplifier of 12 dB" in found.cure
    low = jack("desk.in", level="-10 dBV", connector="RCA", balanced=False)
    found = only(patch([LINE_OUT, low], "player.out -> desk.in"))
    assert (found.measured, "a pad of 12 dB" in found.cure) == ("+11.8 dB", True)
    assert rules(patch([out, low], "player.out -> desk.in")) == set()


def test_a_level_is_followed_through_a_split_cable() -> None:
    low = jack("desk.in", level="-10 dBV")
    it = patch(
        [LINE_OUT, *SPLIT_JACKS, low],
        "player.out -> split.in",
        "split.two -> desk.in",
        boxes=[SPLIT],
    )
    assert only(it).message.startswith("player.out gives +4 dBu and desk.in takes")


def test_a_pad_on_the_way_takes_the_step_away() -> None:
    pad = box("pad", "other", ("pad.in", "pad.out"))
    low = jack("desk.in", level="-10 dBV", connector="RCA", balanced=False)
    out = jack("pad.out", out=True, level="-10 dBV", connector="RCA", balanced=False)
    cables = ("player.out -> pad.in", "pad.out -> desk.in")
    assert rules(patch([LINE_OUT, jack("pad.in"), out, low], *cables, boxes=[pad])) == (
        set()
    )
    # and where it is not wanted it is too much
    found = only(patch([LINE_OUT, jack("pad.in"), out, LINE_IN], *cables, boxes=[pad]))
    assert (found.rule, found.measured) == ("levels-differ", "-11.8 dB")


@pytest.mark.parametrize(
    ("source", "target", "says"),
    [
        ("mic", "+4 dBu", "far too soft"),
        ("+4 dBu", "mic", "far too loud"),
        ("headphones", "mic", "far too loud"),
        ("headphones", "+4 dBu", "its level is what its knob says"),
    ],
)
def test_sorts_of_level_that_do_not_fit(source: str, target: str, says: str) -> None:
    jacks = [jack("player.out", out=True, level=source), jack("desk.in", level=target)]
    found = only(patch(jacks, "player.out -> desk.in"))
    assert (found.rule, says in found.message) == ("levels-differ", True)


def test_digital_alignments_of_18_and_20_db_below_full_scale_differ() -> None:
    def digital(name: str, dbfs: float, *, out: bool) -> Jack:
        return jack(name, out=out, connector="USB", level="digital", nominal_db=dbfs)

    def between(one: float, other: float) -> Patch:
        ends = [digital("pc.out", one, out=True), digital("desk.in", other, out=False)]
        return patch(ends, "pc.out -> desk.in")

    assert only(between(-18.0, -20.0)).measured == "+2.0 dB"
    assert rules(between(-18.0, -18.0)) == set()


def test_an_input_must_hold_nine_db_over_alignment() -> None:
    def into(most_db: float) -> Patch:
        return patch(
            [LINE_OUT, jack("desk.in", most_db=most_db)], "player.out -> desk.in"
        )

    assert only(into(12.9)).rule == "headroom-short"
    assert only(into(12.9)).measured == "8.9 dB"
    assert rules(into(13.0)) == set()


@pytest.mark.parametrize(
    ("own", "load", "loss"), [(600.0, 600.0, "6.0"), (150.0, 1000.0, "1.2")]
)
def test_a_load_under_ten_times_the_source_costs_level(
    own: float, load: float, loss: str
) -> None:
    # 600 into 600 ohm: -6.02 dB; 150 into 1000: 20 log(1000 / 1150) = -1.21 dB
    out = jack("player.out", out=True, impedance_ohm=own)
    found = only(
        patch([out, jack("desk.in", impedance_ohm=load)], "player.out -> desk.in")
    )
    assert found.rule == "loaded-down"
    assert f"down by {loss} dB" in found.message
    # ten to one is exactly -0.83 dB, and bridging
    assert found.limit == "at least 10 to 1 (-0.83 dB)"
    enough = jack("desk.in", impedance_ohm=10.0 * own)
    assert rules(patch([out, enough], "player.out -> desk.in")) == set()


def two_loads(one: str, other: str, kind: str) -> Patch:
    """One output of 500 ohm on two inputs of 8 kohm, through relay or split cable."""
    ways = (
        Way("relay.in", "relay.one", position(one)),
        Way("relay.in", "relay.two", position(other)),
    )
    jacks = [
        jack("player.out", out=True, impedance_ohm=500.0),
        jack("relay.in"),
        jack("relay.one", out=True),
        jack("relay.two", out=True),
        jack("desk.in", impedance_ohm=8000.0),
        jack("recorder.in", impedance_ohm=8000.0),
    ]
    cables = (
        "player.out -> relay.in",
        "relay.one -> desk.in",
        "relay.two -> recorder.in",
    )
    return patch(jacks, *cables, boxes=[box("relay", kind, *ways)])


def test_two_inputs_on_one_split_output_load_it_together() -> None:
    found = only(two_loads("both", "both", "other"))
    assert found.rule == "loaded-down"
    assert found.measured == "4000 ohm on 500 ohm, 8.0 to 1"


def test_two_inputs_behind_a_relay_load_it_one_at_a_time() -> None:
    assert rules(two_loads("left", "right", "changeover")) == set()


def test_headphones_on_a_line_output_want_an_amplifier() -> None:
    found = only(patch([STEREO_OUT, HEADPHONES], "player.out -> phones.in"))
    assert (found.rule, found.severity) == ("headphones-on-line", Severity.ADVICE)
    amplifier = jack("amp.out", out=True, lanes=2, sockets=1, level="headphones")
    assert rules(patch([amplifier, HEADPHONES], "amp.out -> phones.in")) == set()
