"""What a person reads of a refusal, word for word."""

from __future__ import annotations

from dataclasses import replace

from bridge.core.belief import known, unknown
from bridge.core.control import NOWHERE, Control, Kind, Reach
from bridge.core.demand import Demand, Sentence
from bridge.core.judge import HouseJudge
from bridge.core.leg import Demanded, Refusal, Stopped
from bridge.core.planner import Planner
from tests.core import crossing_examples as examples
from tests.core.crossing_examples import bench
from tests.core.crossing_reading import (
    hands,
    planned,
    read,
)
from tests.core.sketch import Sketch, gated, selector, switch


def test_a_refusal_names_the_ring_of_demands() -> None:
    example = examples.b6()
    assert planned(example.bench, known(example.start), example.goal) == Refusal(
        'no order is safe: "recorder clips" demands that a is off before b is on; '
        '"recorder hears host" demands that b is on before a is off',
        rules=("recorder clips", "recorder hears host"),
        demands=(
            Demanded("recorder clips", ("a",), ("b",)),
            Demanded("recorder hears host", ("b",), ("a",)),
        ),
        frontier=(
            Stopped("a", value=False, rules=("recorder hears host",)),
            Stopped("b", value=True, rules=("recorder clips",)),
        ),
    )


def test_a_ring_of_three_is_named_link_by_link() -> None:
    example = examples.b7()
    found = planned(example.bench, known(example.start), example.goal)
    assert isinstance(found, Refusal)
    assert found.words == (
        'no order is safe: "guest 2 hears self" demands that two on b is off before '
        'return 2 is at b; "guest 1 hears guest 2" demands that two on a is on before '
        'two on b is off; "guest 2 hears self" demands that return 2 is at b before '
        "two on a is on"
    )


def test_a_gap_that_a_keep_cannot_bear_is_named() -> None:
    example = examples.b6_gap()
    found = planned(example.bench, known(example.start), example.goal)
    assert isinstance(found, Refusal)
    assert found.words == (
        'no order is safe: "recorder hears host" breaks while feed moves (it is '
        "nowhere for a moment)"
    )


def test_two_positions_for_a_moment_are_named_and_break_no_keep() -> None:
    """Make before break is louder than either end and never silent."""
    sketch = Sketch()
    sketch.edge("music", "tape", 0.0, 0.0, gated("pick", "a"))
    sketch.edge("music", "tape", 0.0, 0.0, gated("pick", "b"))
    studio = sketch.studio(
        selector("pick", "a", "b", overlap=True),
        sources=[sketch.source("music", "music")],
        listeners=[sketch.listener("tape", "tape", far=True)],
        sentences=[Sentence(Demand.KEEP, "tape", "music", "tape hears music")],
    )
    judge = HouseJudge(studio)
    moving = {"pick": frozenset({"a", "b"})}
    assert judge.keeps_broken(moving) == {}
    gap = {"pick": frozenset({"a", "b", NOWHERE})}
    assert list(judge.keeps_broken(gap)) == ["must-keep-hearing: tape hears music"]
    found = Planner(judge)(known({"pick": "a"}), {"pick": "b"})
    assert isinstance(found, Refusal)
    assert found.words == (
        'no order is safe: "sudden-level: music, tape" breaks while pick moves (it has '
        "two positions for a moment)"
    )


def test_it_is_said_why_a_helper_does_not_help() -> None:
    """A second way for a moment bridges the gap, and is twice as loud meanwhile."""
    sketch = Sketch()
    sketch.edge("music", "tape", 0.0, 0.0, gated("pick", "a"))
    sketch.edge("music", "tape", 0.0, 0.0, gated("pick", "b"))
    sketch.edge("music", "tape", 0.0, 0.0, gated("bridge"))
    studio = sketch.studio(
        selector("pick", "a", "b", gap=True),
        switch("bridge"),
        sources=[sketch.source("music", "music")],
        listeners=[sketch.listener("tape", "tape", far=True)],
        sentences=[Sentence(Demand.KEEP, "tape", "music", "tape hears music")],
    )
    planner = Planner(HouseJudge(replace(studio, helpers=(("bridge", True),))))
    found = planner(known({"pick": "a", "bridge": False}), {"pick": "b"})
    assert isinstance(found, Refusal)
    assert found.words == (
        'no order is safe: "must-keep-hearing: tape hears music" breaks while pick '
        "moves (it is nowhere for a moment); no helper helps: while bridge is on it "
        'stops at "must-keep-hearing: tape hears music" and "sudden-level: music, tape"'
    )


