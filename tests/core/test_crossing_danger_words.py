"""What a person reads of a crossing out of danger, word for word."""

from __future__ import annotations

from bridge.core.belief import known, unknown
from bridge.core.control import Reach
from bridge.core.graph import Edge, Graph
from bridge.core.leg import Crossing, Refusal
from bridge.core.wire import Value
from tests.core import crossing_examples as examples
from tests.core.crossing_examples import bench
from tests.core.crossing_reading import (
    DANGER,
    GOAL,
    hands,
    planned,
    read,
    two_feeds,
)
from tests.core.sketch import gated, selector, switch
from tests.fakes.gain_judge import Bench, Limit


def test_from_the_unknown_all_is_cut_and_what_harms_nothing_opens() -> None:
    """Two messages into a wholly unknown start, every rule is proved."""
    example = examples.b2()
    start = unknown(example.bench.controls)
    home = {"clean to return": True, "guest to main": False, "main to return": True}
    assert read(planned(example.bench, start, home)) == [
        (
            "clean to return on, guest to main off | cut first, and these opens make "
            "nothing forbidden louder, whatever is so now"
        ),
        "main to return on | opens are safe now that every never-rule holds again",
    ]


def test_in_danger_a_keep_is_kept_if_other_cuts_do() -> None:
    assert read(planned(two_feeds(), DANGER, GOAL)) == [
        "intercom off | cut first: nothing can get louder",
        "new feed on | opens are safe now that every never-rule holds again",
        "old feed off | cuts are safe now that new feed is on",
    ]


def test_in_danger_a_keep_that_gives_way_is_named() -> None:
    """Both feeds together clip: one must go before the other comes."""
    clips = ("recorder clips", "host", "recorder", 1.5)
    assert read(planned(two_feeds(clips), DANGER, GOAL)) == [
        "intercom off | cut first: nothing can get louder",
        (
            "old feed off | cuts are safe now that every never-rule holds again; "
            '"recorder hears host" is not kept meanwhile: never beats keep'
        ),
        "new feed on | opens are safe now that old feed is off",
    ]


def test_what_may_be_open_is_cut_even_if_the_scene_leaves_it_alone() -> None:
    example = examples.b3()
    belief = {**unknown(example.bench.controls), "headphones": frozenset({True})}
    assert read(planned(example.bench, belief, {"speakers": True})) == [
        "mic off | cut first: nothing can get louder; also cut, to be safe: mic",
        "speakers on | opens are safe now that every never-rule holds again",
    ]


def test_a_hand_that_opened_something_is_asked_to_cut_it() -> None:
    """The microphone has no message, was opened by hand, and howls."""
    wanted = hands(Reach.HAND)
    howling = known({"mic": True, "speakers": True, "headphones": True})
    found = planned(wanted, howling, {"mic": False, "speakers": True})
    assert read(found) == ["mic off | cut first: nothing can get louder"]
    assert isinstance(found, Crossing)
    assert [change.control for change in found.by_hand] == ["mic"]


def test_unsure_selectors_move_one_by_one() -> None:
    """Each may feed a speaker near the microphone; after the first the other may."""
    wanted = bench(
        "mic loud1 loud2 phones",
        [
            ("mic", "loud1", gated("left", "loud")),
            ("mic", "phones", gated("left", "phones")),
            ("mic", "loud2", gated("right", "loud")),
            ("mic", "phones", gated("right", "phones")),
        ],
        [selector("left", "loud", "phones"), selector("right", "loud", "phones")],
        never=[("howl 1", "mic", "loud1", 0.0), ("howl 2", "mic", "loud2", 0.0)],
    )
    goal: dict[str, Value] = {"left": "phones", "right": "phones"}
    assert read(planned(wanted, unknown(wanted.controls), goal)) == [
        "left phones | left moves: wherever it was, nothing is worse",
        "right phones | right moves: wherever it was, nothing is worse",
    ]


