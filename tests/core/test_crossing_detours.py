"""Helpers against every way in which they could be used."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

from bridge.core.belief import known, settled, widened
from bridge.core.control import NOWHERE, Reach
from bridge.core.crossing import plan
from bridge.core.guard import refused_because
from bridge.core.leg import Crossing, Helper, Refusal, Why
from bridge.core.loudness import loudness_of
from bridge.core.wire import Value
from tests.core.crossing_examples import bench
from tests.core.sketch import gated, selector, switch
from tests.fakes.every_order import EveryOrder
from tests.fakes.gain_judge import GainJudge
from tests.fakes.random_benches import (
    Change,
    random_change,
    random_demands,
    with_mute_and_bridge,
)
from tests.fakes.times import seeds

Ways = dict[str, tuple[Value, ...]]


def planned(change: Change, *helpers: Helper) -> Crossing | Refusal:
    judge, loudness = GainJudge(change.bench), loudness_of(change.bench.graph)
    start = known(change.start)
    controls = change.bench.controls
    return plan(judge, controls, start, change.goal, helpers, loudness=loudness)


def some_helpers(change: Change, rng: random.Random, count: int) -> list[Helper]:
    every = [
        Helper(name, value)
        for name, control in change.bench.controls.items()
        for value in control.values
        if value not in (change.start[name], change.goal.get(name))
        or (name not in change.goal and value != change.start[name])
    ]
    return rng.sample(every, min(count, len(every)))


def every_way(change: Change, helpers: list[Helper]) -> Iterator[tuple[int, Ways]]:
    """Each use of at most two helpers: the further messages, and the values in turn."""
    for count in range(3):
        for some in combinations(helpers, count):
            ways: Ways = {n: (change.start[n], v) for n, v in change.goal.items()}
            if len({helper.control for helper in some}) < count:
                continue
            for name, value in ((h.control, h.value) for h in some):
                last = change.goal.get(name, change.start[name])
                ways[name] = (change.start[name], value, last)
            further = sum(2 - (helper.control in change.goal) for helper in some)
            yield further, ways


def best_way(change: Change, helpers: list[Helper]) -> tuple[int, int] | None:
    """(legs, helper messages): none if that goes, else the fewest legs, then fewest."""
    found = []
    for further, ways in every_way(change, helpers):
        rest = {n: v for n, v in change.start.items() if n not in ways}
        legs = EveryOrder(change.bench, ways, rest).fewest_legs()
        if legs is not None:
            found.append((legs, further))
            if further == 0:
                break
    return min(found, default=None)


def helper_messages(crossing: Crossing) -> int:
    steps = [step for leg in crossing.legs for step in leg.steps]
    return sum(step.why in (Why.HELPER, Why.UNDO) for step in steps)


def test_detours_have_the_fewest_legs_then_the_fewest_helper_messages() -> None:
    helped = refused = 0
    for change, helpers in needy_changes():
        found, best = planned(change, *helpers), best_way(change, helpers)
        if isinstance(found, Refusal):
            assert best is None, (change, helpers)
            refused += 1
            continue
        assert (len(found.legs), helper_messages(found)) == best, (change, helpers)
        helped += helper_messages(found) > 0
        show_safe_and_undone(change, found)
    assert helped > 10
    assert refused > 10


def needy_changes() -> Iterator[tuple[Change, list[Helper]]]:
    """Changes that have no direct order, with three helpers each."""
    for seed in seeds(80):
        for change in (
            random_change(seed, 4, selectors=0.3),
            random_demands(seed, 4, rules=7),
        ):
            if isinstance(planned(change), Crossing):
                continue
            rng, helped = random.Random(seed), with_mute_and_bridge(change, seed)
            yield change, some_helpers(change, rng, 2)
            declared = [Helper("mute", value=True), Helper("bridge", value=True)]
            yield helped, [*declared, *some_helpers(change, rng, 1)]


def show_safe_and_undone(change: Change, crossing: Crossing) -> None:
    judge, belief = GainJudge(change.bench), known(change.start)
    for leg in crossing.legs:
        flying = widened(belief, leg.in_flight)
        assert not refused_because(judge, belief, leg.in_flight)
        assert not judge.nevers_broken(flying)
        assert not judge.keeps_broken(flying)
        belief = settled(belief, leg.setting)
    assert belief == known({**change.start, **change.goal})
    for name, value in crossing.owed.items():
        assert change.goal.get(name, change.start[name]) == value


def test_two_helpers_together() -> None:
    """Feeds change places on two recorders; each needs its own bridge."""
    change = two_recorders()
    one = planned(change, Helper("bridge 1", value=True))
    both = planned(change, Helper("bridge 1", value=True), BRIDGE_2)
    assert isinstance(one, Refusal)
    assert isinstance(both, Crossing)
    assert [sorted(leg.setting.items()) for leg in both.legs] == [
        [("bridge 1", True), ("bridge 2", True)],
        [("feed 1", "b"), ("feed 2", "b")],
        [("bridge 1", False), ("bridge 2", False)],
    ]
    assert both.owed == {"bridge 1": False, "bridge 2": False}


BRIDGE_2 = Helper("bridge 2", value=True)


def two_recorders() -> Change:
    wires = []
    for number in "12":
        feed, recorder = f"feed {number}", f"recorder{number}"
        wires += [
            ("host", recorder, gated(feed, "a")),
            ("host", recorder, gated(feed, "b")),
            ("host", recorder, gated(f"bridge {number}")),
        ]
    controls = [
        selector("feed 1", "a", "b", gap=True),
        selector("feed 2", "a", "b", gap=True),
        switch("bridge 1"),
        switch("bridge 2"),
    ]
    keep = [(f"keep {n}", "host", f"recorder{n}", 0.9) for n in "12"]
    wanted = bench("host recorder1 recorder2", wires, controls, keep=keep)
    start: dict[str, Value] = {
        "feed 1": "a",
        "feed 2": "a",
        "bridge 1": False,
        "bridge 2": False,
    }
    return Change(wanted, start, {"feed 1": "b", "feed 2": "b"})


def test_a_helper_out_of_reach_is_not_called_for() -> None:
    change = two_recorders()
    controls = dict(change.bench.controls)
    controls["bridge 1"] = switch("bridge 1", reach=Reach.HAND)
    by_hand = replace(change, bench=replace(change.bench, controls=controls))
    assert isinstance(
        planned(by_hand, Helper("bridge 1", value=True), BRIDGE_2), Refusal
    )


def test_a_gap_is_in_flight_with_its_selector() -> None:
    found = planned(two_recorders(), Helper("bridge 1", value=True), BRIDGE_2)
    assert isinstance(found, Crossing)
    assert found.legs[1].in_flight == (
        ("feed 1", "b"),
        ("feed 1", NOWHERE),
        ("feed 2", "b"),
        ("feed 2", NOWHERE),
    )


def test_a_helper_that_is_not_surely_known_cannot_be_undone() -> None:
    change = two_recorders()
    belief = {**known(change.start), "bridge 1": frozenset({True, False})}
    found = plan(
        GainJudge(change.bench),
        change.bench.controls,
        belief,
        {"feed 1": "b"},
        [Helper("bridge 1", value=True)],
        loudness=loudness_of(change.bench.graph),
    )
    assert isinstance(found, Refusal)