def test_what_is_fixed_cannot_be_set() -> None:
    wanted = hands(Reach.FIXED)
    start = known({"mic": True, "speakers": False, "headphones": True})
    assert planned(wanted, start, {"mic": False}) == Refusal(
        "mic: fixed, so nothing and nobody can set it"
    )


def test_an_unsure_control_that_the_scene_leaves_alone_must_become_known() -> None:
    wanted = hands(Reach.HAND)
    belief = {
        "mic": frozenset({True, False}),
        "speakers": frozenset({False}),
        "headphones": frozenset({True}),
    }
    assert planned(wanted, belief, {"speakers": True}) == Refusal(
        '"howl" may break there: mic must become known first',
        rules=("howl",),
        must_be_known=("mic",),
    )
    danger = {**belief, "speakers": frozenset({True, False})}
    assert planned(wanted, danger, {"speakers": True}) == Refusal(
        '"howl" may break there: mic must become known first',
        rules=("howl",),
        must_be_known=("mic",),
    )


def test_a_scene_that_leaves_something_open_says_what() -> None:
    example = examples.b3()
    start = known(example.start)
    assert planned(example.bench, start, {"speakers": True}) == Refusal(
        '"howl" may break there because of how mic is set', rules=("howl",)
    )


def test_a_scene_that_breaks_a_rule_by_itself_says_so() -> None:
    example = examples.b3()
    goal = {"speakers": True, "mic": True}
    assert planned(example.bench, known(example.start), goal) == Refusal(
        'what is asked for breaks "howl" itself', rules=("howl",)
    )


def test_danger_that_no_message_can_end_is_named() -> None:
    """The relay is thrown by hand and may be anywhere; nothing else stops the mic."""
    wanted = bench(
        "mic room",
        [("mic", "room", gated("throw", "up"))],
        [
            Control("throw", "throw", "box", Kind.SELECTOR, ("up", "down"), Reach.HAND),
            switch("lamp"),
        ],
        never=[("howl", "mic", "room", 0.0)],
    )
    belief = unknown(wanted.controls)
    assert planned(wanted, belief, {"lamp": True}) == Refusal(
        '"howl" may break there: throw must become known first',
        rules=("howl",),
        must_be_known=("throw",),
    )
    assert read(planned(wanted, belief, {"lamp": True, "throw": "down"})) == [
        "lamp on, throw down | cut first: nothing can get louder"
    ]


def test_a_rule_that_breaks_whatever_is_set_says_so() -> None:
    wanted = bench(
        "mic room",
        [("mic", "room")],
        [switch("lamp")],
        never=[("howl", "mic", "room", 0.0)],
    )
    found = planned(wanted, known({"lamp": False}), {"lamp": True})
    assert found == Refusal('"howl" breaks, whatever is set', rules=("howl",))


def test_what_is_unsure_is_named_rather_than_what_is_surely_open() -> None:
    """Both intercoms together howl; nobody has to touch the one that is known."""
    wanted = bench(
        "a b",
        [("a", "b", gated("left"), gated("right"))],
        [
            switch("left", reach=Reach.HAND),
            switch("right", reach=Reach.HAND),
            switch("lamp"),
        ],
        never=[("howl", "a", "b", 0.0)],
    )
    belief = {
        "left": frozenset({True}),
        "right": frozenset({True, False}),
        "lamp": frozenset({False}),
    }
    found = planned(wanted, belief, {"lamp": True})
    assert isinstance(found, Refusal)
    assert found.must_be_known == ("right",)
