"""What a person reads: whole crossings and refusals, word for word."""

from __future__ import annotations

from collections.abc import Mapping

from bridge.core.belief import Belief, known, unknown
from bridge.core.crossing import plan
from bridge.core.leg import Crossing, Demanded, Helper, Refusal, Stopped
from bridge.core.loudness import loudness_of
from bridge.core.studio import Control, Edge, Graph, Kind, Reach
from bridge.core.wire import Value
from tests.core import crossing_examples as examples
from tests.core.crossing_examples import HALF_DB, Example, bench
from tests.core.sketch import gated, selector, switch
from tests.fakes.gain_judge import Bench, GainJudge, Limit


def planned(
    wanted: Bench, belief: Belief, goal: Mapping[str, Value], *helpers: Helper
) -> Crossing | Refusal:
    loudness = loudness_of(wanted.graph)
    judge = GainJudge(wanted)
    return plan(judge, wanted.controls, belief, goal, helpers, loudness=loudness)


def read(found: Crossing | Refusal) -> list[str]:
    """Each leg on a line: what it sets, and why."""
    assert isinstance(found, Crossing), found
    shown = {True: "on", False: "off"}
    return [
        ", ".join(
            f"{c.control} {shown[c.value] if isinstance(c.value, bool) else c.value}"
            for c in leg.changes
        )
        + f" | {leg.reason}"
        for leg in found.legs
    ]


def reading(example: Example) -> list[str]:
    start = known(example.start)
    return read(planned(example.bench, start, example.goal, *example.helpers))


def test_cuts_come_first_and_opens_name_the_cuts() -> None:
    assert reading(examples.b1()) == [
        "guest to main off, speakers off | cut first: nothing can get louder",
        (
            "main to return on, mic on | opens are safe now that guest to main is off "
            "and speakers is off"
        ),
    ]


def test_each_leg_names_what_it_waited_for() -> None:
    assert reading(examples.b2()) == [
        (
            "clean to return on | opens are safe: no order of these can break a rule, "
            "and the rest waits"
        ),
        "main to return off | cuts are safe now that clean to return is on",
        "guest to main on | opens are safe now that main to return is off",
    ]


def test_a_selector_moves_when_what_it_carries_is_cut() -> None:
    assert reading(examples.b4()) == [
        "mic off | cut first: nothing can get louder",
        "relay pulled | relay can move safely now that mic is off",
    ]


def test_one_leg_says_that_order_does_not_count() -> None:
    example = examples.b3()
    goal = {"speakers": True}
    start = {**example.start, "mic": False}
    assert read(planned(example.bench, known(start), goal)) == [
        "speakers on | all in one: no order of these can break a rule"
    ]


def test_a_helper_says_that_it_is_for_a_moment() -> None:
    assert reading(examples.b6(Helper("trim", HALF_DB))) == [
        "trim -6.0206 | for a moment trim is -6.0206 dB, so that the rest can pass",
        "b on | opens are safe now that trim is -6.0206 dB",
        "a off | cuts are safe now that b is on",
        "trim 0.0 | what helped goes back (trim) now that a is off",
    ]


def test_nothing_to_do_is_a_crossing_without_legs() -> None:
    example = examples.b1()
    found = planned(example.bench, known(example.start), example.start)
    assert found == Crossing((), example.start)


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


def two_feeds(*never: tuple[str, str, str, float]) -> Bench:
    """A recorder's feed goes from the old bus to the new; an intercom may be open."""
    return bench(
        "host talk old new recorder",
        [
            ("host", "old"),
            ("host", "new"),
            ("talk", "old", gated("intercom")),
            ("talk", "new", gated("intercom")),
            ("old", "recorder", gated("old feed")),
            ("new", "recorder", gated("new feed")),
        ],
        [switch("intercom"), switch("old feed"), switch("new feed")],
        never=[("recorder hears talk", "talk", "recorder", 0.0), *never],
        keep=[("recorder hears host", "host", "recorder", 0.9)],
    )


DANGER = {
    "intercom": frozenset({True, False}),
    "old feed": frozenset({True}),
    "new feed": frozenset({False}),
}
GOAL: dict[str, Value] = {"intercom": False, "old feed": False, "new feed": True}


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
    assert (
        found.words == 'no order is safe: "recorder hears host" breaks while feed moves'
    )


def hands(reach: Reach, **more: Value) -> Bench:
    """B3 with a microphone that no message reaches."""
    example = examples.b3()
    mic = Control("mic", "mic", "desk", Kind.SWITCH, (False, True), reach, **more)  # type: ignore[arg-type]
    controls = {**example.bench.controls, "mic": mic}
    return Bench(controls, example.bench.graph, example.bench.limits)


def test_a_hand_step_stands_in_its_leg() -> None:
    wanted = hands(Reach.HAND)
    phones = {"mic": True, "speakers": False}
    speakers = {"mic": False, "speakers": True}
    there = planned(wanted, known({**phones, "headphones": True}), speakers)
    assert read(there) == [
        "mic off | cut first: nothing can get louder",
        "speakers on | opens are safe now that mic is off",
    ]
    back = planned(wanted, known({**speakers, "headphones": True}), phones)
    assert read(back) == [
        "speakers off | cut first: nothing can get louder",
        "mic on | opens are safe now that speakers is off",
    ]
    assert isinstance(back, Crossing)
    assert [step.by_hand for leg in back.legs for step in leg.steps] == [False, True]
    assert [change.control for change in back.by_hand] == ["mic"]
    assert back.legs[1].steps[0].messages(wanted.controls) == ()


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


def test_an_open_comes_before_the_cut_that_a_keep_cannot_bear() -> None:
    """The intercom is out of reach, so the old feed goes after the new comes."""
    wanted = bench(
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
            switch("new feed"),
        ],
        never=[("recorder hears talk", "talk", "recorder", 0.0)],
        keep=[("recorder hears host", "host", "recorder", 0.9)],
    )
    goal = {"old feed": False, "new feed": True}
    assert read(planned(wanted, DANGER, goal)) == [
        (
            "new feed on | open first: these opens make nothing forbidden louder, "
            "whatever is so now"
        ),
        "old feed off | cut first: nothing can get louder",
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


def test_a_rule_that_breaks_whatever_is_set_says_so() -> None:
    wanted = bench(
        "mic room",
        [("mic", "room")],
        [switch("lamp")],
        never=[("howl", "mic", "room", 0.0)],
    )
    found = planned(wanted, known({"lamp": False}), {"lamp": True})
    assert found == Refusal('"howl" breaks, whatever is set', rules=("howl",))
