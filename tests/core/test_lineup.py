"""Line-up: what meters should read, and readings that become gains."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.graph import AirGear, Listener, Scale, Transducer
from bridge.core.judge import HouseJudge
from bridge.core.lineup import Meter, Stop, stops
from bridge.core.metering import belief_in, level_at, nodes_of
from bridge.core.readings import Reading, with_readings
from bridge.core.studio import Studio
from tests.core.sketch import Sketch, gated, selector, switch

QUIET_PASCAL = -20.0
"""Headphones in the sketch: nominal level is 74 dB SPL at the ear (94 - 20)."""


def studio() -> Studio:
    """A mouth, a player, one bus to a feed, one to speakers or headphones."""
    sketch = Sketch()
    sketch.edge("host.mouth", "mic.out")
    sketch.edge("mic.out", "desk.in 1", -2.0)
    sketch.edge("player.out", "desk.in 2")
    sketch.edge("desk.in 1", "program", 0.0, 0.0, gated("mic on"))
    sketch.edge("desk.in 2", "program")
    sketch.edge("program", "feed", -6.0)
    sketch.edge("desk.in 2", "speakers.air", 0.0, 0.0, gated("out", "speakers"))
    sketch.edge("desk.in 2", "phones.ears", 0.0, 0.0, gated("out", "phones"))
    made = sketch.studio(
        switch("mic on"),
        selector("out", "phones", "speakers"),
        sources=[
            sketch.source("host", "host.mouth", person="host"),
            sketch.source("tone", "player.out"),
        ],
        listeners=[
            sketch.listener("stream", "feed", far=True),
        ],
        scenes={
            "quiet": {"mic on": True, "out": "phones"},
            "loud": {"mic on": False, "out": "speakers"},
        },
    )
    ear = sketch.node("host.ear")
    for gear, level in (("speakers.air", -17.0), ("phones.ears", QUIET_PASCAL)):
        sketch.edge(gear, "host.ear", level)
        edge = replace(sketch.edges[-1], through_air=True)
        sketch.edges[-1] = edge
    sketch.edge("speakers.air", "mic.out", -50.0)
    sketch.edges[-1] = replace(sketch.edges[-1], through_air=True)
    whole = sketch.studio(*made.controls.values())
    return replace(
        made,
        graph=whole.graph,
        listeners=(
            *made.listeners,
            Listener("host", (ear,), Scale.EAR, person="host"),
        ),
        air_gear=(
            AirGear(
                "speakers", Transducer.SPEAKERS, (sketch.node("speakers.air"),), "room"
            ),
            AirGear(
                "phones", Transducer.HEADPHONES, (sketch.node("phones.ears"),), "room"
            ),
        ),
    )


def shown(stop: Stop) -> tuple[Meter, str, str, str | None, float, str]:
    level = round(stop.expected_db, 2)
    return (stop.meter, stop.source.name, stop.at, stop.scene, level, stop.through)


def level(it: Studio, source: str, at: str, scene: str | None) -> float:
    """The level of a source there, by the model."""
    made = next(each for each in it.sources if each.name == source)
    ear = next((each for each in it.listeners if each.name == at), None)
    scale = ear.scale if ear else Scale.LINE
    belief = belief_in(it, scene)
    return level_at(HouseJudge(it), belief, made, nodes_of(it, at), scale)


def test_strips_come_first_then_feeds_then_speakers_then_headphones() -> None:
    assert [shown(stop) for stop in stops(HouseJudge(studio()))] == [
        (Meter.STRIP, "host", "desk.in 1", None, -2.0, "desk.in 1"),
        (Meter.STRIP, "tone", "desk.in 2", None, 0.0, "desk.in 2"),
        (Meter.FEED, "tone", "stream", "quiet", -6.0, "stream"),
        (Meter.EAR, "tone", "host", "loud", 77.0, "speakers"),
        (Meter.EAR, "tone", "host", "quiet", 74.0, "phones"),
    ]


def test_a_reading_at_a_strip_becomes_the_gain_of_its_cable() -> None:
    it, wrong = with_readings(studio(), [Reading("host", "desk.in 1", None, 1.5)])
    assert wrong == ()
    assert level(it, "host", "desk.in 1", None) == pytest.approx(1.5)
    # and everything behind it follows, but nothing beside it
    assert level(it, "host", "stream", "quiet") == pytest.approx(1.5 - 6.0)
    assert level(it, "tone", "stream", "loud") == pytest.approx(-6.0)


def test_a_reading_at_an_ear_turns_the_speakers_for_everybody_and_everything() -> None:
    before = studio()
    it, wrong = with_readings(before, [Reading("tone", "host", "loud", 71.0)])
    assert wrong == ()
    assert level(it, "tone", "host", "loud") == pytest.approx(71.0)
    # 6 dB less in the microphone too: it is the speakers that were turned down
    spill = level(it, "tone", "desk.in 1", "loud")
    assert spill == pytest.approx(level(before, "tone", "desk.in 1", "loud") - 6.0)
    # the headphones stay as they were
    assert level(it, "tone", "host", "quiet") == pytest.approx(74.0)


def test_a_reading_of_what_was_corrected_before_is_taken_on_top() -> None:
    readings = [
        Reading("tone", "desk.in 2", None, -3.0),
        Reading("tone", "stream", "loud", -6.0),
    ]
    it, _ = with_readings(studio(), readings)
    assert level(it, "tone", "desk.in 2", None) == pytest.approx(-3.0)
    assert level(it, "tone", "stream", "loud") == pytest.approx(-6.0)


@given(
    st.floats(-30.0, 30.0, allow_nan=False),
    st.floats(50.0, 100.0, allow_nan=False),
)
def test_the_model_reads_what_the_person_read(strip: float, ear: float) -> None:
    readings = [
        Reading("tone", "desk.in 2", None, strip),
        Reading("tone", "host", "loud", ear),
        Reading("tone", "host", "quiet", ear - 1.0),
    ]
    it, wrong = with_readings(studio(), readings)
    if wrong:  # too far from what is expected by then: said, and not used
        assert {finding.rule for finding in wrong} == {"reading-far-off"}
        return
    assert level(it, "tone", "desk.in 2", None) == pytest.approx(strip, abs=1e-6)
    assert level(it, "tone", "host", "loud") == pytest.approx(ear, abs=1e-6)
    assert level(it, "tone", "host", "quiet") == pytest.approx(ear - 1.0, abs=1e-6)


def test_readings_as_expected_change_nothing() -> None:
    before = studio()
    readings = [
        Reading(stop.source.name, stop.at, stop.scene, stop.expected_db)
        for stop in stops(HouseJudge(before))
    ]
    after, wrong = with_readings(before, readings)
    assert wrong == ()
    for one, other in zip(before.graph.edges, after.graph.edges, strict=True):
        assert other.gain_db == pytest.approx(one.gain_db, abs=1e-9)


def test_a_reading_where_nothing_comes_is_an_error() -> None:
    it, (found,) = with_readings(studio(), [Reading("host", "stream", "loud", -6.0)])
    assert found.rule == "reading-of-nothing"
    assert found.message == "by the patch host never comes to stream in loud"
    assert it == studio()


def test_a_reading_that_no_trim_explains_is_an_error() -> None:
    it, (found,) = with_readings(studio(), [Reading("tone", "stream", "loud", 35.0)])
    assert found.rule == "reading-far-off"
    assert "35 dB was read, and -6.0 dB is expected" in found.message
    assert it == studio()