def test_what_is_unsure_is_cut_rather_than_what_is_surely_open() -> None:
    """Two intercoms together howl; one is on, the other unsure: cutting one does."""
    wanted = bench(
        "a b",
        [("a", "b", gated("left"), gated("right"))],
        [switch("left"), switch("right"), switch("lamp")],
        never=[("howl", "a", "b", 0.0)],
    )
    belief = {
        "left": frozenset({True}),
        "right": frozenset({True, False}),
        "lamp": frozenset({True}),
    }
    assert read(planned(wanted, belief, {"lamp": True})) == [
        "right off | cut first: nothing can get louder; also cut, to be safe: right"
    ]


def test_what_is_surely_open_is_cut_if_the_scene_cannot_be_had_with_it() -> None:
    example = examples.b3()
    howling = known({**example.start, "speakers": True})
    assert read(planned(example.bench, howling, {"speakers": True})) == [
        "mic off | cut first: nothing can get louder; also cut, to be safe: mic"
    ]


def out_of_reach(new_feed: Reach) -> Bench:
    """The intercom is out of reach and on the old feed, so that has to go."""
    return bench(
        "host talk old new recorder",
        [
            ("host", "old"),
            ("host", "new"),
            ("talk", "old", gated("intercom")),
            ("old", "recorder", gated("old feed")),
            ("new", "recorder", gated("new feed")),
        ],
        [
            switch("intercom", reach=Reach.HAND),
            switch("old feed"),
            switch("new feed", reach=new_feed),
        ],
        never=[("recorder hears talk", "talk", "recorder", 0.0)],
        keep=[("recorder hears host", "host", "recorder", 0.9)],
    )


def test_an_open_comes_before_the_cut_that_a_keep_cannot_bear() -> None:
    goal = {"old feed": False, "new feed": True}
    assert read(planned(out_of_reach(Reach.REMOTE), DANGER, goal)) == [
        (
            "new feed on | open first: these opens make nothing forbidden louder, "
            "whatever is so now"
        ),
        "old feed off | cut first: nothing can get louder",
    ]


def test_the_cut_does_not_wait_for_a_hand() -> None:
    goal = {"old feed": False, "new feed": True}
    assert read(planned(out_of_reach(Reach.HAND), DANGER, goal)) == [
        (
            "old feed off | cut first: nothing can get louder; "
            '"recorder hears host" is not kept meanwhile: never beats keep'
        ),
        "new feed on | opens are safe now that every never-rule holds again",
    ]


def test_in_known_danger_the_order_that_keeps_is_found() -> None:
    """The new feed waits for one cut, and the cut that ends the danger for it."""
    wanted = bench(
        "host talk old new bed recorder",
        [
            ("host", "old"),
            ("host", "new"),
            ("talk", "old"),
            ("old", "recorder", gated("old feed")),
            ("new", "recorder", gated("new feed")),
            ("new", "bed", gated("bed"), gated("new feed")),
        ],
        [switch("old feed"), switch("new feed"), switch("bed")],
        never=[
            ("recorder hears talk", "talk", "recorder", 0.0),
            ("bed hears host", "host", "bed", 0.0),
        ],
        keep=[("recorder hears host", "host", "recorder", 0.9)],
    )
    danger = known({"old feed": True, "new feed": False, "bed": True})
    goal = {"old feed": False, "new feed": True, "bed": False}
    assert read(planned(wanted, danger, goal)) == [
        "bed off | cut first: nothing can get louder",
        "new feed on | opens are safe now that bed is off",
        "old feed off | cuts are safe now that new feed is on",
    ]


def test_out_of_danger_there_may_still_be_no_order() -> None:
    """The lamp's howl is ended, but the selectors of B9 still cross."""
    example = examples.b9()
    nodes, edges = example.bench.graph.nodes, example.bench.graph.edges
    howl = Edge(0, 1, gates=(gated("intercom"),))
    wanted = Bench(
        {**example.bench.controls, "intercom": switch("intercom")},
        Graph(nodes, (*edges, howl)),
        (*example.bench.limits, Limit("x hears talk", 0, 1, 1.0)),
    )
    belief = {**known(example.start), "intercom": frozenset({True, False})}
    found = planned(wanted, belief, {**example.goal, "intercom": False})
    assert isinstance(found, Refusal)
    assert found.rules == ("bed hears talk",)
